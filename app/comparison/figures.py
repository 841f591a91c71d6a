"""The figures of a case: what each clinician's readings of order, label and device come to."""

from dataclasses import dataclass
from fractions import Fraction

from app.comparison.case import Case, Entry
from app.comparison.fields import LIMITS
from app.comparison.readings import Readings
from app.dosing import Delivery, DoseMath, Limit, SourceSettings, delivery, dose_math, primed_drug
from app.quantities import Quantity
from app.records.field_table import CONTINUOUS, DEMAND, MODES_WITH_CONTINUOUS, MODES_WITH_DEMANDS
from app.records.sources import Source


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
    maker = _FigureMaker(case)
    first, second = case.entries
    of_first = maker.make(first, second)
    if first.has_read_like(second):
        return of_first, of_first
    return of_first, maker.make(second, first)


class _FigureMaker:
    """Makes the figures of one case; sources that state the same are computed once."""

    def __init__(self, case: Case) -> None:
        self._in_use = case.policy.in_use
        self._known: list[tuple[SourceSettings, DoseMath]] = []

    def make(self, entry: Entry, other: Entry) -> Figures:
        """The figures of one clinician."""
        order, device = used_settings(entry.order, entry.label), used_settings(entry.device, entry.label)
        order_math, device_math = self._math(order), self._math(device)
        delivered = Delivery()
        if _is_known_to_reach(entry, other):
            delivered = delivery(
                order=order,
                device=device,
                device_math=device_math,
                syringe=entry.label.find_number("concentration"),
                primed=_primed(entry),
            )
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


def primed_drug_of(entry: Entry, other: Entry) -> Quantity | None:
    """What ran out at priming, as one clinician read it: the same as in the figures."""
    if not _is_known_to_reach(entry, other):
        return None
    return primed_drug(_primed(entry), entry.label.find_number("concentration"))


def _primed(entry: Entry) -> Fraction | None:
    return None if entry.primed_volume is None else entry.primed_volume.value


def _is_known_to_reach(entry: Entry, other: Entry) -> bool:
    """Whether anybody can say what is delivered."""
    return _is_ordered_drug(entry) and not _is_metered_by_other_barrel(entry, other)


def _is_ordered_drug(entry: Entry) -> bool:
    drug = entry.order.find_text("drug")
    return drug is not None and drug == entry.label.find_text("drug")


def _is_metered_by_other_barrel(entry: Entry, other: Entry) -> bool:
    """Whether the size set is known not to be the barrel's, so that nobody can say what is delivered."""
    barrel, size_set = (
        _find_either(entry, other, source, "syringe_size") for source in (Source.LABEL, Source.DEVICE)
    )
    return barrel is not None and size_set is not None and barrel != size_set


def _find_either(entry: Entry, other: Entry, source: Source, field: str) -> Fraction | None:
    own = entry.source(source).find_number(field)
    return other.source(source).find_number(field) if own is None else own


def used_settings(source: Readings, label: Readings) -> SourceSettings:
    """What a source states and its mode uses; where it gives no volume, the label's serves.

    A device in volumes is set to the label's concentration.
    """
    mode = source.mode
    volume = source.find_number("volume")
    concentration = (label if source.in_volumes else source).find_number("concentration")
    return SourceSettings(
        has_demands=mode in MODES_WITH_DEMANDS,
        has_continuous=mode in MODES_WITH_CONTINUOUS,
        mode_known=mode is not None,
        concentration=concentration,
        volume=label.find_number("volume") if volume is None else volume,
        demand_dose=None if mode == CONTINUOUS else source.find_number("demand_dose"),
        lockout=None if mode == CONTINUOUS else source.find_number("lockout"),
        rate=None if mode == DEMAND else source.find_number("continuous_rate"),
        limits=tuple(limit for fields in LIMITS if (limit := _limit(source, *fields)) is not None),
        limits_read=all(_is_known(source, field) for fields in LIMITS for field in fields),
        loading=Fraction(0) if source.says_none("loading_dose") else source.find_number("loading_dose"),
        carrier_rate=source.find_number("carrier.rate"),
    )


def _limit(source: Readings, amount_field: str, window_field: str) -> Limit | None:
    amount, window = source.find_number(amount_field), source.find_number(window_field)
    return None if amount is None or window is None else Limit(amount=amount, window=window)


def _is_known(source: Readings, field: str) -> bool:
    return source.find_number(field) is not None or source.says_none(field)
