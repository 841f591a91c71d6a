"""The engine's figures of the agreed settings, in words; nothing is computed here."""

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from app.quantities import Dimension, Quantity, for_people, show_in
from app.records.kept import LETTERS
from app.reports.readings import Line, lines_of


@dataclass(frozen=True, kw_only=True)
class Figure:
    """One figure: as A's readings of the device give it, and as B's, where that is something else."""

    label: str
    lines: tuple[Line, ...]


_Path = tuple[str, ...]

_DELIVERED: tuple[tuple[str, _Path], ...] = (
    ("Each demand gives", ("delivery", "actual_demand")),
    ("Each demand as ordered", ("delivery", "ordered_demand")),
    ("Given, as a multiple of ordered", ("delivery", "factor")),
    ("Each demand moves", ("device", "demand_volume")),
    ("Continuous part gives", ("delivery", "actual_continuous")),
    ("Continuous part as ordered", ("delivery", "ordered_continuous")),
    ("Demands in 1 h at most, by lockout", ("device", "demands_per_hour")),
)
# What is compared stands in one unit: 20 mcg beside 0.2 mg would look the greater.
_BESIDE = {"actual_demand": "ordered_demand", "actual_continuous": "ordered_continuous"}
_FIRST_HOUR, _WITH_LOADING = "Most in 1 h", "Most in 1 h with the loading dose"
# When the limit refuses, and how long the wait then is, the findings say in a sentence.
_MOST: tuple[tuple[str, _Path], ...] = (
    (_FIRST_HOUR, ("device", "full_use", "1 h")),
    ("Most in 4 h", ("device", "full_use", "4 h")),
    ("Most in 24 h", ("device", "full_use", "24 h")),
    (_WITH_LOADING, ("device", "first_hour_with_loading")),
    ("Syringe lasts, at full use", ("device", "syringe_lasts_full_use")),
    ("Syringe lasts, continuous part alone", ("device", "syringe_lasts_continuous")),
)
_LINE: tuple[tuple[str, _Path], ...] = (("Drug in the primed line", ("device", "primed_amount")),)
_CARRIER: tuple[tuple[str, _Path], ...] = (
    ("Bolus, if drug is past the junction", ("device", "junction_bolus")),
    ("Junction to patient, by flow alone", ("device", "carrier_delay")),
)


def delivered(result: Mapping[str, Any]) -> tuple[Figure, ...]:
    """What one demand and the continuous part give, as read from order, label and device together."""
    return _figures(result, _DELIVERED)


def most(result: Mapping[str, Any]) -> tuple[Figure, ...]:
    """The most that could be given, the button pressed at every instant, and how long the syringe lasts."""
    found = _figures(result, _MOST)
    first_hour = next((each.lines for each in found if each.label == _FIRST_HOUR), ())
    # Without a loading dose it is the same figure again.
    return tuple(each for each in found if each.label != _WITH_LOADING or each.lines != first_hour)


def in_the_line(result: Mapping[str, Any]) -> tuple[Figure, ...]:
    """What the line that was primed holds, and what a carrier does with it."""
    primed = [result["math"][letter]["device"]["primed_amount"] for letter in LETTERS]
    # In a kind in which no line is primed nothing is said of what it holds.
    line = _LINE if any(each and each["exact"] != "0" for each in primed) else ()
    return _figures(result, (*line, *(_CARRIER if result["plan"] == "with-carrier" else ())))


def _figures(result: Mapping[str, Any], wanted: tuple[tuple[str, _Path], ...]) -> tuple[Figure, ...]:
    found = (Figure(label=label, lines=_lines(result, path)) for label, path in wanted)
    return tuple(each for each in found if each.lines)


def _lines(result: Mapping[str, Any], path: _Path) -> tuple[Line, ...]:
    texts = {(letter, ""): _text(result, letter, path) for letter in LETTERS}
    return lines_of(texts) if any(texts.values()) else ()


def _text(result: Mapping[str, Any], letter: str, path: _Path) -> str | None:
    """The figure as the engine shows it; None where its inputs are absent."""
    group, *keys = path
    place: Any = result["delivery"][letter] if group == "delivery" else result["math"][letter][group]
    for key in keys:
        if place is None:
            return None
        place = place[key]
    if place is None or isinstance(place, int):
        return None if place is None else str(place)
    beside = result["delivery"][letter][_BESIDE[keys[-1]]] if keys[-1] in _BESIDE else None
    return for_people(place) if beside is None else _in_unit_of(beside["shown"], place)


def _in_unit_of(shown: str, place: Mapping[str, str]) -> str:
    unit = shown.rpartition(" ")[2]
    if unit == place["shown"].rpartition(" ")[2]:
        return place["shown"]
    return show_in(Quantity(value=Fraction(place["exact"]), dimension=Dimension(place["unit"])), unit)
