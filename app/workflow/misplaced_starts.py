"""Whoever wrote a start without a check at the wrong bed puts it right, as long as nothing rests on it."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from app.base import Act
from app.records import events
from app.records.given_up import leads_after_giving_up
from app.records.infusion import misplaced_stops
from app.records.kept import Entry, KeptInfusion
from app.records.misplaced_starts import counting_starts, is_built_on
from app.site.installation import Site
from app.site.loading import load_check, load_infusion, unit_name
from app.storage import OfInfusions, Reader, Transaction
from app.workflow.queueing import hold_bed
from app.workflow.refusals import NotFound, NotYours


@dataclass(frozen=True, kw_only=True)
class OwnStart:
    """A start that whoever looks wrote down, and where; `ended`: a check that was open there ended with it.

    `counts` until its author says that it was another bed.
    """

    note: int
    unit: str
    bed: str
    at: datetime
    ended: bool
    counts: bool


@dataclass(frozen=True)
class SaidElsewhere:
    """The log has that it was another bed."""


@dataclass(frozen=True)
class BuiltOn:
    """Somebody has checked what runs there since, took the patient, or wrote drug of it down: it stays."""


@dataclass(frozen=True, kw_only=True)
class CheckOpenThere:
    """A check of it is open: it comes to its end first."""

    check: str


def own_starts(site: Site, act: Act) -> tuple[OwnStart, ...]:
    """What whoever looks wrote down, on any unit, that may still be of another bed; the newest first."""
    with site.store.read() as reader:
        found = [
            _own(reader, infusion, each)
            for infusion in reader.all_infusions_that(OfInfusions.UNCHECKED)
            for each in _may_be_put_right(reader, infusion, act.by.person)
        ]
    return tuple(sorted(found, key=lambda each: each.note, reverse=True))


def find_own_start(site: Site, act: Act, note: int) -> OwnStart | None:
    """One that whoever looks wrote down, also once it was put right."""
    with site.store.read() as reader:
        found = _find(reader, note)
        if found is None or found[1].by != act.by.person:
            return None
        return _own(reader, *found)


def say_elsewhere(
    site: Site, act: Act, note: int
) -> SaidElsewhere | BuiltOn | CheckOpenThere | NotYours | NotFound:
    """The author's correction: it was another bed. What is known of the bed is as it was before.

    The check that ended with it stays ended; what that had half changed, or found, comes first from then on.
    Said once more it adds nothing.
    """
    with site.store.write() as tx:
        found = _find(tx, note)
        if found is None:
            return NotFound()
        infusion, start = found
        if start.by != act.by.person:
            return NotYours()
        hold_bed(tx, infusion.unit, infusion.bed, act.now)
        course = tx.course(infusion.id)
        if str(start.position) in misplaced_stops(course):
            return SaidElsewhere()
        open_there = [
            each for each in tx.open_checks_at(infusion.unit, infusion.bed) if each.infusion == infusion.id
        ]
        if open_there:
            return CheckOpenThere(check=open_there[0].id)
        if is_built_on(course, start):
            return BuiltOn()
        tx.append(events.StopMisplaced(stop=str(start.position)), act=act, infusion=infusion.id)
        _lead_on(tx, act, infusion, start)
    return SaidElsewhere()


def _lead_on(tx: Transaction, act: Act, infusion: KeptInfusion, start: Entry) -> None:
    """What the check that ended with the start had left to be done, which it led to nothing for: it ran."""
    assert isinstance(start.event, events.StartedWithoutCheck)  # noqa: S101  # it was found as one
    gave_way = tx.find_check(start.event.instead_of)
    if gave_way is None:
        return
    state = load_infusion(tx, infusion.id)
    leads = leads_after_giving_up(load_check(tx, gave_way, act.now).state, state)
    if leads and leads != state.led_to:
        tx.append(events.LedToCheck(check_kind=leads), act=act, infusion=infusion.id)


def _find(reader: Reader, note: int) -> tuple[KeptInfusion, Entry] | None:
    found = reader.log_entries(after=note - 1, limit=1) if note > 0 else ()
    starts = [each for each in found if isinstance(each.event, events.StartedWithoutCheck)]
    infusion = reader.find_infusion(starts[0].infusion) if starts else None
    return (infusion, starts[0]) if infusion else None


def _may_be_put_right(reader: Reader, infusion: KeptInfusion, who: str) -> Iterator[Entry]:
    course = reader.course(infusion.id)
    return (each for each in counting_starts(course) if each.by == who and not is_built_on(course, each))


def _own(reader: Reader, infusion: KeptInfusion, start: Entry) -> OwnStart:
    assert isinstance(start.event, events.StartedWithoutCheck)  # noqa: S101  # it was found as one
    return OwnStart(
        note=start.position,
        unit=unit_name(reader, infusion.unit),
        bed=infusion.bed,
        at=start.at,
        ended=bool(start.event.instead_of),
        counts=str(start.position) not in misplaced_stops(reader.course(infusion.id)),
    )
