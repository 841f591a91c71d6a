"""The outcome of an account, and how the contract writes it."""

from collections.abc import Mapping
from dataclasses import dataclass, fields
from fractions import Fraction
from typing import Any

from app.accounting.account import Account
from app.accounting.budget import PARTS, Budget, Stage
from app.accounting.case import Kept, Totals, left_of, totals_of
from app.accounting.device import Judged
from app.accounting.findings import AccountFinding
from app.accounting.forecast import Forecast, Lasts, written_time
from app.accounting.places import Places, SyringeAccount, Whole
from app.accounting.series import Series
from app.accounting.writing import Writer, quantity, root
from app.comparison import ENGINE_VERSION, Verdict
from app.dosing import number_json
from app.quantities import Dimension
from app.records.formats import BALANCE

Json = Mapping[str, Any]

_PLACES = tuple(field.name for field in fields(Places))
_ALWAYS = tuple(name for name in _PLACES if name != "kept")
_NO_STAGE: Json = {"volume": None, "budget": None, "verdict": None}


@dataclass(frozen=True, kw_only=True, slots=True)
class BalanceResult:
    """Findings, the worst first, and where everything went."""

    verdict: Verdict
    findings: tuple[AccountFinding, ...]
    account: Account
    syringes: tuple[SyringeAccount, ...]
    infusion: Whole
    forecast: Forecast | None

    def as_json(self) -> dict[str, Any]:
        """As the contract writes it."""
        return _Result(self).written()


