"""Look at checks: lists of state without values, one check as far as the viewer may see it, and its record.

A look at values of a check is written into the access table, which is outside the log.
"""

from collections.abc import Collection, Iterable
from dataclasses import dataclass, replace
from datetime import datetime

from app.base import Act
from app.people import Permission, Role, may
from app.records.events import RecordIssued, StartedWithoutCheck
from app.records.kept import Access, FrozenRecord, KeptInfusion, KeptPdf, KeptSignature
from app.records.life import Action, may_be_done
from app.records.state import BLIND, Phase
from app.records.visibility import Sight, as_seen, bed_of, sight, visible_to_others
from app.site.installation import Site
from app.site.loading import Loaded, load, load_check, load_infusion, rules_in_force, unit_name
from app.storage import OfChecks, OfInfusions, Reader
from app.workflow.loading import roles_of, viewer_of
from app.workflow.refusals import NotAllowed, NotFound
from app.workflow.settling import may_end


@dataclass(frozen=True, kw_only=True)
class Listed:
    """One line of a list: where, how far, and nothing that was read.

    `over`: nothing more is done in it. `due`: the infusion that it started was stopped, and before it runs
    again another check must come.
    """

    check: str
    unit: str
    bed: str
    kind: str
    opened_at: str
    progress: str
    mine: bool
    joinable: bool
    over: bool
    due: bool
    waits_for_help: bool
    may_end: bool
    ended_by: str


@dataclass(frozen=True, kw_only=True)
class RunningUnchecked:
    """An infusion that runs without a check; it tops the list until one is cleared or its end is recorded.

    `runs`: nobody has written down a stop since.
    """

    infusion: str
    bed: str
    reason: str
    due_at: datetime
    runs: bool


@dataclass(frozen=True, kw_only=True)
class Running:
    """An infusion that runs, or that a check of it led to another: `due` is the kind that must come."""

    infusion: str
    bed: str
    since: datetime
    runs: bool
    due: str


@dataclass(frozen=True, kw_only=True)
class UnitList:
    """What a unit has open, and what one person has of one's own."""

    mine: tuple[Listed, ...]
    unit: tuple[Listed, ...]
    unchecked: tuple[RunningUnchecked, ...]
    running: tuple[Running, ...]


@dataclass(frozen=True, kw_only=True)
class Seen:
    """A check, how much of it this viewer may see, and the names of its people.

    `progress` is the word that everybody who may know of it sees.
    """

    loaded: Loaded
    sight: Sight
    progress: str
    names: dict[str, str]
    unit: str
    slot: int | None


@dataclass(frozen=True, kw_only=True)
class RecordSeen:
    """The frozen record with its signatures."""

    frozen: FrozenRecord
    signatures: tuple[KeptSignature, ...]
    check: Seen

    @property
    def has_pdf(self) -> bool:
        """Whether the PDF has been made of it."""
        return self.frozen.edition in self.check.loaded.state.issued


@dataclass(frozen=True, kw_only=True)
class PdfSeen:
    """The stored PDF of a record, and the digest that the log has of it."""

    pdf: KeptPdf
    issued_as: str


def unit_list(site: Site, act: Act) -> UnitList:
    """The person's own checks, and the unit's open ones for whoever may see the state of every check."""
    with site.store.read_ahead() as reader:
        roles = roles_of(reader, act.by.person)
        sees_unit = may(roles, Permission.UNIT_STATE)
        theirs = reader.checks_of_person(act.by.person, limit=20)
        open_checks = reader.checks_that(OfChecks.OPEN, act.by.unit) if sees_unit else ()
        unchecked = reader.infusions_that(OfInfusions.UNCHECKED, act.by.unit) if sees_unit else ()
        running = _that_run(reader, act.by.unit, but=unchecked) if sees_unit else ()
        reader.take_states((*theirs, *open_checks), [each.id for each in (*unchecked, *running)])
        own = [load_check(reader, check, act.now) for check in theirs]
        open_here = [load_check(reader, check, act.now) for check in open_checks]
        blind_at = viewer_of(reader, act.by, roles, act.now).blind_at if unchecked else frozenset()
        known = (*own, *open_here)
        return UnitList(
            mine=tuple(
                _listed(reader, each, act, roles, among=known) for each in own if not _is_past(each, act)
            ),
            unit=tuple(_listed(reader, each, act, roles, among=known) for each in open_here),
            unchecked=tuple(_unchecked(reader, each, blind_at) for each in unchecked),
            running=tuple(_running(reader, each) for each in running),
        )


def _that_run(reader: Reader, unit: str, *, but: Iterable[KeptInfusion]) -> tuple[KeptInfusion, ...]:
    """The infusions of a unit that run or wait for another check, by their beds, but for some."""
    known = {each.id for each in but}
    found = (each for each in reader.infusions_that(OfInfusions.GOES_ON, unit) if each.id not in known)
    return tuple(sorted(found, key=lambda each: each.bed))


