"""Read the sources: keep a draft, hand it in, or say that something is dangerous."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Generic, TypeVar

from app.base import Act
from app.keys import CONTENT_AT_MOST, open_envelope, seal
from app.records import events
from app.records.canonical import digest
from app.records.kept import OTHER, SOURCES, TYPING, Draft, KeptReading
from app.records.life import Action
from app.records.reading import Answers, in_scope, sources_in
from app.records.rules import Rules
from app.records.sealed import draft_context, opened, reading_content, reading_context
from app.records.sources import Source
from app.records.state import CheckState, Round
from app.records.turn import Turn, turn
from app.records.visibility import Sight, as_seen
from app.site.installation import Site
from app.site.loading import Loaded, load, lock_and_load, unit_name
from app.site.readings import own_latest
from app.storage import Reader, Transaction
from app.workflow.loading import Own, lock_own
from app.workflow.refusals import NotFound, NotNow, NotYours
from app.workflow.signing_in import end_session

Why = TypeVar("Why")


@dataclass(frozen=True)
class SignInAnew:
    """The other has handed in on this device since this person signed in here."""


@dataclass(frozen=True)
class AlreadyHandedIn:
    """The reading is handed in and cannot change."""


@dataclass(frozen=True, kw_only=True)
class Desk:
    """What a reader has in hand: state, rules, round, the own draft and its version, the own earlier answers.

    `typed` is what was left standing in the inputs of a source, by their names, before a press kept it.
    `unit` is the name of the unit, told only to whoever shows the desk.
    """

    state: CheckState
    rules: Rules
    round: Round
    slot: int
    answers: Answers
    version: int
    typed: Answers
    before: Answers
    unit: str = ""


@dataclass(frozen=True, kw_only=True)
class Saved:
    """The draft is kept; `desk` is as it was before."""

    version: int
    desk: Desk


@dataclass(frozen=True, kw_only=True)
class Stale:
    """Another tab of the same person saved in between; nothing was overwritten."""

    desk: Desk


@dataclass(frozen=True, kw_only=True)
class NotKept(Generic[Why]):
    """What was written cannot be kept as it is, for what whoever read it has found."""

    desk: Desk
    why: Why


@dataclass(frozen=True)
class TypingKept:
    """What stands in the fields is kept for its author."""


@dataclass(frozen=True)
class TypingNotKept:
    """It is of a page that was kept since, of another window, or longer than anything one could read."""


@dataclass(frozen=True, kw_only=True)
class HandedIn:
    """The reading is handed in; `both` says whether the other's is too."""

    both: bool
    round: int


@dataclass(frozen=True)
class Voided:
    """The round does not count as blind, and both read again."""


Refusal = NotFound | NotYours | NotNow | SignInAnew | AlreadyHandedIn


def open_desk(site: Site, act: Act, check_id: str) -> Desk | Refusal:
    """The reader's own draft in the current round."""
    with site.store.read() as reader:
        desk = _desk(site, reader, act, load(reader, check_id, act.now))
        return _to_show(reader, desk) if isinstance(desk, Desk) else desk


def _to_show(reader: Reader, desk: Desk) -> Desk:
    return replace(desk, unit=unit_name(reader, desk.state.check.unit))


def _desk(site: Site, reader: Reader, act: Act, loaded: Loaded | None) -> Desk | Refusal:
    if loaded is None:
        return NotFound()
    state = loaded.state
    match turn(state, act.by):
        case Turn.NOT_YOURS:
            return NotYours()
        case Turn.NOT_NOW:
            return NotNow(phase=state.phase)
        case Turn.HANDED_IN:
            return AlreadyHandedIn()
        case Turn.SIGN_IN_ANEW:
            return SignInAnew()
        case Turn.READ:
            return _own_desk(site, reader, act, loaded)


def _own_desk(site: Site, reader: Reader, act: Act, loaded: Loaded) -> Desk:
    state = loaded.state
    slot, current = state.slot_of(act.by.person), state.current
    assert slot is not None  # noqa: S101  # whose turn it is has been asked
    assert current is not None  # noqa: S101
    drafts = reader.drafts(state.check.id, current.number, act.by.person)
    draft = drafts.get(SOURCES)
    return Desk(
        # A reader is blind: what earlier rounds found is not on the desk.
        state=as_seen(state, Sight.PROGRESS),
        rules=loaded.rules,
        round=current,
        slot=slot,
        answers=_opened(site, draft),
        version=draft.version if draft else 0,
        typed=_opened(site, drafts.get(TYPING)),
        before=own_latest(site, reader, state, slot),
    )


def _opened(site: Site, draft: Draft | None) -> Answers:
    if draft is None:
        return {}
    context = draft_context(draft.check, draft.subject, draft.round, draft.person)
    return opened(open_envelope(site.key, context, draft.envelope)).answers


