"""What of an account was found before: its two have signed it, and it stays with the charge nurse.

At each later check it would stop what is well read, and send the two to the patient for what was looked into.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

Entries = Sequence[Mapping[str, Any]]
Balanced = Callable[[Entries], Mapping[str, Any]]

# The entries that come from what two read on the device.
_READINGS = frozenset({"read", "removed", "cleared", "device"})
# What is gone of a syringe, or more than should be, is found of each of its readings anew.
_OF_EACH_READING = frozenset({"left-below-predicted", "left-above-predicted"})
# How exactly what came between two readings of one syringe is known; both are read by one scale.
_GROWING = ("prime", "device")


def told_before(before: Entries, result: Mapping[str, Any], balanced: Balanced) -> frozenset[tuple[str, int]]:
    """Of the findings of a reading that comes after these entries those that were told: code and entry."""
    places = [place for place, each in enumerate(before) if each["kind"] in _READINGS]
    if not places:
        return frozenset()
    found = balanced(before[: places[-1] + 1])["findings"]
    told = {(each["code"], each["entry"]) for each in found if each["entry"] is not None}
    told |= {
        (each["code"], each["entry"])
        for each in result["findings"]
        if each["code"] in _OF_EACH_READING and _was_told(each, before, result, balanced)
    }
    return frozenset(told)


@dataclass(frozen=True, kw_only=True)
class _Apart:
    """By how much a reading of a syringe was apart from the prediction, and the parts of what it may be."""

    by: Fraction
    parts: Mapping[str, Fraction]

    def covers(self, later: "_Apart") -> bool:
        """Whether a later difference is this one still, and no more than what came since may be off."""
        if (self.by > 0) is not (later.by > 0):
            return False
        grown = sum((later.parts[each] - self.parts[each] for each in _GROWING), Fraction(0))
        scale = abs(later.parts["graduation"] - self.parts["graduation"])
        read_twice = later.parts["reading"] + self.parts["reading"] + later.parts["display"]
        return abs(later.by) - abs(self.by) <= grown + scale + read_twice


def _was_told(
    finding: Mapping[str, Any], before: Entries, result: Mapping[str, Any], balanced: Balanced
) -> bool:
    syringe = finding["syringe"]
    told: _Apart | None = None
    for earlier in _readings_of(syringe, before, balanced):
        apart = _apart(syringe, earlier)
        # What was explained since is not told; what is more than was told is told anew.
        told = apart if apart is None or told is None or not told.covers(apart) else told
    now = _apart(syringe, result)
    return told is not None and now is not None and told.covers(now)


def _readings_of(syringe: str, before: Entries, balanced: Balanced) -> Iterator[Mapping[str, Any]]:
    """What the account came to at each reading of what was left in a syringe."""
    on = ""
    for place, each in enumerate(before):
        on = each["syringe"] if each["kind"] == "loaded" else on
        if on == syringe and each["kind"] in _READINGS and "left" in each:
            yield balanced(before[: place + 1])


def _apart(syringe: str, result: Mapping[str, Any]) -> _Apart | None:
    """None where what is left of it fits."""
    (stage,) = (each["in_use"] for each in result["syringes"] if each["syringe"] == syringe)
    if stage["verdict"] not in ("does-not-fit", "unexplained"):
        return None
    parts = {
        name: Fraction(part["exact"]) for name, part in stage["budget"].items() if name != "root_sum_square"
    }
    return _Apart(by=Fraction(stage["volume"]["exact"]), parts=parts)
