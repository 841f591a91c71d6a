"""Until when the syringes of infusions last, from their accounts: worked out once, and then remembered.

An account costs as much as all that was ever read of its infusion, and a list is looked at all day. What is
remembered is what the account came to, moments alone, by all that it follows from.
"""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime, time, timedelta
from functools import partial
from zoneinfo import ZoneInfo

from app.accounting import BalanceResult, balance, read_account
from app.accounting.lasting import Lasting, find_lasting
from app.base.damage import Damaged, read_or_damaged
from app.comparison import CaseError
from app.comparison.moments import Moment, find_end_of_month, find_moment
from app.judging.account import account_case, balanced
from app.judging.told_before import told_before
from app.records.account import fold_account
from app.records.account_events import AccountClosed
from app.records.account_so_far import Account
from app.records.check_read import CheckRead
from app.records.issued import issued_in, out_of
from app.records.kept import Entry
from app.records.known import known_by
from app.records.policy import SitePolicy
from app.site.loading import checks_in, read_by_checks
from app.storage import ReadAhead, Reader

_ONE_DAY, _LAST_MINUTE = timedelta(days=1), time(23, 59)
# The calendar's days are counted from one.
_DAY_ONE = datetime.min.replace(tzinfo=UTC)


def lastings(
    reader: ReadAhead, infusions: Iterable[str], policy: SitePolicy, *, closed: Collection[str]
) -> dict[str, Lasting]:
    """Of each of these infusions of which it is known, asking once for all that was not worked out before.

    Nothing of the checks in `closed` is part of it: they are open, and what they read is nobody's yet.
    """
    courses = {each: _course(reader, each, closed) for each in infusions}
    keys = {
        each: (each, policy.version, len(course), course[-1].position)
        for each, course in courses.items()
        if course
    }
    unknown = [each for each, key in keys.items() if reader.worked_out(key) is None]
    reader.take_comparisons([check for each in unknown for check in checks_in(courses[each])])
    found: dict[str, Lasting] = {}
    for each, key in keys.items():
        (lasting,) = reader.worked_out(key) or _kept(reader, key, courses[each], policy)
        if lasting is not None:
            found[each] = lasting
    return found


def _kept(
    reader: ReadAhead, key: object, course: tuple[Entry, ...], policy: SitePolicy
) -> tuple[Lasting | None]:
    """A row that cannot be read is told elsewhere, where it is looked for: here the list goes on."""
    lasting = read_or_damaged(lambda: _of_course(reader, course, policy))
    if isinstance(lasting, Damaged):
        return (None,)
    reader.keep_worked_out(key, (lasting,))
    return (lasting,)


def _course(reader: Reader, infusion: str, closed: Collection[str]) -> tuple[Entry, ...]:
    return tuple(each for each in reader.course(infusion) if each.check not in closed)


def _of_course(reader: Reader, course: tuple[Entry, ...], policy: SitePolicy) -> Lasting | None:
    account = read_account_of(reader, course, policy)
    return account.lasting if isinstance(account, AccountRead) else None


@dataclass(frozen=True, kw_only=True)
class AccountRead:
    """The account of an infusion, what it comes to, and until when the syringe that is on lasts."""

    account: Account
    result: BalanceResult
    lasting: Lasting | None
    looked_into: frozenset[tuple[str, int]] = frozenset()
    """Of its findings, by code and entry, those that a third person has closed it with."""

    @property
    def has_ended(self) -> bool:
        """Whether it is closed."""
        return self.result.account.has_ended


@dataclass(frozen=True, kw_only=True)
class NotComputed:
    """No account can be made of what was written: of its entries nothing adds up."""

    account: Account


def read_account_of(
    reader: Reader, course: tuple[Entry, ...], policy: SitePolicy, now: datetime | None = None
) -> AccountRead | NotComputed | None:
    """From the entries of one infusion that count, at `now`; None while it has no account."""
    read = read_by_checks(reader, course)
    account = fold_account(course, read)
    if not account.entries:
        return None
    asked = account_case(account.written(), policy.account)
    # By a clock that was put back it would be earlier than what was read.
    if now is not None and now >= max(each.at for each in account.entries):
        asked["now"] = now.isoformat(timespec="seconds")
    case = read_account(asked)
    if isinstance(case, CaseError):
        return NotComputed(account=account)
    result = balance(case)
    use_by = _find_use_by(account, read, ZoneInfo(policy.zone))
    lasting = find_lasting(result, use_by=use_by, in_use=policy.syringe_in_use)
    if lasting is not None and out_of(issued_in(course)):
        # It was issued for this infusion; what its label says is read when it is put on.
        lasting = replace(lasting, has_next=True)
    looked_into = _looked_into(account, result, course, policy)
    return AccountRead(account=account, result=result, lasting=lasting, looked_into=looked_into)


def _looked_into(
    account: Account, result: BalanceResult, course: tuple[Entry, ...], policy: SitePolicy
) -> frozenset[tuple[str, int]]:
    """What was found when it was closed, and is no more since: nobody is sent to the patient for it again."""
    closed = max((each.position for each in course if isinstance(each.event, AccountClosed)), default=0)
    written = account.written()
    many = max((place for place, each in enumerate(account.entries, 1) if each.position <= closed), default=0)
    return told_before(written[:many], result.as_json(), partial(balanced, policy=policy.account))


def _find_use_by(account: Account, read: Mapping[str, CheckRead], zone: ZoneInfo) -> datetime | None:
    """Of the syringe that was put on last, as both read it on its label; None where the label says none."""
    put_on = [each.data["syringe"] for each in account.entries if each.data["kind"] == "loaded"]
    issued = (
        each
        for each in account.entries
        if put_on and each.data["kind"] == "issued" and each.data["syringe"] == put_on[-1]
    )
    for each in issued:
        label = read[each.check].until(each.round)
        text = known_by(label.opened["case"]).syringe.get("use_by", "") if label else ""
        moment = find_moment(text) or find_end_of_month(text)
        return _end_of(moment, zone) if moment else None
    return None


def _end_of(moment: Moment, zone: ZoneInfo) -> datetime:
    """An instant; or, of a day, its last minute where the site is."""
    if moment.instant is not None:
        return _DAY_ONE + timedelta(seconds=int(moment.instant)) - _ONE_DAY
    return datetime.combine(moment.day, _LAST_MINUTE, tzinfo=zone).astimezone(UTC)
