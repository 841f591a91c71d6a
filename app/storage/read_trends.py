"""Counts over the checks that have ended, for the trends: grouped by the database, and no value among them.

Each statement starts from the rows of ended checks, so that nothing of a check that goes on is counted.
"""

from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import (
    ColumnElement,
    Connection,
    FromClause,
    FunctionElement,
    Integer,
    Select,
    and_,
    case,
    func,
    select,
)
from sqlalchemy.ext.compiler import compiles
from sqlalchemy.sql.compiler import SQLCompiler

from app.storage import tables
from app.storage.questions import is_misplaced
from app.storage.row_tables import PLACE, ended_check, finding, finding_settled

# More of a rare event than a chart of them shows.
_RARE = 200
_DONE = ("started", "done")


@dataclass(frozen=True, kw_only=True)
class Counted:
    """Of which checks: those compared between the first and the last of these moments, of a unit or of all.

    From one of the moments to the next is a month. `without` are beds at which whoever looks reads blind.
    Accounts alone are counted by the `device` of their infusion: of one, or of all (blank).
    """

    months: Sequence[datetime]
    unit: str
    without: frozenset[tuple[str, str]] = frozenset()
    device: str = ""


@dataclass(frozen=True, kw_only=True)
class Month:
    """What was found among so many in one month of one unit: `month` is its place, from 0 on."""

    month: int
    unit: str
    of: int
    found: int


@dataclass(frozen=True, kw_only=True)
class Rare:
    """A check with something rare, and its place among all, from 1 on."""

    place: int
    at: datetime


@dataclass(frozen=True, kw_only=True)
class Tally:
    """How often two things came together; the second is blank where one was asked for."""

    what: str
    other: str
    count: int


@dataclass(frozen=True, kw_only=True)
class FoundBy:
    """How often stops and cautions had each code, field and slip, by severity."""

    codes: tuple[Tally, ...]
    fields: tuple[Tally, ...]
    slips: tuple[Tally, ...]


@dataclass(frozen=True, kw_only=True)
class Took:
    """How often something of a kind took so many whole minutes."""

    what: str
    minutes: int
    count: int


@dataclass(frozen=True, kw_only=True)
class DueCount:
    """How often a check became due by an event, and how often it was had in time, or later."""

    kind: str
    due: int
    in_time: int
    later: int


class _Seconds(FunctionElement[int]):
    """Whole seconds since 1970, which each engine has its own word for."""

    type = Integer()
    inherit_cache = True


@compiles(_Seconds, "sqlite")
def _in_sqlite(element: _Seconds, compiler: SQLCompiler, **kw: Any) -> str:  # noqa: ANN401  # the library's own
    return f"CAST(strftime('%s', {compiler.process(element.clauses, **kw)}) AS INTEGER)"


@compiles(_Seconds, "postgresql")
def _in_postgresql(element: _Seconds, compiler: SQLCompiler, **kw: Any) -> str:  # noqa: ANN401  # likewise
    return f"CAST(floor(extract(epoch FROM {compiler.process(element.clauses, **kw)})) AS BIGINT)"


