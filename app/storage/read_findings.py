"""The list of findings, from the flat rows alone: a page of it costs the same however many there are."""

from collections.abc import Collection
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any, NamedTuple

from sqlalchemy import ColumnElement, Connection, Select, Table, and_, literal, select, tuple_

from app.records.kept import KeptComparison
from app.records.kept_reviews import Classification, FindingReview
from app.records.kept_rows import FindingRow, place_of
from app.storage import tables
from app.storage.columns import UtcTime
from app.storage.review_tables import finding_classified, finding_review
from app.storage.row_tables import PLACE, SLIP_IS_SAID, ended_check, finding, finding_settled
from app.storage.rows import read_all, rows_by


class FindingPlace(NamedTuple):
    """Where a finding stands in the list: the newest comparison first."""

    compared_at: datetime
    check: str
    subject: str
    round: int
    number: int


@dataclass(frozen=True, kw_only=True)
class FindingsWanted:
    """Which findings: each field narrows the list, and blank means all.

    `columns` are columns of a finding with the value each must have. `hidden_at` are beds, with their units,
    and `hidden_on` infusions, of which nothing is listed.
    """

    columns: dict[str, str]
    settled: str = ""
    from_: datetime | None = None
    to: datetime | None = None
    after: FindingPlace | None = None
    hidden_at: Collection[tuple[str, str]] = ()
    hidden_on: Collection[str] = ()
    limit: int


@dataclass(frozen=True, kw_only=True)
class ListedFinding:
    """One finding of a check that has ended, how it came to rest, and what became of the check."""

    row: FindingRow
    settled: str
    settled_outcome: str
    seconds_to_settle: int | None
    how: str
    ended_at: datetime

    @property
    def place(self) -> FindingPlace:
        """Where it stands in the list."""
        return FindingPlace(self.row.compared_at, *place_of(self.row))


# The columns by which a finding is found again, and those of the list's order.
_ORDER = ("compared_at", *PLACE)
# The first of these that is asked for says which index is gone through.
_LEADING = ("slip", "code", "drug", "independence", "origin", "severity")


def _page(wanted: FindingsWanted) -> Select[Any]:
    """The places of a page, and with them all that a list says of each."""
    places = (_settled_so(wanted) if wanted.settled else _found_so(wanted)).subquery("places")
    ended = ended_check.c.check == finding.c.check
    return (
        select(
            finding,
            finding_settled.c.settled,
            finding_settled.c.settled_outcome,
            finding_settled.c.seconds_to_settle,
            ended_check.c.how,
            ended_check.c.ended_at,
        )
        .select_from(places)
        .join(finding, _same(finding, places.c))
        .join(finding_settled, _same(finding_settled, places.c))
        .join(ended_check, ended)
        .order_by(*(finding.c[name].desc() for name in _ORDER))
    )


def _found_so(wanted: FindingsWanted) -> Select[Any]:
    """By what was found: of checks that have ended, each finding is settled."""
    is_over = select(finding_settled.c.check).where(_same(finding_settled, finding.c)).exists()
    return _in_order(finding, wanted).where(*_said(wanted), is_over)


def _settled_so(wanted: FindingsWanted) -> Select[Any]:
    """By how it came to rest."""
    # The unit stands here too: asked of the finding besides, PostgreSQL went through all of the unit's.
    of_unit = [finding_settled.c.unit == wanted.columns["unit"]] if "unit" in wanted.columns else []
    others = {name: value for name, value in wanted.columns.items() if name != "unit"}
    said = _said(replace(wanted, columns=others))
    found = select(finding.c.check).where(_same(finding, finding_settled.c), *said).exists()
    return _in_order(finding_settled, wanted).where(
        finding_settled.c.settled == wanted.settled, *of_unit, found
    )


def _in_order(table: Table, wanted: FindingsWanted) -> Select[Any]:
    """A page of places, in the order of the list, by the times of one of the tables."""
    at = table.c.compared_at
    page = select(*(table.c[name] for name in _ORDER))
    if wanted.from_ is not None:
        page = page.where(at >= wanted.from_)
    if wanted.to is not None:
        page = page.where(at < wanted.to)
    if wanted.after is not None:
        moment, *rest = wanted.after
        place = tuple_(*(table.c[name] for name in _ORDER[1:])) < tuple_(*map(literal, rest))
        last = literal(moment, UtcTime)
        # The first says where the index is entered.
        page = page.where(at <= last, (at < last) | place)
    return page.order_by(*(table.c[name].desc() for name in _ORDER)).limit(wanted.limit)


def _said(wanted: FindingsWanted) -> list[ColumnElement[bool]]:
    """What must hold of the finding itself; where nothing may be listed is left out."""
    leads = next((name for name in _LEADING if name in wanted.columns), "")
    said: list[ColumnElement[bool]] = []
    for name, value in wanted.columns.items():
        # Put like this no engine goes by another index than by that of the leading column.
        column = finding.c[name] if name in {"unit", leads} else finding.c[name] + ""
        said.append(column == value)
    if "slip" in wanted.columns:
        said.append(SLIP_IS_SAID)  # type: ignore[arg-type]  # a condition as text
    said += [~((finding.c.unit == unit) & (finding.c.bed == bed)) for unit, bed in wanted.hidden_at]
    return [*said, finding.c.infusion.not_in(wanted.hidden_on)] if wanted.hidden_on else said


def _same(table: Table, other: Any) -> ColumnElement[bool]:  # noqa: ANN401  # columns of a table or subquery
    return and_(*(table.c[name] == other[name] for name in PLACE))


_REVIEWS = rows_by(finding_review, "check").order_by(finding_review.c.position)
_CLASSIFIED = rows_by(finding_classified, "check").order_by(
    *(finding_classified.c[name] for name in ("subject", "round", "number", "place"))
)


class FindingReader:
    """Findings of checks that have ended."""

    _connection: Connection

    def page_of_findings(self, wanted: FindingsWanted) -> tuple[ListedFinding, ...]:
        """A page of the list, the newest first."""
        names = FindingRow.__dataclass_fields__
        return tuple(
            ListedFinding(
                row=FindingRow(**{name: row[name] for name in names}),
                settled=row["settled"],
                settled_outcome=row["settled_outcome"],
                seconds_to_settle=row["seconds_to_settle"],
                how=row["how"],
                ended_at=row["ended_at"],
            )
            for row in self._connection.execute(_page(wanted)).mappings()
        )

    def finding_reviews(self, check: str) -> tuple[FindingReview, ...]:
        """What was done with the findings of a check, in its order."""
        return read_all(self._connection, FindingReview, _REVIEWS, check=check)

    def classifications(self, check: str) -> tuple[Classification, ...]:
        """How findings of a check were classified."""
        return read_all(self._connection, Classification, _CLASSIFIED, check=check)

    def comparisons_of(self, places: Collection[FindingPlace]) -> tuple[KeptComparison, ...]:
        """The comparisons in which some findings stand."""
        kept = tables.comparison
        rounds = sorted({(each.check, each.subject, each.round) for each in places})
        wanted = select(kept).where(tuple_(kept.c.check, kept.c.subject, kept.c.round).in_(rounds))
        return read_all(self._connection, KeptComparison, wanted) if rounds else ()
