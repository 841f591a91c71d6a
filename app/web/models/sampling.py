"""Samples as pages show them: which checks, what was found, and between what and what the rate lies."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime

from app.records.kept_rows import EndedRow
from app.reports.times import day_in_words
from app.review.intervals import Interval
from app.web.models.lists import place
from app.words.names import named_within
from app.words.sampling import ALL_DRAWN, ANSWERS, REASONS
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
    """One check of a sample, by its number in its unit; `found` is the last answer, or blank."""

    number: int
    check: str
    place: str
    kind: str
    ended_at: datetime
    found: str


@dataclass(frozen=True, kw_only=True)
class UnitRow:
    """One unit: its rate, and its checks where they are shown."""

    unit: str
    name: str
    drawn: int
    size: int
    answered: int
    rate: str
    checks: tuple[CheckRow, ...]


@dataclass(frozen=True, kw_only=True)
class SamplePage:
    """The page of one sample; `over_all` is blank until something of each unit could be assessed.

    `unit` is blank where all are shown, and `is_whole` where they are short enough for one page. `next_check`
    is the first that was not answered yet of what is shown.
    """

    row: SampleRow
    each: int
    digest: str
    by: str
    is_as_drawn: bool
    units: tuple[UnitRow, ...]
    over_all: str
    unit: str
    is_whole: bool
    next_check: str


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


def sample_page(seen: SampleSeen, unit: str) -> SamplePage:
    """One sample, with the checks of one unit or of all (blank)."""
    estimate = seen.estimate
    units = tuple(
        _unit(seen, each, is_shown=unit == each.unit if unit else seen.is_short)
        for each in seen.units
        if unit in {"", each.unit}
    )
    open_checks = (each.check for row in units for each in row.checks if not each.found)
    return SamplePage(
        row=_row(seen.listed),
        each=seen.listed.event.each,
        digest=seen.listed.event.digest,
        by=seen.people.get(seen.listed.entry.by, ""),
        is_as_drawn=seen.is_as_drawn,
        units=units,
        unit=unit,
        is_whole=seen.is_short,
        next_check=next(open_checks, ""),
        over_all=f"{_percent(float(estimate.share))}, {_between(estimate.interval)}" if estimate else "",
    )


def _unit(seen: SampleSeen, unit: UnitAudited, *, is_shown: bool) -> UnitRow:
    rate = ""
    if unit.rate and unit.interval:
        share = _percent(float(unit.rate.value))
        rate = f"{unit.rate.count} of {unit.rate.of} conform: {share}, {_between(unit.interval)}."
        if len(unit.rows) == unit.size:
            rate = f"{rate} {ALL_DRAWN}"
    return UnitRow(
        unit=unit.unit,
        name=seen.names.get(unit.unit, unit.unit),
        drawn=len(unit.rows),
        size=unit.size,
        answered=unit.answered,
        rate=rate,
        checks=tuple(_check(seen, each, number) for number, each in enumerate(unit.rows, 1) if is_shown),
    )


def _check(seen: SampleSeen, row: EndedRow, number: int) -> CheckRow:
    given = seen.answers.get(row.check, ())
    return CheckRow(
        number=number,
        check=row.check,
        place=place(seen.names.get(row.unit, row.unit), row.bed),
        kind=named_within(row.kind),
        ended_at=row.ended_at,
        found=ANSWERS[given[-1].answer] if given else "",
    )


def audited_page(seen: SampleSeen, row: EndedRow) -> AuditedPage:
    """One check of it."""
    return AuditedPage(
        sample=seen.listed.sample,
        row=_check(seen, row, seen.number_of(row)),
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
