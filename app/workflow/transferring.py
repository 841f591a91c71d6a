"""Take a patient over from another unit: the device never stops, and responsibility passes by one tap."""

from dataclasses import dataclass
from datetime import datetime

from app.base import Act
from app.people import Permission, may
from app.records.change_events import PatientTaken
from app.records.infusion import InfusionState
from app.records.kept import KeptInfusion
from app.records.transfers import Transfer
from app.records.visibility import bed_of
from app.site.beds import beds_in
from app.site.installation import Site
from app.site.loading import load_infusion, rules_in_force, unit_name
from app.storage import OfInfusions, Reader
from app.workflow.changing import CheckIsOpen, Occupied, is_occupied
from app.workflow.loading import roles_of
from app.workflow.queueing import hold_bed
from app.workflow.refusals import NoSuchBed, NoSuchUnit, NotAllowed, NotFound, NotOnShift

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
class NothingRuns:
    """No infusion runs at that bed: none did, or it was stopped or has ended."""


@dataclass(frozen=True)
class SeveralRun:
    """By the log more than one runs at that bed: that is settled first."""


@dataclass(frozen=True)
class SameUnit:
    """It is a bed of this unit: where the bed alone changes nobody is taken over."""


@dataclass(frozen=True, kw_only=True)
class NoSuchBedThere:
    """The other unit has no such bed; `beds` are those that it has."""

    beds: tuple[str, ...]


NotTaken = (
    AlreadyTaken
    | NothingRuns
    | SeveralRun
    | SameUnit
    | Occupied
    | CheckIsOpen
    | NoSuchUnit
    | NoSuchBedThere
    | NoSuchBed
    | NotOnShift
)


@dataclass(frozen=True, kw_only=True)
class TransferSeen:
    """A transfer that goes on, by state alone: from where to where, and until when two have read it.

    `sender` answered for it before, by name; `is_open`: one of its checks is open.
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


def take_patient(
    site: Site, act: Act, *, before: _Place, unit: str, bed: str
) -> Taken | NotTaken | NotAllowed:
    """Take patient and infusion from a bed of another unit to one of the own; one person is enough."""
    with site.store.write() as tx:
        if not may(roles_of(tx, act.by.person), Permission.CHECK):
            return NotAllowed()
        place = _named(tx, act, before, (unit, bed))
        if not isinstance(place, _Move):
            return place
        # Always in the same order: two that change places wait for each other, and never for good.
        for each in sorted({place.before, place.to}):
            hold_bed(tx, *each, act.now)
        found = _found(tx, place)
        if not isinstance(found, KeptInfusion):
            return found
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
    reader: Reader, move: _Move
) -> KeptInfusion | AlreadyTaken | NothingRuns | SeveralRun | Occupied | CheckIsOpen:
    """The one infusion that runs at the bed that is left, where nothing stands against it."""
    found = [(each, load_infusion(reader, each.id)) for each in reader.alive_at(*move.before)]
    runs = [(each, state) for each, state in found if state.is_running]
    there = [each for each, _ in runs if bed_of(each) == move.before]
    if not there:
        return next((_already(reader, *each) for each in runs), NothingRuns())
    if len(there) > 1:
        return SeveralRun()
    (infusion,) = there
    if any(each.infusion == infusion.id for each in reader.open_checks_at(*move.before)):
        return CheckIsOpen()
    return Occupied(bed=move.to[1]) if is_occupied(reader, *move.to) else infusion


def _already(reader: Reader, infusion: KeptInfusion, state: InfusionState) -> AlreadyTaken:
    assert state.transfer is not None  # noqa: S101  # only so it is found where it is not
    return AlreadyTaken(
        by=_name(reader, state.transfer.by), unit=unit_name(reader, infusion.unit), bed=infusion.bed
    )


def see_transfer(site: Site, act: Act, infusion_id: str) -> TransferSeen | NotFound:
    """A transfer that goes on, for whoever is on shift on the unit that received."""
    with site.store.read() as reader:
        infusion = reader.find_infusion(infusion_id)
        transfer = load_infusion(reader, infusion_id).transfer
        may_see = may(roles_of(reader, act.by.person), Permission.CHECK)
        if infusion is None or transfer is None or not may_see or infusion.unit != act.by.unit:
            return NotFound()
        return _seen(reader, act, infusion, transfer)


def taken_from(reader: Reader, act: Act) -> tuple[TransferSeen, ...]:
    """What another unit took from the unit of the shift, and no two have checked since."""
    found = ((each, load_infusion(reader, each.id).transfer) for each in reader.all_infusions_that(_TAKEN))
    return tuple(
        _seen(reader, act, each, transfer)
        for each, transfer in found
        if transfer is not None and transfer.is_from(act.by.unit) and each.unit != act.by.unit
    )


_TAKEN = OfInfusions.TAKEN


def _seen(reader: Reader, act: Act, infusion: KeptInfusion, transfer: Transfer) -> TransferSeen:
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
    )


def _name(reader: Reader, person_id: str) -> str:
    person = reader.find_person(person_id)
    return person.printed_name if person else ""
