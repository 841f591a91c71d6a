"""One check after a comparison: first only what must be read again; once the readings agree, everything."""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache

from app.base import Actor
from app.comparison.reasons import reasons_for
from app.people import Permission, Person, may
from app.records.followup import Follow, Found, differing_sources, worst_first
from app.records.kept import FIRST, SECOND
from app.records.kept_orders import OrderOnRecord, find_compared
from app.records.life import Action, may_be_done
from app.records.ranking import Standing
from app.records.sources import Source
from app.records.state import CheckState, Phase
from app.records.visibility import standing_of
from app.reports.chart import Chart, For, charts_of
from app.site.loading import Loaded
from app.web.models.changed import ChangeRow, change_rows, numbers_in
from app.web.models.check import Head, Nurse, Until, head_of, note_for, until
from app.web.models.doses import Doses, doses_of
from app.web.models.findings import Headline, ShownFinding, headline_of, limits_in_one, shown
from app.web.models.helping import HelpShown, help_of, may_take
from app.web.models.putting_right import PutRight, put_right
from app.web.models.readings import NameRead, Row, names_of, readings_of, rows_of, rows_on_device
from app.web.models.spine import spine_for
from app.web.models.stops import StopShown, stop_shown
from app.web.models.taking_back import TakenBackBlock, taken_back_block
from app.words.account import adds_up_words
from app.words.checking import (
    abandon_words,
    group_words,
    not_judged_words,
)
from app.words.names import ACT_NOW, finding_field_words, severity_words
from app.words.screens import source_words
from app.words.titles import title_of, what_follows
from app.workflow.looking import Seen
from app.workflow.settling import may_end

# More than are looked at in one hour.
_CASES = 64


class Next(StrEnum):
    """What the page offers next."""

    PUT_RIGHT = "put right"
    RECOUNT = "recount"
    CAUTIONS = "cautions"
    STEPS = "steps"
    SIGN = "sign"
    LAST_LOOK = "last look"
    READ_DEVICE = "read the device"
    HELP = "help"
    HELP_MINE = "help mine"
    LEAD_ON = "lead on"
    LED = "led"
    DONE = "done"
    RECORD = "record"
    ENDED = "ended"
    WAIT = "wait"


_NEXT: dict[Phase, Next] = {
    Phase.OPENED: Next.WAIT,
    Phase.READING: Next.WAIT,
    Phase.BOTH_HANDED_IN: Next.WAIT,
    Phase.DISPUTED: Next.PUT_RIGHT,
    Phase.ESCALATED: Next.PUT_RIGHT,
    Phase.AGREED: Next.CAUTIONS,
    Phase.STEPS: Next.STEPS,
    Phase.SIGNING: Next.SIGN,
    Phase.CLEARED: Next.LAST_LOOK,
    Phase.LAPSED: Next.READ_DEVICE,
    Phase.STARTED: Next.RECORD,
    Phase.DONE: Next.DONE,
    Phase.LED: Next.LED,
    Phase.ABANDONED: Next.ENDED,
}


@dataclass(frozen=True, kw_only=True)
class ProgressPage:
    """How far a check is, and what whoever looks may do about it."""

    head: Head
    can_take: bool
    help: HelpShown | None
    can_join: bool
    can_end: bool


@dataclass(frozen=True, kw_only=True)
class FieldsPage:
    """While readings do not come together: field and source, and nothing else."""

    head: Head
    word: str
    sources: tuple[tuple[str, tuple[str, ...]], ...]
    needs_help: bool
    help: HelpShown | None

    @property
    def waits_for_help(self) -> bool:
        """Whether a request is open: then nobody reads anything again."""
        return self.help is not None and not self.help.outcome


@dataclass(frozen=True, kw_only=True)
class Answering:
    """Whose answer to which cautions the page asks for: those of one group, none when all are answered.

    `about` says what they have in common; `reasons` are offered, by their keys; `left`: how many groups.
    """

    nurse: Nurse
    other: Nurse
    keys: tuple[str, ...]
    cautions: tuple[ShownFinding, ...]
    about: str
    reasons: dict[str, str]
    left: int


