"""What the drug library says of the device as one clinician read it, and of an order without strength."""

from collections.abc import Iterator, Mapping
from fractions import Fraction

from app.comparison.case import Bounds, ListedDrug
from app.comparison.dangers import Danger, View
from app.comparison.fields import LIBRARY_MEASURES
from app.comparison.readings import Readings
from app.comparison.wording import capitalised, listed, words_of
from app.quantities import Dimension, Quantity, show
from app.records.field_table import DEMAND

_COMPUTED = {
    "amount_per_hour": "The most that full use of the model device gives in the first hour",
    "amount_per_4_hours": "The most that full use of the model device gives in the first 4 hours",
    "first_hour_with_loading": (
        "The most that loading dose and full use of the model device give in the first hour"
    ),
}

_WHERE = {
    "above-hard-limit": "above the drug library's hard limit",
    "below-hard-limit": "below the drug library's hard limit",
    "above-soft-limit": "above the drug library's usual highest",
    "below-soft-limit": "below the drug library's usual lowest",
}


def dangers_by_library(view: View) -> Iterator[Danger]:
    """The library's findings; none where there is no library."""
    library = view.case.library
    if library is None:
        return
    drug = view.entry.device.find_text("drug")
    if drug is not None:
        listed_drug = library.get(drug)
        if listed_drug is None:
            says = (
                f"The drug library does not hold {view.typed('drug')}: nothing is known of its usual doses."
            )
            yield Danger(code="drug-not-in-library", field="drug", says=says)
        else:
            yield from _of_listed_drug(view, listed_drug)
    yield from _strength_for_tolerant_only(view, library)
    yield from _concentration_unordered(view, library)


def _of_listed_drug(view: View, drug: ListedDrug) -> Iterator[Danger]:
    yield from _outside_bounds(view, drug)
    concentration = view.settings.concentration
    if concentration is not None and drug.concentrations and concentration not in drug.concentrations:
        says = (
            f"The drug library does not list {_strength(concentration)} for {view.typed('drug')}. "
            f"It lists {listed(list(drug.concentrations.values()))}."
        )
        yield Danger(code="concentration-not-in-library", field="concentration", says=says)
    if drug.limit_required and view.entry.device.says_none("limit.amount"):
        says = (
            f"The drug library requires a limit for {view.typed('drug')}, and none is set. "
            "Nothing would limit the total dose."
        )
        yield Danger(code="limit-required", field="limit.amount", says=says)


def _strength_for_tolerant_only(view: View, library: Mapping[str, ListedDrug]) -> Iterator[Danger]:
    """The syringe, or what the device believes of it, is stronger than this patient may have."""
    bearing = view.case.bearing
    if bearing is None or bearing.tolerant:
        return
    label = view.entry.label
    strengths = {
        "on the label": (label, label.find_number("concentration")),
        "on the device": (view.entry.device, view.settings.concentration),
    }
    places = [
        f"{_strength(strength)} {where}"
        for where, (source, strength) in strengths.items()
        if strength is not None and strength in _only_for_tolerant(source, library)
    ]
    if places:
        says = (
            f"The drug library lists {listed(places)} for opioid-tolerant patients only, and this patient is "
            "not known to be one."
        )
        yield Danger(code="strength-for-tolerant-only", field="concentration", says=says)


def _only_for_tolerant(source: Readings, library: Mapping[str, ListedDrug]) -> frozenset[Fraction]:
    name = source.find_text("drug")
    drug = None if name is None else library.get(name)
    return frozenset() if drug is None else drug.tolerant_only


def _concentration_unordered(view: View, library: Mapping[str, ListedDrug]) -> Iterator[Danger]:
    """The order leaves open which of several concentrations is meant."""
    order = view.entry.order
    ordered = order.find_text("drug")
    if ordered is None or ordered not in library or not order.says_none("concentration"):
        return
    drug, bearing = library[ordered], view.case.bearing
    is_tolerant = bearing is not None and bearing.tolerant
    possible = [
        typed
        for strength, typed in drug.concentrations.items()
        if is_tolerant or strength not in drug.tolerant_only
    ]
    if len(possible) <= 1:
        return
    says = (
        f"The order states no concentration, and the drug library lists more than one for this drug: "
        f"{listed(possible)}. The label alone decides which one is used."
    )
    yield Danger(code="concentration-unordered", field="concentration", says=says)


def _outside_bounds(view: View, drug: ListedDrug) -> Iterator[Danger]:
    """For each bounded field the hard bounds that are broken, or else the soft ones."""
    for field in LIBRARY_MEASURES:
        value = _bounded_value(view, field)
        if value is None:
            continue
        rows = [bounds for bounds in drug.bounds if bounds.field == field and _applies(bounds, view)]
        hard = _broken(field, value, "hard", [(row.hard_low, row.hard_high) for row in rows])
        yield from hard or _broken(field, value, "soft", [(row.soft_low, row.soft_high) for row in rows])


def _applies(bounds: Bounds, view: View) -> bool:
    """Whether a row is for this patient; one for some patients needs the chart to say who this one is."""
    bearing = view.case.bearing
    return bounds.tolerant is None or (bearing is not None and bearing.tolerant is bounds.tolerant)


def _broken(
    field: str, value: Fraction, kind: str, bounds: list[tuple[Fraction | None, Fraction | None]]
) -> list[Danger]:
    """The bounds of one kind that a value breaks; a value equal to a bound is inside."""
    lows = [low for low, _ in bounds if low is not None and value < low]
    highs = [high for _, high in bounds if high is not None and value > high]
    above = [_outside(field, value, f"above-{kind}-limit", min(highs))] if highs else []
    below = [_outside(field, value, f"below-{kind}-limit", max(lows))] if lows else []
    return [*above, *below]


def _outside(field: str, value: Fraction, code: str, bound: Fraction) -> Danger:
    dimension = LIBRARY_MEASURES[field].dimension
    is_value, is_bound = (show(Quantity(value=number, dimension=dimension)) for number in (value, bound))
    what = _COMPUTED.get(field) or capitalised(words_of(field))
    says = f"{what} is {is_value}, {_WHERE[code]} of {is_bound}."
    return Danger(code=code, field=field, says=says)


def _bounded_value(view: View, field: str) -> Fraction | None:
    """The device's value of a field that a library can bound; None where it has none."""
    settings, figures = view.settings, view.figures.device
    match field:
        case "demand_dose":
            return settings.demand_dose
        case "lockout":
            return settings.lockout
        case "continuous_rate":
            return Fraction(0) if _has_no_rate(view) else settings.rate
        case "loading_dose":
            return settings.loading or None
        case "amount_per_hour":
            return None if figures.full_use is None else figures.full_use.hour.value
        case "amount_per_4_hours":
            return None if figures.full_use is None else figures.full_use.four_hours.value
        case _:
            with_loading = figures.first_hour_with_loading
            return None if with_loading is None else with_loading.value


def _has_no_rate(view: View) -> bool:
    """Whether the device runs no continuous part, which counts as zero."""
    device = view.entry.device
    return device.mode == DEMAND or device.says_none("continuous_rate")


def _strength(value: Fraction) -> str:
    return show(Quantity(value=value, dimension=Dimension.CONCENTRATION))
