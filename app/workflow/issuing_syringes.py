"""A syringe is issued: it comes to a bed from the pharmacy or the ward's locked store, and its account opens.

One person writes down who handed it to whom, its number, its volume and its seal. It is shown to nobody who
reads blind there; what two read on its label is held beside it once both have handed in. What is not put on
goes back unopened, to a pharmacist who signs for it.
"""

from dataclasses import dataclass

from app.base import Act
from app.judging.in_hand import is_of_lot
from app.people import Permission, Person, is_same_name, may
from app.quantities import Dimension, Fault, exact, parse_quantity
from app.records.account_events import AccountLeftOpen
from app.records.issue_events import IssueSettled, SyringeIssued
from app.records.issued import SOURCES, Issued, out_of
from app.records.kept import KeptInfusion
from app.records.visibility import is_closed_to
from app.site.beds import beds_in
from app.site.installation import Site
from app.site.issued import issued_of
from app.site.loading import load_infusion
from app.storage import Reader, Transaction
from app.workflow.credentials import Known, Where, forget_tries, try_credential
from app.workflow.loading import roles_of, viewer_of
from app.workflow.opening import fresh_infusion, place_at
from app.workflow.queueing import hold_bed
from app.workflow.refusals import (
    NoSuchBed,
    NoSuchUnit,
    NotAllowed,
    NotFound,
    NotOnShift,
    ReadsBlind,
    TooManyTries,
    WrongCredential,
)
from app.workflow.witnessing import Unwritable

_LONGEST = 80


@dataclass(frozen=True, kw_only=True)
class Given:
    """What one person writes of it; `another`: it is one more under a number that is out already."""

    source: str
    giver: str
    receiver: str
    number: str
    volume: str
    sealed: str
    another: bool = False


@dataclass(frozen=True, kw_only=True)
class Noted:
    """It stands, and belongs to this infusion."""

    infusion: str


@dataclass(frozen=True)
class OutAlready:
    """A syringe with this number is out for this infusion: whoever writes says whether it is another one."""


@dataclass(frozen=True)
class NothingOut:
    """It is not out any more: somebody has put it on or given it back."""


@dataclass(frozen=True)
class NotTheirs:
    """Whoever has it cannot sign for taking it back, nor can anybody who is no pharmacist."""


Refused = NotFound | NotAllowed | NotOnShift | ReadsBlind


def note_issued(
    site: Site, act: Act, *, unit: str, bed: str, given: Given
) -> Noted | Unwritable | OutAlready | NoSuchUnit | NoSuchBed | Refused:
    """Write down that a syringe was issued for whoever lies at a bed."""
    faults = _faults(given)
    with site.store.write() as tx:
        refused = _not_for(tx, act, unit)
        if refused is not None:
            return refused
        if tx.find_unit(unit) is None:
            return NoSuchUnit()
        hold_bed(tx, unit, bed, act.now)
        beds = beds_in(tx, unit)
        named = beds.find(bed)
        if named is None:
            return NoSuchBed(beds=beds.known)
        infusion = _infusion_at(tx, act, unit, named)
        viewer = viewer_of(tx, act.by, roles_of(tx, act.by.person), act.now)
        if (unit, named) in viewer.blind_at or (infusion is not None and is_closed_to(infusion, viewer)):
            # Whether a number is out already would be held against what is stored.
            return ReadsBlind()
        if faults:
            return tx.refuse(Unwritable(faults=faults))
        out = out_of(issued_of(tx, infusion.id)) if infusion else ()
        if not given.another and any(is_of_lot(given.number, each.event.number) for each in out):
            return OutAlready()
        its = infusion or fresh_infusion(tx, act, unit, named)
        tx.append(_issued(given), act=act, infusion=its.id)
        return Noted(infusion=its.id)


def _issued(given: Given) -> SyringeIssued:
    volume = parse_quantity(given.volume, Dimension.VOLUME)
    assert not isinstance(volume, Fault)  # noqa: S101  # its faults were looked for before
    return SyringeIssued(
        source=given.source,
        giver=given.giver.strip(),
        receiver=given.receiver.strip(),
        number=given.number.strip(),
        volume=given.volume,
        exact=f"{exact(volume.value)} mL",
        sealed=given.sealed == "yes",
    )


