"""Open a check, find it by its code, join it."""

from dataclasses import dataclass

from app.base import Act
from app.keys import code_digest, make_join_code
from app.people import Permission, may
from app.records import events
from app.records.course import SAME_INFUSION, Bar, Course, course_after, find_bar, is_of_taken
from app.records.issued import out_of
from app.records.kept import FIRST, SECOND, JoinCode, KeptCheck, KeptInfusion, Participant
from app.records.kinds import REPEAT_SET_UP, SET_UP, Kind, Opens
from app.records.life import Action, may_be_done
from app.records.restarting import HeldBack, held_back
from app.site.beds import beds_in
from app.site.installation import Site
from app.site.issued import issued_of
from app.site.loading import load_check, load_infusion, lock_and_load, rules_in_force
from app.storage import SEEN_BY_A_COLLEAGUE, ConstraintBroken, Reader, Transaction
from app.workflow.loading import is_found_on, roles_of
from app.workflow.looking import Seen, progress_of
from app.workflow.queueing import hold_bed
from app.workflow.refusals import NoSuchBed, NoSuchUnit, NotAllowed, NotFound, NotNow, NotOnShift
from app.workflow.training_cards import NoSuchCards, refuse_cards, take_cards


@dataclass(frozen=True, kw_only=True)
class Opened:
    """The check is open and its opener has joined; the code brings the second in from another device."""

    check: str
    code: str


@dataclass(frozen=True, kw_only=True)
class AlreadyOpen:
    """A check is open at this bed."""

    check: str


@dataclass(frozen=True, kw_only=True)
class Barred:
    """Something stands against it; `led_to` is the kind of check that comes first, where one does."""

    bar: Bar
    led_to: str = ""


@dataclass(frozen=True, kw_only=True)
class AnotherAnswers:
    """Another gives the infusion over, and so opens the check of that as long as she is there."""

    name: str


@dataclass(frozen=True)
class Receives:
    """Whoever took a patient from another unit reads the receiving part, and so joins."""


@dataclass(frozen=True)
class AnswersAlready:
    """Whoever answers for the infusion cannot take it over: the other part is hers."""


@dataclass(frozen=True)
class NoLibrary:
    """No drug library is in force: nobody could say whether drug, strength and doses are usual."""


@dataclass(frozen=True, kw_only=True)
class NewCode:
    """A fresh code, and the check that it brings the second to."""

    code: str
    seen: Seen


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
class NotSeen:
    """No colleague has seen this person since the login was made or reset."""


NotOfTheTwo = ThirdPersonElsewhere | NotSeen


@dataclass(frozen=True)
class CodeNotKnown:
    """The code is wrong, used or too old."""


def open_check(
    site: Site, act: Act, *, unit: str, bed: str, cards: str = ""
) -> (
    Opened
    | AlreadyOpen
    | HeldBack
    | NoSuchUnit
    | NoSuchBed
    | NoLibrary
    | NotOfTheTwo
    | NotAllowed
    | NotOnShift
    | NoSuchCards
):
    """Open a set-up at a bed, for training on a set of cards; whoever opens it is its first nurse."""
    with site.store.write() as tx:
        if tx.find_unit(unit) is None:
            return NoSuchUnit()
        refused = _may_not_open(tx, act, unit)
        if refused is not None:
            return refused
        hold_bed(tx, unit, bed, act.now)
        beds = beds_in(tx, unit)
        named = beds.find(bed)
        if named is None:
            return NoSuchBed(beds=beds.known)
        is_open = _open_at(tx, unit, named)
        if is_open is not None:
            return is_open
        place = place_at(tx, act, unit, named)
        back = _held_back(tx, act, place.kind, place.infusion) or refuse_cards(tx, cards, act.now)
        if back is not None:
            return back
        infusion = place.infusion or fresh_infusion(tx, act, unit, named)
        opened = _open(tx, act, place.kind, infusion, place=place)
        if isinstance(opened, Opened):
            take_cards(tx, act, opened.check, cards)
        return opened