class TrendReader:
    """The counts behind the trends."""

    _connection: Connection

    def months_counted(self, counted: Counted) -> tuple[Month, ...]:
        """Checks, and what stopped them, by month and unit."""
        ended, month = ended_check.c, month_of(counted, ended_check)
        found = func.sum(ended.stops).label("found")
        asked = ended_within(counted, select(month, ended.unit, func.count().label("of"), found))
        return self._counted(Month, asked.group_by(month, ended.unit).order_by(month, ended.unit))

    def rare_stops(self, counted: Counted) -> tuple[Rare, ...]:
        """The last checks that were stopped, in order, each with its place among all."""
        ended = ended_check.c
        place = func.row_number().over(order_by=(ended.compared_at, ended.check)).label("place")
        numbered = ended_within(counted, select(place, ended.compared_at.label("at"), ended.stops)).subquery()
        last = (
            select(numbered.c.place, numbered.c.at)
            .where(numbered.c.stops > 0)
            .order_by(numbered.c.place.desc())
            .limit(_RARE)
        )
        return self._counted(Rare, last)[::-1]

    def findings_counted(self, counted: Counted) -> FoundBy:
        """Each of a check once."""
        by = (finding.c.code, finding.c.field, finding.c.slip)
        asked = found_within(counted, select(*by, finding.c.severity, _COUNT))
        asked = asked.where(finding.c.severity != "note", finding.c.repeated.is_(False))
        found = Counter[Any](), Counter[Any](), Counter[Any]()
        # Going through the findings takes the time: once, for all three.
        for *whats, severity, count in self._connection.execute(asked.group_by(*by, finding.c.severity)):
            for tallied, what in zip(found, whats, strict=True):
                if what:
                    tallied[what, severity] += count
        codes, fields, slips = map(tallies, found)
        return FoundBy(codes=codes, fields=fields, slips=slips)

    def cautions_counted(self, counted: Counted) -> tuple[Tally, ...]:
        """How each caution came to rest, by its code."""
        how = finding_settled.c.settled
        asked = settled_within(counted, select(finding.c.code.label("what"), how.label("other"), _COUNT))
        cautions = asked.where(finding.c.severity == "caution", finding.c.repeated.is_(False))
        return self._counted(Tally, cautions.group_by(finding.c.code, how))

    def grades_counted(self, counted: Counted) -> tuple[Tally, ...]:
        """How independent the readings of each check were, and whether anybody had looked before."""
        ended = ended_check.c
        looked = case((ended.earlier_look, "looked"), else_="")
        asked = select(ended.independence.label("what"), looked.label("other"), _COUNT)
        return self._counted(Tally, ended_within(counted, asked).group_by(ended.independence, looked))

    def times_to_clearance(self, counted: Counted) -> tuple[Took, ...]:
        """From opening to clearance, by kind of check."""
        ended = ended_check.c
        minutes = _minutes(_Seconds(ended.cleared_at) - _Seconds(ended.opened_at))
        asked = select(ended.kind.label("what"), minutes, _COUNT).where(ended.cleared_at.is_not(None))
        return self._counted(Took, ended_within(counted, asked).group_by(ended.kind, minutes))

    def times_to_settling(self, counted: Counted) -> tuple[Took, ...]:
        """From the comparison until what it found had come to rest, by severity."""
        minutes = _minutes(finding_settled.c.seconds_to_settle)
        asked = settled_within(counted, select(finding.c.severity.label("what"), minutes, _COUNT))
        rested = asked.where(finding_settled.c.seconds_to_settle.is_not(None), finding.c.severity != "note")
        return self._counted(Took, rested.group_by(finding.c.severity, minutes))

    def kinds_counted(self, counted: Counted) -> tuple[Tally, ...]:
        """How many checks of each kind ended in which way."""
        ended = ended_check.c
        asked = select(ended.kind.label("what"), ended.how.label("other"), _COUNT)
        return self._counted(Tally, ended_within(counted, asked).group_by(ended.kind, ended.how))

    def due_counted(
        self, counted: Counted, now: datetime, seconds: Mapping[str, int]
    ) -> tuple[DueCount, ...]:
        """How often each event made a check due, of those whose time is over, and how it was had."""
        return tuple(self._due(counted, now, kind, most) for kind, most in seconds.items())

    def _due(self, counted: Counted, now: datetime, kind: str, most: int) -> DueCount:
        entry, ended = tables.log_entry.c, ended_check.c
        took = _Seconds(ended.compared_at) - _Seconds(entry.at)
        first = (
            select(func.min(took))
            .where(ended.infusion == entry.infusion, ended.how.in_(_DONE), ended.compared_at >= entry.at)
            .correlate(tables.log_entry)
            .scalar_subquery()
        )
        asked = (
            select(first.label("took"))
            .join(tables.infusion, tables.infusion.c.id == entry.infusion)
            .where(
                entry.kind == kind,
                ~is_misplaced(tables.log_entry),
                entry.at >= counted.months[0],
                entry.at < counted.months[-1],
                _Seconds(entry.at) + most < int(now.timestamp()),
            )
        )
        if counted.unit:
            asked = asked.where(tables.infusion.c.unit == counted.unit)
        for unit, bed in sorted(counted.without):
            asked = asked.where((tables.infusion.c.unit != unit) | (tables.infusion.c.bed != bed))
        each = asked.subquery().c.took
        due, in_time, had = self._connection.execute(
            select(func.count(), _how_many(each <= most), func.count(each))
        ).one()
        return DueCount(kind=kind, due=due, in_time=in_time or 0, later=had - (in_time or 0))

    def caught_on_unit(
        self,
        unit: str,
        since: datetime,
        *,
        hidden_at: Collection[tuple[str, str]],
        hidden_on: Collection[str],
    ) -> tuple[int, tuple[Tally, ...]]:
        """How many checks of a unit ended since, and how often each code stood in their way, by severity."""
        ended = ended_check.c
        over = [ended.unit == unit, ended.ended_at > since]
        over += [~((ended.unit == of) & (ended.bed == bed)) for of, bed in hidden_at]
        over += [ended.infusion.not_in(hidden_on)] if hidden_on else []
        (many,) = self._connection.execute(select(func.count()).where(*over)).one()
        asked = (
            select(finding.c.code.label("what"), finding.c.severity.label("other"), _COUNT)
            .select_from(finding)
            .join(ended_check, ended.check == finding.c.check)
            .where(*over, finding.c.severity != "note", finding.c.repeated.is_(False))
            .group_by(finding.c.code, finding.c.severity)
        )
        return many, self._counted(Tally, asked)

    def _counted(self, made: type[Any], asked: Select[Any]) -> tuple[Any, ...]:
        return tuple(made(**row._mapping) for row in self._connection.execute(asked))  # noqa: SLF001  # so the library names it


