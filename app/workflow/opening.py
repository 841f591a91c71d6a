"""Open a check, find it by its code, join it."""

from dataclasses import dataclass
from datetime import timedelta

from app.base import Act
from app.keys import code_digest, make_join_code
from app.people import Permission, may
from app.records import events
from app.records.kept import FIRST, SECOND, JoinCode, KeptCheck, KeptInfusion, Participant
from app.records.life import Action, may_be_done
from app.records.state import ENDED, Phase
from app.storage import ConstraintBroken, Reader, Transaction
from app.workflow.loading import POLICY, content_in_force, load, load_check, lock_and_load, roles_of
from app.workflow.queueing import one_at_a_time
from app.workflow.refusals import NotAllowed, NotFound, NotNow, NotOnShift
from app.workflow.site import Site

SET_UP = "set-up"


@dataclass(frozen=True, kw_only=True)
class Opened:
    """The check is open and its opener has joined; the code brings the second in from another device."""

    check: str
    code: str


@dataclass(frozen=True, kw_only=True)
class AlreadyOpen:
    """A check is open at this bed."""

    check: str


@dataclass(frozen=True)
class NoSuchUnit:
    """The unit is not one of the site's."""


@dataclass(frozen=True, kw_only=True)
class Joined:
    """The person is one of the two."""

    check: str


@dataclass(frozen=True)
class AlreadyJoined:
    """The person is one of the two already."""

    check: str


@dataclass(frozen=True)
class Full:
    """Two people have joined; a third cannot."""


@dataclass(frozen=True)
class ThirdPersonElsewhere:
    """Whoever took a request for help can be neither of the two, here or in the infusion's next check."""


@dataclass(frozen=True)
class CodeNotKnown:
    """The code is wrong, used or too old."""


def open_check(
    site: Site, act: Act, *, unit: str, bed: str, coin: int
) -> Opened | AlreadyOpen | NoSuchUnit | ThirdPersonElsewhere | NotAllowed | NotOnShift:
    """Open a set-up check at a bed; `coin` (0 or 1) is drawn by the caller and decides the opener's slot."""
    code = make_join_code()
    bed = bed.strip()
    with site.store.write() as tx:
        if tx.find_unit(unit) is None:
            return NoSuchUnit()
        refused = _refused_here(tx, act, unit)
        if refused is not None:
            return refused
        one_at_a_time(tx, f"opening {unit} {bed}", act.now)
        infusion, rereadings, running = _infusion_at(tx, act, unit, bed)
        if running:
            return AlreadyOpen(check=running)
        check = KeptCheck(
            id=act.new_id(),
            infusion=infusion,
            kind=SET_UP,
            unit=unit,
            bed=bed,
            opened_by=act.by.person,
            opened_at=act.now,
        )
        tx.add_check(check)
        opened = events.CheckOpened(check_kind=SET_UP, unit=unit, bed=bed, rereadings_before=rereadings)
        tx.append(opened, act=act, check=check.id, infusion=infusion)
        try:
            _take_slot(tx, act, check, FIRST + coin)
        except ConstraintBroken:
            tx.refuse()
            return ThirdPersonElsewhere()
        _issue_code(tx, act, check, code)
    return Opened(check=check.id, code=code)


def _refused_here(reader: Reader, act: Act, unit: str) -> NotAllowed | NotOnShift | None:
    """Why this person cannot be one of the two on a unit, if so: asked here too, not by the route alone."""
    if not may(roles_of(reader, act.by.person), Permission.CHECK):
        return NotAllowed()
    return None if act.by.unit == unit else NotOnShift()


def _infusion_at(tx: Transaction, act: Act, unit: str, bed: str) -> tuple[str, int, str]:
    """The infusion that a set-up here belongs to, its re-readings so far, and a check that is open here.

    A set-up that was abandoned passes its infusion, and with it the count of re-readings, to the next one; an
    infusion that runs without a check gets the check that it lacks.
    """
    newest = next(iter(tx.infusions_at(unit, bed)), None)
    if newest is not None:
        checks = tx.checks_of_infusion(newest.id)
        if not checks:
            return newest.id, 0, ""
        state = load_check(tx, checks[-1], act.now).state
        if state.phase not in ENDED:
            return newest.id, 0, checks[-1].id
        if state.phase is Phase.ABANDONED:
            return newest.id, state.rereadings, ""
    fresh = KeptInfusion(id=act.new_id(), unit=unit, bed=bed, opened_at=act.now)
    tx.add_infusion(fresh)
    return fresh.id, 0, ""


def _take_slot(tx: Transaction, act: Act, check: KeptCheck, slot: int) -> None:
    tx.add_participant(Participant(check=check.id, slot=slot, person=act.by.person, joined_at=act.now))
    tx.append(events.Joined(slot=slot), act=act, check=check.id, infusion=check.infusion)


def _issue_code(tx: Transaction, act: Act, check: KeptCheck, code: str) -> None:
    life = content_in_force(tx, POLICY, act.now)["join_code_minutes"]
    tx.add_code(
        JoinCode(
            digest=code_digest(code),
            check=check.id,
            expires_at=act.now + timedelta(minutes=life),
        )
    )


def new_code(site: Site, act: Act, check_id: str) -> str | NotFound | Full:
    """A fresh code for a check that still waits for its second."""
    code = make_join_code()
    with site.store.write() as tx:
        loaded = load(tx, check_id, act.now)
        if loaded is None or loaded.state.slot_of(act.by.person) is None:
            return NotFound()
        if {FIRST, SECOND} <= set(loaded.state.people):
            return Full()
        _issue_code(tx, act, loaded.state.check, code)
    return code


def check_by_code(site: Site, act: Act, code: str) -> str | CodeNotKnown:
    """The check a code stands for, while the code lives."""
    with site.store.read() as reader:
        known = reader.find_code(code_digest(code))
    if known is None or known.expires_at < act.now:
        return CodeNotKnown()
    return known.check


def join_check(
    site: Site, act: Act, check_id: str
) -> Joined | AlreadyJoined | Full | ThirdPersonElsewhere | NotFound | NotNow | NotAllowed | NotOnShift:
    """Take the free slot of a check."""
    with site.store.write() as tx:
        loaded = lock_and_load(tx, check_id, act.now)
        if loaded is None:
            return NotFound()
        state = loaded.state
        if state.slot_of(act.by.person) is not None:
            return AlreadyJoined(check_id)
        refused = _refused_here(tx, act, state.check.unit)
        if refused is not None:
            return refused
        if {FIRST, SECOND} <= set(state.people):
            return Full()
        if not may_be_done(Action.JOIN, state.phase):
            return NotNow(phase=state.phase)
        free = next(slot for slot in (FIRST, SECOND) if slot not in state.people)
        try:
            _take_slot(tx, act, state.check, free)
        except ConstraintBroken:
            tx.refuse()
            return ThirdPersonElsewhere()
    return Joined(check=check_id)
