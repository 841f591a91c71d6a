"""Infusions whose account did not add up, by their last check with one: for the controlled-drug officer."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import Connection, literal, select, tuple_

from app.records.kept import SOURCES, KeptComparison
from app.records.kept_rows import EndedRow
from app.storage import tables
from app.storage.columns import UtcTime
from app.storage.read_trends import last_accounts
from app.storage.rows import read_all

# What a verdict says of an account in which nothing is open.
_AGREED = "agreed"


@dataclass(frozen=True, kw_only=True)
class AccountsWanted:
    """A page of them; nothing of beds, with their units, and infusions at which whoever looks reads blind."""

    after: tuple[datetime, str] | None
    hidden_at: Collection[tuple[str, str]]
    hidden_on: Collection[str]
    limit: int


@dataclass(frozen=True, kw_only=True)
class InvolvedCheck:
    """One who read at a check of an infusion."""

    infusion: str
    check: str
    kind: str
    opened_at: datetime
    person: str


class SyringeReader:
    """Accounts that did not add up."""

    _connection: Connection

    def accounts_apart(self, wanted: AccountsWanted) -> tuple[EndedRow, ...]:
        """The last check of each infusion whose account was not agreed by it, the newest end first."""
        last = last_accounts().c
        order = (last.ended_at, last.check)
        asked = select(*(last[name] for name in EndedRow.__dataclass_fields__)).where(last.account != _AGREED)
        for unit, bed in sorted(wanted.hidden_at):
            asked = asked.where((last.unit != unit) | (last.bed != bed))
        asked = asked.where(last.infusion.not_in(sorted(wanted.hidden_on)))
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
        """Who read at each check of some infusions, in order."""
        check, who = tables.check, tables.participant
        names = (check.c.infusion, check.c.id.label("check"), check.c.kind, check.c.opened_at, who.c.person)
        asked = select(*names).join(who, who.c.check == check.c.id).where(check.c.infusion.in_(infusions))
        asked = asked.order_by(check.c.opened_at, check.c.id, who.c.slot)
        return read_all(self._connection, InvolvedCheck, asked)
