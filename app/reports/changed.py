"""What was changed of the settings in force, and by how much, in words; nothing is computed here."""

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from app.quantities import Dimension, Quantity, for_people, show_in

_LABELS: Mapping[str, str] = {
    "demand_dose": "Each demand",
    "lockout": "Lockout",
    "continuous_rate": "Continuous part",
    "hour": "Most in 1 h",
    "four_hours": "Most in 4 h",
    "day": "Most in 24 h",
}
NONE = "none"


@dataclass(frozen=True, kw_only=True)
class ChangeShown:
    """One figure as it was in force and as it is set now; `says` by how much, blank where it is as before."""

    label: str
    before: str
    now: str
    says: str


def changes_shown(comparison: Mapping[str, Any]) -> tuple[ChangeShown, ...]:
    """Each figure of a comparison that says what is changed; nothing where all is as it was."""
    shown = tuple(_shown(each) for each in comparison.get("changed") or ())
    return shown if any(each.says for each in shown) else ()


def _shown(change: Mapping[str, Any]) -> ChangeShown:
    before, now = change["before"], change["now"]
    return ChangeShown(
        label=_LABELS[change["what"]],
        before=for_people(before) if before else NONE,
        now=_beside(before, now) if now else NONE,
        says=_says(change),
    )


def _beside(before: Mapping[str, str] | None, now: Mapping[str, str]) -> str:
    """In the unit of what it was before: 80 mcg beside 0.1 mg would look the greater."""
    if before is None:
        return for_people(now)
    unit = for_people(before).partition(" ")[2]
    return show_in(Quantity(value=Fraction(now["exact"]), dimension=Dimension(now["unit"])), unit)


def _says(change: Mapping[str, Any]) -> str:
    before, now, factor = change["before"], change["now"], change["factor"]
    if before is None:
        return "new"
    if now is None:
        return "taken away"
    if factor is None or factor["exact"] == "1":
        return ""
    more = Fraction(factor["exact"]) > 1
    if change["what"] == "lockout":
        return f"{'longer' if more else 'shorter'}: {factor['shown']} times as long"
    return f"{'more' if more else 'less'}: {factor['shown']} times as much"