@dataclass(frozen=True, kw_only=True)
class ComparisonPage:
    """Everything that was compared, worst first, and what is next.

    `title` says what has become of the check, `follows` what its end means; blank where the headline does.
    `left_open`: it was counted together, and the account does not add up. `account` says that it does; blank
    where it does not, or none was made up. `not_judged` says what nobody looked at; blank where nothing was
    left out.
    """

    head: Head
    title: str
    follows: str
    old_syringe: bool
    left_open: bool
    next: Next
    until: Until | None
    acts_now: bool
    headline: Headline | None
    stops: tuple[ShownFinding, ...]
    cautions: tuple[ShownFinding, ...]
    notes: tuple[ShownFinding, ...]
    account: str
    not_judged: str
    on_record: OrderOnRecord | None
    agreed: tuple[Row, ...]
    names: tuple[NameRead, ...]
    doses: tuple[Doses, ...]
    changed: tuple[ChangeRow, ...]
    spine: int
    put_right: PutRight
    rules: frozenset[str]
    answered: Mapping[str, tuple[str, ...]]
    help: HelpShown | None
    can_take: bool
    abandoned: str
    abandoned_by: str
    taken_back: TakenBackBlock
    is_stopped: bool
    is_over: bool
    is_closed: bool
    is_paused: bool
    awaits_baseline: bool
    stop_notes: tuple[StopShown, ...]
    has_record: bool


def progress_page(seen: Seen, person: Person, by: Actor) -> ProgressPage:
    """The one word of progress, for somebody outside the check or blind in it."""
    state = seen.loaded.state
    outside = seen.slot is None
    return ProgressPage(
        head=head_of(seen),
        can_take=may_take(seen, person),
        help=help_of(seen),
        can_join=outside and state.phase is Phase.OPENED and may(person.roles, Permission.CHECK),
        can_end=outside and may_be_done(Action.ABANDON, state) and may_end(state, by, person.roles),
    )


def fields_page(seen: Seen) -> FieldsPage:
    """Stage one: the list of field and source."""
    state = seen.loaded.state
    found: dict[str, dict[str, None]] = {}
    for each in state.open_stops:
        if each.follow is Follow.READ_AGAIN:
            for source in differing_sources(each):
                found.setdefault(source, {})[finding_field_words(each.field)] = None
    return FieldsPage(
        head=head_of(seen),
        word=severity_words("stop", state.kind),
        sources=tuple(
            (source_words(source.value), tuple(found[source.value]))
            for source in Source
            if source.value in found
        ),
        needs_help=state.needs_help,
        help=help_of(seen),
    )


def comparison_page(seen: Seen, person: Person) -> ComparisonPage:
    """Stage two: everything, for the person who looks."""
    loaded = seen.loaded
    state = loaded.state
    rows, doses = _rows_and_doses(loaded)
    kept = loaded.last_comparison
    changed = change_rows(kept.told) if kept else ()
    findings = limits_in_one([shown(each, rows, state, seen.names) for each in _findings(state)])
    stops = tuple(each for each in findings if each.severity == "stop")
    of_stops = {line for each in stops for line in each.lines}
    agreed = tuple(row for row in rows if not of_stops.intersection(row.lines) or row.alike)
    numbers = (*(number for row in rows for number in row.numbers), *numbers_in(doses, changed))
    headline = headline_of(findings, _considered(state))
    # While something else stands against a start, that comes first.
    awaits_baseline = state.stopped and state.phase is Phase.STEPS
    is_paused = standing_of(state, loaded.infusion) is Standing.PAUSED
    return ComparisonPage(
        head=head_of(seen),
        title=title_of(
            state,
            is_stopped=_was_stopped(loaded) or awaits_baseline,
            is_paused=is_paused,
            leads=headline is not None,
        ),
        follows=what_follows(state, seen.names),
        old_syringe=state.kind.puts_one_on and seen.slot is not None,
        left_open=state.has_recounted and any(each.is_recounted for each in state.findings),
        next=next_of(seen, person.id),
        until=until(state) if state.phase is Phase.CLEARED else None,
        acts_now=headline is not None and headline.word == ACT_NOW and _runs_on(loaded),
        headline=headline,
        stops=stops,
        cautions=tuple(each for each in findings if each.severity == "caution"),
        notes=tuple(each for each in findings if each.severity == "note"),
        account=adds_up_words(kept.told.get("account")) if kept and not state.open_account else "",
        not_judged=not_judged_words(kept.told["not_judged"]) if kept else "",
        on_record=find_compared(kept.told) if kept else None,
        agreed=agreed,
        names=names_of(kept.opened["answers"], state.kind) if kept else (),
        doses=doses,
        changed=changed,
        spine=spine_for(numbers),
        put_right=put_right(state),
        rules=frozenset(each.key for each in state.open_stops if each.follow is Follow.RULE),
        answered=_answered(state),
        help=help_of(seen),
        can_take=may_take(seen, person),
        abandoned=abandon_words(state.abandoned) if state.abandoned else "",
        abandoned_by=seen.names.get(state.abandoned_by, ""),
        taken_back=taken_back_block(seen),
        is_stopped=_was_stopped(loaded),
        is_over=loaded.infusion.ended_at is not None,
        is_closed=_was_stopped(loaded) and loaded.infusion.closed_at is not None,
        is_paused=is_paused,
        awaits_baseline=awaits_baseline,
        stop_notes=_stop_notes(seen),
        has_record=state.edition > 0,
    )


