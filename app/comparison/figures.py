"""The figures of a case: what each clinician's readings of order, label and device come to."""

from dataclasses import dataclass
from fractions import Fraction

from app.comparison.case import Case, Entry
from app.comparison.readings import Nothing, Readings
from app.dosing import Delivery, DoseMath, Limit, SetInUse, SourceSettings, delivery, dose_math
from app.records.field_table import CONTINUOUS, DEMAND, MODES_WITH_CONTINUOUS, MODES_WITH_DEMANDS


@dataclass(frozen=True, kw_only=True, slots=True)
class Figures:
    """What one clinician's readings come to."""

    order: DoseMath
    device: DoseMath
    order_settings: SourceSettings
    device_settings: SourceSettings
    delivery: Delivery


def figures_of(case: Case) -> tuple[Figures, Figures]:
    """The figures of A and of B."""
    maker = _FigureMaker(case.policy.in_use)
    first, second = case.entries
    return maker.make(first), maker.make(second)


class _FigureMaker:
    """Makes the figures of one case; sources that state the same are computed once."""

    def __init__(self, in_use: SetInUse) -> None:
        self._in_use = in_use
        self._known: list[tuple[SourceSettings, DoseMath]] = []

    def make(self, entry: Entry) -> Figures:
        """The figures of one clinician."""
        volume = entry.label.find_number("volume")
        order, device = used_settings(entry.order, volume), used_settings(entry.device, volume)
        order_math, device_math = self._math(order), self._math(device)
        drug = entry.order.find_text("drug")
        delivered = Delivery()
        if drug is not None and drug == entry.label.find_text("drug"):
            syringe = entry.label.find_number("concentration")
            delivered = delivery(order=order, device=device, device_math=device_math, syringe=syringe)
        return Figures(
            order=order_math,
            device=device_math,
            order_settings=order,
            device_settings=device,
            delivery=delivered,
        )

    def _math(self, source: SourceSettings) -> DoseMath:
        for known, figures in self._known:
            if known == source:
                return figures
        figures = dose_math(source, self._in_use)
        self._known.append((source, figures))
        return figures


def used_settings(source: Readings, label_volume: Fraction | None) -> SourceSettings:
    """What a source states and its mode uses; where it gives no volume, the label's serves."""
    mode = source.mode
    volume = source.find_number("volume")
    return SourceSettings(
        has_demands=mode in MODES_WITH_DEMANDS,
        has_continuous=mode in MODES_WITH_CONTINUOUS,
        concentration=source.find_number("concentration"),
        volume=label_volume if volume is None else volume,
        demand_dose=None if mode == CONTINUOUS else source.find_number("demand_dose"),
        lockout=None if mode == CONTINUOUS else source.find_number("lockout"),
        rate=None if mode == DEMAND else source.find_number("continuous_rate"),
        limit=_limit(source),
        limit_read={"limit.amount", "limit.window"} <= source.by_field.keys(),
        loading=_loading(source),
        carrier_rate=source.find_number("carrier.rate"),
    )


def _limit(source: Readings) -> Limit | None:
    amount, window = source.find_number("limit.amount"), source.find_number("limit.window")
    return None if amount is None or window is None else Limit(amount=amount, window=window)


def _loading(source: Readings) -> Fraction | None:
    """Zero where the source says that there is none."""
    said_none = isinstance(source.find("loading_dose"), Nothing)
    return Fraction(0) if said_none else source.find_number("loading_dose")
