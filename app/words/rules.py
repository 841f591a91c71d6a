"""Published rules in the trade's terms: one row a value, with where it comes from."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from app.records.rules import INVENTED, LIBRARY, OBSERVATIONS, PACKS, POLICY, SOURCE, STEPS

# Of a policy these are said in the head, or stand below it.
_NO_VALUES = ("format", "version", "engine", "units", "sources", INVENTED, "caution", "note")
# Where the word in data is another than the one on screens.
_SHOWN = {
    "clearance_minutes": "ready to start, minutes",
    "then_every_minutes": "after these every, minutes",
    "at_risk_every_minutes": "at risk and at first at least every, minutes",
    "at_risk_hours": "at first, hours",
    "every_minutes": "every, minutes",
    "for_minutes": "for, minutes",
    "reminds": "pages remind",
    "recovery": "recovery units",
}
# Of a step these are said in its first row.
_OF_A_STEP = ("id", "do", "verify", SOURCE)
_BOUNDS = ("hard_low", "soft_low", "soft_high", "hard_high")


DOCUMENTS: Mapping[str, str] = {
    LIBRARY: "Drug library",
    POLICY: "Policy",
    PACKS: "Line sets",
    STEPS: "Safety steps",
    OBSERVATIONS: "Observation protocol",
}
"""What each document is called, in the order in which it is listed."""
ABOUT: Mapping[str, str] = {
    LIBRARY: "strengths that are supplied, and soft and hard limits of each drug",
    POLICY: "times, alarms, monitoring, who is at risk, and the account",
    PACKS: "what each line set in use holds",
    STEPS: "what is done and verified before a start, in order",
    OBSERVATIONS: "how often the patient is observed",
}
PARTS: Mapping[str, str] = {
    "times": "Times and values of the site",
    "protocol": "The protocol",
    "new-drug": "A new drug",
    "new-step": "A new step",
    "order": "The order of the steps",
    "groups": "What the groups of steps are called",
    "baseline": "What is observed before any dose",
    "engine": "Alarms, monitoring, carriers, patients at risk",
    "account": "The account of an infusion",
    "units": "What a unit has otherwise",
    "packs": "Line sets",
    "peak_effects": "Greatest effect of each drug",
}
"""The parts of a document that are changed on one page; in a drug library each drug is one besides."""


@dataclass(frozen=True, kw_only=True)
class RuleRow:
    """One value: under which head it stands, what it is of, what it says, whence; whether it is invented."""

    head: str
    name: str
    value: str
    source: str
    invented: bool

    @property
    def says(self) -> str:
        """As it is printed, with its source and, where it is invented, its caution."""
        text = f"{self.name}: {self.value}" if self.value else self.name
        marks = (self.source, "invented: set your own" if self.invented else "")
        return text + "".join(f"  [{each}]" for each in marks if each)


def rule_rows(published: Mapping[str, Mapping[str, Any]], units: Mapping[str, str]) -> tuple[RuleRow, ...]:
    """Every value of these rules; `units` are the names of the units."""
    return tuple(_rows(published, units))


def _rows(published: Mapping[str, Mapping[str, Any]], units: Mapping[str, str]) -> Iterator[RuleRow]:
    parts = {
        POLICY: lambda told: _policy(told, units),
        LIBRARY: _library,
        PACKS: _packs,
        STEPS: _steps,
        OBSERVATIONS: _observations,
    }
    for what, rows in parts.items():
        if what in published:
            invented = INVENTED in published[what]
            for head, name, value, source in rows(published[what]):
                yield RuleRow(head=head, name=name, value=value, source=source, invented=invented)


_Row = tuple[str, str, str, str]


def _policy(policy: Mapping[str, Any], units: Mapping[str, str]) -> Iterator[_Row]:
    sources: Mapping[str, str] = policy.get("sources", {})
    for key, value in {**policy, **policy["engine"]}.items():
        if key not in _NO_VALUES:
            for name, text in _flat(key, value):
                yield "Policy", name, text, sources.get(key, "")
    for unit, own in policy.get("units", {}).items():
        for key, value in own.items():
            if key != SOURCE:
                for name, text in _flat(key, value):
                    yield f"Policy, otherwise on {units.get(unit, unit)}", name, text, own.get(SOURCE, "")


def _library(library: Mapping[str, Any]) -> Iterator[_Row]:
    for drug, peak in library.get("peak_effects", {}).items():
        yield drug, "greatest effect after", peak, ""
    for drug, listed in library["drugs"].items():
        for strength in listed["concentrations"]:
            row = {"is": strength} if isinstance(strength, str) else strength
            whom = "for tolerant patients only" if row.get("tolerant_only") else ""
            yield drug, row["is"], whom, row.get(SOURCE, "")
        if "limit_required" in listed:
            yield drug, "limit on the device", "required" if listed["limit_required"] else "not required", ""
        for row in listed["limits"]:
            whom = f" ({row['for']})" if "for" in row else ""
            bounds = ", ".join(f"{plain_name(each)} {row[each]}" for each in _BOUNDS if each in row)
            yield drug, f"{plain_name(row['field'])}{whom}", bounds, row.get(SOURCE, "")


def _packs(packs: Mapping[str, Any]) -> Iterator[_Row]:
    for pack in packs["packs"]:
        holds = f"holds {pack['prime_volume']}, {pack['dead_volume']} past the junction"
        yield "Line sets", pack["words"], holds, pack.get(SOURCE, "")
        if "key" in pack:
            yield "Line sets", f"{pack['words']}, in data", pack["key"], ""


def _steps(steps: Mapping[str, Any]) -> Iterator[_Row]:
    for number, words in steps.get("groups", {}).items():
        yield "Safety steps", f"group {number}", words, ""
    listed = steps["steps"]
    # One that is moved changes two or three of these rows, and not the number of every one after it.
    before = ("", *(each["id"] for each in listed))
    for step, other in zip(listed, before, strict=False):
        head = f"Step {step['id']}"
        yield head, "done, and verified", f"{step['do']} / {step['verify']}", step.get(SOURCE, "")
        yield head, "comes", f"after {other}" if other else "first", ""
        for key, value in step.items():
            if key not in _OF_A_STEP:
                yield from ((head, name, text, "") for name, text in _flat(key, value))


def _observations(protocol: Mapping[str, Any]) -> Iterator[_Row]:
    sources: Mapping[str, str] = protocol.get("sources", {})
    for key, value in protocol.items():
        if key not in _NO_VALUES:
            for name, text in _flat(key, value):
                yield "Observation protocol", name, text, sources.get(key, "")


def _flat(name: str, value: Any) -> Iterator[tuple[str, str]]:  # noqa: ANN401  # any JSON value
    """A value in words; one of several parts is a row for each."""
    match value:
        case bool():
            yield plain_name(name), "yes" if value else "no"
        case dict():
            for part, each in value.items():
                yield from _flat(f"{name}, {part}", each)
        case list():
            yield plain_name(name), "; ".join(map(_listed, value)) or "nothing"
            keys = [
                each["key"] for each in value if isinstance(each, dict) and {"key", "words"} <= each.keys()
            ]
            if keys:
                yield f"{plain_name(name)}, in data", "; ".join(keys)
        case _:
            yield plain_name(name), str(value)


def _listed(each: Any) -> str:  # noqa: ANN401  # any JSON value
    """One of a list: by its words, or part by part."""
    if not isinstance(each, dict):
        return str(each)
    return (
        str(each["words"])
        if "words" in each
        else ", ".join(f"{plain_name(name)} {part}" for name, part in each.items())
    )


def plain_name(name: str) -> str:
    """A value's name in data as it is shown."""
    return _SHOWN.get(name, name.replace("_", " "))


@dataclass(frozen=True, kw_only=True)
class RuleChange:
    """One value that differs; blank before where it is new, blank now where it is gone."""

    head: str
    name: str
    before: str | None
    now: str | None

    @property
    def says(self) -> str:
        """In one line."""
        about = f"{self.head}: {self.name}"
        if self.before is None:
            return f"+ {about}" + (f": {self.now}" if self.now else "")
        if self.now is None:
            return f"- {about}" + (f": {self.before}" if self.before else "")
        return f"~ {about}: {self.before or 'without a word'} -> {self.now or 'without a word'}"


def rule_changes(before: tuple[RuleRow, ...], now: tuple[RuleRow, ...]) -> tuple[RuleChange, ...]:
    """What differs between two sets of rules, in the order of the newer one; what is gone comes last."""
    old = {(each.head, each.name): each.value for each in before}
    new = {(each.head, each.name): each.value for each in now}
    return tuple(
        RuleChange(head=head, name=name, before=old.get((head, name)), now=new.get((head, name)))
        for head, name in dict.fromkeys((*new, *old))
        if old.get((head, name)) != new.get((head, name))
    )
