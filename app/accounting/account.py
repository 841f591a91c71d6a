"""The account: entries gone through one by one, each volume put where it went."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction

from app.accounting.budget import Stage
from app.accounting.case import (
    AccountCase,
    BeginsSeries,
    Bolus,
    End,
    Entry,
    Issued,
    Kept,
    Loaded,
    Primed,
    Removed,
    Returned,
    Wasted,
    left_of,
    totals_of,
)
from app.accounting.course import Course
from app.accounting.device import Judged, judge_readings
from app.accounting.ledger import Ledger
from app.accounting.series import Series, find_series


@dataclass(frozen=True, kw_only=True, slots=True)
class CountInUse:
    """What the volume left should have been at an entry that counts a syringe in use."""

    predicted: Fraction
    stage: Stage


@dataclass(kw_only=True, slots=True)
class Account:
    """Everything that the entries come to."""

    course: Course
    series: list[Series]
    judged: Mapping[int, Judged]
    ledgers: dict[str, Ledger] = field(default_factory=dict)
    """By the compared form of the syringe's name, in the order of issue."""
    counts: dict[int, CountInUse] = field(default_factory=dict)
    rises: dict[int, Fraction] = field(default_factory=dict)
    """By entry, by how much more was left than the last time."""
    not_read: list[int] = field(default_factory=list)
    """The entries at which something that was needed was not read."""

    @property
    def case(self) -> AccountCase:
        """What it is made of."""
        return self.course.case

    @property
    def has_ended(self) -> bool:
        """Whether it is closed."""
        return isinstance(self.case.entries[-1], End)

    @property
    def on_at_end(self) -> str | None:
        """The syringe on the device after the last entry."""
        return self.course.states[-1].on


def account_of(case: AccountCase) -> Account:
    """The account of a case."""
    course = Course(case)
    series, placed = find_series(case.entries)
    account = Account(course=course, series=series, judged=judge_readings(course, series, placed))
    series_of = {each.entry: each.series for each in placed}
    needs_totals = False
    for place, entry in enumerate(case.entries):
        _read_totals(account, place, series_of.get(place, 0))
        if _is_reading_needed(entry, needs_totals=needs_totals):
            _mark_not_read(account, place, entry)
        _read_left(account, place, entry)
        _take_effect(account, place, entry)
        # A series that counted nothing need not be read when it ends.
        if isinstance(entry, BeginsSeries):
            needs_totals = False
        needs_totals |= isinstance(entry, Bolus | Primed) or course.states[place + 1].running
    return account


def _read_totals(account: Account, place: int, series: int) -> None:
    """What the device says it gave goes to the syringe it came out of, or to none that can be counted."""
    judged = account.judged.get(place)
    if judged is None:
        return
    interval = judged.interval
    for syringe, loading in interval.loadings:
        account.ledgers[syringe].was_on(series, loading, interval)
        if not interval.is_attributed:
            account.ledgers[syringe].is_uncounted()
    if interval.syringe is not None and interval.delivered is not None:
        account.ledgers[interval.syringe].gave(interval.delivered)


def _is_reading_needed(entry: Entry, *, needs_totals: bool) -> bool:
    """Whether a reading is needed here that nobody made."""
    if isinstance(entry, Removed):
        return entry.totals is None or entry.left is None
    return isinstance(entry, BeginsSeries) and needs_totals and entry.totals is None


def _mark_not_read(account: Account, place: int, entry: Entry) -> None:
    account.not_read.append(place)
    on = account.course.states[place].on
    if on is not None:
        account.ledgers[on].is_uncounted()
        if isinstance(entry, Removed) and entry.left is None:
            account.ledgers[on].is_not_read()


def _read_left(account: Account, place: int, entry: Entry) -> None:
    left, on = left_of(entry), account.course.states[place].on
    if left is None or on is None:
        return
    ledger = account.ledgers[on]
    if ledger.last_left is not None and left - ledger.last_left > account.case.policy.scale_division:
        account.rises[place] = left - ledger.last_left
    with_totals = totals_of(entry) is not None
    ledger.is_read(place, left, with_totals=with_totals, by_removal=isinstance(entry, Removed))
    count = ledger.in_use
    if count is not None and count.entry == place:
        stage = ledger.stage_in_use(count, has_ended=False)
        account.counts[place] = CountInUse(predicted=left + stage.volume, stage=stage)


def _take_effect(account: Account, place: int, entry: Entry) -> None:
    ledgers = account.ledgers
    match entry:
        case Issued(syringe=syringe):
            ledgers[syringe] = Ledger(account.case, place, entry)
        case Loaded(syringe=syringe):
            ledgers[syringe].loaded()
        case Primed(volume=volume):
            on = account.course.states[place].on
            assert on is not None  # noqa: S101  # it would be out of place
            ledgers[on].primed(place, volume)
        case Wasted(syringe=syringe, volume=volume):
            ledgers[syringe].wasted(place, volume)
        case Returned(syringe=syringe, volume=volume):
            ledgers[syringe].returned(place, volume)
        case Kept(syringe=syringe, volume=volume):
            ledgers[syringe].kept(place, volume)
        case _:
            pass
