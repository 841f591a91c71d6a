"""Type in what two nurses checked on paper while the program was down, and hold it beside the sheets.

It is never a check, and nothing of it is judged: two people say what paper said, and a blind check is due.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from app.base import Act
from app.people import Role
from app.records.infusion import InfusionState, fold_infusion
from app.records.kept import Access, Entry, KeptInfusion
from app.records.on_paper import Transcription, paper_look
from app.records.paper_events import PaperConfirmed, PaperTranscribed
from app.records.rules import Rules
from app.records.visibility import is_closed_to, standing_of_infusion
from app.site.installation import Site
from app.site.loading import load_infusion, rules_in_force, unit_name
from app.storage import Reader, Transaction
from app.workflow.loading import has_page_of, not_theirs, roles_of, viewer_of
from app.workflow.queueing import hold_bed
from app.workflow.refusals import Incomplete, NotAllowed, NotFound, NotOnShift, ReadsBlind


@dataclass(frozen=True, kw_only=True)
class Sheets:
    """What the two sheets say, as it was typed; `seen` is the last transcription that the page knew of."""

    checked_at: str
    first: str
    second: str
    rows: tuple[tuple[str, str, str, str], ...]
    seen: int = 0


@dataclass(frozen=True)
class TypedIn:
    """It is in the log, and waits for another person."""


@dataclass(frozen=True)
class TypedMeanwhile:
    """Somebody has typed these sheets in since the page was shown."""


@dataclass(frozen=True)
class Held:
    """What the other person says of it is in the log."""


@dataclass(frozen=True)
class NoneWaits:
    """What the page showed waits for nobody now: it was answered, or typed in anew."""


@dataclass(frozen=True)
class OnePerson:
    """Whoever typed it in does not hold it beside the sheets, and no session does both."""


@dataclass(frozen=True)
class NotUnchecked:
    """The infusion does not run without a check: two nurses have checked it blind, or it has ended."""


CannotType = NotUnchecked | ReadsBlind | NotFound | NotAllowed | NotOnShift


@dataclass(frozen=True, kw_only=True)
class Typed:
    """One transcription, with the names of its people."""

    told: Transcription
    event: PaperTranscribed
    by: str
    answered_by: str


@dataclass(frozen=True, kw_only=True)
class PaperSeen:
    """The transcriptions of an infusion, the newest first, for whoever may see them.

    `stands` is the position of the one that counts, 0 where none does. `refused` is why this person can type
    nothing in. `due_at` is until when a blind check is due.
    """

    infusion: KeptInfusion
    unit: str
    progress: str
    typed: tuple[Typed, ...]
    stands: int
    waits: Transcription | None
    mine: bool
    due_at: datetime | None
    rules: Rules
    refused: CannotType | None


def rules_of_sheets(site: Site, act: Act) -> Rules:
    """By which lines the sheets of this person's unit are typed in."""
    with site.store.read() as reader:
        return rules_in_force(reader, act.now, unit=act.by.unit)


def type_in(
    site: Site, act: Act, infusion_id: str, sheets: Sheets
) -> TypedIn | TypedMeanwhile | Incomplete | CannotType:
    """Write down what both sheets say; an earlier transcription stays, and this one says what it corrects."""
    with site.store.write() as tx:
        found = _held(tx, act, infusion_id)
        if not isinstance(found, InfusionState):
            return found
        said = {"checked_at": sheets.checked_at, "first": sheets.first, "second": sheets.second}
        missing = tuple(name for name, text in said.items() if not text.strip())
        if missing or not sheets.rows:
            return Incomplete(fields=missing or ("rows",))
        last = found.transcriptions[-1].position if found.transcriptions else 0
        if sheets.seen != last:
            return TypedMeanwhile()
        event = PaperTranscribed(**said, rows=sheets.rows, corrects=str(last or ""))
        tx.append(event, act=act, infusion=infusion_id)
        _look(tx, act, infusion_id)
    return TypedIn()


