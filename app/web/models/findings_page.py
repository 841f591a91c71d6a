"""The list of findings as a page, with what is open on the unit and what waits for help."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime

from app.records.kinds import kind_named
from app.web.forms.findings import write_place
from app.web.models.findings import MARKS
from app.web.models.lists import place
from app.words.checking import became_words, code_words, settled_words, slip_words, spell
from app.words.names import finding_field_words, loud_times, quiet_times, round_words, severity_words
from app.words.screens import kind_words, source_words, unbroken
from app.workflow.findings import PastFinding, PastFindings
from app.workflow.listing import Listed


@dataclass(frozen=True, kw_only=True)
class Open:
    """A check that is open on the unit: how far, and never a value."""

    check: str
    place: str
    kind: str
    since: datetime
    progress: str
    waits_for_help: bool


@dataclass(frozen=True, kw_only=True)
class Logged:
    """One finding of one reading of one ended check."""

    check: str
    round: int
    number: int
    place: str
    compared_at: datetime
    outcome: str
    reading: str
    word: str
    mark: str
    title: str
    field: str
    sources: str
    times: str
    ratio: str
    slip: str
    says: str
    settled: str
    took: str


@dataclass(frozen=True, kw_only=True)
class FindingsPage:
    """One page of the log."""

    open: tuple[Open, ...]
    rows: tuple[Logged, ...]
    next: str


def findings_page(
    found: PastFindings, open_checks: Iterable[Listed], units: Mapping[str, str]
) -> FindingsPage:
    """The page; `units` names each unit."""
    return FindingsPage(
        open=tuple(_open(each, units) for each in open_checks),
        rows=tuple(_logged(each, units) for each in found.rows),
        next=write_place(found.next_after) if found.next_after else "",
    )


def _open(listed: Listed, units: Mapping[str, str]) -> Open:
    return Open(
        check=listed.check,
        place=place(units.get(listed.unit, listed.unit), listed.bed),
        kind=kind_words(listed.kind),
        since=listed.opened_at,
        progress=listed.progress,
        waits_for_help=listed.waits_for_help,
    )


def _logged(past: PastFinding, units: Mapping[str, str]) -> Logged:
    listed, row = past.listed, past.listed.row
    return Logged(
        check=row.check,
        round=row.round,
        number=row.number,
        place=place(units.get(row.unit, row.unit), row.bed),
        compared_at=row.compared_at,
        outcome=became_words(listed.how),
        reading=round_words(row.round),
        word=severity_words(row.severity, kind_named(row.kind), row.about),
        mark=MARKS[row.severity],
        title=code_words(row.code),
        field=finding_field_words(row.field),
        sources=", ".join(source_words(each) for each in past.sources),
        times=loud_times(row.factor),
        ratio=quiet_times(row.factor),
        slip=slip_words(row.slip),
        says=unbroken(past.says),
        settled=settled_words(listed.settled),
        took="" if listed.seconds_to_settle is None else spell(listed.seconds_to_settle),
    )
