"""Until when the syringes of infusions last, from their accounts: worked out once, and then remembered.

An account costs as much as all that was ever read of its infusion, and a list is looked at all day. What is
remembered is what the account came to, moments alone, by all that it follows from.
"""

from collections.abc import Collection, Iterable, Mapping
from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

from app.accounting import balance, read_account
from app.accounting.lasting import Lasting, find_lasting
from app.base.damage import Damaged, read_or_damaged
from app.comparison import CaseError
from app.comparison.moments import Moment, find_end_of_month, find_moment
from app.judging.account import account_case
from app.records.account import Account, CheckRead, fold_account
from app.records.kept import Entry
from app.records.known import known_by
from app.records.policy import SitePolicy
from app.site.loading import read_of
from app.storage import ReadAhead, Reader

_ONE_DAY = timedelta(days=1)
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
    reader.take_comparisons([check for each in unknown for check in _read_by(courses[each])])
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


def _read_by(course: Iterable[Entry]) -> set[str]:
    return {each.check for each in course if each.check}


def _of_course(reader: Reader, course: tuple[Entry, ...], policy: SitePolicy) -> Lasting | None:
    read = {each: read_of(reader.comparisons(each)) for each in _read_by(course)}
    return lasting_of(fold_account(course, read), read, policy)


def lasting_of(account: Account, read: Mapping[str, CheckRead], policy: SitePolicy) -> Lasting | None:
    """Until when the syringe that is on lasts, by an account and what the checks read of it."""
    if not account.entries:
        return None
    case = read_account(account_case(account.written(), policy.account))
    if isinstance(case, CaseError):
        return None
    use_by = _find_use_by(account, read, ZoneInfo(policy.zone))
    return find_lasting(balance(case), use_by=use_by, in_use=policy.syringe_in_use)


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
    """An instant; or, of a day, its end where the site is."""
    if moment.instant is not None:
        return _DAY_ONE + timedelta(seconds=int(moment.instant)) - _ONE_DAY
    return datetime.combine(moment.day + _ONE_DAY, time.min, tzinfo=zone).astimezone(UTC)
