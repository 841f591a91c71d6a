"""A check for whoever acts on it: one of its two, in a phase that allows the act; and people as viewers."""

from dataclasses import dataclass
from datetime import datetime

from app.base import Act, Actor
from app.people import Permission, Role, may
from app.records.kept import KeptCheck, KeptInfusion
from app.records.life import Action, may_be_done
from app.records.state import CheckState
from app.records.visibility import Viewer, bed_of, is_blind_in
from app.site.loading import Loaded, load_check, load_infusion, lock_and_load
from app.storage import Reader, Transaction
from app.workflow.refusals import NotAllowed, NotFound, NotNow, NotOnShift, NotYours


@dataclass(frozen=True, kw_only=True)
class Own:
    """A check, held to the end of the act, and the slot in it of whoever acts."""

    loaded: Loaded
    slot: int
    act: Act

    @property
    def state(self) -> CheckState:
        """The check's state."""
        return self.loaded.state


def lock_own(tx: Transaction, act: Act, check_id: str, action: Action) -> Own | NotFound | NotYours | NotNow:
    """The check for one of its two clinicians, when the action may be done in its phase."""
    loaded = lock_and_load(tx, check_id, act.now)
    if loaded is None:
        return NotFound()
    slot = loaded.state.slot_of(act.by.person)
    if slot is None:
        return NotYours()
    if not may_be_done(action, loaded.state):
        return NotNow(phase=loaded.state.phase)
    return Own(loaded=loaded, slot=slot, act=act)


def roles_of(reader: Reader, person_id: str) -> frozenset[Role]:
    """The roles a person holds now; nobody unknown has any."""
    person = reader.find_person(person_id)
    return person.roles if person else frozenset()


def viewer_of(
    reader: Reader, by: Actor, roles: frozenset[Role], now: datetime, *, of: CheckState | None = None
) -> Viewer:
    """The person as a viewer, with the beds at which this person reads blind at the moment.

    Whoever looks at one check needs to know it `of` that check's bed and infusion alone.
    """
    blind: set[KeptCheck] = set()
    for check in reader.open_checks_of_person(by.person, beside=of.check if of else None):
        state = of if of and of.check.id == check.id else load_check(reader, check, now).state
        if is_blind_in(state):
            blind.add(check)
    return Viewer(
        person=by.person,
        unit=by.unit,
        sees_unit=may(roles, Permission.UNIT_STATE),
        reads_records=may(roles, Permission.READ_RECORDS),
        blind_at=frozenset(bed_of(each) for each in blind),
        blind_on=frozenset(each.infusion for each in blind),
    )


def beds_read_blind(reader: Reader, viewer: Viewer) -> frozenset[tuple[str, str]]:
    """The beds at which the viewer reads blind, and those at which the same infusions were checked before.

    For what knows of a row at which bed it was, and is to tell nothing of those infusions.
    """
    earlier = (each for infusion in viewer.blind_on for each in reader.checks_of_infusion(infusion))
    return viewer.blind_at | {bed_of(each) for each in earlier}


def not_theirs(act: Act, infusion: KeptInfusion, roles: frozenset[Role]) -> NotAllowed | NotOnShift | None:
    """Why an infusion is not for somebody with these roles to act on, if so."""
    if not may(roles, Permission.CHECK):
        return NotAllowed()
    return None if infusion.unit == act.by.unit else NotOnShift()


NotTheirs = NotFound | NotAllowed | NotOnShift


def infusion_for(reader: Reader, act: Act, infusion_id: str) -> KeptInfusion | NotTheirs:
    """An infusion for whoever acts on it: on the unit of the shift, by somebody who may check."""
    infusion = reader.find_infusion(infusion_id)
    if infusion is None:
        return NotFound()
    return not_theirs(act, infusion, roles_of(reader, act.by.person)) or infusion


def has_page_of(infusion: KeptInfusion, by: Actor, roles: frozenset[Role]) -> bool:
    """Whether somebody is shown an infusion's pages: on the unit of the shift, or by reading records."""
    on_unit = may(roles, Permission.UNIT_STATE) and infusion.unit == by.unit
    return on_unit or may(roles, Permission.READ_RECORDS)


def protected_for(reader: Reader, act: Act, infusion_id: str) -> KeptInfusion | NotFound | NotAllowed:
    """An infusion for whoever does what protects its patient: on any unit, as a stop is anybody's."""
    infusion = reader.find_infusion(infusion_id)
    if infusion is None:
        return NotFound()
    return infusion if may_protect(roles_of(reader, act.by.person)) else NotAllowed()


def may_protect(roles: frozenset[Role]) -> bool:
    """Whether somebody with these roles may write down what protects a patient: stop, pause, lowering."""
    return may(roles, Permission.CHECK) or may(roles, Permission.UNIT_STATE)


def is_found_on(reader: Reader, infusion: KeptInfusion, unit: str) -> bool:
    """Whether an infusion is on a unit, or was taken from there and no two have checked it since."""
    if infusion.unit == unit:
        return True
    transfer = load_infusion(reader, infusion.id).transfer
    return transfer is not None and transfer.is_from(unit)