_COUNT = func.count().label("count")


def _how_many(so: ColumnElement[bool]) -> ColumnElement[int]:
    return func.sum(one_if(so))


def one_if(so: ColumnElement[bool]) -> ColumnElement[int]:
    """What can be summed."""
    return case((so, 1), else_=0)


def month_of(counted: Counted, of: FromClause) -> ColumnElement[int]:
    """The place of a check's month."""
    ends = enumerate(counted.months[1:])
    return case(*((of.c.compared_at < end, place) for place, end in ends)).label("month")


def tallies(counted: Counter[Any]) -> tuple[Tally, ...]:
    """Of what was counted by two things."""
    return tuple(
        Tally(what=what, other=other, count=count) for (what, other), count in sorted(counted.items())
    )


def _minutes(seconds: ColumnElement[Any]) -> ColumnElement[int]:
    return (seconds // 60).label("minutes")


def ended_within(counted: Counted, asked: Select[Any], of: FromClause = ended_check) -> Select[Any]:
    """Of the ended checks that are counted."""
    ended = of.c
    asked = asked.where(ended.compared_at >= counted.months[0], ended.compared_at < counted.months[-1])
    for unit, bed in sorted(counted.without):
        asked = asked.where((ended.unit != unit) | (ended.bed != bed))
    if counted.device:
        asked = asked.where(ended.of_device == counted.device)
    return asked.where(ended.unit == counted.unit) if counted.unit else asked


def found_within(counted: Counted, asked: Select[Any]) -> Select[Any]:
    """Of the findings of these; none is older than the first comparison of its check."""
    joined = asked.select_from(finding).join(ended_check, ended_check.c.check == finding.c.check)
    return ended_within(counted, joined).where(finding.c.compared_at >= counted.months[0])


def settled_within(counted: Counted, asked: Select[Any]) -> Select[Any]:
    """Of these findings with how each came to rest."""
    same = (finding_settled.c[name] == finding.c[name] for name in PLACE)
    joined = found_within(counted, asked).join(finding_settled, and_(*same))
    return joined.where(finding_settled.c.compared_at >= counted.months[0])
