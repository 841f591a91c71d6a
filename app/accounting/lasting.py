"""How long the syringe on a device may be used, and when to ask pharmacy for the next one: moments alone.

Empty by the forecast of the account; past its use-by by its label; past its life in use by the site's rule.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from fractions import Fraction

from app.accounting.account import Account
from app.accounting.case import Loaded
from app.accounting.forecast import Forecast, Lasts, written_time
from app.accounting.places import has_spare
from app.accounting.result import BalanceResult


class Pace(StrEnum):
    """How fast a syringe is taken to empty."""

    CONTINUOUS = "continuous"
    SO_FAR = "so-far"
    FULL = "full"


class Ends(StrEnum):
    """Why a syringe is used no longer."""

    EMPTY = "empty"
    USE_BY = "use-by"
    IN_USE = "in-use"


@dataclass(frozen=True, kw_only=True)
class Lasting:
    """The syringe on the device (`syringe`, put on first at `on_since`), and until when it lasts.

    `empty` is when it will be empty at each pace that is known; `use_by` and `in_use_until` are None where
    the label, or the site, says nothing. `ask_by` is when to ask pharmacy for the next one,
    `ask_by_at_full_use` likewise; `has_next`: one of the same strength is at hand. `runs`: the device runs.
    """

    syringe: str
    on_since: datetime
    runs: bool
    empty: Mapping[Pace, datetime]
    use_by: datetime | None
    in_use_until: datetime | None
    ask_by: datetime | None
    ask_by_at_full_use: datetime | None
    has_next: bool

    def is_low(self, now: datetime) -> bool:
        """Whether it is time to ask for the next one, and none is at hand."""
        return self.ask_by is not None and self.ask_by <= now and not self.has_next

    def end(self, pace: Pace | None = None) -> tuple[datetime, Ends] | None:
        """When it is used no longer at a pace, or whatever the pace, and why; None where nothing says so."""
        empty = self.empty.get(pace) if pace else None
        ends = ((empty, Ends.EMPTY), (self.use_by, Ends.USE_BY), (self.in_use_until, Ends.IN_USE))
        known = [(at, why) for at, why in ends if at is not None]
        return min(known, key=lambda each: each[0]) if known else None


def find_lasting(
    result: BalanceResult, *, use_by: datetime | None, in_use: timedelta | None
) -> Lasting | None:
    """Of the syringe that is on at the end of an account; None where none is."""
    account, forecast = result.account, result.forecast
    state = account.course.states[-1]
    if state.on is None:
        return None
    on_since = _first_loaded(account, state.on)
    in_use_until = None if in_use is None else on_since + in_use
    lead_time = timedelta(minutes=int(account.case.policy.lead_time))
    ends = [each - lead_time for each in (use_by, in_use_until) if each is not None]
    return Lasting(
        syringe=account.ledgers[state.on].issued.typed,
        on_since=on_since,
        runs=state.running,
        empty={} if forecast is None else _emptied(forecast),
        use_by=use_by,
        in_use_until=in_use_until,
        ask_by=_earliest(ends, None if forecast is None else forecast.ask_by),
        ask_by_at_full_use=_earliest(ends, None if forecast is None else forecast.ask_by_at_full_use),
        has_next=has_spare(account, result.syringes, state.on),
    )


def _earliest(ends: Sequence[datetime], asked: Fraction | None) -> datetime | None:
    return min((*ends, *(() if asked is None else (_moment(asked),))), default=None)


def _emptied(forecast: Forecast) -> dict[Pace, datetime]:
    lasts: dict[Pace, Lasts | None] = {
        Pace.CONTINUOUS: forecast.by_continuous,
        Pace.SO_FAR: forecast.by_use,
        Pace.FULL: forecast.at_full_use,
    }
    return {pace: _moment(each.empty_at) for pace, each in lasts.items() if each is not None}


def _first_loaded(account: Account, syringe: str) -> datetime:
    entries = account.case.entries
    return _moment(
        next(each.at.minutes for each in entries if isinstance(each, Loaded) and each.syringe == syringe)
    )


def _moment(minutes: Fraction) -> datetime:
    """As the contract writes it, rounded down to the minute."""
    return datetime.fromisoformat(written_time(minutes, ahead=0))
