"""Take a patient over from another unit: nothing is stopped for it, and responsibility passes by one tap."""

from dataclasses import dataclass
from datetime import datetime

from app.base import Act
from app.people import Permission, may
from app.records.change_events import PatientTaken
from app.records.infusion import InfusionState
from app.records.kept import KeptInfusion
from app.records.visibility import bed_of
from app.site.beds import beds_in
from app.site.installation import Site
from app.site.loading import load_infusion, lock_and_load, rules_in_force, unit_name
from app.storage import OfInfusions, Reader
from app.workflow.changing import Occupied, is_occupied
from app.workflow.comparing import compare_before_its_end
from app.workflow.loading import roles_of
from app.workflow.queueing import hold_bed
from app.workflow.refusals import NoSuchBed, NoSuchUnit, NotAllowed, NotFound, NotOnShift
from app.workflow.settling import end_for_a_transfer

_Place = tuple[str, str]


@dataclass(frozen=True, kw_only=True)
class Taken:
    """Patient and infusion are here, and whoever took them answers for them."""

    infusion: str


@dataclass(frozen=True, kw_only=True)
class AlreadyTaken:
    """Somebody, by name, took the patient from that bed already, to this unit and bed."""

    by: str
    unit: str
    bed: str


@dataclass(frozen=True)
class NothingThere:
    """No infusion is at that bed: none was started, or it has ended, or was stopped too long ago."""


@dataclass(frozen=True)
class SeveralRun:
    """By the log more than one runs at that bed: that is settled first."""


@dataclass(frozen=True)
class SameUnit:
    """It is a bed of this unit: where the bed alone changes nobody is taken over."""


@dataclass(frozen=True, kw_only=True)
class OpenThere:
    """A check of it is open on the other unit: it ends with the taking, where whoever takes it says so."""

    check: str


@dataclass(frozen=True, kw_only=True)
class NoSuchBedThere:
    """The other unit has no such bed; `beds` are those that it has."""

    beds: tuple[str, ...]


NotTaken = (
    AlreadyTaken
    | NothingThere
    | SeveralRun
    | SameUnit
    | Occupied
    | OpenThere
    | NoSuchUnit
    | NoSuchBedThere
    | NoSuchBed
    | NotOnShift
)


@dataclass(frozen=True, kw_only=True)
class TransferSeen:
    """A transfer that goes on, by state alone: from where to where, and until when two have read it.

    `sender` answered for it before, by name; `is_open`: one of its checks is open; `runs`: what is read runs.
    """

    infusion: str
    before_unit: str
    before: str
    unit: str
    bed: str
    sender: str
    due_at: datetime
    overdue: bool
    is_open: bool
    runs: bool


def take_patient(
    site: Site, act: Act, *, before: _Place, unit: str, bed: str, gives_up: str = ""
) -> Taken | NotTaken | NotAllowed:
    """Take patient and infusion from a bed of another unit to one of the own; one person is enough.

    `gives_up` is the check of which a page told that it is open there, and ends with it.
    """
    if gives_up:
        compare_before_its_end(site, gives_up, act.now)
    with site.store.write() as tx:
        if not may(roles_of(tx, act.by.person), Permission.CHECK):
            return NotAllowed()
        place = _named(tx, act, before, (unit, bed))
        if not isinstance(place, _Move):
            return place
        # Always in the same order: two that change places wait for each other, and never for good.
        for each in sorted({place.before, place.to}):
            hold_bed(tx, *each, act.now)
        found = _found(tx, act, place)
        if not isinstance(found, KeptInfusion):
            return found
        for check in _checks_of(tx, found):
            if check != gives_up:
                return OpenThere(check=check)
            loaded = lock_and_load(tx, check, act.now)
            assert loaded is not None  # noqa: S101  # it is open
            end_for_a_transfer(site, tx, act, loaded)
        event = PatientTaken(
            unit=place.to[0], bed=place.to[1], before_unit=place.before[0], before=place.before[1]
        )
        tx.append(event, act=act, infusion=found.id)
    return Taken(infusion=found.id)


@dataclass(frozen=True, kw_only=True)
class _Move:
    """From where to where, each as it is written in the list of its unit."""

    before: _Place
    to: _Place


def _named(
    reader: Reader, act: Act, before: _Place, to: _Place
) -> _Move | SameUnit | NoSuchUnit | NoSuchBedThere | NoSuchBed | NotOnShift:
    """The two beds that somebody means; whoever takes a patient is on shift on the unit that receives."""
    (from_unit, typed), (unit, bed) = before, to
    if unit != act.by.unit:
        return NotOnShift()
    if from_unit == unit:
        return SameUnit()
    if reader.find_unit(from_unit) is None:
        return NoSuchUnit()
    there, here = beds_in(reader, from_unit), beds_in(reader, unit)
    left, reached = there.find(typed), here.find(bed)
    if left is None:
        return NoSuchBedThere(beds=there.known)
    if reached is None:
        return NoSuchBed(beds=here.known)
    return _Move(before=(from_unit, left), to=(unit, reached))


