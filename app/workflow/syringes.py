"""What did not add up by syringe, with who had drug in hand: for the controlled-drug officer alone."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from app.base import Act
from app.people import Permission, Person, Role, may
from app.records.export_events import Exported
from app.records.handled import Handled, handled
from app.records.kept_rows import EndedRow
from app.site.installation import Site
from app.site.loading import rules_in_force
from app.storage import AccountsWanted, InvolvedCheck, Reader
from app.workflow.loading import viewer_of
from app.workflow.looking import note_access
from app.workflow.refusals import NotAllowed, WrongSpan

PAGE = 20
# What is asked of the log as an export: a table of these.
TABLE = "syringes"
# So much at once: the table is made while somebody waits for it.
_LONGEST = timedelta(days=366)


@dataclass(frozen=True, kw_only=True)
class AccountsAsked:
    """Which are wanted: by the days of the site on which their last check ended, by unit, and by whose hand.

    `staff_number` is of one who read, wrote or saw something of them; blank is everybody.
    """

    first: date | None = None
    last: date | None = None
    unit: str = ""
    staff_number: str = ""
    after: tuple[datetime, str] | None = None


@dataclass(frozen=True, kw_only=True)
class AccountApart:
    """An infusion whose account was not agreed: its last check with one, the account, and its people."""

    row: EndedRow
    account: Mapping[str, Any]
    involved: Sequence[InvolvedCheck]
    handled: Sequence[Handled]


@dataclass(frozen=True, kw_only=True)
class AccountsApart:
    """Some of them, with the people by id, and where the next begin."""

    accounts: tuple[AccountApart, ...]
    people: Mapping[str, Person]
    next_after: tuple[datetime, str] | None


@dataclass(frozen=True)
class NobodyHasIt:
    """No login has this staff number."""


@dataclass(frozen=True)
class TooLong:
    """A table needs both days, at most a year apart."""


def accounts_apart(
    site: Site, act: Act, roles: frozenset[Role], asked: AccountsAsked
) -> AccountsApart | NotAllowed | NobodyHasIt:
    """One page of them; the look at each is written down."""
    if not may(roles, Permission.SYRINGES):
        return NotAllowed()
    with site.store.read() as reader:
        wanted = _wanted(reader, act, roles, asked)
        if isinstance(wanted, NobodyHasIt):
            return wanted
        found = _found(reader, wanted)
    note_access(site, act, *(each.row.check for each in found.accounts), what="syringes")
    return found


def table_of_accounts(
    site: Site, act: Act, roles: frozenset[Role], asked: AccountsAsked
) -> AccountsApart | NotAllowed | NobodyHasIt | WrongSpan | TooLong:
    """All of them in a span of days, to be taken away: that it was asked for stands in the log first."""
    if not may(roles, Permission.SYRINGES):
        return NotAllowed()
    if asked.first is None or asked.last is None or asked.last - asked.first > _LONGEST:
        return TooLong()
    if asked.last < asked.first:
        return WrongSpan()
    with site.store.write() as tx:
        wanted = _wanted(tx, act, roles, replace(asked, after=None))
        if isinstance(wanted, NobodyHasIt):
            return tx.refuse(wanted)
        tx.append(
            Exported(
                export=act.new_id(),
                form=TABLE,
                from_date=asked.first.isoformat(),
                to_date=asked.last.isoformat(),
                deidentified=False,
            ),
            act=act,
        )
    accounts, people = list[AccountApart](), dict[str, Person]()
    with site.store.read() as reader:
        found = _found(reader, wanted)
        while True:
            accounts += found.accounts
            people |= found.people
            if found.next_after is None:
                break
            found = _found(reader, replace(wanted, after=found.next_after))
    note_access(site, act, *(each.row.check for each in accounts), what="syringes")
    return AccountsApart(accounts=tuple(accounts), people=people, next_after=None)


def _wanted(
    reader: Reader, act: Act, roles: frozenset[Role], asked: AccountsAsked
) -> AccountsWanted | NobodyHasIt:
    viewer = viewer_of(reader, act.by, roles, act.now)
    zone = ZoneInfo(rules_in_force(reader, act.now).policy.zone)
    person = reader.find_person_by_staff_number(asked.staff_number) if asked.staff_number else ""
    if person is None:
        return NobodyHasIt()
    return AccountsWanted(
        after=asked.after,
        hidden_at=viewer.blind_at,
        hidden_on=viewer.blind_on,
        limit=PAGE + 1,
        since=_begins(asked.first, zone) if asked.first else None,
        until=_begins(asked.last + timedelta(days=1), zone) if asked.last else None,
        unit=asked.unit,
        person=person,
    )


def _begins(day: date, zone: ZoneInfo) -> datetime:
    return datetime.combine(day, time.min, zone).astimezone(UTC)


def _found(reader: Reader, wanted: AccountsWanted) -> AccountsApart:
    found = reader.accounts_apart(wanted)
    rows = found[:PAGE]
    infusions = [row.infusion for row in rows]
    # The last round of each check stays.
    last = {each.check: each for each in reader.comparisons_of_checks([row.check for row in rows])}
    involved = reader.people_of_infusions(infusions)
    entries = reader.handling_of_infusions(infusions)
    two: dict[str, list[str]] = {}
    for each in involved:
        two.setdefault(each.check, []).append(each.person)
    accounts = tuple(
        AccountApart(
            row=row,
            account=last[row.check].told["account"]["result"],
            involved=[each for each in involved if each.infusion == row.infusion],
            handled=tuple(handled((each for each in entries if each.infusion == row.infusion), two)),
        )
        for row in rows
    )
    hands = {hand.person for each in accounts for one in each.handled for hand in one.hands if hand.person}
    return AccountsApart(
        accounts=accounts,
        people=reader.people_with(hands | {each.person for each in involved}),
        next_after=(rows[-1].ended_at, rows[-1].check) if len(found) > PAGE else None,
    )
