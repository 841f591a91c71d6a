"""The accounts behind the trends: of each infusion the last, which is of all that was before."""

from collections import Counter
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import ColumnElement, Connection, FromClause, Subquery, and_, case, exists, func, select

from app.records.kinds import END_OF_PCA
from app.storage.read_trends import Counted, Month, Tally, ended_within, month_of, one_if, tallies
from app.storage.row_tables import ended_check

# As many figures as a chart of single ones shows on a phone.
_SINGLE = 60
SEVERAL = "several"
"""What stands for the device of an infusion that had more than one; a serial number has no small letters."""


@dataclass(frozen=True, kw_only=True)
class OfDevice:
    """Infusions with an account on one device, and how many of these did not add up."""

    device: str
    of: int
    found: int


@dataclass(frozen=True, kw_only=True)
class Accounts:
    """Infusions with an account, and how many did not add up; at the end by how much, in exact mL."""

    by_month: tuple[Month, ...]
    by_device: tuple[OfDevice, ...]
    of_units: tuple[Tally, ...]
    of_devices: tuple[Tally, ...]


@dataclass(frozen=True, kw_only=True)
class Difference:
    """By how much an account did not add up when PCA ended, in exact mL."""

    at: datetime
    amount: str


class AccountTrendReader:
    """Of each infusion its last account."""

    _connection: Connection

    def accounts_counted(self, counted: Counted) -> Accounts:
        """Accounts by the month of the last one, and by device; which is blank where none is known."""
        last = last_accounts()
        is_open = one_if(last.c.account == "stopped").label("is_open")
        amount = case((and_(*_at_the_end(last)), last.c.account_difference), else_="").label("amount")
        by = (month_of(counted, last), last.c.unit, last.c.of_device, is_open, amount)
        months, devices, of_units, of_devices = Counter[Any](), Counter[Any](), Counter[Any](), Counter[Any]()
        # Which is the last account takes the time: it is asked once.
        for row in self._connection.execute(
            ended_within(counted, select(*by, func.count()), last).group_by(*by)
        ):
            month, unit, device, found, difference, count = row
            months[month, unit, found] += count
            devices[device, found] += count
            if difference:
                of_units[unit, difference] += count
                of_devices[device, difference] += count
        return Accounts(
            by_month=tuple(
                Month(month=month, unit=unit, of=months[month, unit, 0] + stopped, found=stopped)
                for month, unit in sorted({each[:2] for each in months})
                for stopped in (months[month, unit, 1],)
            ),
            by_device=tuple(
                OfDevice(device=device, of=devices[device, 0] + stopped, found=stopped)
                for device in sorted({device for device, _ in devices})
                for stopped in (devices[device, 1],)
            ),
            of_units=tallies(of_units),
            of_devices=tallies(of_devices),
        )

    def last_differences(self, counted: Counted) -> tuple[Difference, ...]:
        """The newest of these, in the order in which they came."""
        last = last_accounts()
        order = (last.c.compared_at.desc(), last.c.check.desc())
        asked = select(last.c.compared_at.label("at"), last.c.account_difference.label("amount"))
        kept = ended_within(counted, asked, last).where(*_at_the_end(last)).order_by(*order).limit(_SINGLE)
        newest = [Difference(at=at, amount=amount) for at, amount in self._connection.execute(kept)]
        return tuple(reversed(newest))


def _at_the_end(last: FromClause) -> tuple[ColumnElement[bool], ...]:
    return last.c.kind == END_OF_PCA.name, last.c.account_difference != ""


def last_accounts() -> Subquery:
    """Of each infusion its last check with an account: an account is of all that was before.

    Not every check reads which device it is: `of_device` is the one that any of them read, or `SEVERAL`.
    """
    ended, later = ended_check.c, ended_check.alias("later").c
    is_later = (later.compared_at > ended.compared_at) | (
        (later.compared_at == ended.compared_at) & (later.check > ended.check)
    )
    is_followed = exists().where(later.infusion == ended.infusion, later.account != "", is_later)
    known = ended_check.alias("known").c
    is_known = known.device != ""
    # Few have several: to group all by their devices, and join that, takes half as long again.
    least, most = func.min(known.device), func.max(known.device)
    several = select(known.infusion).where(is_known).group_by(known.infusion).having(least < most).subquery()
    only = select(least).where(known.infusion == ended.infusion, is_known).scalar_subquery()
    of_device = case(
        (several.c.infusion.is_not(None), SEVERAL),
        (ended.device != "", ended.device),
        else_=func.coalesce(only, ""),
    )
    joined = ended_check.outerjoin(several, several.c.infusion == ended.infusion)
    asked = select(ended_check, of_device.label("of_device")).select_from(joined)
    return asked.where(ended.account != "", ~is_followed).subquery()
