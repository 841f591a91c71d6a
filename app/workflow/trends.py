"""The counts behind each trend, for whoever may see them: own unit, or every unit."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta
from enum import StrEnum
from zoneinfo import ZoneInfo

from app.base import Act
from app.people import Permission, Role, may
from app.records.change_events import DoseLowered, PatientTaken
from app.records.events import StartedWithoutCheck
from app.records.flat_rows import plain_serial
from app.records.policy import SitePolicy
from app.site.installation import Site
from app.site.loading import rules_in_force
from app.storage import Counted, Difference, DueCount, Month, OfDevice, Rare, Reader, Tally, Took
from app.workflow.findings import unit_of
from app.workflow.loading import beds_read_blind, viewer_of
from app.workflow.missed import MOST_ON_A_PAGE, BothMissed, find_both_missed
from app.workflow.refusals import NotAllowed


class About(StrEnum):
    """What there is a trend of, in the order in which they are told."""

    FINDINGS = "findings"
    CODES = "codes"
    TIMES = "times"
    INDEPENDENCE = "independence"
    CAUTIONS = "cautions"
    DUE = "due"
    ACCOUNTS = "accounts"
    MISSED = "missed"


@dataclass(frozen=True, kw_only=True)
class TrendAsked:
    """What is wanted: a trend, over how many months with this one, and of one unit or all (blank).

    `device` is a serial number, of which accounts alone are asked.
    """

    about: About
    months: int
    unit: str
    device: str = ""


@dataclass(frozen=True, kw_only=True)
class Trend:
    """What was counted; what a trend does not need is empty. `months` are their first days at the site."""

    about: About
    unit: str
    months: tuple[date, ...]
    by_month: tuple[Month, ...] = ()
    rare: tuple[Rare, ...] = ()
    codes: tuple[Tally, ...] = ()
    fields: tuple[Tally, ...] = ()
    slips: tuple[Tally, ...] = ()
    clearing: tuple[Took, ...] = ()
    settling: tuple[Took, ...] = ()
    grades: tuple[Tally, ...] = ()
    cautions: tuple[Tally, ...] = ()
    due: tuple[DueCount, ...] = ()
    kinds: tuple[Tally, ...] = ()
    differences: tuple[Tally, ...] = ()
    device: str = ""
    devices: tuple[OfDevice, ...] = ()
    of_devices: tuple[Tally, ...] = ()
    last: tuple[Difference, ...] = ()
    missed: BothMissed | None = None


def find_trend(
    site: Site, act: Act, roles: frozenset[Role], *, asked: TrendAsked, zone: ZoneInfo
) -> Trend | NotAllowed:
    """One trend; a charge nurse sees the own unit, quality and pharmacist every unit."""
    unit = unit_of(act, roles, asked.unit)
    if isinstance(unit, NotAllowed):
        return unit
    days = _first_days(act.now.astimezone(zone).date(), asked.months)
    trend = Trend(about=asked.about, unit=unit, months=days[:-1], device=plain_serial(asked.device))
    with site.store.read() as reader:
        blind_at = beds_read_blind(reader, viewer_of(reader, act.by, roles, act.now))
        months = [_begins(each, zone) for each in days]
        counted = Counted(months=months, unit=unit, without=blind_at)
        classifier = act.by.person if may(roles, Permission.CLASSIFY_FINDINGS) else ""
        return _filled(trend, reader, counted, act.now, classifier=classifier)


def _filled(  # noqa: C901  # a case for each
    trend: Trend, reader: Reader, counted: Counted, now: datetime, *, classifier: str
) -> Trend:
    match trend.about:
        case About.FINDINGS:
            return replace(trend, by_month=reader.months_counted(counted), rare=reader.rare_stops(counted))
        case About.CODES:
            found = reader.findings_counted(counted)
            return replace(trend, codes=found.codes, fields=found.fields, slips=found.slips)
        case About.TIMES:
            clearing, settling = reader.times_to_clearance(counted), reader.times_to_settling(counted)
            return replace(trend, clearing=clearing, settling=settling)
        case About.INDEPENDENCE:
            return replace(trend, grades=reader.grades_counted(counted))
        case About.CAUTIONS:
            return replace(trend, cautions=reader.cautions_counted(counted))
        case About.DUE:
            due = reader.due_counted(counted, now, _due_after(rules_in_force(reader, now).policy))
            return replace(trend, due=due, kinds=reader.kinds_counted(counted))
        case About.ACCOUNTS:
            of_one = replace(counted, device=trend.device)
            accounts = reader.accounts_counted(of_one)
            return replace(
                trend,
                by_month=accounts.by_month,
                differences=accounts.of_units,
                devices=accounts.by_device,
                of_devices=accounts.of_devices,
                last=reader.last_differences(of_one),
            )
        case About.MISSED:
            missed = find_both_missed(reader, counted, most=MOST_ON_A_PAGE, classifier=classifier)
            return replace(trend, missed=missed)


def _due_after(policy: SitePolicy) -> dict[str, int]:
    """What makes a blind check due, and within how many seconds, by what is in force now."""
    within = {
        StartedWithoutCheck.kind: policy.check_due,
        DoseLowered.kind: policy.lowered_check_due,
        PatientTaken.kind: policy.transfer_check_due,
    }
    return {kind: int(time_left.total_seconds()) for kind, time_left in within.items()}


def _first_days(today: date, months: int) -> tuple[date, ...]:
    """The first day of each month up to this one, and of the next."""
    days = [(today.replace(day=1) + timedelta(days=32)).replace(day=1)]
    for _ in range(months):
        days.insert(0, (days[0] - timedelta(days=1)).replace(day=1))
    return tuple(days)


def _begins(day: date, zone: ZoneInfo) -> datetime:
    return datetime.combine(day, time.min, zone).astimezone(UTC)


def months_of(trend: Trend) -> Sequence[tuple[date, tuple[Month, ...]]]:
    """What was counted of each month, of all its units; of a month without a check nothing."""
    return [
        (day, tuple(each for each in trend.by_month if each.month == place))
        for place, day in enumerate(trend.months)
    ]