def _stop_notes(seen: Seen) -> tuple[StopShown, ...]:
    """What was written down of stops; of what was started only what was written since."""
    state = seen.loaded.state
    return tuple(
        stop_shown(
            by=seen.names.get(each.by, ""),
            at=each.at,
            stopped_at=each.stopped_at,
            why=each.why,
            totals=each.totals,
            misplaced=each.misplaced,
            note=note_for(each, seen.viewer),
        )
        for each in state.stop_notes
        if each.at >= (state.started_at or state.check.opened_at)
    )


def _runs_on(loaded: Loaded) -> bool:
    """Whether what is wrong runs: also after the check has led on, until somebody writes down a stop."""
    return loaded.state.kind.is_running and loaded.infusion.is_running and not loaded.state.abandoned


def _was_stopped(loaded: Loaded) -> bool:
    """Whether what the check started, or what it is about while it runs, was stopped."""
    if loaded.state.kind.is_running and not loaded.state.has_ended:
        return not loaded.infusion.is_running
    return loaded.infusion.was_stopped(loaded.state.check.id)


# What leads to another check, where this one puts nothing right; once the device was stopped, all of it does.
_LEADING_ON = {
    False: frozenset({Next.PUT_RIGHT}),
    True: frozenset({Next.PUT_RIGHT, Next.RECOUNT, Next.CAUTIONS, Next.SIGN}),
}


def next_of(seen: Seen, viewer: str) -> Next:
    """What whoever looks can do next."""
    asked = seen.loaded.state.open_help
    if asked is not None:
        return Next.HELP_MINE if asked.taken_by == viewer else Next.HELP
    following = _NEXT[seen.loaded.state.phase]
    if following is Next.CAUTIONS and seen.loaded.state.recount_due:
        following = Next.RECOUNT
    if seen.loaded.state.kind.leads_to and following in _LEADING_ON[_was_stopped(seen.loaded)]:
        return Next.LEAD_ON
    return following


def packs_of(loaded: Loaded) -> dict[str, str]:
    """The words for each set."""
    return {each["key"]: each["words"] for each in loaded.packs["packs"]}


def _findings(state: CheckState) -> tuple[Found, ...]:
    compared = [each for each in state.rounds if each.compared_at is not None]
    return worst_first(compared[-1].findings) if compared else ()


def _rows_and_doses(loaded: Loaded) -> tuple[tuple[Row, ...], tuple[Doses, ...]]:
    kind, kept = loaded.state.kind, loaded.last_comparison
    if kept is None:
        return (), ()
    rows = rows_of(readings_of(kept, packs_of(loaded), kind))
    return rows, doses_of(kept.told, kind, _charts_in(kept.case))


def device_rows(loaded: Loaded) -> tuple[Row, ...]:
    """What the device must show, as the two last read it; nothing before any round was compared."""
    kept = loaded.last_comparison
    return () if kept is None else rows_on_device(readings_of(kept, packs_of(loaded), loaded.state.kind))


# The exact curves take a quarter of the time of the page, and are those of the case whoever looks, and when.
@lru_cache(maxsize=_CASES)
def _charts_in(case: bytes) -> Mapping[str, Chart]:
    return charts_of(json.loads(case)["case"], For.SCREEN)


def _answered(state: CheckState) -> Mapping[str, tuple[str, ...]]:
    """Which part has answered which caution."""
    made: dict[str, tuple[str, ...]] = {}
    for each in state.acknowledgements:
        made[each.finding] = (*made.get(each.finding, ()), state.kind.part(each.slot))
    return made


def _considered(state: CheckState) -> frozenset[str]:
    """The cautions that both have answered."""
    open_keys = {each.key for slot in (FIRST, SECOND) for each in state.unacknowledged(slot)}
    return frozenset(each.key for each in state.cautions) - open_keys


def answering(seen: Seen, page: ComparisonPage, slot: int) -> Answering | None:
    """Whose answer the page asks for now; None where nobody's is asked for."""
    state = seen.loaded.state
    if page.next is not Next.CAUTIONS or seen.slot is None:
        return None
    other = next(each for each in page.head.nurses if each.slot != slot)
    waiting = state.unacknowledged(slot)
    group = tuple(each for each in waiting if each.group == waiting[0].group)
    keys = tuple(each.key for each in group)
    return Answering(
        nurse=page.head.nurse(slot),
        other=other,
        keys=keys,
        cautions=tuple(each for each in page.cautions if each.key in keys),
        about=group_words(group[0].group) if group else "",
        reasons={each.key: each.words for found in group for each in reasons_for(found.code)},
        left=len({each.group for each in waiting}),
    )