def _running(reader: Reader, infusion: KeptInfusion) -> Running:
    state = load_infusion(reader, infusion.id)
    assert state.last_run is not None  # noqa: S101  # the list asked the same question
    return Running(
        infusion=infusion.id,
        bed=infusion.bed,
        since=state.last_run.since,
        runs=state.is_running,
        due=state.led_to,
    )


def _unchecked(
    reader: Reader, infusion: KeptInfusion, blind_at: frozenset[tuple[str, str]]
) -> RunningUnchecked:
    policy = rules_in_force(reader, infusion.opened_at).policy
    state = load_infusion(reader, infusion.id)
    due_at = state.check_due_at(policy.check_due)
    assert due_at is not None  # noqa: S101  # the list asked the same question
    reasons = (
        each.event.reason
        for each in reader.course(infusion.id)
        if isinstance(each.event, StartedWithoutCheck)
    )
    return RunningUnchecked(
        infusion=infusion.id,
        bed=infusion.bed,
        # What somebody wrote may hold a value: it is closed to whoever reads blind at this bed.
        reason="" if bed_of(infusion) in blind_at else next(reasons),
        due_at=due_at,
        runs=state.is_running,
    )


def open_checks(site: Site, act: Act) -> tuple[Listed, ...]:
    """What is open wherever this person may know of it: on the unit of the shift, or on each unit."""
    with site.store.read() as reader:
        roles = roles_of(reader, act.by.person)
        if not may(roles, Permission.UNIT_STATE):
            return ()
        everywhere = may(roles, Permission.READ_RECORDS)
        named = [unit.id for unit in reader.units()] if everywhere else [act.by.unit]
        found = [
            load_check(reader, check, act.now)
            for unit in named
            for check in reader.checks_that(OfChecks.OPEN, unit)
        ]
        return tuple(_listed(reader, each, act, roles, among=found) for each in found)


def _is_past(loaded: Loaded, act: Act) -> bool:
    """Ended, and this person knows it: ended by the own hand, or before signing in here."""
    state = loaded.state
    if state.abandoned_at is None:
        return False
    return state.abandoned_by == act.by.person or state.abandoned_at < act.by.signed_in_at


def _name(reader: Reader, person_id: str) -> str:
    person = reader.find_person(person_id)
    return person.printed_name if person else ""


def _is_due(loaded: Loaded, among: Iterable[Loaded]) -> bool:
    """Whether a check must come before it runs again, and none among these is newer at the bed."""
    check, infusion = loaded.state.check, loaded.infusion
    newer = (
        each.state.check.opened_at > check.opened_at
        for each in among
        if (each.state.check.unit, each.state.check.bed) == (check.unit, check.bed)
        and not each.state.abandoned
    )
    return infusion.is_stopped and infusion.in_force == check.id and not any(newer)


def _listed(
    reader: Reader, loaded: Loaded, act: Act, roles: frozenset[Role], *, among: Collection[Loaded]
) -> Listed:
    state = loaded.state
    mine = state.slot_of(act.by.person) is not None
    return Listed(
        check=state.check.id,
        unit=state.check.unit,
        bed=state.check.bed,
        kind=state.check.kind,
        opened_at=state.check.opened_at.isoformat(),
        progress=visible_to_others(state, loaded.infusion),
        mine=mine,
        joinable=state.phase is Phase.OPENED and not mine,
        over=state.has_ended,
        due=_is_due(loaded, among),
        waits_for_help=state.open_help is not None and not state.open_help.taken_by,
        may_end=may_be_done(Action.ABANDON, state) and may_end(state, act.by, roles),
        ended_by=_name(reader, state.abandoned_by) if state.abandoned_by else "",
    )


@dataclass(frozen=True, kw_only=True)
class Place:
    """Where a check or an infusion is, for pages that say nothing else of it; an infusion has no kind.

    `mine`: whoever asks is one of the check's two.
    """

    unit: str
    bed: str
    kind: str = ""
    mine: bool = False


def find_place(site: Site, act: Act, check_id: str) -> Place | None:
    """Unit and bed of a check, for whoever may know of it; no value is seen, so no look is written down."""
    seen = see_progress(site, act, check_id)
    if isinstance(seen, NotFound):
        return None
    check = seen.loaded.state.check
    return Place(unit=seen.unit, bed=check.bed, kind=check.kind, mine=seen.slot is not None)


def has_news(site: Site, act: Act, check_id: str, position: int) -> bool | NotFound:
    """Whether anything happened in the check after a position of the log, for one of its two who waits.

    While they read alone there always is, so that no answer depends on what the other does. No value is seen.
    """
    with site.store.read() as reader:
        loaded = load(reader, check_id, act.now)
    if loaded is None or loaded.state.slot_of(act.by.person) is None:
        return NotFound()
    return loaded.state.phase in BLIND or loaded.state.last_position > position


