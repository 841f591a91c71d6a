"""The list of findings, from the flat rows alone: a page of it costs the same however many there are."""

from collections.abc import Callable, Collection
from dataclasses import dataclass, replace
from datetime import datetime
from functools import partial
from typing import Any, NamedTuple

from sqlalchemy import (
    ColumnElement,
    Connection,
    FromClause,
    Select,
    Table,
    and_,
    case,
    literal,
    select,
    tuple_,
)

from app.records.kept import KeptComparison
from app.records.kept_reviews import ASSIGNED, REVIEWED, Classification, FindingReview
from app.records.kept_rows import FindingReached, FindingRow, place_of
from app.records.reached import Reached, ReviewState
from app.storage import tables
from app.storage.columns import UtcTime
from app.storage.review_tables import finding_classified, finding_review
from app.storage.row_tables import PLACE, SLIP_IS_SAID, ended_check, finding, finding_reached, finding_settled
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

    `columns` are columns of a finding with the value each must have, `kinds` kinds of check, and `checks` the
    checks alone that are meant. `review` is how far their review has come, as `person` looks at it, and
    `to_classify` asks for those that wait for this person to say what they were. `hidden_at` are beds, with
    their units, and `hidden_on` infusions, of which nothing is listed.
    """

    columns: dict[str, str]
    settled: str = ""
    kinds: Collection[str] = ()
    checks: Collection[str] | None = None
    review: ReviewState | None = None
    person: str = ""
    to_classify: bool = False
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
# Of so many of a list at most it is asked what has not come to pass yet: where nearly all has, a page of the
# few others would otherwise go through the whole list.
LOOKED_AT = 200
# More than there are of some checks; what has a limit is put together by itself.
_EVERY = 1_000_000
# What has come to pass is found in the order of the list.
_HAS_REACHED = {
    ReviewState.REVIEWED: Reached.REVIEWED,
    ReviewState.GIVEN: Reached.GIVEN,
    ReviewState.GIVEN_TO_ME: Reached.GIVEN_TO,
    ReviewState.CLASSIFIED_ONCE: Reached.CLASSIFIED,
    ReviewState.CLASSIFIED_TWICE: Reached.CLASSIFIED_TWICE,
    ReviewState.CLASSIFIED_APART: Reached.CLASSIFIED_APART,
}
# The first of these that is asked for says which index is gone through.
_LEADING = ("slip", "code", "drug", "independence", "origin", "severity")


def _page(wanted: FindingsWanted) -> Select[Any]:
    """The places of a page, and with them all that a list says of each."""
    places = _places(wanted).subquery("places")
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


def _places(wanted: FindingsWanted) -> Select[Any]:
    """The places of a page."""
    in_order, waits = _in_order_of_list(wanted), _waits(wanted)
    if not waits:
        return in_order.limit(wanted.limit)
    some = in_order.limit(LOOKED_AT).subquery("some_of_the_list")
    newest_first = (some.c[name].desc() for name in _ORDER)
    return select(some).where(*(each(some) for each in waits)).order_by(*newest_first).limit(wanted.limit)


def _in_order_of_list(wanted: FindingsWanted) -> Select[Any]:
    """All of the list, whatever has not come to pass yet."""
    if wanted.review in _HAS_REACHED:
        return _reached_so(wanted, _HAS_REACHED[wanted.review])
    return _settled_so(wanted) if wanted.settled else _found_so(wanted)


def _found_so(wanted: FindingsWanted) -> Select[Any]:
    """By what was found: of checks that have ended, each finding is settled."""
    is_over = select(finding_settled.c.check).where(_same(finding_settled, finding.c)).exists()
    said = [*_said(wanted), is_over]
    if wanted.checks is None:
        return _in_order(finding, wanted).where(*said)
    # All of these few first: in the order of the list they would be looked for in the whole of it.
    own = select(finding).where(finding.c.check.in_(sorted(wanted.checks)), *said).limit(_EVERY)
    return _in_order(own.subquery("of_these_checks"), wanted)


def _settled_so(wanted: FindingsWanted) -> Select[Any]:
    """By how it came to rest."""
    return _in_order(finding_settled, wanted).where(
        finding_settled.c.settled == wanted.settled, *_found_of(finding_settled, wanted)
    )


def _reached_so(wanted: FindingsWanted, state: Reached) -> Select[Any]:
    """By how far its review has come."""
    its = finding_reached.c
    person = wanted.person if state is Reached.GIVEN_TO else ""
    settled = select(finding_settled.c.check).where(
        _same(finding_settled, its), finding_settled.c.settled == wanted.settled
    )
    return _in_order(finding_reached, wanted).where(
        its.state == state.value,
        its.person == person,
        *_found_of(finding_reached, wanted),
        *([settled.exists()] if wanted.settled else []),
    )


def _found_of(table: Table, wanted: FindingsWanted) -> list[ColumnElement[bool]]:
    """What is said of the finding, where another table is gone through in its order."""
    # The unit stands there too: asked of the finding besides, PostgreSQL went through all of the unit's.
    of_unit = [table.c.unit == wanted.columns["unit"]] if "unit" in wanted.columns else []
    said = _said(
        replace(wanted, columns={name: value for name, value in wanted.columns.items() if name != "unit"})
    )
    return [*of_unit, select(finding.c.check).where(_same(finding, table.c), *said).exists()]


def _waits(wanted: FindingsWanted) -> list[Callable[[FromClause], ColumnElement[bool]]]:
    """What has not come to pass yet of what is looked for."""
    if wanted.to_classify:
        return [
            partial(_has_not_reached, Reached.CLASSIFIED_TWICE),
            partial(_is_a_third_person, wanted.person),
        ]
    match wanted.review:
        case ReviewState.NOT_REVIEWED:
            return [partial(_has_not_reached, Reached.REVIEWED)]
        case ReviewState.GIVEN:
            return [partial(_waits_with, "")]
        case ReviewState.GIVEN_TO_ME:
            return [partial(_waits_with, wanted.person)]
        case ReviewState.CLASSIFIED_ONCE:
            return [partial(_has_not_reached, Reached.CLASSIFIED_TWICE)]
        case _:
            return []


def _has_not_reached(state: Reached, place: FromClause) -> ColumnElement[bool]:
    its = finding_reached.c
    return _is_none(select(its.check).where(_same(finding_reached, place.c), its.state == state.value))


def _is_a_third_person(person: str, place: FromClause) -> ColumnElement[bool]:
    """Neither of the two of its check, nor who took their request, nor who has said already what it was."""
    part, help_ = tables.participant.c, tables.help_taker.c
    return and_(
        _is_none(
            select(finding_classified.c.check).where(
                _same(finding_classified, place.c), finding_classified.c.person == person
            )
        ),
        _is_none(select(part.check).where(part.check == place.c.check, part.person == person)),
        _is_none(select(help_.check).where(help_.check == place.c.check, help_.person == person)),
    )


def _waits_with(person: str, place: FromClause) -> ColumnElement[bool]:
    """Whether it was given to somebody, or to this person, and was since neither reviewed nor given on."""
    its = finding_review.c
    last = (
        select(case((its.what == ASSIGNED, its.assigned_to), else_=None))
        .where(_same(finding_review, place.c), its.what.in_((ASSIGNED, REVIEWED)))
        .order_by(its.position.desc())
        .limit(1)
        .scalar_subquery()
    )
    return last == person if person else last.is_not(None)


def _is_none(of: Select[Any]) -> ColumnElement[bool]:
    """That there is none; asked row by row, so that no engine puts all of them together first."""
    return of.limit(1).scalar_subquery().is_(None)


def _in_order(table: FromClause, wanted: FindingsWanted) -> Select[Any]:
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
    return page.order_by(*(table.c[name].desc() for name in _ORDER))


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
    if wanted.kinds:
        said.append(finding.c.kind.in_(sorted(wanted.kinds)))
    if wanted.to_classify:
        # What an earlier round had already is said once.
        said.append(finding.c.repeated.is_(False))
    said += [~((finding.c.unit == unit) & (finding.c.bed == bed)) for unit, bed in wanted.hidden_at]
    return [*said, finding.c.infusion.not_in(wanted.hidden_on)] if wanted.hidden_on else said


def _same(table: FromClause, other: Any) -> ColumnElement[bool]:  # noqa: ANN401  # columns of a table or subquery
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

    def looked_at_until(self, wanted: FindingsWanted) -> FindingPlace | None:
        """Down to which place a page was looked for; None where that was the end of the list."""
        if not _waits(wanted):
            return None
        last = _in_order_of_list(wanted).offset(LOOKED_AT - 1).limit(1)
        row = self._connection.execute(last).mappings().first()
        return None if row is None else FindingPlace(*(row[name] for name in _ORDER))

    def reached_by(self, places: Collection[FindingPlace]) -> tuple[FindingReached, ...]:
        """How far the review of some findings has come."""
        some = [each[1:] for each in places]
        wanted = select(finding_reached).where(tuple_(*(finding_reached.c[name] for name in PLACE)).in_(some))
        return read_all(self._connection, FindingReached, wanted) if some else ()

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
