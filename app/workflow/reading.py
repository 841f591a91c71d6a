"""Read the sources: keep a draft, hand it in, or say that something is dangerous."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from typing import Generic, TypeVar
from zoneinfo import ZoneInfo

from app.base import Act
from app.keys import CONTENT_AT_MOST, seal
from app.records import events
from app.records.canonical import digest
from app.records.kept import OTHER, SOURCES, KeptReading
from app.records.life import Action
from app.records.reading import Answers, asked_in, in_scope, sources_in
from app.records.rules import Rules
from app.records.sealed import draft_content, reading_content, reading_context
from app.records.sources import Field, Source
from app.records.state import CheckState, Round
from app.records.turn import Turn, goes_on, scope_of, turn
from app.records.visibility import Sight, as_seen
from app.site.installation import Site
from app.site.loading import Loaded, load, lock_and_load, unit_name
from app.site.readings import own_latest
from app.storage import SEEN_BY_A_COLLEAGUE, ConstraintBroken, Reader, Transaction
from app.workflow.drafts import (
    Place,
    Written,
    carry_on,
    content_of_typed,
    forget_drafts,
    replace_typed,
    sealed_draft,
    written,
)
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
class Page:
    """Which draft a page showed when it was served: the round, and the version of the draft."""

    round: int = 1
    version: int = 0


@dataclass(frozen=True, kw_only=True)
class Desk:
    """What a reader has in hand: state, rules, round, what the reader wrote in it, the own earlier answers.

    `unit` is the name of the unit, told only to whoever shows the desk.
    """

    state: CheckState
    rules: Rules
    round: Round
    slot: int
    written: Written
    before: Answers
    unit: str = ""

    @property
    def answers(self) -> Answers:
        """What the reader has kept."""
        return self.written.answers

    @property
    def typed(self) -> Answers:
        """What was left standing in the inputs of a source, by their names, before a press kept it."""
        return self.written.typed

    def fields(self, source: Source) -> tuple[Field, ...]:
        """What is asked of one source in this round at this site."""
        return asked_in(self.round.scope, source, self.also_read)

    @property
    def also_read(self) -> tuple[str, ...]:
        """What site and kind ask for besides."""
        return (*self.rules.policy.also_read, *self.state.kind.also_reads)

    @property
    def page(self) -> Page:
        """What a page of this desk shows."""
        return Page(round=self.round.number, version=self.written.version)

    def shows(self, page: Page, source: Source) -> bool:
        """Whether a page shows this source as it stands, whatever was kept of others since."""
        if not goes_on(self.state, self.slot, page.round, source.value):
            return False
        return self.written.kept.get(source.value, 0) <= page.version


@dataclass(frozen=True, kw_only=True)
class Saved:
    """The draft is kept; `desk` is as it was before."""

    version: int
    desk: Desk


@dataclass(frozen=True, kw_only=True)
class Stale:
    """The same person kept this source on another page in between; nothing was overwritten."""

    desk: Desk


@dataclass(frozen=True)
class ReadAnew:
    """The page is of an earlier round, and since then this source is read anew, from nothing."""


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
    """The source was kept or put aside since the page was served, or it is longer than one could read."""


@dataclass(frozen=True, kw_only=True)
class HandedIn:
    """The reading is handed in; `both` says whether the other's is too."""

    both: bool
    round: int


@dataclass(frozen=True)
class NotAsShown:
    """What was looked over is not what stands: it is looked over again before it is handed in."""


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
    return Desk(
        # A reader is blind: what earlier rounds found is not on the desk.
        state=as_seen(state, Sight.PROGRESS),
        rules=loaded.rules,
        round=replace(current, scope=scope_of(state, slot)),
        slot=slot,
        written=written(site, reader, _place(state, current, act)),
        before=own_latest(site, reader, state, slot),
    )


def _place(state: CheckState, current: Round, act: Act) -> Place:
    return Place(check=state.check.id, round=current.number, person=act.by.person)


def save_draft(  # what is written, and against what
    site: Site,
    act: Act,
    check_id: str,
    *,
    source: Source,
    page: Page,
    read: Callable[[Desk], dict[str, str] | Why],
) -> Saved | Stale | ReadAnew | NotKept[Why] | Refusal:
    """Keep one source's answers in the own draft; makes no log entry.

    `read` says what was written to the desk that is at hand: the answers, or what keeps them from being kept.
    """
    with site.store.write() as tx:
        desk = _desk(site, tx, act, lock_and_load(tx, check_id, act.now))
        if not isinstance(desk, Desk):
            return desk
        if source not in sources_in(desk.round.scope):
            return NotFound()
        if not goes_on(desk.state, desk.slot, page.round, source.value):
            return ReadAnew()
        answers = read(desk)
        if not isinstance(answers, dict):
            return NotKept(desk=_to_show(tx, desk), why=answers)
        if not desk.shows(page, source):
            return Stale(desk=_to_show(tx, desk))
        return Saved(version=_keep(site, tx, act, desk, given={source.value: answers}), desk=desk)


