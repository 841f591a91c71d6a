"""What the chart is asked, and what its answers come to: what this patient can bear."""

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from app.comparison.readings import Readings

_YES_NO = ("yes", "no")
_CHARTED = ("none", "charted")
_ILLNESS = ("none-charted", "not-recorded", "charted")

# In the order in which they are read. Of two answers the one that stands later here is the riskier.
ANSWERS: Mapping[str, tuple[str, ...]] = {
    "order_current": _YES_NO,
    "pharmacist": ("verified", "not-yet", "urgent-exception"),
    "allergy": ("none-to-this-drug", "intolerance-reviewed", "not-recorded", "to-this-drug-or-its-family"),
    "opioid_tolerant": ("yes", "unknown", "no"),
    "other_opioids": _CHARTED,
    "sedatives": _CHARTED,
    "neuraxial_opioid": ("none", "within-24-h", "running"),
    "able_to_use_button": _YES_NO,
    "sleep_apnea": _ILLNESS,
    "lung_disease": _ILLNESS,
    "kidney_or_liver_disease": _ILLNESS,
    "supplemental_oxygen": ("none", "on"),
}

# The risk answers that are a reason, with the reason's name, in its order.
_REASONS: Mapping[str, str] = {
    "sleep_apnea": "sleep-apnea",
    "lung_disease": "lung-disease",
    "kidney_or_liver_disease": "kidney-or-liver-disease",
    "other_opioids": "other-opioid",
    "sedatives": "sedative",
    "neuraxial_opioid": "neuraxial-opioid",
}
_IS_A_REASON = frozenset({"charted", "within-24-h", "running"})


@dataclass(frozen=True, kw_only=True, slots=True)
class Bearing:
    """What the patient can bear, by the answers that count; `weight` in kg."""

    tolerant: bool
    reasons: tuple[str, ...]
    oxygen: bool
    neuraxial_running: bool
    weight: Fraction | None


def bearing(first: Readings, second: Readings, *, is_old: bool, light_below: Fraction | None) -> Bearing:
    """What two readings of the chart come to, where one suffices for each of these answers."""
    counts = {key: _riskier(key, first, second) for key in ANSWERS}
    weight = _lower(first.find_number("chart.weight"), second.find_number("chart.weight"))
    is_light = weight is not None and light_below is not None and weight < light_below
    reasons = [
        *(["age"] if is_old else []),
        *(["weight"] if is_light else []),
        *(reason for key, reason in _REASONS.items() if counts[key] in _IS_A_REASON),
    ]
    return Bearing(
        tolerant=all(chart.find_text("chart.opioid_tolerant") == "yes" for chart in (first, second)),
        reasons=tuple(reasons),
        oxygen=counts["supplemental_oxygen"] == "on",
        neuraxial_running=counts["neuraxial_opioid"] == "running",
        weight=weight,
    )


def _riskier(key: str, first: Readings, second: Readings) -> str | None:
    given = [chart.find_text(f"chart.{key}") for chart in (first, second)]
    return max((each for each in given if each is not None), key=ANSWERS[key].index, default=None)


def _lower(one: Fraction | None, other: Fraction | None) -> Fraction | None:
    """A weight counts before none."""
    return min((each for each in (one, other) if each is not None), default=None)


def differently_read_risks(first: Readings, second: Readings, risks: tuple[str, ...]) -> list[str]:
    """The risk answers that both give and give differently."""
    pairs = [(field, first.find(field), second.find(field)) for field in risks]
    return [
        field
        for field, one, other in pairs
        if one is not None and other is not None and one.value != other.value
    ]
