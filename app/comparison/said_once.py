"""Cautions that another finding says too are left out, and what they would say is said there.

Of what one clinician's readings show. A caution that is left out itself still says the fact of another: what
is said goes on to the one that stays.
"""

from collections.abc import Iterator, Mapping
from fractions import Fraction

from app.comparison.dangers import View
from app.comparison.fields import LIMITS
from app.records.followup import Severity

Key = tuple[str, str]
"""Code and field."""

_ABOVE = ("above-hard-limit", "above-soft-limit")
# Windows, in min, for which the library judges what is given.
_JUDGED_IN: Mapping[Fraction | None, tuple[str, ...]] = {
    Fraction(60): ("amount_per_hour", "first_hour_with_loading"),
    Fraction(240): ("amount_per_4_hours",),
}


def said_once(view: View, said: Mapping[Key, str]) -> dict[Key, str]:
    """What is said by code and field, each fact once."""
    left = dict(said)
    for caution, others in _doubled(view):
        by = next((other for other in others if other in said), None)
        if caution in said and by is not None and _is_caution(view, caution):
            left[by] = f"{left[by]} {left.pop(caution)}"
    return left


def _is_caution(view: View, key: Key) -> bool:
    return view.case.policy.severity_of(key[0]) is Severity.CAUTION


def _doubled(view: View) -> Iterator[tuple[Key, tuple[Key, ...]]]:
    """Each caution with the findings beside which it is left out; who takes over from whom comes later."""
    for amount_field, window_field in LIMITS:
        window = view.entry.device.find_number(window_field)
        yield (
            ("limit-is-passed", amount_field),
            tuple((code, field) for field in _JUDGED_IN.get(window, ()) for code in _ABOVE),
        )
    yield (
        ("above-soft-limit", "first_hour_with_loading"),
        tuple((code, "amount_per_hour") for code in _ABOVE),
    )
    for field in ("amount_per_hour", "amount_per_4_hours"):
        yield ("above-soft-limit", field), (("limit-required", "limit.amount"),)
    yield (
        ("above-soft-limit", "continuous_rate"),
        (
            ("continuous-in-patient-at-risk", "continuous_rate"),
            ("continuous-opioid-naive", "continuous_rate"),
        ),
    )