def _faults(given: Given) -> dict[str, str]:
    volume = parse_quantity(given.volume, Dimension.VOLUME)
    texts = {
        "giver": (given.giver, "Write who handed it over."),
        "receiver": (given.receiver, "Write who took it."),
        "number": (given.number, "Write the serial or the lot from the label."),
    }
    faults = {name: says for name, (text, says) in texts.items() if not text.strip()}
    faults |= {name: "Write it shorter." for name, (text, _) in texts.items() if len(text) > _LONGEST}
    if "receiver" not in faults and is_same_name(given.giver, given.receiver):
        faults["receiver"] = "Two people: one hands it over, another takes it."
    if given.source not in SOURCES:
        faults["source"] = "Choose where it comes from."
    if given.sealed not in ("yes", "no"):
        faults["sealed"] = "Look at its seal, and choose."
    if isinstance(volume, Fault):
        faults["volume"] = volume.says
    return faults


def _not_for(reader: Reader, act: Act, unit: str) -> NotAllowed | NotOnShift | None:
    """Nurses on the unit of their shift; a pharmacist serves every unit."""
    roles = roles_of(reader, act.by.person)
    if not may(roles, Permission.UNIT_STATE):
        return NotAllowed()
    return None if act.by.unit == unit or may(roles, Permission.READ_RECORDS) else NotOnShift()


def _infusion_at(reader: Reader, act: Act, unit: str, bed: str) -> KeptInfusion | None:
    """Whose syringe it is: of the check that is open there, of what runs, or as a set-up would begin."""
    for check in reader.open_checks_at(unit, bed):
        return reader.find_infusion(check.infusion)
    newest = next(iter(reader.infusions_at(unit, bed)), None)
    if newest is not None and load_infusion(reader, newest.id).is_running:
        return newest
    return place_at(reader, act, unit, bed).infusion


@dataclass(frozen=True, kw_only=True)
class IssueSeen:
    """One that is out, for whoever gives it back."""

    infusion: KeptInfusion
    issued: Issued


def see_issue(site: Site, act: Act, infusion_id: str, position: int) -> IssueSeen | NothingOut | Refused:
    """One that is out."""
    with site.store.read() as reader:
        return _find_out(reader, act, infusion_id, position)


def give_back(
    site: Site, act: Act, infusion_id: str, position: int, *, login: str, secret: str
) -> Noted | NothingOut | NotTheirs | Refused | WrongCredential | TooManyTries:
    """It goes back unopened: a pharmacist takes it, and signs with id and full secret."""
    where = Where(signed_in=act.by.person)
    known = try_credential(site, act.now, login=login, secret=secret, what="receiving", where=where)
    if not isinstance(known, Known):
        return known
    with site.store.write() as tx:
        forget_tries(tx, known)
        seen = _hold_out(tx, act, infusion_id, position)
        if not isinstance(seen, IssueSeen):
            return seen
        if not _may_take(tx, known.person, seen.issued):
            return tx.refuse(NotTheirs())
        told = IssueSettled(issue=str(position), how=IssueSettled.RETURNED, receiver=known.person.id)
        tx.append(told, act=act, infusion=infusion_id)
        return Noted(infusion=infusion_id)


def give_to_nobody(site: Site, act: Act, infusion_id: str, position: int) -> Noted | NothingOut | Refused:
    """It is not here any more, and nobody signed for it: the charge nurse settles it."""
    with site.store.write() as tx:
        seen = _hold_out(tx, act, infusion_id, position)
        if not isinstance(seen, IssueSeen):
            return seen
        told = IssueSettled(issue=str(position), how=IssueSettled.NOT_RECEIVED)
        entry = tx.append(told, act=act, infusion=infusion_id)
        left = AccountLeftOpen(round=0, drug=str(entry.position))
        tx.append(left, act=act, infusion=infusion_id)
        return Noted(infusion=infusion_id)


def _may_take(reader: Reader, person: Person, issued: Issued) -> bool:
    had_it = is_same_name(person.printed_name, issued.event.receiver)
    return may(roles_of(reader, person.id), Permission.RECEIVE) and not had_it


def _find_out(reader: Reader, act: Act, infusion_id: str, position: int) -> IssueSeen | NothingOut | Refused:
    infusion = reader.find_infusion(infusion_id)
    if infusion is None:
        return NotFound()
    refused = _not_for(reader, act, infusion.unit)
    if refused is not None:
        return refused
    if is_closed_to(infusion, viewer_of(reader, act.by, roles_of(reader, act.by.person), act.now)):
        return ReadsBlind()
    out = (each for each in out_of(issued_of(reader, infusion_id)) if each.position == position)
    return next((IssueSeen(infusion=infusion, issued=each) for each in out), NothingOut())


def _hold_out(tx: Transaction, act: Act, infusion_id: str, position: int) -> IssueSeen | NothingOut | Refused:
    infusion = tx.find_infusion(infusion_id)
    if infusion is not None:
        hold_bed(tx, infusion.unit, infusion.bed, act.now)
    return _find_out(tx, act, infusion_id, position)
