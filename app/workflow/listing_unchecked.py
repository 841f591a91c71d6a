"""What runs without a check, as lists say it: it tops them until one is cleared or its end is recorded."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime

from app.records.events import StartedWithoutCheck
from app.records.infusion import InfusionState
from app.records.kept import KeptInfusion
from app.records.misplaced_starts import counting_starts, last_start_of
from app.records.paper_events import PaperTranscribed
from app.records.ranking import Standing
from app.records.restarting import Left, left_on
from app.records.visibility import standing_of_infusion
from app.site.loading import load_infusion, rules_in_force
from app.storage import Reader


@dataclass(frozen=True, kw_only=True)
class PaperListed:
    """What a list says of what was checked on paper: who did, who typed it in and who confirmed it.

    `counts`: another person found it the same as the sheets. `waits`: what was typed in last waits for one.
    `apart`: the two sheets do not say the same. Whoever reads blind at the bed is told `counts` alone.
    """

    counts: bool
    waits: bool = False
    apart: bool = False
    checked_at: str = ""
    first: str = ""
    second: str = ""
    by: str = ""
    confirmed_by: str = ""


@dataclass(frozen=True, kw_only=True)
class RunningUnchecked:
    """An infusion that runs without a check; it tops the list until one is cleared or its end is recorded.

    `runs`: nobody has written down a stop since, or that its device is dead; `paused_at`: since when its line
    is paused, if it is. `paper` is there where what was checked on paper was typed in; `left` is what
    emergencies left on it. `responsible` answers for it. `own_start` is the entry in which whoever looks
    wrote it down, and may say that it was another bed.
    """

    infusion: str
    unit: str
    bed: str
    since: datetime
    standing: Standing
    responsible: str
    reason: str
    due_at: datetime
    overdue: bool
    runs: bool
    paused_at: datetime | None
    paper: PaperListed | None
    left: Left
    own_start: int


def all_unchecked(
    reader: Reader, infusions: Iterable[KeptInfusion], blind: frozenset[str], now: datetime, *, by: str
) -> tuple[RunningUnchecked, ...]:
    """A line for each; `blind` are those that are closed to whoever looks, who is `by`."""
    found = [(each, load_infusion(reader, each.id)) for each in infusions]
    concerned = {
        who for _, state in found for each in state.transcriptions for who in (each.by, each.answered_by)
    }
    people = reader.people_with(concerned) if concerned else {}
    names = {who: person.printed_name for who, person in people.items()}
    return tuple(
        _unchecked(reader, each, state, blind=each.id in blind, names=names, now=now, by=by)
        for each, state in found
    )


def _paper(
    reader: Reader, state: InfusionState, names: Mapping[str, str], *, blind: bool
) -> PaperListed | None:
    if not state.transcriptions:
        return None
    counts, waits = state.on_paper, state.waits_on_paper
    shown = counts or waits
    if blind or shown is None:
        return PaperListed(counts=counts is not None)
    events = {each.position: each.event for each in reader.course(state.infusion)}
    event = events[shown.position]
    assert isinstance(event, PaperTranscribed)  # noqa: S101  # what the state is folded from
    return PaperListed(
        counts=counts is not None,
        waits=waits is not None,
        apart=bool(event.differing),
        checked_at=event.checked_at,
        first=event.first,
        second=event.second,
        by=names.get(shown.by, ""),
        confirmed_by=names.get(shown.answered_by, ""),
    )


def _unchecked(
    reader: Reader,
    infusion: KeptInfusion,
    state: InfusionState,
    *,
    blind: bool,
    names: Mapping[str, str],
    now: datetime,
    by: str,
) -> RunningUnchecked:
    rules = rules_in_force(reader, infusion.opened_at)
    policy = rules.policy
    due_at = state.check_due_at(policy.check_due, on_paper=policy.paper_check_due)
    since = state.unchecked_since
    assert due_at is not None  # noqa: S101  # the list asked the same question
    assert since is not None  # noqa: S101  # likewise
    course = reader.course(infusion.id)
    own = last_start_of(course, by)
    first = counting_starts(course)[0].event
    assert isinstance(first, StartedWithoutCheck)  # noqa: S101  # they are nothing else
    return RunningUnchecked(
        infusion=infusion.id,
        unit=infusion.unit,
        bed=infusion.bed,
        since=since,
        standing=standing_of_infusion(state),
        responsible=state.responsible,
        # What somebody wrote may hold a value: it is closed to whoever reads blind at this bed.
        reason="" if blind else first.reason,
        due_at=due_at,
        overdue=now > due_at,
        runs=state.shows_what_runs,
        paused_at=state.pause.at if state.pause else None,
        paper=_paper(reader, state, names, blind=blind),
        left=left_on(state, rules, now),
        own_start=own.position if own else 0,
    )
