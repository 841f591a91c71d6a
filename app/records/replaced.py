"""Whether another syringe is on the device than before, and whether a line still holds an old drug.

Both are told by what was said, written and read: a syringe was replaced where somebody said so, where it is
written what was taken back of it, or where both read another drug or strength on the label than before.
"""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field

from app.records import events
from app.records.kept import PRIMING, SOURCES, Entry
from app.records.sources import Source
from app.records.steps import (
    DONE,
    EARLIER_PRIMED,
    PERHAPS_REPLACED,
    REPLACED,
    REPLACED_PRIMED,
    VERIFIED,
    Plan,
)
from app.records.taken_back import IN_LINE, is_nothing
from app.records.ward_events import DrugTakenBack


@dataclass(frozen=True, kw_only=True)
class Replaced:
    """The last readings before which a syringe was replaced, and one from which a line was primed.

    `perhaps`: the reading after danger in the label, where nobody says that the syringe was replaced;
    `is_same`: both say that it was not. `unsaid`: the positions of the entries that tell of a replacement of
    which nobody had said so: what was done with the syringe before is due again. `earlier`: a check before
    this one may have left a primed line; `leaves_line`: so may this one, once it is given up.
    """

    last: int | None = None
    primed: int | None = None
    perhaps: int | None = None
    is_same: bool = False
    unsaid: frozenset[int] = frozenset()
    earlier: bool = False
    leaves_line: bool = False

    @property
    def facts(self) -> tuple[str, ...]:
        """What the plan of steps asks."""
        told = {REPLACED: self.last, REPLACED_PRIMED: self.primed, PERHAPS_REPLACED: self.perhaps}
        earlier = (EARLIER_PRIMED,) if self.earlier else ()
        return (*earlier, *(fact for fact, number in told.items() if number is not None))

    @property
    def to_write_of(self) -> int | None:
        """The reading before which the syringe was replaced of which somebody writes now."""
        return self.last if self.perhaps is None or self.is_same else self.perhaps


@dataclass(kw_only=True)
class _SoFar:
    """What the entries up to one tell; only this module changes it.

    A line `is_primed` from the syringe that is on, `was_primed` when the reading at hand began, and
    `perhaps_primed` when danger was seen; `ever_primed` from whichever, and `earlier` before this check.
    `held` is what both read on its label.
    """

    earlier: bool = False
    ever_primed: bool = False
    is_primed: bool = False
    was_primed: bool = False
    perhaps_primed: bool = False
    held: object = None
    last: int | None = None
    primed: int | None = None
    perhaps: int | None = None
    is_same: bool = False
    in_line: dict[int, str] = field(default_factory=dict)
    unsaid: set[int] = field(default_factory=set)

    def replaces(self, number: int, *, primed: bool) -> None:
        """Another syringe is on; before it is primed anew the line holds what it held."""
        self.last, self.perhaps = number, None
        self.primed = number if primed else self.primed
        self.is_primed = self.was_primed = False

    def primes(self) -> None:
        """A line is primed."""
        self.is_primed = self.ever_primed = True

    def confirms(self, event: events.StepsConfirmed, plan: Plan) -> None:
        """A line is primed, or the syringe is the same."""
        told = [step for step in plan.steps if step.id in event.steps]
        if event.part == DONE and any(step.primes for step in told):
            self.primes()
        if event.part == VERIFIED and any(step.only_if == PERHAPS_REPLACED for step in told):
            self.is_same = True

    def sees_danger(self, event: events.RoundVoided) -> None:
        """Whoever sees danger in the label may have the syringe replaced, and says nothing of it."""
        self.was_primed = self.is_primed
        if Source.LABEL in event.touched:
            self.replaces(event.round + 1, primed=self.is_primed)
            self.held = None
        elif not event.sources or Source.LABEL in event.sources:
            self.perhaps, self.perhaps_primed, self.is_same = event.round + 1, self.is_primed, False

    def opens(self, event: events.NextReadingOpened) -> None:
        """Somebody says that the syringe was replaced, or something else is read again."""
        self.was_primed = self.is_primed
        if Source.LABEL in event.touched:
            self.replaces(event.round, primed=self.is_primed)
            self.held = None

    def compares(self, entry: Entry, number: int, now: object, *, is_told: bool) -> None:
        """Both have read the label: another drug or strength is another syringe's."""
        is_another = self.held is not None and now not in (None, self.held)
        if is_another and is_told:
            self.replaces(number, primed=self.was_primed)
            self.unsaid.add(entry.position)
        if now is not None and (is_told or not is_another):
            self.held = now

    def writes(self, entry: Entry, event: DrugTakenBack) -> None:
        """What was taken back tells that a syringe was replaced, and whether a line was primed from it."""
        if event.round == self.perhaps:
            self.replaces(event.round, primed=self.perhaps_primed)
            self.unsaid.add(entry.position)
        if event.held_in == IN_LINE:
            self.in_line[event.round] = event.exact

    def told(self) -> Replaced:
        """What it comes to."""
        written = None if self.last is None else self.in_line.get(self.last)
        by_writing = self.last if written is not None and not is_nothing(written) else None
        return Replaced(
            last=self.last,
            primed=by_writing if self.primed is None else self.primed,
            perhaps=self.perhaps,
            is_same=self.is_same,
            unsaid=frozenset(self.unsaid),
            earlier=self.earlier,
            leaves_line=self.ever_primed or self.earlier,
        )


def find_replaced(
    entries: Iterable[Entry], plan: Plan, contents: Mapping[int, object], apart: Collection[int] = ()
) -> Replaced:
    """What the entries of a check tell of its syringes.

    `contents` are drug and strength by round, where both read them alike on the label. Where the two read
    them differently one of them was wrong, and the syringe is the same. While other readings are `apart`,
    nobody is told that the label is another syringe's, as of every other finding.
    """
    told = tuple(entries)
    opened = (each.event for each in told if isinstance(each.event, events.CheckOpened))
    total = _SoFar(earlier=any(each.line_primed for each in opened))
    for entry in told:
        match entry.event:
            case events.HandedIn(subject=subject) if subject == PRIMING:
                total.primes()
            case events.StepsConfirmed() as event:
                total.confirms(event, plan)
            case events.NextReadingOpened() as event:
                total.opens(event)
            case events.RoundVoided() as event:
                total.sees_danger(event)
            case events.Compared(subject=subject, round=number) if subject == SOURCES:
                total.compares(entry, number, contents.get(number), is_told=number not in apart)
            case DrugTakenBack() as event:
                total.writes(entry, event)
            case _:
                pass
    return total.told()