def hold_beside(
    site: Site, act: Act, infusion_id: str, *, transcription: int, same: bool
) -> Held | NoneWaits | OnePerson | CannotType:
    """Another person says whether what was typed in is what the sheets say."""
    with site.store.write() as tx:
        found = _held(tx, act, infusion_id)
        if not isinstance(found, InfusionState):
            return found
        waits = found.waits_on_paper
        if waits is None or waits.position != transcription:
            return NoneWaits()
        if not waits.may_be_answered(act.by.person, act.by.session):
            return OnePerson()
        tx.append(PaperConfirmed(transcription=str(transcription), same=same), act=act, infusion=infusion_id)
        _look(tx, act, infusion_id)
    return Held()


def see_paper(site: Site, act: Act, infusion_id: str) -> PaperSeen | ReadsBlind | NotFound:
    """What was typed in, for whoever does not read blind there: a look, which the next record states."""
    with site.store.read() as reader:
        seen = _seen(reader, act, infusion_id)
    if isinstance(seen, PaperSeen) and seen.typed:
        with site.store.write() as tx:
            _look(tx, act, infusion_id)
    return seen


def _seen(reader: Reader, act: Act, infusion_id: str) -> PaperSeen | ReadsBlind | NotFound:
    kept, roles = reader.find_infusion(infusion_id), roles_of(reader, act.by.person)
    if kept is None or not has_page_of(kept, act.by, roles):
        return NotFound()
    if _reads_blind(reader, act, kept, roles):
        return ReadsBlind()
    entries = reader.course(kept.id)
    state, rules = fold_infusion(kept.id, entries), rules_in_force(reader, act.now, unit=kept.unit)
    policy = rules.policy
    return PaperSeen(
        infusion=kept,
        unit=unit_name(reader, kept.unit),
        progress=standing_of_infusion(state).value,
        typed=_typed(reader, state, entries),
        stands=state.on_paper.position if state.on_paper else 0,
        waits=state.waits_on_paper,
        mine=state.waits_on_paper is not None and state.waits_on_paper.by == act.by.person,
        due_at=state.check_due_at(policy.check_due, on_paper=policy.paper_check_due),
        rules=rules,
        refused=not_theirs(act, kept, roles) or (None if state.is_unchecked else NotUnchecked()),
    )


def _typed(reader: Reader, state: InfusionState, entries: Iterable[Entry]) -> tuple[Typed, ...]:
    events = {each.position: each.event for each in entries}
    concerned = {who for each in state.transcriptions for who in (each.by, each.answered_by)}
    people = reader.people_with(concerned) if concerned else {}
    names = {who: person.printed_name for who, person in people.items()}
    return tuple(
        Typed(told=each, event=event, by=names.get(each.by, ""), answered_by=names.get(each.answered_by, ""))
        for each in reversed(state.transcriptions)
        if isinstance(event := events[each.position], PaperTranscribed)
    )


def _held(tx: Transaction, act: Act, infusion_id: str) -> InfusionState | CannotType:
    infusion, roles = tx.find_infusion(infusion_id), roles_of(tx, act.by.person)
    if infusion is None:
        return NotFound()
    refused = not_theirs(act, infusion, roles)
    if refused is not None:
        return refused
    hold_bed(tx, infusion.unit, infusion.bed, act.now)
    if _reads_blind(tx, act, infusion, roles):
        return ReadsBlind()
    state = load_infusion(tx, infusion.id)
    return state if state.is_unchecked else NotUnchecked()


def _reads_blind(reader: Reader, act: Act, infusion: KeptInfusion, roles: frozenset[Role]) -> bool:
    return is_closed_to(infusion, viewer_of(reader, act.by, roles, act.now))


def _look(tx: Transaction, act: Act, infusion_id: str) -> None:
    """Whoever has seen what paper said does not read blind: the next record states it."""
    looked = Access(
        at=act.now, person=act.by.person, session=act.by.session, check="", what=paper_look(infusion_id)
    )
    tx.add_access(looked)
