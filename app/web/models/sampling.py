"""Samples as pages show them: which checks, what was found, and between what and what the rate lies."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime

from app.records.kept_rows import EndedRow
from app.reports.times import day_in_words
from app.review.intervals import Interval
from app.web.models.lists import place
from app.words.sampling import ANSWERS, REASONS
from app.words.screens import kind_words
from app.workflow.auditing_samples import SampleListed, SampleSeen, UnitAudited


@dataclass(frozen=True, kw_only=True)
class SampleRow:
    """One sample of the list."""

    sample: str
    seed: str
    first: date
    last: date
    drawn: int
    at: datetime


@dataclass(frozen=True, kw_only=True)
class CheckRow:
    """One check of a sample; `found` is the last answer, blank while there is none."""

    check: str
    place: str
    kind: str
    ended_at: datetime
    found: str


@dataclass(frozen=True, kw_only=True)
class UnitRow:
    """One unit: its checks and its rate."""

    name: str
    drawn: int
    size: int
    answered: int
    rate: str
    checks: tuple[CheckRow, ...]


@dataclass(frozen=True, kw_only=True)
class SamplePage:
    """The page of one sample; `over_all` is blank until something of each unit could be assessed."""

    row: SampleRow
    each: int
    digest: str
    by: str
    is_as_drawn: bool
    units: tuple[UnitRow, ...]
    over_all: str


@dataclass(frozen=True, kw_only=True)
class AnswerRow:
    """One answer, by whom and when."""

    words: str
    reasons: str
    text: str
    by: str
    at: datetime


@dataclass(frozen=True, kw_only=True)
class AuditedPage:
    """One check of a sample, and every answer about it; the last counts."""

    sample: str
    row: CheckRow
    answers: tuple[AnswerRow, ...]


def sample_rows(listed: Iterable[SampleListed]) -> tuple[SampleRow, ...]:
    """The list."""
    return tuple(_row(each) for each in listed)


def sample_choices(listed: Iterable[SampleListed]) -> dict[str, str]:
    """Samples to choose from, by their id."""
    return {each.sample: _choice(_row(each)) for each in listed}


def _choice(row: SampleRow) -> str:
    first, last = (day_in_words(each.isoformat()) for each in (row.first, row.last))
    return f"Sample “{row.seed}”: {row.drawn} checks of {first} to {last}"


def _row(listed: SampleListed) -> SampleRow:
    event = listed.event
    return SampleRow(
        sample=listed.sample,
        seed=event.seed,
        first=date.fromisoformat(event.from_date),
        last=date.fromisoformat(event.to_date),
        drawn=sum(int(each.rsplit(" ", 1)[1].split("/")[0]) for each in event.strata),
        at=listed.entry.at,
    )


def sample_page(seen: SampleSeen) -> SamplePage:
    """One sample."""
    estimate = seen.estimate
    return SamplePage(
        row=_row(seen.listed),
        each=seen.listed.event.each,
        digest=seen.listed.event.digest,
        by=seen.people.get(seen.listed.entry.by, ""),
        is_as_drawn=seen.is_as_drawn,
        units=tuple(_unit(seen, each) for each in seen.units),
        over_all=f"{_percent(float(estimate.share))}, {_between(estimate.interval)}" if estimate else "",
    )


def _unit(seen: SampleSeen, unit: UnitAudited) -> UnitRow:
    rate = ""
    if unit.rate and unit.interval:
        share = _percent(float(unit.rate.value))
        rate = f"{unit.rate.count} of {unit.rate.of} conform: {share}, {_between(unit.interval)}"
    return UnitRow(
        name=seen.names.get(unit.unit, unit.unit),
        drawn=len(unit.rows),
        size=unit.size,
        answered=unit.answered,
        rate=rate,
        checks=tuple(_check(seen, each) for each in unit.rows),
    )


def _check(seen: SampleSeen, row: EndedRow) -> CheckRow:
    given = seen.answers.get(row.check, ())
    return CheckRow(
        check=row.check,
        place=place(seen.names.get(row.unit, row.unit), row.bed),
        kind=kind_words(row.kind),
        ended_at=row.ended_at,
        found=ANSWERS[given[-1].answer] if given else "",
    )


def audited_page(seen: SampleSeen, row: EndedRow) -> AuditedPage:
    """One check of it."""
    return AuditedPage(
        sample=seen.listed.sample,
        row=_check(seen, row),
        answers=tuple(
            AnswerRow(
                words=ANSWERS[each.answer],
                reasons="; ".join(REASONS[reason] for reason in each.reasons),
                text=each.text,
                by=seen.people.get(each.by, ""),
                at=each.at,
            )
            for each in seen.answers.get(row.check, ())
        ),
    )


def _percent(share: float) -> str:
    return f"{100 * share:.1f}".removesuffix(".0") + " %"


def _between(interval: Interval) -> str:
    return f"between {_percent(interval.low)} and {_percent(interval.high)} (95 %)"
