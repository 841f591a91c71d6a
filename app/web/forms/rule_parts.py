"""Parts of a document that are changed on one page each: a drug or a step, a new one, the order of steps."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from app.records.rules import LIBRARY, STEPS
from app.web.forms.rule_fields import Path, RuleField, Schema, changed_by, fields_of, parts_of

NEW_DRUG, NEW_STEP, ORDER = "new-drug", "new-step", "order"
# Where a new drug stands until its name is known; no drug is called so.
_NEW = "+"
_NAME, _PEAK, _PLACE = "name", "peak", "place"
_PEAKS = "peak_effects"
# Blank rows for strengths beside the one that any list offers.
_MORE_STRENGTHS = 2
# What is to be written of any new drug.
STRENGTHS = "Strengths"


@dataclass(frozen=True, kw_only=True)
class PartChanged:
    """A document with what was typed; the field of each of its places; what is wrong with a field itself."""

    content: dict[str, Any]
    places: Mapping[str, str] = field(default_factory=dict)
    faults: Mapping[str, str] = field(default_factory=dict)


def all_parts(what: str, content: Mapping[str, Any], schema: Schema) -> tuple[str, ...]:
    """The parts of a document, a new one and the order first."""
    first = {LIBRARY: (NEW_DRUG,), STEPS: (ORDER, NEW_STEP)}.get(what, ())
    return (*first, *parts_of(content, schema))


def can_be_taken_out(part: str, content: Mapping[str, Any], schema: Schema) -> bool:
    """Whether it is a drug or a step, of which there may be one less."""
    path = parts_of(content, schema).get(part, ())
    return path[:1] in {("drugs",), ("steps",)} and len(path) > 1


def without(part: str, content: Mapping[str, Any], schema: Schema) -> dict[str, Any]:
    """The document without a drug, and when its effect is greatest, or without a step."""
    group, name = parts_of(content, schema)[part]
    assert isinstance(group, str)  # noqa: S101  # drugs or steps
    held = content[group]
    if isinstance(name, int):
        return {**content, group: [*held[:name], *held[name + 1 :]]}
    peaks = {_PEAKS: _but(content[_PEAKS], name)} if _PEAKS in content else {}
    return {**content, group: _but(held, name), **peaks}


def part_fields(
    part: str, content: Mapping[str, Any], schema: Schema, typed: Mapping[str, str] | None = None
) -> tuple[RuleField, ...]:
    """The fields of its page, with what was typed in place of what stands."""
    begun, path = _begun(part, content, schema)
    if part == ORDER:
        fields = tuple(
            _place(f"{_PLACE}.{each['id']}", each["id"], each["do"], at) for at, each in _steps(content)
        )
        return _with_typed(fields, typed)
    fields = fields_of(begun, schema, path, typed)
    if part == NEW_DRUG:
        peak = "Of a dose into a vein, such as 20 min; staff give no bolus of a drug without it."
        before = (
            _text(_NAME, "Name", "In tall-man letters where it has them, such as HYDROmorphone."),
            _text(_PEAK, "Greatest effect after", peak),
        )
        return (*_with_typed(before, typed), *(replace(each, group=_called(each.group)) for each in fields))
    if part == NEW_STEP:
        last = len(content["steps"])
        hint = f"In the order of all steps: from 1 to {last + 1}."
        return (*fields, *_with_typed((_place(_PLACE, "Place", hint, last),), typed))
    return fields


def part_changed(
    part: str, content: Mapping[str, Any], schema: Schema, given: Mapping[str, str]
) -> PartChanged:
    """The document with what was typed on the page of a part."""
    if part == ORDER:
        return _ordered(content, given)
    begun, path = _begun(part, content, schema)
    changed, places = changed_by(begun, schema, path, given)
    if part == NEW_DRUG:
        return _named(changed, places, content, given)
    if part == NEW_STEP:
        return _placed(changed, places, content, given)
    return PartChanged(content=changed, places=places)


def _begun(part: str, content: Mapping[str, Any], schema: Schema) -> tuple[Mapping[str, Any], Path]:
    """The document with what a new one begins with, and where the part stands."""
    if part == NEW_DRUG:
        bounded = schema["properties"]["drugs"]["additionalProperties"]["properties"]["limits"]["items"]
        limits = [{"field": each} for each in bounded["properties"]["field"]["enum"]]
        drug = {"concentrations": [{}] * _MORE_STRENGTHS, "limits": limits}
        return {**content, "drugs": {**content["drugs"], _NEW: drug}}, ("drugs", _NEW)
    if part == NEW_STEP:
        return {**content, "steps": [*content["steps"], {}]}, ("steps", len(content["steps"]))
    if part == _PEAKS:
        # A drug of which nothing is said yet has a field, too.
        return {**content, _PEAKS: {**dict.fromkeys(content["drugs"]), **content.get(_PEAKS, {})}}, (_PEAKS,)
    if part == "groups":
        held = content.get("groups", {})
        return {**content, "groups": {**held, str(len(held) + 1): None}}, ("groups",)
    return content, () if part == ORDER else parts_of(content, schema)[part]


def _named(
    changed: Mapping[str, Any],
    places: Mapping[str, str],
    content: Mapping[str, Any],
    given: Mapping[str, str],
) -> PartChanged:
    name, peak = given.get(_NAME, "").strip(), given.get(_PEAK, "").strip()
    drug = changed["drugs"].get(_NEW, {})
    # What is not bounded is no limit.
    limits = [each for each in drug.get("limits", ()) if set(each) - {"field", "for", "source"}]
    drugs = {**content["drugs"], name: {**drug, "limits": limits}}
    peaks = {**content.get(_PEAKS, {}), **({name: peak} if peak else {})}
    at = {place.replace(f"drugs.{_NEW}", f"drugs.{name}", 1): of for place, of in places.items()}
    faults: dict[str, str] = {}
    if not name or name in content["drugs"]:
        faults[_NAME] = "it is listed already" if name else "write its name"
    if "concentrations" not in drug:
        faults[f"drugs.{_NEW}.concentrations.0.is"] = "write a strength that is supplied, such as 1 mg/mL"
    if not limits:
        faults[f"drugs.{_NEW}.limits.0.hard_high"] = "bound the demand dose, or anything else of it"
    return PartChanged(
        content={**changed, "drugs": drugs, **({_PEAKS: peaks} if peaks else {})},
        places={f"drugs.{name}.limits": _NAME, "drugs": _NAME, f"{_PEAKS}.{name}": _PEAK, **at},
        faults=faults,
    )


def _placed(
    changed: Mapping[str, Any],
    places: Mapping[str, str],
    content: Mapping[str, Any],
    given: Mapping[str, str],
) -> PartChanged:
    before, new = content["steps"], changed["steps"][len(content["steps"]) :]
    place = _number(given.get(_PLACE, ""), len(before) + 1)
    at = (place or len(before) + 1) - 1
    named = {each.replace(f"steps.{len(before)}.", f"steps.{at}.", 1): of for each, of in places.items()}
    faults = {} if place else {_PLACE: f"write a whole number from 1 to {len(before) + 1}"}
    if not new:
        faults = {**faults, f"steps.{len(before)}.id": "write its name"}
    return PartChanged(
        content={**changed, "steps": [*before[:at], *new, *before[at:]]}, places=named, faults=faults
    )


def _ordered(content: Mapping[str, Any], given: Mapping[str, str]) -> PartChanged:
    """What is given another place comes to stand there: before what has it, behind it if from above."""
    count = len(content["steps"])
    faults: dict[str, str] = {}
    keyed: list[tuple[int, int, Any]] = []
    for at, step in _steps(content):
        name = f"{_PLACE}.{step['id']}"
        place = _number(given.get(name, str(at + 1)), count)
        if place is None:
            faults[name] = f"write a whole number from 1 to {count}"
            place = at + 1
        keyed.append((place, (place > at + 1) - (place < at + 1), step))
    keyed.sort(key=lambda each: each[:2])
    steps = [step for _, _, step in keyed]
    return PartChanged(
        content={**content, "steps": steps},
        places={"steps": f"{_PLACE}.{steps[0]['id']}"},
        faults=faults,
    )


def _number(text: str, highest: int) -> int | None:
    text = text.strip()
    number = int(text) if text.isascii() and text.isdigit() and len(text) <= len(str(highest)) else 0
    return number if 1 <= number <= highest else None


def _steps(content: Mapping[str, Any]) -> list[tuple[int, Mapping[str, Any]]]:
    return list(enumerate(content["steps"]))


def _but(held: Mapping[str, Any], name: object) -> dict[str, Any]:
    return {each: value for each, value in held.items() if each != name}


def _called(group: str) -> str:
    """What stands over the fields of a new drug, which has no name yet."""
    if group == _NEW:
        return "Limit on the device"
    of, _, bounded = group.removeprefix(f"{_NEW}, ").partition(": ")
    return STRENGTHS if of == "concentrations" else f"Limits: {bounded}"


def _text(name: str, label: str, hint: str) -> RuleField:
    return RuleField(name=name, group="", label=label, hint=hint, value="")


def _place(name: str, label: str, hint: str, at: int) -> RuleField:
    return RuleField(name=name, group="", label=label, hint=hint, value=str(at + 1))


def _with_typed(fields: tuple[RuleField, ...], typed: Mapping[str, str] | None) -> tuple[RuleField, ...]:
    return tuple(replace(each, value=(typed or {}).get(each.name, each.value)) for each in fields)