def find_place_of_infusion(site: Site, act: Act, infusion_id: str) -> Place | None:
    """Unit and bed of an infusion, for whoever has the list of its unit in front."""
    with site.store.read() as reader:
        infusion = reader.find_infusion(infusion_id)
        sees_unit = may(roles_of(reader, act.by.person), Permission.UNIT_STATE)
        if infusion is None or not sees_unit or infusion.unit != act.by.unit:
            return None
        return Place(unit=unit_name(reader, infusion.unit), bed=infusion.bed)


def see_check(site: Site, act: Act, check_id: str) -> Seen | NotFound:
    """The check as far as this person may see it; to know of it, one must be allowed to see its progress."""
    with site.store.read() as reader:
        seen = _seen(reader, act, check_id)
    if isinstance(seen, Seen) and seen.sight is Sight.EVERYTHING:
        _note_access(site, act, check_id, "check")
    return seen


def see_progress(site: Site, act: Act, check_id: str) -> Seen | NotFound:
    """The check for a page that shows only how far it is: no value is handed out, no look written down."""
    with site.store.read() as reader:
        return progress_of(reader, act, check_id)


def progress_of(reader: Reader, act: Act, check_id: str) -> Seen | NotFound:
    """The same, where something is read or written besides."""
    return _seen(reader, act, check_id, at_most=Sight.PROGRESS)


def _seen(reader: Reader, act: Act, check_id: str, *, at_most: Sight = Sight.EVERYTHING) -> Seen | NotFound:
    loaded = load(reader, check_id, act.now)
    if loaded is None:
        return NotFound()
    state = loaded.state
    concerned = {
        *state.people.values(),
        *(each.taken_by for each in state.help),
        *(each.by for each in state.stop_notes),
        state.abandoned_by,
    }
    people = reader.people_with({act.by.person, *concerned})
    roles = people[act.by.person].roles if act.by.person in people else frozenset()
    allowed = min(at_most, sight(state, viewer_of(reader, act.by, roles, act.now, of=state)))
    if allowed is Sight.NOTHING:
        return NotFound()
    return Seen(
        # Whoever may not see values is not handed any.
        loaded=replace(loaded, entries=())
        if allowed is Sight.EVERYTHING
        else replace(loaded, state=as_seen(state, allowed), comparisons=(), entries=()),
        sight=allowed,
        progress=visible_to_others(state, loaded.infusion),
        names={who: people[who].printed_name for who in concerned if who in people},
        unit=unit_name(reader, state.check.unit),
        slot=state.slot_of(act.by.person),
    )


def see_record(
    site: Site, act: Act, check_id: str, edition: int | None = None
) -> RecordSeen | NotFound | NotAllowed:
    """The record of a check; before clearance only its two may see what they are about to sign."""
    with site.store.read() as reader:
        record = _record_seen(reader, act, check_id, edition)
    if isinstance(record, RecordSeen):
        _note_access(site, act, check_id, "record")
    return record


def see_pdf(site: Site, act: Act, check_id: str) -> PdfSeen | NotFound | NotAllowed:
    """The PDF of the newest edition, for whoever may see the record."""
    with site.store.read() as reader:
        record = _record_seen(reader, act, check_id, None)
        if not isinstance(record, RecordSeen):
            return record
        made = record.frozen.edition
        pdf = reader.find_pdf(check_id, made)
        happened = [each.event for each in reader.entries(check_id)]
    if pdf is None:
        return NotFound()
    _note_access(site, act, check_id, "record")
    issued = [each for each in happened if isinstance(each, RecordIssued) and each.edition == made]
    return PdfSeen(pdf=pdf, issued_as="".join(each.pdf_digest for each in issued))


def _record_seen(
    reader: Reader, act: Act, check_id: str, edition: int | None
) -> RecordSeen | NotFound | NotAllowed:
    seen = _seen(reader, act, check_id)
    if isinstance(seen, NotFound):
        return seen
    if seen.sight is not Sight.EVERYTHING:
        return NotAllowed()
    frozen = reader.frozen_records(check_id)
    wanted = next((each for each in reversed(frozen) if edition in (None, each.edition)), None)
    if wanted is None:
        return NotFound()
    signatures = tuple(each for each in reader.signatures(check_id) if each.edition == wanted.edition)
    return RecordSeen(frozen=wanted, signatures=signatures, check=seen)


def _note_access(site: Site, act: Act, check_id: str, what: str) -> None:
    with site.store.write() as tx:
        tx.add_access(
            Access(at=act.now, person=act.by.person, session=act.by.session, check=check_id, what=what)
        )


def unit_names(site: Site) -> dict[str, str]:
    """The names of the site's units by their ids, in their order."""
    with site.store.read() as reader:
        return {each.id: each.name for each in reader.units()}