def open_on_infusion(
    site: Site, act: Act, kind: Kind, infusion_id: str, *, in_place: bool = False
) -> (
    Opened
    | AlreadyOpen
    | Barred
    | HeldBack
    | AnotherAnswers
    | Receives
    | NoLibrary
    | NotFound
    | NotOfTheTwo
    | NotAllowed
    | NotOnShift
):
    """Open a check of what was started; what another answers for is handed over `in_place` of her only."""
    with site.store.write() as tx:
        infusion = tx.find_infusion(infusion_id)
        if infusion is None or kind.opens is Opens.BED:
            return NotFound()
        # Whoever brought a patient to another unit opens the check of that from the own one.
        is_taken = is_of_taken(kind, load_infusion(tx, infusion.id))
        may_come = is_taken and is_found_on(tx, infusion, act.by.unit)
        refused = _may_not_open(tx, act, act.by.unit if may_come else infusion.unit)
        if refused is not None:
            return refused
        hold_bed(tx, infusion.unit, infusion.bed, act.now)
        is_open = _open_at(tx, infusion.unit, infusion.bed)
        if is_open is not None:
            return is_open
        barred = _barred(tx, act, kind, infusion)
        if barred is not None:
            return barred
        other = _anothers_part(tx, act, kind, infusion, in_place=in_place)
        if other is not None:
            return other
        place = Place(rereadings=_rereadings(tx, act, kind, infusion))
        return _open(tx, act, kind, infusion, place=place)


def _anothers_part(
    reader: Reader, act: Act, kind: Kind, infusion: KeptInfusion, *, in_place: bool
) -> AnotherAnswers | Receives | None:
    """Whose part it is to open a check in which one gives and another receives, if not this person's."""
    state = load_infusion(reader, infusion.id)
    gives = state.responsible if kind.responsible is not None else ""
    if is_of_taken(kind, state) and state.transfer is not None:
        if act.by.person == state.responsible:
            return Receives()
        gives = state.transfer.sender
    if not gives or gives == act.by.person or in_place:
        return None
    return AnotherAnswers(name=_name(reader, gives))


def _barred(reader: Reader, act: Act, kind: Kind, infusion: KeptInfusion) -> Barred | HeldBack | None:
    state = load_infusion(reader, infusion.id)
    passes_on = rules_in_force(reader, act.now).policy.passes_on
    bar = find_bar(kind, state, passes_on=passes_on, now=act.now)
    return _held_back(reader, act, kind, infusion) if bar is None else Barred(bar=bar, led_to=state.led_to)


def _held_back(reader: Reader, act: Act, kind: Kind, infusion: KeptInfusion | None) -> HeldBack | None:
    """What an emergency left on an infusion stands against a start before anybody has read for it."""
    if infusion is None:
        return None
    policy = rules_in_force(reader, act.now, unit=infusion.unit).policy
    return held_back(load_infusion(reader, infusion.id), kind, policy, act.now)


def _open(
    tx: Transaction, act: Act, kind: Kind, infusion: KeptInfusion, *, place: "Place"
) -> Opened | NotOfTheTwo:
    """Open a check of a kind; its opener has joined, and the code brings the second in."""
    code = make_join_code()
    check = KeptCheck(
        id=act.new_id(),
        infusion=infusion.id,
        kind=kind.name,
        unit=infusion.unit,
        bed=infusion.bed,
        opened_by=act.by.person,
        opened_at=act.now,
    )
    tx.add_check(check)
    opened = events.CheckOpened(
        check_kind=kind.name,
        unit=check.unit,
        bed=check.bed,
        rereadings_before=place.rereadings,
        course=place.course.value,
        line_primed=place.line_primed,
    )
    tx.append(opened, act=act, check=check.id, infusion=infusion.id)
    try:
        _take_slot(tx, act, check, FIRST)
    except ConstraintBroken as broken:
        return tx.refuse(_why_not(broken))
    _issue_code(tx, act, check, code)
    return Opened(check=check.id, code=code)


def _name(reader: Reader, person_id: str) -> str:
    person = reader.find_person(person_id)
    return person.printed_name if person else ""


def _why_not(broken: ConstraintBroken) -> NotOfTheTwo:
    return NotSeen() if broken.name == SEEN_BY_A_COLLEAGUE else ThirdPersonElsewhere()


def _refused_here(reader: Reader, act: Act, unit: str) -> NotAllowed | NotOnShift | None:
    """Why this person cannot be one of the two on a unit, if so: asked here too, not by the route alone."""
    if not may(roles_of(reader, act.by.person), Permission.CHECK):
        return NotAllowed()
    return None if act.by.unit == unit else NotOnShift()


def _open_at(reader: Reader, unit: str, bed: str) -> AlreadyOpen | None:
    """Whatever is opened at a bed asks this first: one check at a time, of whichever infusion."""
    return next((AlreadyOpen(check=each.id) for each in reader.open_checks_at(unit, bed)), None)


def _may_not_open(reader: Reader, act: Act, unit: str) -> NotAllowed | NotOnShift | NoLibrary | None:
    """Why this person can open no check on a unit, if so."""
    refused = _refused_here(reader, act, unit)
    if refused is None and not rules_in_force(reader, act.now).has_library:
        return NoLibrary()
    return refused


