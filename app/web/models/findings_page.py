"""The list of findings as a page."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from app.records.kept_rows import FindingRow
from app.records.kinds import kind_named
from app.web.forms.findings import write_place
from app.web.models.findings import MARKS
from app.web.models.lists import place
from app.words.checking import became_words, code_words, settled_words, slip_words, spell
from app.words.findings import found_in_words
from app.words.names import finding_field_words, loud_times, quiet_times, severity_words
from app.words.reviewing import reached_words, your_part_words
from app.words.screens import kind_words, source_words
from app.workflow.findings import PastFinding, PastFindings


@dataclass(frozen=True, kw_only=True)
class Logged:
    """One finding of one reading of one ended check."""

    where: Mapping[str, Any]
    place: str
    compared_at: datetime
    outcome: str
    kind: str
    reading: str
    word: str
    mark: str
    title: str
    field: str
    sources: str
    times: str
    ratio: str
    slip: str
    settled: str
    took: str
    review: str


@dataclass(frozen=True, kw_only=True)
class FindingsPage:
    """One page of the log."""

    rows: tuple[Logged, ...]
    next: str
    until: datetime | None


def findings_page(found: PastFindings, units: Mapping[str, str], person: str) -> FindingsPage:
    """The page for the person who looks; `units` names each unit."""
    return _page(found, units, lambda each: reached_words(each.reached, each.listed.row.severity, person))


def waiting_page(found: PastFindings, units: Mapping[str, str]) -> FindingsPage:
    """The page of what waits for whoever looks to classify it."""
    return _page(found, units, lambda each: your_part_words(each.reached))


def _page(
    found: PastFindings, units: Mapping[str, str], review: Callable[[PastFinding], str]
) -> FindingsPage:
    return FindingsPage(
        rows=tuple(_logged(each, units, review(each)) for each in found.rows),
        next=write_place(found.next_after) if found.next_after else "",
        until=found.until,
    )


def where_of(row: FindingRow) -> dict[str, Any]:
    """Where a finding has its page, for an address."""
    return {name: getattr(row, name) for name in ("check", "subject", "round", "number")}


def _logged(past: PastFinding, units: Mapping[str, str], review: str) -> Logged:
    listed, row = past.listed, past.listed.row
    return Logged(
        where=where_of(row),
        place=place(units.get(row.unit, row.unit), row.bed),
        compared_at=row.compared_at,
        outcome=became_words(listed.how),
        kind=kind_words(row.kind),
        reading=found_in_words(row.subject, row.round),
        word=severity_words(row.severity, kind_named(row.kind), row.about),
        mark=MARKS[row.severity],
        title=code_words(row.code),
        field=finding_field_words(row.field),
        sources=", ".join(source_words(each) for each in past.sources),
        times=loud_times(row.factor),
        ratio=quiet_times(row.factor),
        slip=slip_words(row.slip),
        settled=settled_words(listed.settled, listed.settled_outcome),
        took="" if listed.seconds_to_settle is None else spell(listed.seconds_to_settle),
        review=review,
    )