class _Result:
    """A result while it is written."""

    def __init__(self, result: BalanceResult) -> None:
        self._result = result
        self._writer = Writer()
        self._written_places: dict[int, Json] = {}
        self._written_budgets: dict[int, Json] = {}
        """By identity: those of a single syringe are those of the infusion."""
        self._names = {each.key: each.name for each in result.syringes}
        # The place exists only where something is kept: an account without it reads as it always did.
        has_kept = any(isinstance(entry, Kept) for entry in result.account.case.entries)
        self._places = _PLACES if has_kept else _ALWAYS

    def written(self) -> dict[str, Any]:
        """All of it."""
        result = self._result
        rises = [series.rise() for series in result.account.series]
        return {
            "format": BALANCE.newest,
            "engine": ENGINE_VERSION,
            "verdict": result.verdict.value,
            "findings": [self._finding(finding) for finding in result.findings],
            "syringes": [self._syringe(syringe) for syringe in result.syringes],
            "infusion": self._whole(result.infusion),
            "readings": [
                self._reading(place)
                for place, entry in enumerate(result.account.case.entries)
                if totals_of(entry) is not None or left_of(entry) is not None
            ],
            "series": [
                self._series(series, rise) for series, rise in zip(result.account.series, rises, strict=True)
            ],
            "totals": self._totals(_sum(rises)),
            "forecast": None if result.forecast is None else self._forecast(result.forecast),
        }

    def _finding(self, finding: AccountFinding) -> Json:
        difference = finding.difference
        return {
            "code": finding.code,
            "severity": finding.severity.value,
            "entry": finding.entry,
            "syringe": None if finding.syringe is None else self._names[finding.syringe],
            "stage": None if finding.stage is None else finding.stage.value,
            "difference": None
            if difference is None
            else self._writer.either(difference.value, difference.dimension),
            "factor": number_json(finding.factor),
            "says": finding.says,
        }

    def _syringe(self, syringe: SyringeAccount) -> Json:
        return {
            "syringe": syringe.name,
            "counted_at": syringe.counted_at,
            "left_at": syringe.left_at,
            **self._whole(syringe.places),
        }

    def _whole(self, whole: Whole) -> Json:
        return {
            "volume": self._of_places(whole.volume, Dimension.VOLUME),
            "amount": self._of_places(whole.amount, Dimension.MASS),
            "in_use": self._stage(whole.in_use),
            "in_hand": self._stage(whole.in_hand),
        }

    def _of_places(self, places: Places, dimension: Dimension) -> Json:
        if id(places) not in self._written_places:
            write = self._writer.volume if dimension is Dimension.VOLUME else self._writer.amount
            self._written_places[id(places)] = {name: write(getattr(places, name)) for name in self._places}
        return self._written_places[id(places)]

    def _stage(self, stage: Stage | None) -> Json:
        if stage is None:
            return _NO_STAGE
        return {
            "volume": self._writer.volume(stage.volume),
            "budget": self._budget(stage.budget),
            "verdict": stage.verdict.value,
        }

    def _budget(self, budget: Budget) -> Json:
        if id(budget) not in self._written_budgets:
            self._written_budgets[id(budget)] = {
                **{name: self._writer.volume(getattr(budget, name)) for name in PARTS},
                "worst_case": self._writer.volume(budget.worst_case),
                "root_sum_square": root(budget.square),
            }
        return self._written_budgets[id(budget)]

    def _reading(self, place: int) -> Json:
        account = self._result.account
        judged, count = account.judged.get(place), account.counts.get(place)
        stage = None if count is None else count.stage
        return {
            "entry": place,
            **(_NOTHING_JUDGED if judged is None else self._judged(judged)),
            "left": self._writer.volume(left_of(account.case.entries[place])),
            "predicted_left": None if count is None else self._writer.volume(count.predicted),
            "difference": None if stage is None else self._writer.volume(stage.volume),
            "verdict": None if stage is None else stage.verdict.value,
        }

    def _judged(self, judged: Judged) -> Json:
        prediction, interval = judged.prediction, judged.interval
        rise = Totals(
            amount=interval.amount, volume=interval.volume, presses=judged.presses, doses=judged.doses
        )
        predicted, tolerance, fits = None, None, None
        if prediction is not None:
            beginning, dimension = prediction.at_beginning, prediction.dimension
            predicted = {
                "least": self._writer.either(beginning + prediction.least, dimension),
                "most": self._writer.either(beginning + prediction.most, dimension),
            }
            tolerance = self._writer.either(prediction.tolerance, dimension)
            fits = not prediction.is_above and not prediction.is_below
        return {
            "since": judged.since,
            "minutes": quantity(interval.minutes, Dimension.TIME),
            "rise": self._totals(rise),
            "predicted": predicted,
            "tolerance": tolerance,
            "fits": fits,
            "possible_doses": judged.possible,
        }

    def _totals(self, totals: Totals) -> Json:
        return {
            "amount": self._writer.amount(totals.amount),
            "volume": self._writer.volume(totals.volume),
            "presses": totals.presses,
            "doses": totals.doses,
        }

    def _series(self, series: Series, rise: Totals) -> Json:
        return {
            "begins": series.begins,
            "ends": series.ends,
            "how": series.how.value,
            **self._totals(rise),
        }

    def _forecast(self, forecast: Forecast) -> Json:
        ahead = forecast.ahead
        return {
            "syringe": self._names[forecast.syringe],
            "from": forecast.read_at,
            "running": forecast.running,
            "volume": self._writer.volume(forecast.volume),
            "left_now": self._writer.volume(forecast.left_now),
            "by_continuous": self._lasts(forecast.by_continuous, ahead),
            "by_use": self._lasts(forecast.by_use, ahead),
            "at_full_use": self._lasts(forecast.at_full_use, ahead),
            "ask_by": _time(forecast.ask_by, ahead),
            "ask_by_at_full_use": _time(forecast.ask_by_at_full_use, ahead),
        }

    @staticmethod
    def _lasts(lasts: Lasts | None, ahead: int) -> Json | None:
        if lasts is None:
            return None
        minutes = quantity(lasts.minutes, Dimension.TIME)
        return {"minutes": minutes, "empty_at": written_time(lasts.empty_at, ahead)}


_NOTHING_JUDGED: Json = dict.fromkeys(
    ("since", "minutes", "rise", "predicted", "tolerance", "fits", "possible_doses")
)


def _time(minutes: Fraction | None, ahead: int) -> str | None:
    return None if minutes is None else written_time(minutes, ahead)


def _sum(rises: list[Totals]) -> Totals:
    """The sums of all series; None where one is."""
    amounts = [rise.amount for rise in rises if rise.amount is not None]
    volumes = [rise.volume for rise in rises if rise.volume is not None]
    presses = [rise.presses for rise in rises if rise.presses is not None]
    doses = [rise.doses for rise in rises if rise.doses is not None]
    number = len(rises)
    return Totals(
        amount=sum(amounts, start=Fraction(0)) if len(amounts) == number else None,
        volume=sum(volumes, start=Fraction(0)) if len(volumes) == number else None,
        presses=sum(presses) if len(presses) == number else None,
        doses=sum(doses) if len(doses) == number else None,
    )