@dataclass(frozen=True, kw_only=True)
class Place:
    """What a set-up at a bed begins from; no `infusion` where it needs a new one, and `kind` by what ran.

    `line_primed`: the check before it was given up, and may have left a line that was primed.
    """

    course: Course = Course.NEW
    kind: Kind = SET_UP
    infusion: KeptInfusion | None = None
    rereadings: int = 0
    line_primed: bool = False


def place_at(reader: Reader, act: Act, unit: str, bed: str) -> Place:
    """The infusion that a set-up here belongs to, where nothing is open, and its re-readings so far."""
    newest = next(iter(reader.infusions_at(unit, bed)), None)
    if newest is None:
        return Place()
    checks = reader.checks_of_infusion(newest.id)
    loaded = load_check(reader, checks[-1], act.now) if checks else None
    last = loaded.state if loaded else None
    before = loaded.infusion if loaded else load_infusion(reader, newest.id)
    passes_on = rules_in_force(reader, act.now).policy.passes_on
    issued_at = max((each.at for each in out_of(issued_of(reader, newest.id))), default=None)
    course = course_after(before, last, passes_on=passes_on, now=act.now, issued_at=issued_at)
    # The line hangs at the bed, whosever infusion comes next.
    left = loaded is not None and bool(loaded.state.abandoned) and loaded.replaced.leaves_line
    if course not in SAME_INFUSION:
        return Place(course=course, line_primed=left)
    kind = REPEAT_SET_UP if before.runs else SET_UP
    rereadings = _rereadings(reader, act, kind, newest)
    return Place(course=course, kind=kind, infusion=newest, rereadings=rereadings, line_primed=left)


def _rereadings(reader: Reader, act: Act, kind: Kind, infusion: KeptInfusion) -> int:
    """How often the two of the infusion's last check of a kind read again, if it was given up."""
    of_kind = [each for each in reader.checks_of_infusion(infusion.id) if each.kind == kind.name]
    if not of_kind:
        return 0
    last = load_check(reader, of_kind[-1], act.now).state
    return last.rereadings if last.abandoned else 0


def fresh_infusion(tx: Transaction, act: Act, unit: str, bed: str) -> KeptInfusion:
    """A new infusion at a bed."""
    fresh = KeptInfusion(id=act.new_id(), unit=unit, bed=bed, opened_at=act.now)
    tx.add_infusion(fresh)
    return fresh


def _take_slot(tx: Transaction, act: Act, check: KeptCheck, slot: int) -> None:
    tx.add_participant(Participant(check=check.id, slot=slot, person=act.by.person, joined_at=act.now))
    tx.append(events.Joined(slot=slot), act=act, check=check.id, infusion=check.infusion)


def _issue_code(tx: Transaction, act: Act, check: KeptCheck, code: str) -> None:
    life = rules_in_force(tx, act.now).policy.join_code_life
    tx.add_code(JoinCode(digest=code_digest(code), check=check.id, expires_at=act.now + life))


def new_code(site: Site, act: Act, check_id: str) -> NewCode | NotFound | Full:
    """A fresh code for a check that still waits for its second."""
    code = make_join_code()
    with site.store.write() as tx:
        seen = progress_of(tx, act, check_id)
        if isinstance(seen, NotFound) or seen.slot is None:
            return NotFound()
        state = seen.loaded.state
        if {FIRST, SECOND} <= set(state.people):
            return Full()
        _issue_code(tx, act, state.check, code)
    return NewCode(code=code, seen=seen)


def check_by_code(site: Site, act: Act, code: str) -> str | CodeNotKnown:
    """The check a code stands for, while the code lives."""
    with site.store.read() as reader:
        known = reader.find_code(code_digest(code))
    if known is None or known.expires_at < act.now:
        return CodeNotKnown()
    return known.check


def join_check(
    site: Site, act: Act, check_id: str
) -> (
    Joined | AlreadyJoined | Full | AnswersAlready | NotOfTheTwo | NotFound | NotNow | NotAllowed | NotOnShift
):
    """Join a check as its second nurse."""
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
        if not may_be_done(Action.JOIN, state):
            return NotNow(phase=state.phase)
        gives = state.kind.responsible == SECOND and not is_of_taken(state.kind, loaded.infusion)
        if gives and loaded.infusion.responsible == act.by.person:
            return AnswersAlready()
        try:
            _take_slot(tx, act, state.check, SECOND)
        except ConstraintBroken as broken:
            return tx.refuse(_why_not(broken))
    return Joined(check=check_id)
