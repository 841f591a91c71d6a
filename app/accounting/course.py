"""How an infusion went: what was on the device, what was set, and when it ran, between any two entries."""

from bisect import bisect_left, bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import accumulate, groupby, pairwise

from app.accounting.case import (
    AccountCase,
    Bolus,
    DeviceChanged,
    Entry,
    Issued,
    Loaded,
    Paused,
    Primed,
    Removed,
    Settings,
    Started,
    TotalsCount,
)
from app.accounting.sums import find_times, times, total
from app.dosing import Limit

_HOUR = 60
_NOTHING = Fraction(0)


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class InForce:
    """The settings of one entry, for the syringe now on, as far as the mode uses them; the rate in mg/min."""

    entry: int
    concentration: Fraction | None
    """As set; of a device in volumes the syringe's, and without a syringe none."""
    in_volumes: bool
    demand_dose: Fraction | None
    lockout: Fraction | None
    rate: Fraction
    limits: tuple[Limit, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class State:
    """What holds between two entries: the syringe on, the entry that loaded it, the settings, what runs."""

    on: str | None = None
    loading: int | None = None
    in_force: InForce | None = None
    running: bool = False


@dataclass(frozen=True, kw_only=True, slots=True)
class Stretch:
    """A time, in min, in which the device ran under one settings entry without a break."""

    in_force: InForce
    minutes: Fraction


@dataclass(frozen=True, kw_only=True, slots=True)
class _Run:
    """A whole stretch: from one entry to another (their places), with the syringe on."""

    begins: int
    ends: int
    in_force: InForce
    syringe: str


class Course:
    """The states before and after each entry, and the stretches between any two."""

    def __init__(self, case: AccountCase) -> None:
        self.case = case
        self.entries = case.entries
        self.issued: Mapping[str, Issued] = {
            entry.syringe: entry for entry in case.entries if isinstance(entry, Issued)
        }
        self.late: dict[int, Fraction] = {}
        """By entry, how much earlier its time is than the latest before it."""
        self.times = self._effective_times()
        """Of each entry, then `now`; an `at` before an earlier entry's counts as that one's."""
        self.states = self._walk()
        """Before each entry, then after the last."""
        self.totals_count = _totals_count(case)
        """What the device's totals count at each entry."""
        self.given_apart = {
            place: entry for place, entry in enumerate(case.entries) if isinstance(entry, Bolus | Primed)
        }
        """The boluses and primes, by their places."""
        self._given_apart = list(self.given_apart)
        among_doses = (
            isinstance(entry, Bolus) and counts.doses_count_bolus
            for entry, counts in zip(case.entries, self.totals_count, strict=True)
        )
        self._among_doses = list(accumulate(among_doses, initial=0))
        """How many boluses before each entry a device counts among its doses."""
        self._runs = self._find_runs()
        self._stretches: dict[tuple[int, int], list[Stretch]] = {}
        self._begins = [run.begins for run in self._runs]
        self._ends = [run.ends for run in self._runs]

    def stretches(self, begin: int, end: int) -> list[Stretch]:
        """The stretches from after one entry to before another."""
        if (begin, end) not in self._stretches:
            first, last = self.runs_between(begin, end)
            self._stretches[begin, end] = [
                Stretch(in_force=run.in_force, minutes=self._clipped(run, begin, end))
                for run in self._runs[first:last]
            ]
        return self._stretches[begin, end]

    def runs_between(self, begin: int, end: int) -> tuple[int, int]:
        """The numbers of the first run that reaches between two entries, and of the first one after that."""
        return bisect_right(self._ends, begin), bisect_left(self._begins, end)

    def run(self, number: int) -> Stretch:
        """A whole run."""
        run = self._runs[number]
        return Stretch(in_force=run.in_force, minutes=self._clipped(run, run.begins, run.ends))

    @property
    def runs(self) -> int:
        """How many there are."""
        return len(self._runs)

    def clipped_run(self, number: int, begin: int, end: int) -> Stretch:
        """What of a run is between two entries."""
        run = self._runs[number]
        return Stretch(in_force=run.in_force, minutes=self._clipped(run, begin, end))

    def ran_with(self, syringe: str, end: int) -> Fraction:
        """How long the device ran with a syringe on, up to an entry."""
        return total(
            self._clipped(run, 0, end) for run in self._runs if run.syringe == syringe and run.begins < end
        )

    def ran(self, begin: int, end: int) -> Fraction:
        """How long the device ran from one entry to another; the number of entries stands for `now`."""
        return total(stretch.minutes for stretch in self.stretches(begin, end))

    def given_apart_between(self, begin: int, end: int) -> Sequence[int]:
        """The boluses and primes between two entries, by their places."""
        return self._given_apart[bisect_right(self._given_apart, begin) : bisect_left(self._given_apart, end)]

    def boluses_among_doses(self, begin: int, end: int) -> int:
        """How many boluses between two entries the device counts among its doses."""
        return self._among_doses[end] - self._among_doses[begin + 1]

    def bolus_amount(self, place: int, bolus: Bolus) -> Fraction:
        """The mg of a bolus; a device in volumes gives what is in the syringe."""
        in_force = self.states[place].in_force
        if in_force is not None and in_force.in_volumes and in_force.concentration is not None:
            return bolus.amount * in_force.concentration
        return bolus.amount

    def _clipped(self, run: _Run, begin: int, end: int) -> Fraction:
        return self.times[min(run.ends, end)] - self.times[max(run.begins, begin)]

    def _effective_times(self) -> list[Fraction]:
        times = []
        latest = self.entries[0].at.minutes
        for place, entry in enumerate(self.entries):
            if entry.at.minutes < latest:
                self.late[place] = latest - entry.at.minutes
            else:
                latest = entry.at.minutes
            times.append(latest)
        return [*times, latest if self.case.now is None else self.case.now]

    def _walk(self) -> list[State]:
        states = [State()]
        for place, entry in enumerate(self.entries):
            states.append(self._after(states[-1], place, entry))
        return states

    def _after(self, state: State, place: int, entry: Entry) -> State:
        match entry:
            case Loaded(syringe=syringe):
                in_force = self._in_force_with(state, syringe)
                return State(on=syringe, loading=place, in_force=in_force)
            case Removed():
                return State(in_force=state.in_force)
            case Settings():
                return _changed(state, self._in_force(place, state.on), running=state.running)
            case DeviceChanged():
                return _changed(state, None, running=False)
            case Started():
                return _changed(state, state.in_force, running=True)
            case Paused():
                return _changed(state, state.in_force, running=False)
            case _:
                return state

    def _in_force_with(self, state: State, syringe: str) -> InForce | None:
        """The settings once this syringe is on: a device in volumes gives what is in it."""
        in_force = state.in_force
        if in_force is None or not in_force.in_volumes:
            return in_force
        return self._in_force(in_force.entry, syringe)

    def _in_force(self, place: int, on: str | None) -> InForce:
        settings = self.entries[place]
        assert isinstance(settings, Settings)  # noqa: S101  # what is in force was a settings entry
        if settings.concentration is not None:
            return _set_to(place, settings, Fraction(1), settings.concentration)
        if on is None:
            # Nobody knows what it would give; it cannot run either.
            return _set_to(place, settings, _NOTHING, None)
        concentration = self.issued[on].concentration
        return _set_to(place, settings, concentration, concentration)

    def _find_runs(self) -> list[_Run]:
        """Pieces between two entries in which the device ran, joined where nothing broke them."""
        after = enumerate(self.states[1:])
        pieces = ((place, state) for place, state in after if state.running)
        runs = []
        for _, group in groupby(enumerate(pieces), key=lambda each: _unbroken(*each)):
            joined = [piece for _, piece in group]
            (begins, state), (last, _) = joined[0], joined[-1]
            assert state.in_force is not None  # noqa: S101  # it cannot be started without
            assert state.on is not None  # noqa: S101  # nor without a syringe
            runs.append(_Run(begins=begins, ends=last + 1, in_force=state.in_force, syringe=state.on))
        return runs


def _changed(state: State, in_force: InForce | None, *, running: bool) -> State:
    """The same syringe on by the same loading."""
    return State(on=state.on, loading=state.loading, in_force=in_force, running=running)


def _unbroken(number: int, piece: tuple[int, State]) -> tuple[int, int]:
    """The same for pieces that follow each other under one settings entry."""
    place, state = piece
    return place - number, state.in_force.entry if state.in_force else -1


def _set_to(place: int, settings: Settings, factor: Fraction, concentration: Fraction | None) -> InForce:
    dose, rate, limits = settings.demand_dose, settings.rate, settings.limits
    if settings.concentration is None:
        dose, rate = find_times(dose, factor), times(rate, factor)
        limits = tuple(Limit(amount=each.amount * factor, window=each.window) for each in limits)
    return InForce(
        entry=place,
        concentration=concentration,
        in_volumes=settings.concentration is None,
        demand_dose=dose,
        lockout=settings.lockout,
        rate=rate / _HOUR if rate else rate,
        limits=limits,
    )


def _totals_count(case: AccountCase) -> list[TotalsCount]:
    """What each device's totals count: what its first entry to say so says, until a later one says other."""
    changes = [place for place, entry in enumerate(case.entries) if isinstance(entry, DeviceChanged)]
    counts: list[TotalsCount] = []
    for begin, end in pairwise([0, *changes, len(case.entries)]):
        of_device = case.entries[begin:end]
        said = [each.totals_count if isinstance(each, Settings | DeviceChanged) else {} for each in of_device]
        first: dict[str, bool] = {}
        for each in reversed(said):
            first.update(each)
        now = replace(case.policy.totals_count, **first)
        for each in said:
            now = replace(now, **each) if each else now
            counts.append(now)
    return counts