def _found(
    reader: Reader, act: Act, move: _Move
) -> KeptInfusion | AlreadyTaken | NothingThere | SeveralRun | Occupied:
    """The one infusion that is at the bed that is left, where nothing stands against it."""
    begun = [
        (each, state)
        for each in _perhaps_there(reader, move.before)
        if (state := load_infusion(reader, each.id)).runs and state.ended_at is None
    ]
    runs = [each for each, state in begun if state.is_running]
    if len(runs) > 1:
        return SeveralRun()
    infusion = next(iter(runs), None) or _stands(reader, act, begun)
    if infusion is None:
        return _already(reader, move) or NothingThere()
    return Occupied(bed=move.to[1]) if is_occupied(reader, *move.to) else infusion


def _perhaps_there(reader: Reader, before: _Place) -> tuple[KeptInfusion, ...]:
    """What runs or waits at a bed, and what was started there and has no account that is closed."""
    left = (*reader.alive_at(*before), *reader.infusions_that(OfInfusions.END_IS_DUE, before[0]))
    return tuple({each.id: each for each in left if bed_of(each) == before}.values())


def _stands(reader: Reader, act: Act, begun: list[tuple[KeptInfusion, InfusionState]]) -> KeptInfusion | None:
    """Where nothing runs, what was stopped last, as long as it is whoever lies there who has it.

    What an emergency left on it waits for no time to pass: only its end frees the bed for another patient.
    """
    passes_on = rules_in_force(reader, act.now).policy.passes_on
    stopped = [
        (run.stopped_at, each.id, each)
        for each, state in begun
        if (run := state.last_run) is not None
        and run.stopped_at is not None
        and (state.is_held_back or act.now - run.stopped_at <= passes_on)
    ]
    return max(stopped)[2] if stopped else None


def _checks_of(reader: Reader, infusion: KeptInfusion) -> tuple[str, ...]:
    at_bed = reader.open_checks_at(infusion.unit, infusion.bed)
    return tuple(each.id for each in at_bed if each.infusion == infusion.id)


def _already(reader: Reader, move: _Move) -> AlreadyTaken | None:
    """Whether somebody took the patient from that bed, and no two have checked it since."""
    for each in reader.all_infusions_that(_TAKEN):
        transfer = load_infusion(reader, each.id).transfer
        if transfer is not None and (transfer.before_unit, transfer.before) == move.before:
            by, unit = _name(reader, transfer.by), unit_name(reader, each.unit)
            return AlreadyTaken(by=by, unit=unit, bed=each.bed)
    return None


def see_transfer(site: Site, act: Act, infusion_id: str) -> TransferSeen | NotFound:
    """A transfer that goes on, for whoever is on shift on the unit that received."""
    with site.store.read() as reader:
        infusion = reader.find_infusion(infusion_id)
        state = load_infusion(reader, infusion_id)
        may_see = may(roles_of(reader, act.by.person), Permission.CHECK)
        if infusion is None or state.transfer is None or not may_see or infusion.unit != act.by.unit:
            return NotFound()
        return _seen(reader, act, infusion, state)


def taken_from(reader: Reader, act: Act) -> tuple[TransferSeen, ...]:
    """What another unit took from the unit of the shift, and no two have checked since."""
    found = ((each, load_infusion(reader, each.id)) for each in reader.all_infusions_that(_TAKEN))
    return tuple(
        _seen(reader, act, each, state)
        for each, state in found
        if state.transfer is not None and state.transfer.is_from(act.by.unit) and each.unit != act.by.unit
    )


_TAKEN = OfInfusions.TAKEN


def _seen(reader: Reader, act: Act, infusion: KeptInfusion, state: InfusionState) -> TransferSeen:
    transfer = state.transfer
    assert transfer is not None  # noqa: S101  # it was asked
    due_at = transfer.at + rules_in_force(reader, act.now).policy.transfer_check_due
    return TransferSeen(
        infusion=infusion.id,
        before_unit=unit_name(reader, transfer.before_unit),
        before=transfer.before,
        unit=unit_name(reader, infusion.unit),
        bed=infusion.bed,
        sender=_name(reader, transfer.sender),
        due_at=due_at,
        overdue=act.now > due_at,
        is_open=any(each.infusion == infusion.id for each in reader.open_checks()),
        runs=state.shows_what_runs,
    )


def _name(reader: Reader, person_id: str) -> str:
    person = reader.find_person(person_id)
    return person.printed_name if person else ""
