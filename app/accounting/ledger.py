"""One syringe, while its entries are gone through: what came in, what left it where, and its counts."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction

from app.accounting.budget import Budget, Stage, graduation_tolerance, stage_of
from app.accounting.case import AccountCase, Issued
from app.accounting.intervals import Delivered, Interval
from app.accounting.sums import less, times, total
from app.quantities import Dimension

_NOTHING = Fraction(0)


@dataclass(frozen=True, kw_only=True, slots=True)
class Gone:
    """What left a syringe otherwise than through the device, in mL."""

    primed: Fraction = _NOTHING
    wasted: Fraction = _NOTHING
    returned: Fraction = _NOTHING
    kept: Fraction = _NOTHING
    readable: Fraction = _NOTHING
    """How far the readings of what was wasted, returned and kept can be off together, before their cap."""

    @property
    def volume(self) -> Fraction:
        """All of it."""
        return total((self.primed, self.wasted, self.returned, self.kept))

    def since(self, before: "Gone") -> "Gone":
        """What left after an earlier moment."""
        if before is self:
            return _NOTHING_GONE
        return Gone(
            primed=less(self.primed, before.primed),
            wasted=less(self.wasted, before.wasted),
            returned=less(self.returned, before.returned),
            kept=less(self.kept, before.kept),
            readable=less(self.readable, before.readable),
        )


_NOTHING_GONE = Gone()


@dataclass(frozen=True, kw_only=True, slots=True)
class Count:
    """A reading of what is left: its entry, what had gone by then, and what the device says it gave."""

    entry: int
    left: Fraction
    gone: Gone
    by_syringe: Fraction = _NOTHING
    """What is gone by then and not otherwise explained: the syringe's own delivered."""
    is_label: bool = False
    delivered: Fraction = _NOTHING
    delivered_amount: Fraction = _NOTHING
    display: Fraction = _NOTHING
    by_removal: bool = False


