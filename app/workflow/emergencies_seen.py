"""Look at what was done in a hurry: who did it and when, what stands, and what was told of it afterwards."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from app.base import Act
from app.people import Permission, Role, may
from app.records.custody import OF_CUSTODY
from app.records.emergencies import TELLING, as_shown, told_afterwards
from app.records.emergency_events import EvidenceKept, HarmSuspected, RestartDecided, ToldAfterwards
from app.records.events import Event
from app.records.evidence import kept_in
from app.records.infusion import InfusionState, misplaced_stops
from app.records.kept import Entry
from app.records.restarting import Left, left_on
from app.records.visibility import is_closed_to
from app.site.installation import Site
from app.site.loading import load_infusion, rules_in_force, unit_name
from app.storage import Reader
from app.workflow.loading import has_page_of, roles_of, viewer_of
from app.workflow.looking import note_access
from app.workflow.refusals import NotFound


@dataclass(frozen=True, kw_only=True)
class Happened:
    """One entry with what was told of it since: nothing, to whoever reads blind at that bed.

    `mine`: whoever looks wrote it.
    """

    entry: Entry
    by: str
    mine: bool
    told: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, kw_only=True)
class EmergenciesSeen:
    """What happened at an infusion, the newest last, and what that left.

    `kept` is all that was written of device and syringe that are kept; None to whoever reads blind there.
    The number of their seal is for whoever wrote it, or has read it there. `may_hold`: whoever looks may
    confirm to hold them.
    To whoever wrote something down from another unit it `is_elsewhere`: that alone is told, and not where.
    """

    infusion: str
    unit: str
    bed: str
    happened: tuple[Happened, ...]
    left: Left
    kept: EvidenceKept | None
    may_hold: bool = False
    is_elsewhere: bool = False

    def find(self, position: int) -> Happened | None:
        """What happened as the entry with this position."""
        return next((each for each in self.happened if each.entry.position == position), None)


def see_emergencies(site: Site, act: Act, infusion_id: str) -> EmergenciesSeen | NotFound:
    """What happened, for whoever may know of the infusion; what was told is a look of whoever shows it."""
    with site.store.read() as reader:
        return _seen(reader, act, infusion_id)


def see_emergency(site: Site, act: Act, infusion_id: str, position: int) -> EmergenciesSeen | NotFound:
    """The same, to show one thing that happened and write more of it.

    What is kept stands there only beside what it is kept for, for whoever may say more of it: that is a look.
    """
    with site.store.read() as reader:
        seen = _seen(reader, act, infusion_id)
        if isinstance(seen, NotFound):
            return _own(reader, act, infusion_id, position)
        if seen.kept is None:
            return seen
        happened = seen.find(position)
        is_harm = happened is not None and isinstance(happened.entry.event, HarmSuspected)
        if not (is_harm and may(roles_of(reader, act.by.person), Permission.CHECK)):
            return replace(seen, kept=None)
        # Of its checks the first: a later record states a look at it. What started without a check has none.
        first = [each.id for each in reader.checks_of_infusion(infusion_id)[:1]]
    note_access(site, act, *first, what="evidence")
    return seen


def _seen(reader: Reader, act: Act, infusion_id: str) -> EmergenciesSeen | NotFound:
    kept, roles = reader.find_infusion(infusion_id), roles_of(reader, act.by.person)
    if kept is None or not has_page_of(kept, act.by, roles):
        return NotFound()
    is_blind = is_closed_to(kept, viewer_of(reader, act.by, roles, act.now))
    state = load_infusion(reader, kept.id)
    rules = rules_in_force(reader, act.now, unit=kept.unit)
    course = as_shown_to(act, roles, state, reader.course(kept.id))
    custody = state.emergencies.custody
    holds = act.by.person == custody.holder and not custody.differs
    is_theirs = may(roles, Permission.HOLD_EVIDENCE) and act.by.person not in custody.wrote and not holds
    return EmergenciesSeen(
        infusion=kept.id,
        unit=unit_name(reader, kept.unit),
        bed=kept.bed,
        happened=_happened(reader, act, course, is_blind=is_blind),
        left=left_on(state, rules, act.now),
        kept=None if is_blind else _kept(state, course),
        may_hold=bool(custody.seal) and is_theirs and not is_blind,
    )


def as_shown_to(
    act: Act, roles: frozenset[Role], state: InfusionState, entries: Sequence[Entry]
) -> tuple[Entry, ...]:
    """Entries as this person is shown them: each holder of what is kept reads its seal anew."""
    investigates = may(roles, Permission.RELEASE_EVIDENCE)
    return as_shown(entries, state.emergencies, act.by.person, investigates=investigates)


def _own(reader: Reader, act: Act, infusion_id: str, position: int) -> EmergenciesSeen | NotFound:
    """What this person wrote down, wherever that was."""
    kept = reader.find_infusion(infusion_id)
    happened = _happened(reader, act, reader.course(kept.id), is_blind=True) if kept else ()
    own = [each for each in happened if each.mine and each.entry.position == position]
    if kept is None or not own:
        return NotFound()
    rules = rules_in_force(reader, act.now, unit=kept.unit)
    return EmergenciesSeen(
        infusion=kept.id,
        unit="",
        bed="",
        happened=tuple(own),
        left=left_on(load_infusion(reader, kept.id), rules, act.now),
        kept=None,
        is_elsewhere=True,
    )


def _kept(state: InfusionState, course: Sequence[Entry]) -> EvidenceKept | None:
    evidence = state.emergencies.evidence
    written = kept_in(course).values() if evidence else ()
    return next((each for each in written if evidence and each.harm == str(evidence.position)), None)


def _happened(reader: Reader, act: Act, course: Sequence[Entry], *, is_blind: bool) -> tuple[Happened, ...]:
    misplaced = misplaced_stops(course)
    entries = [each for each in course if each.event.kind in TELLING and str(each.position) not in misplaced]
    people = reader.people_with({each.by for each in entries}) if entries else {}
    told = {} if is_blind else told_afterwards(entries)
    return tuple(
        Happened(
            entry=each if not is_blind else _without_words(each),
            by=people[each.by].printed_name if each.by in people else "",
            mine=each.by == act.by.person,
            told=tuple(told.get(str(each.position), {}).items()),
        )
        for each in entries
        if not isinstance(each.event, ToldAfterwards)
    )


def _without_words(entry: Entry) -> Entry:
    """What people write in their own words may hold a value."""
    event: Event = entry.event
    if isinstance(event, EvidenceKept):
        event = EvidenceKept(harm=event.harm)
    elif isinstance(event, OF_CUSTODY):
        event = replace(event, seal="")
    if isinstance(event, RestartDecided):
        event = RestartDecided(hold=event.hold, prescriber="")
    return Entry(**{**vars(entry), "event": event, "canonical": b""})