def _keep(site: Site, tx: Transaction, act: Act, desk: Desk, *, given: Answers) -> int:
    had, place = desk.written, _place(desk.state, desk.round, act)
    given = {source: _stamped(desk, act, Source(source), answers) for source, answers in given.items()}
    version = had.version + 1
    content = draft_content(
        salt=act.new_id(),
        answers=in_scope(desk.round.scope, {**had.answers, **given}, desk.also_read),
        kept={**had.kept, **dict.fromkeys(given, version)},
    )
    draft = sealed_draft(site, act, place, SOURCES, version=version, content=content)
    # The check's row is held: nobody has kept anything since the desk was laid.
    tx.save_draft(draft, expected_version=had.version)
    rest = {name: typed for name, typed in had.typed.items() if name not in given}
    if rest != had.typed:
        replace_typed(site, tx, act, place, content=content_of_typed(act, rest))
    return version


def _stamped(desk: Desk, act: Act, source: Source, answers: dict[str, str]) -> dict[str, str]:
    """With the moment of reading, where the source is one that goes on while it is read.

    Whoever keeps a page again as it stood has not read it again.
    """
    stamps = [each.name for each in desk.fields(source) if each.stamped]
    before = desk.answers.get(source.value, {})
    is_same = {**before, **dict.fromkeys(stamps)} == {**answers, **dict.fromkeys(stamps)}
    now = act.now.astimezone(ZoneInfo(desk.rules.policy.zone)).isoformat(timespec="seconds")
    return {**answers, **{name: (is_same and before.get(name)) or now for name in stamps}}


def keep_typing(
    site: Site, act: Act, check_id: str, *, source: Source, typed: dict[str, str], page: Page
) -> TypingKept | TypingNotKept | Refusal:
    """Keep what stands in one source's fields, right or wrong, for its author alone; it counts for nothing.

    What comes after the press that kept the page, from another window that was kept since, or from before
    danger was seen in this source would bring back what is settled.
    """
    with site.store.write() as tx:
        desk = _desk(site, tx, act, lock_and_load(tx, check_id, act.now))
        if not isinstance(desk, Desk):
            return desk
        if source not in sources_in(desk.round.scope):
            return NotFound()
        content = content_of_typed(act, {**desk.typed, source.value: typed})
        if not desk.shows(page, source) or len(content) > CONTENT_AT_MOST:
            return TypingNotKept()
        replace_typed(site, tx, act, _place(desk.state, desk.round, act), content=content)
    return TypingKept()


def hand_in(
    site: Site, act: Act, check_id: str, *, page: Page | None = None, leaving: bool = False
) -> HandedIn | NotAsShown | Refusal:
    """Lock the own reading: it is sealed, committed to in the log, and never changes.

    `page` is the one on which it was looked over. Whoever is `leaving` the device to the other signs out too.
    """
    with site.store.write() as tx:
        desk = _desk(site, tx, act, lock_and_load(tx, check_id, act.now))
        if not isinstance(desk, Desk):
            return desk
        current = desk.round
        if not desk.written.kept:
            # Nothing was read in this round: the page is of a round that was voided meanwhile, or of none.
            return NotNow(phase=desk.state.phase)
        if page is not None and page != desk.page:
            return NotAsShown()
        try:
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
        except ConstraintBroken as broken:
            # Reset in the instant since the page was asked for: what a reset asks for comes first.
            if broken.name != SEEN_BY_A_COLLEAGUE:
                raise
            return tx.refuse(SignInAnew())
        forget_drafts(tx, check_id, current.number, act.by.person)
        if leaving:
            end_session(tx, act.now, act.by, what="handed the screen over")
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
        events.HandedIn(
            subject=subject, round=number, slot=slot, commitment=promised, method=act.by.method.value
        ),
        act=act,
        check=state.check.id,
        infusion=state.check.infusion,
    )


def say_danger(
    site: Site, act: Act, check_id: str, *, why: str, sources: Iterable[str] = ()
) -> Voided | NotFound | NotYours | NotNow:
    """Someone sees danger while reading and says so at once: the round is voided, without blame.

    Of the `sources` that it is about nothing that was written stands, for either; with none named, of none.
    """
    with site.store.write() as tx:
        own = lock_own(tx, act, check_id, Action.SAY_DANGER)
        if not isinstance(own, Own):
            return own
        state = own.state
        if state.current is None:
            return NotNow(phase=state.phase)
        number, whole = state.current.number, [source.value for source in sources_in(state.kind.reads)]
        named = tuple(source for source in whole if source in set(sources))
        tx.append(
            events.RoundVoided(round=number, why=why, sources=named),
            act=act,
            check=check_id,
            infusion=state.check.infusion,
        )
        carry_on(site, tx, act, state.people.values(), check=check_id, number=number, but=named or whole)
    return Voided()