class Ledger:
    """What is known of one syringe so far."""

    def __init__(self, case: AccountCase, entry: int, issued: Issued) -> None:
        self.case = case
        self.issued = issued
        self.gone = Gone()
        self.in_use: Count | None = Count(entry=entry, left=issued.volume, gone=self.gone, is_label=True)
        """The last count in use; None once it is uncounted."""
        self.in_hand: Count | None = self.in_use
        """The last count in hand; None after a removal at which nobody read what was left."""
        self.last_left: Fraction | None = None
        self.last_gone_at: int | None = None
        """The last entry at which something left it otherwise than through the device."""
        self.was_loaded = False
        self.loaded_since_count = False
        self._delivered = _NOTHING
        self._delivered_amount = _NOTHING
        self._half = case.policy.scale_division / 2
        self._budgets: dict[int, Budget] = {}
        """In use, by the entry of the count."""
        self._shown: dict[tuple[int, int], set[Dimension]] = {}
        """By series and loading, in which units totals were read."""

    def loaded(self) -> None:
        """It is put on the device."""
        self.was_loaded = self.loaded_since_count = True

    def primed(self, entry: int, volume: Fraction) -> None:
        """A volume left it off the patient."""
        self._goes(entry, replace(self.gone, primed=self.gone.primed + volume))

    def wasted(self, entry: int, volume: Fraction) -> None:
        """A volume is gone for good."""
        self._goes(entry, replace(self._read_off(volume), wasted=self.gone.wasted + volume))

    def returned(self, entry: int, volume: Fraction) -> None:
        """A volume was given back."""
        self._goes(entry, replace(self._read_off(volume), returned=self.gone.returned + volume))

    def kept(self, entry: int, volume: Fraction) -> None:
        """A volume is kept as evidence."""
        self._goes(entry, replace(self._read_off(volume), kept=self.gone.kept + volume))

    def was_on(self, series: int, loading: int, interval: Interval) -> None:
        """It was on the device in an interval, by one loading, whether anything moved or not."""
        shown = self._shown.setdefault((series, loading), set())
        if interval.volume is not None:
            shown.add(Dimension.VOLUME)
        elif interval.amount is not None:
            shown.add(Dimension.MASS)

    def gave(self, delivered: Delivered) -> None:
        """The device says that it gave so much out of it."""
        self._delivered += delivered.volume
        self._delivered_amount += delivered.amount

    def is_uncounted(self) -> None:
        """From here on nobody can say what the device gave out of it."""
        self.in_use = None

    def is_read(self, entry: int, left: Fraction, *, with_totals: bool, by_removal: bool) -> None:
        """What is left in it was read: a count in hand, and with the totals one in use."""
        count = Count(
            entry=entry,
            left=left,
            gone=self.gone,
            by_syringe=less(self.issued.volume - left, self.gone.volume),
            delivered=self._delivered,
            delivered_amount=self._delivered_amount,
            display=self._display(),
            by_removal=by_removal,
        )
        self.in_hand, self.last_left = count, left
        if with_totals and self.in_use is not None:
            self.in_use, self.loaded_since_count = count, False

    def is_not_read(self) -> None:
        """It was taken off, and nobody read what was left."""
        self.in_hand = None

    def stage_in_use(self, count: Count, *, has_ended: bool) -> Stage:
        """What its own delivered and the device's do not agree on, up to a count."""
        if count.entry not in self._budgets:
            self._budgets[count.entry] = self._budget_in_use(count)
        is_closed = has_ended or (count.by_removal and not self.loaded_since_count)
        difference = less(count.by_syringe, count.delivered)
        return stage_of(difference, self._budgets[count.entry], self.case.policy, is_closed=is_closed)

    def _budget_in_use(self, count: Count) -> Budget:
        policy, issued = self.case.policy, self.issued
        return Budget(
            fill=graduation_tolerance(issued.size, issued.volume)
            if issued.drawn_up
            else times(policy.fill_accuracy, issued.volume),
            prime=times(policy.prime_accuracy, count.gone.primed),
            device=times(policy.device_accuracy, abs(count.delivered)),
            display=count.display,
            graduation=_NOTHING if count.is_label else graduation_tolerance(issued.size, count.left),
            reading=self._reading(count, count.gone),
        )

    def hand(self, count: Count, *, has_ended: bool) -> tuple[Fraction, Stage]:
        """What there must still be of it (nothing after the end), and what is not explained of the rest."""
        policy = self.case.policy
        after = self.gone.since(count.gone)
        budget = Budget(
            prime=times(policy.prime_accuracy, after.primed),
            reading=self._reading(count, after),
        )
        in_hand = less(count.left, after.volume)
        left = _NOTHING if has_ended or in_hand.numerator < 0 else in_hand
        return left, stage_of(less(in_hand, left), budget, policy, is_closed=has_ended)

    def not_read(self, in_use: Count, in_hand: Count) -> Fraction:
        """What is gone between a count in use and a later one in hand, with no totals read."""
        if in_use is in_hand:
            return _NOTHING
        return in_use.left - in_hand.gone.since(in_use.gone).volume - in_hand.left

    def _reading(self, count: Count, gone: Gone) -> Fraction:
        """Half a division for what was left, and for what was poured out at most a whole one."""
        of_left = _NOTHING if count.is_label else self._half
        poured_out = gone.readable
        return of_left + min(poured_out, self.case.policy.scale_division) if poured_out else of_left

    def _read_off(self, volume: Fraction) -> Gone:
        return replace(self.gone, readable=self.gone.readable + min(self._half, volume))

    def _goes(self, entry: int, gone: Gone) -> None:
        self.gone, self.last_gone_at = gone, entry

    def _display(self) -> Fraction:
        """One step for each series and loading: what lies between cancels out."""
        return total(self._steps())

    def _steps(self) -> Iterator[Fraction]:
        for shown in self._shown.values():
            if Dimension.VOLUME in shown:
                yield self.case.step_volume
            if Dimension.MASS in shown:
                yield self.case.step_amount / self.issued.concentration
