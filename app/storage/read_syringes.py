"""Infusions whose account did not add up, by their last check with one: for the controlled-drug officer."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import (
    Boolean,
    ColumnElement,
    Connection,
    FromClause,
    FunctionElement,
    LargeBinary,
    Select,
    literal,
    select,
    tuple_,
)
from sqlalchemy.ext.compiler import compiles
from sqlalchemy.sql.compiler import SQLCompiler

from app.people.identity import folded
from app.records import events
from app.records.account_events import AccountClosed
from app.records.emergency_events import EvidenceKept, EvidenceReceived, SealDiffered
from app.records.issue_events import IssueSettled, SyringeIssued
from app.records.kept import SOURCES, Entry, KeptComparison
from app.records.kept_rows import EndedRow
from app.records.ward_events import DrugTakenBack
from app.storage import rows, tables
from app.storage.columns import UtcTime
from app.storage.read_account_trends import last_accounts
from app.storage.row_tables import ended_check
from app.storage.rows import read_all

# What a verdict says of an account in which nothing is open.
_AGREED = "agreed"
# What tells who had drug in hand.
_HANDLING = (
    SyringeIssued.kind,
    IssueSettled.kind,
    events.Started.kind,
    events.StartedWithoutCheck.kind,
    events.StopMisplaced.kind,
    DrugTakenBack.kind,
    EvidenceKept.kind,
    EvidenceReceived.kind,
    SealDiffered.kind,
    AccountClosed.kind,
)
_LOG, _CHECK, _WHO = tables.log_entry.c, tables.check.c, tables.participant.c


@dataclass(frozen=True, kw_only=True)
class AccountsWanted:
    """A page of them, by the moments that their last check ended between, and by unit and person where asked.

    Nothing of beds, with their units, and infusions at which whoever looks reads blind.
    """

    after: tuple[datetime, str] | None
    hidden_at: Collection[tuple[str, str]]
    hidden_on: Collection[str]
    limit: int
    since: datetime | None = None
    until: datetime | None = None
    unit: str = ""
    person: str = ""


@dataclass(frozen=True, kw_only=True)
class InvolvedCheck:
    """One who read at a check of an infusion."""

    infusion: str
    check: str
    kind: str
    opened_at: datetime
    person: str


class _Holds(FunctionElement[bool]):
    """Whether some bytes hold others, which each engine has its own word for."""

    type = Boolean()
    inherit_cache = True


@compiles(_Holds, "sqlite")
def _in_sqlite(element: _Holds, compiler: SQLCompiler, **kw: Any) -> str:  # noqa: ANN401  # the library's own
    return f"(instr({compiler.process(element.clauses, **kw)}) > 0)"


@compiles(_Holds, "postgresql")
def _in_postgresql(element: _Holds, compiler: SQLCompiler, **kw: Any) -> str:  # noqa: ANN401  # likewise
    whole, part = (compiler.process(each, **kw) for each in element.clauses)
    return f"(position({part} in {whole}) > 0)"


class SyringeReader:
    """Accounts that did not add up."""

    _connection: Connection

    def accounts_apart(self, wanted: AccountsWanted) -> tuple[EndedRow, ...]:
        """The last check of each infusion whose account was not agreed by it, the newest end first."""
        accounts = last_accounts()
        last = accounts.c
        order = (last.ended_at, last.check)
        asked = select(*(last[name] for name in EndedRow.__dataclass_fields__)).where(last.account != _AGREED)
        for unit, bed in sorted(wanted.hidden_at):
            asked = asked.where((last.unit != unit) | (last.bed != bed))
        asked = _filtered(asked.where(last.infusion.not_in(sorted(wanted.hidden_on))), wanted, accounts)
        if wanted.after is not None:
            moment, check = wanted.after
            asked = asked.where(tuple_(*order) < tuple_(literal(moment, UtcTime), literal(check)))
        asked = asked.order_by(*(each.desc() for each in order)).limit(wanted.limit)
        return read_all(self._connection, EndedRow, asked)

    def comparisons_of_checks(self, checks: Collection[str]) -> tuple[KeptComparison, ...]:
        """Of the sources, in the order of their rounds."""
        kept = tables.comparison
        asked = select(kept).where(kept.c.check.in_(sorted(checks)), kept.c.subject == SOURCES)
        return read_all(self._connection, KeptComparison, asked.order_by(kept.c.check, kept.c.round))

    def people_of_infusions(self, infusions: Collection[str]) -> tuple[InvolvedCheck, ...]:
        """Who read at each check of some infusions that has ended, in order: who reads now is told nobody."""
        names = (_CHECK.infusion, _CHECK.id.label("check"), _CHECK.kind, _CHECK.opened_at, _WHO.person)
        asked = (
            select(*names)
            .join(tables.participant, _WHO.check == _CHECK.id)
            .join(ended_check, ended_check.c.check == _CHECK.id)
            .where(_CHECK.infusion.in_(sorted(infusions)))
            .order_by(_CHECK.opened_at, _CHECK.id, _WHO.slot)
        )
        return read_all(self._connection, InvolvedCheck, asked)

    def handling_of_infusions(self, infusions: Collection[str]) -> tuple[Entry, ...]:
        """Who had drug of some infusions in hand, in order; nothing of a check that goes on."""
        asked = select(tables.log_entry).where(
            _LOG.infusion.in_(sorted(infusions)), _LOG.kind.in_(_HANDLING), _is_over()
        )
        return rows.entries(self._connection, asked.order_by(_LOG.position))

    def find_person_by_staff_number(self, number: str) -> str | None:
        """Who has this number, however it is typed."""
        person = tables.person.c
        asked = select(person.id).where(person.staff_number_folded == folded(number))
        return self._connection.execute(asked).scalar_one_or_none()


def _filtered(asked: Select[Any], wanted: AccountsWanted, accounts: FromClause) -> Select[Any]:
    last = accounts.c
    if wanted.since is not None:
        asked = asked.where(last.ended_at >= wanted.since)
    if wanted.until is not None:
        asked = asked.where(last.ended_at < wanted.until)
    if wanted.unit:
        asked = asked.where(last.unit == wanted.unit)
    if not wanted.person:
        return asked
    read = (
        select(_WHO.check)
        .join(ended_check, ended_check.c.check == _WHO.check)
        .where(ended_check.c.infusion == last.infusion, _WHO.person == wanted.person)
        .correlate(accounts)
    )
    # A witness is named within the entry.
    is_named = _Holds(_LOG.canonical, literal(wanted.person.encode(), LargeBinary))
    had = (
        select(_LOG.position)
        .where(_LOG.infusion == last.infusion, _LOG.kind.in_(_HANDLING), _is_over())
        .where((_LOG.by == wanted.person) | is_named)
        .correlate(accounts)
    )
    return asked.where(read.exists() | had.exists())


def _is_over() -> ColumnElement[bool]:
    """What an entry tells is of no check, or of one that has ended."""
    return _LOG.check.is_(None) | _LOG.check.in_(select(ended_check.c.check))
