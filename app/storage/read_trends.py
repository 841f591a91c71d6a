"""Counts over the checks that have ended, for the trends: grouped by the database, and no value among them.

Each statement starts from the rows of ended checks, so that nothing of a check that goes on is counted.
"""

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
    Subquery,
    case,
    func,
    select,
)
from sqlalchemy.ext.compiler import compiles
from sqlalchemy.sql.compiler import SQLCompiler

from app.records.kinds import END_OF_PCA
from app.storage import tables
from app.storage.row_tables import ended_check, finding, finding_settled

# More of a rare event than a chart of them shows, and as many figures as one shows on a phone.
_RARE = 200
_SINGLE = 60
_DONE = ("started", "done")
SEVERAL = "several"
"""What stands for the device of an infusion that had more than one; a serial number has no small letters."""


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
class OfDevice:
    """Infusions with an account on one device, and how many of these did not add up."""

    device: str
    of: int
    found: int


@dataclass(frozen=True, kw_only=True)
class Difference:
    """By how much an account did not add up when PCA ended, in exact mL."""

    at: datetime
    amount: str


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
        return self._months(counted, ended_check, func.sum(ended_check.c.stops))

    def accounts_counted(self, counted: Counted) -> tuple[Month, ...]:
        """Infusions with an account, and how many accounts did not add up, by the month of the last one."""
        last = last_accounts()
        return self._months(counted, last, _how_many(last.c.account == "stopped"))

    def accounts_by_device(self, counted: Counted) -> tuple[OfDevice, ...]:
        """The same of each device; blank is where none is known."""
        last = last_accounts()
        found = _how_many(last.c.account == "stopped").label("found")
        asked = select(last.c.of_device.label("device"), func.count().label("of"), found)
        asked = ended_within(counted, asked, last).group_by(last.c.of_device)
        return self._counted(OfDevice, asked.order_by(last.c.of_device))

    def _months(self, counted: Counted, of: FromClause, found: ColumnElement[int]) -> tuple[Month, ...]:
        ends = enumerate(counted.months[1:])
        month = case(*((of.c.compared_at < end, place) for place, end in ends)).label("month")
        asked = ended_within(
            counted, select(month, of.c.unit, func.count().label("of"), found.label("found")), of
        )
        return self._counted(Month, asked.group_by(month, of.c.unit).order_by(month, of.c.unit))

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

    def findings_counted(self, counted: Counted, column: str) -> tuple[Tally, ...]:
        """How often stops and cautions had each code, field or slip, by severity; each of a check once."""
        what = finding.c[column]
        asked = found_within(counted, select(what.label("what"), finding.c.severity.label("other"), _COUNT))
        return self._counted(
            Tally,
            asked.where(what != "", finding.c.severity != "note", finding.c.repeated.is_(False)).group_by(
                what, finding.c.severity
            ),
        )

    def cautions_counted(self, counted: Counted) -> tuple[Tally, ...]:
        """How each caution came to rest, by its code."""
        settled = finding_settled.c
        asked = found_within(
            counted, select(finding.c.code.label("what"), settled.settled.label("other"), _COUNT)
        )
        return self._counted(
            Tally,
            asked.join(
                finding_settled,
                (settled.check == finding.c.check)
                & (settled.subject == finding.c.subject)
                & (settled.round == finding.c.round)
                & (settled.number == finding.c.number),
            )
            .where(finding.c.severity == "caution", finding.c.repeated.is_(False))
            .group_by(finding.c.code, settled.settled),
        )

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
        asked = found_within(counted, select(finding.c.severity.label("what"), minutes, _COUNT)).join(
            finding_settled,
            (finding_settled.c.check == finding.c.check)
            & (finding_settled.c.subject == finding.c.subject)
            & (finding_settled.c.round == finding.c.round)
            & (finding_settled.c.number == finding.c.number),
        )
        rested = asked.where(finding_settled.c.seconds_to_settle.is_not(None), finding.c.severity != "note")
        return self._counted(Took, rested.group_by(finding.c.severity, minutes))

    def differences_counted(self, counted: Counted, by: str) -> tuple[Tally, ...]:
        """By how much accounts did not add up when PCA ended, in exact mL, by `unit` or `of_device`."""
        last = last_accounts()
        what, amount = last.c[by], last.c.account_difference
        asked = ended_within(counted, select(what.label("what"), amount.label("other"), _COUNT), last)
        return self._counted(Tally, asked.where(*_at_the_end(last)).group_by(what, amount))

    def last_differences(self, counted: Counted) -> tuple[Difference, ...]:
        """The newest of these, in the order in which they came."""
        last = last_accounts()
        order = (last.c.compared_at.desc(), last.c.check.desc())
        asked = select(last.c.compared_at.label("at"), last.c.account_difference.label("amount"))
        kept = ended_within(counted, asked, last).where(*_at_the_end(last)).order_by(*order).limit(_SINGLE)
        return self._counted(Difference, kept)[::-1]

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
    return func.sum(case((so, 1), else_=0))


def _minutes(seconds: ColumnElement[Any]) -> ColumnElement[int]:
    return (seconds // 60).label("minutes")


def _at_the_end(last: FromClause) -> tuple[ColumnElement[bool], ...]:
    return last.c.kind == END_OF_PCA.name, last.c.account_difference != ""


def last_accounts() -> Subquery:
    """Of each infusion its last check with an account: an account is of all that was before.

    Not every check reads which device it is: `of_device` is the one that any of them read, or `SEVERAL`.
    """
    ended = ended_check.c
    newest = (ended.compared_at.desc(), ended.check.desc())
    place = func.row_number().over(partition_by=ended.infusion, order_by=newest).label("place")
    each = select(ended_check, place).where(ended.account != "").subquery()
    least, most = func.min(ended.device).label("least"), func.max(ended.device).label("most")
    devices = select(ended.infusion, least, most).where(ended.device != "").group_by(ended.infusion)
    known = devices.subquery()
    of_device = case(
        (known.c.least == known.c.most, known.c.least), (known.c.least.is_not(None), SEVERAL), else_=""
    )
    joined = each.outerjoin(known, known.c.infusion == each.c.infusion)
    asked = select(each, of_device.label("of_device")).select_from(joined)
    return asked.where(each.c.place == 1).subquery()


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
    """Of the findings of these."""
    joined = asked.select_from(finding).join(ended_check, ended_check.c.check == finding.c.check)
    return ended_within(counted, joined)