def save_draft(  # what is written, and against what
    site: Site,
    act: Act,
    check_id: str,
    *,
    source: Source,
    version: int,
    read: Callable[[Desk], dict[str, str] | Why],
) -> Saved | Stale | NotKept[Why] | Refusal:
    """Keep one source's answers in the own draft; makes no log entry.

    `read` says what was written to the desk that is at hand: the answers, or what keeps them from being kept.
    """
    with site.store.write() as tx:
        desk = _desk(site, tx, act, lock_and_load(tx, check_id, act.now))
        if not isinstance(desk, Desk):
            return desk
        if source not in sources_in(desk.round.scope):
            return NotFound()
        answers = read(desk)
        if not isinstance(answers, dict):
            return NotKept(desk=_to_show(tx, desk), why=answers)
        merged = in_scope(desk.round.scope, {**desk.answers, source.value: answers})
        content = reading_content(salt=act.new_id(), answers=merged)
        draft = _draft(site, act, desk, SOURCES, version=version + 1, content=content)
        if not tx.save_draft(draft, expected_version=version):
            return Stale(desk=_to_show(tx, desk))
        rest = {name: typed for name, typed in desk.typed.items() if name != source.value}
        if rest != desk.typed:
            content = reading_content(salt=act.new_id(), answers=rest)
            _replace_typing(tx, _draft(site, act, desk, TYPING, version=1, content=content))
        return Saved(version=version + 1, desk=desk)


def keep_typing(
    site: Site, act: Act, check_id: str, *, source: Source, typed: dict[str, str], version: int
) -> TypingKept | TypingNotKept | Refusal:
    """Keep what stands in one source's fields, right or wrong, for its author alone; it counts for nothing.

    `version` is that of the draft when the page was served: what comes after the press that kept the page, or
    from another window, would bring back what is settled.
    """
    with site.store.write() as tx:
        desk = _desk(site, tx, act, lock_and_load(tx, check_id, act.now))
        if not isinstance(desk, Desk):
            return desk
        if source not in sources_in(desk.round.scope):
            return NotFound()
        content = reading_content(salt=act.new_id(), answers={**desk.typed, source.value: typed})
        if version != desk.version or len(content) > CONTENT_AT_MOST:
            return TypingNotKept()
        _replace_typing(tx, _draft(site, act, desk, TYPING, version=1, content=content))
    return TypingKept()


def _replace_typing(tx: Transaction, draft: Draft) -> None:
    """The last word counts: there is one author, and the check's row is held."""
    tx.delete_drafts(draft.check, TYPING, draft.round, draft.person)
    tx.save_draft(draft, expected_version=0)


def _draft(site: Site, act: Act, desk: Desk, subject: str, *, version: int, content: bytes) -> Draft:
    check, number, person = desk.state.check.id, desk.round.number, act.by.person
    return Draft(
        check=check,
        subject=subject,
        round=number,
        person=person,
        version=version,
        envelope=seal(site.key, draft_context(check, subject, number, person), content),
        saved_at=act.now,
    )


def forget_drafts(tx: Transaction, check_id: str, number: int, person: str | None = None) -> None:
    """Forget what was written in a round and not handed in, by both or by one."""
    for subject in (SOURCES, TYPING):
        tx.delete_drafts(check_id, subject, number, person)


def hand_in(site: Site, act: Act, check_id: str, *, leaving: bool = False) -> HandedIn | Refusal:
    """Lock the own reading: it is sealed, committed to in the log, and never changes.

    With it, whoever is `leaving` the device to the other signs out.
    """
    with site.store.write() as tx:
        desk = _desk(site, tx, act, lock_and_load(tx, check_id, act.now))
        if not isinstance(desk, Desk):
            return desk
        current = desk.round
        if desk.version == 0:
            # Nothing was read in this round: the page is of a round that was voided meanwhile, or of none.
            return NotNow(phase=desk.state.phase)
        lock_reading(
            site,
            tx,
            act,
            desk.state,
            subject=SOURCES,
            number=current.number,
            slot=desk.slot,
            answers=desk.answers,
        )
        forget_drafts(tx, check_id, current.number, act.by.person)
        if leaving:
            end_session(tx, act.now, act.by)
        other = OTHER[desk.slot]
        return HandedIn(both=other in current.handed_in, round=current.number)


def lock_reading(  # noqa: PLR0913  # what a reading is bound to
    site: Site,
    tx: Transaction,
    act: Act,
    state: CheckState,
    *,
    subject: str,
    number: int,
    slot: int,
    answers: Answers,
) -> None:
    """Seal one reading and commit to it."""
    content = reading_content(salt=act.new_id() + act.new_id(), answers=answers)
    context = reading_context(state.check.id, subject, number, act.by.person)
    promised = digest(content)
    tx.add_reading(
        KeptReading(
            id=act.new_id(),
            check=state.check.id,
            subject=subject,
            round=number,
            slot=slot,
            person=act.by.person,
            envelope=seal(site.key, context, content),
            commitment=promised,
            handed_in_at=act.now,
            session=act.by.session,
            device=act.by.device,
            signed_in_at=act.by.signed_in_at,
        )
    )
    tx.append(
        events.HandedIn(subject=subject, round=number, slot=slot, commitment=promised),
        act=act,
        check=state.check.id,
        infusion=state.check.infusion,
    )


def say_danger(site: Site, act: Act, check_id: str, *, why: str) -> Voided | NotFound | NotYours | NotNow:
    """Someone sees danger while reading and says so at once: the round is voided, without blame."""
    with site.store.write() as tx:
        own = lock_own(tx, act, check_id, Action.SAY_DANGER)
        if not isinstance(own, Own):
            return own
        state = own.state
        if state.current is None:
            return NotNow(phase=state.phase)
        number = state.current.number
        tx.append(
            events.RoundVoided(round=number, why=why), act=act, check=check_id, infusion=state.check.infusion
        )
        forget_drafts(tx, check_id, number)
    return Voided()
