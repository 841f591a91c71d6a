"""The values of a document as fields of a form, and what was typed as a document again, by its schema."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from app.words.names import PLANS, SOURCES
from app.words.rules import plain_name

Schema = Mapping[str, Any]
Path = tuple[str | int, ...]

# Said in the head of a document, or kept as it is.
_NOT_ASKED = frozenset({"format", "version", "invented", "caution", "note", "sources"})
_TIMES = "times"
# Before the id of a step, where its part of the document is named.
STEP = "step."
_YES, _NO = "yes", "no"
_LABELS = {
    "is": "strength",
    "field": "what is bounded",
    "for": "for whom",
    "source": "comes from",
    # Of a step.
    "id": "name",
    "do": "what is done",
    "verify": "what the other verifies",
    "plans": "for which checks",
    "before_agreement": "before the readings agree",
    "again_after": "due again after",
    "figure": "figure beside it",
    "entry": "written down with it",
    "before": "waits for it",
    "after": "comes after",
    "primes": "primes the line",
    "pauses": "pauses the device",
    "only_if": "asked only if",
    "unless": "not asked if",
}
# A text that may be longer is written over several lines.
_OF_ONE_LINE = 200


@dataclass(frozen=True)
class _Spot:
    """Where a value stands in the form, and where it comes to stand in the new document."""

    path: Path
    place: Path

    def inside(self, name: str | int, *, at: str | int) -> "_Spot":
        """One of its parts."""
        return _Spot((*self.path, name), (*self.place, at))


class _Nothing:
    """Where there is no value."""


_NOTHING = _Nothing()


@dataclass(frozen=True, kw_only=True)
class RuleField:
    """One value: where it stands, what it is called, what it holds; `choices` where it is one of some.

    Of `several` chosen ones, and of a list, each is a line of the value.
    """

    name: str
    group: str
    label: str
    hint: str
    value: str
    choices: Mapping[str, str] | None = None
    lines: bool = False
    several: bool = False
    long: bool = False

    @property
    def called(self) -> str:
        """By itself, among faults."""
        return f"{self.group}, {self.label.lower()}" if self.group else self.label

    @property
    def is_bound(self) -> bool:
        """Whether it is a value by itself, and not a note of where one comes from, or what is meant."""
        return self.name.rpartition(".")[2] not in {"source", "field", "for", "words", "is", "key"}


@dataclass
class _Typed:
    """What was typed, by field; `places` is where in the new document each of them came to stand."""

    given: Mapping[str, str]
    places: dict[str, str] = field(default_factory=dict)


def parts_of(content: Mapping[str, Any], schema: Schema) -> dict[str, Path]:
    """The parts of a document that are changed on one page each, by name."""
    if "drugs" in content:
        return {**{each: ("drugs", each) for each in content["drugs"]}, "peak_effects": ("peak_effects",)}
    if "packs" in content:
        return {"packs": ("packs",)}
    if "steps" in content:
        steps = {f"{STEP}{each['id']}": ("steps", at) for at, each in enumerate(content["steps"])}
        return {"groups": ("groups",), **steps}
    if _is_one_page(schema):
        return {"protocol": ()}
    inner = (
        name
        for name, part in _asked(schema)
        if part.get("type") == "object" and ("properties" in part or "additionalProperties" in part)
    )
    return {_TIMES: (), **{name: (name,) for name in inner}}


def fields_of(
    content: Mapping[str, Any], schema: Schema, part: Path, typed: Mapping[str, str] | None = None
) -> tuple[RuleField, ...]:
    """The fields of a part, with what was typed in place of what stands."""
    asked = _at(content, part), _schema_at(schema, part)
    found = _walk(*asked, part, _words_of(part))
    if typed is None:
        return tuple(found)
    return tuple(RuleField(**{**vars(each), "value": typed.get(each.name, each.value)}) for each in found)


def changed_by(
    content: Mapping[str, Any], schema: Schema, part: Path, given: Mapping[str, str]
) -> tuple[dict[str, Any], dict[str, str]]:
    """The document with what was typed, and the field of each of its places."""
    typed = _Typed(given=given)
    made = _rebuilt(_at(content, part), _schema_at(schema, part), _Spot(part, part), typed)
    changed: dict[str, Any] = _put(content, part, made)
    return changed, typed.places


def field_at(places: Mapping[str, str], path: str) -> str:
    """The field beside which a fault of a place stands: its own, or the first of what it is about."""
    while path:
        for place, name in places.items():
            if place == path or place.startswith(f"{path}."):
                return name
        path = path.rpartition(".")[0]
    return ""


def _walk(value: Any, schema: Schema, path: Path, group: str) -> Iterator[RuleField]:  # noqa: ANN401  # any JSON
    for name, part in _inside(value, schema, path):
        inner, at = _item(value, name), (*path, name)
        if _is_leaf(part):
            yield _field(inner, part, at, group)
        else:
            yield from _walk(inner, _resolved(part), at, _group(group, inner, name))


def _inside(value: Any, schema: Schema, path: Path) -> Iterator[tuple[str | int, Schema]]:  # noqa: ANN401  # any JSON
    """The parts of a value, and those that it may have and has not; of a list one more than there are."""
    if "items" in schema:
        listed = value if isinstance(value, list) else []
        yield from ((at, schema["items"]) for at in range(len(listed) + 1))
        return
    others = schema.get("additionalProperties")
    if isinstance(others, Mapping):
        yield from ((name, others) for name in (value if isinstance(value, Mapping) else ()))
    for name, part in _asked(schema) if not path else schema.get("properties", {}).items():
        if path or _is_leaf(part) or _is_one_page(schema):
            yield name, part


def _is_one_page(schema: Schema) -> bool:
    """Whether a document is so short that all of it is changed on one page."""
    return "stages" in schema["properties"]


def _asked(schema: Schema) -> Iterator[tuple[str, Schema]]:
    return ((name, part) for name, part in schema["properties"].items() if name not in _NOT_ASKED)


def _is_leaf(schema: Schema) -> bool:
    part = _resolved(schema)
    of_texts = part.get("type") == "array" and "properties" not in _resolved(part["items"])
    return of_texts or (part.get("type") not in {"object", "array"} and "items" not in part)


def _resolved(schema: Schema) -> Schema:
    """Of what may be written short or in full, in full."""
    either: list[Schema] = schema.get("anyOf", [])
    return next((each for each in either if each.get("type") == "object"), schema)


def _item(value: Any, name: str | int) -> Any:  # noqa: ANN401  # any JSON
    if isinstance(value, list):
        item = value[name] if isinstance(name, int) and name < len(value) else None
        # A strength that is written short.
        return {"is": item} if isinstance(item, str) else item
    return value.get(name) if isinstance(value, Mapping) else None


def _field(value: Any, schema: Schema, path: Path, group: str) -> RuleField:  # noqa: ANN401  # any JSON
    choices: dict[str, str] | None = None
    if schema.get("type") == "boolean":
        choices = {"": "Not set", _YES: "Yes", _NO: "No"}
    elif "enum" in schema:
        choices = {"": "Not set", **_choices(schema)}
    elif "enum" in schema.get("items", {}):
        choices = _choices(schema["items"])
    label = _first_large(_LABELS.get(str(path[-1])) or _plain(str(path[-1])))
    hint = _first_large(schema.get("description", ""))
    return RuleField(
        name=_name(path),
        group=group,
        label=label,
        hint="" if hint == label else hint,
        value=_text(value),
        choices=choices,
        lines=schema.get("type") == "array",
        several=schema.get("type") == "array" and choices is not None,
        long=schema.get("maxLength", 0) > _OF_ONE_LINE,
    )


def _choices(schema: Schema) -> dict[str, str]:
    words = {**PLANS, **SOURCES}
    return {each: words.get(each, _plain(each)) for each in schema["enum"] if each}


def _text(value: Any) -> str:  # noqa: ANN401  # any JSON
    match value:
        case None:
            return ""
        case bool():
            return _YES if value else _NO
        case list():
            return "\n".join(map(str, value))
        case _:
            return str(value)


def _rebuilt(value: Any, schema: Schema, spot: _Spot, typed: _Typed) -> Any:  # noqa: ANN401  # any JSON
    if _is_leaf(schema) and spot.path:
        return _leaf(value, schema, spot, typed)
    schema = _resolved(schema)
    if "items" in schema:
        return _list(value, schema, spot, typed)
    kept = dict(value) if isinstance(value, Mapping) else {}
    for name, part in _inside(value, schema, spot.path):
        made = _rebuilt(_item(value, name), part, spot.inside(name, at=name), typed)
        kept.pop(str(name), None)
        if not isinstance(made, _Nothing):
            kept[str(name)] = made
    return kept or _NOTHING


def _list(value: Any, schema: Schema, spot: _Spot, typed: _Typed) -> Any:  # noqa: ANN401  # any JSON
    """What was emptied is left out, and what follows it moves up."""
    kept: list[Any] = []
    for at, part in _inside(value, schema, spot.path):
        of_item = _Typed(given=typed.given)
        made = _rebuilt(_item(value, at), part, spot.inside(at, at=len(kept)), of_item)
        if not isinstance(made, _Nothing):
            typed.places.update(of_item.places)
            kept.append(made)
    return kept or _NOTHING


def _leaf(value: Any, schema: Schema, spot: _Spot, typed: _Typed) -> Any:  # noqa: ANN401  # any JSON
    name = _name(spot.path)
    typed.places[_name(spot.place)] = name
    if name not in typed.given:
        return _NOTHING if value is None else value
    text = typed.given[name].strip()
    if schema.get("maxLength", 0) > _OF_ONE_LINE:
        text = " ".join(text.split())
    if schema.get("type") == "array":
        lines = [each.strip() for each in text.splitlines() if each.strip()]
        return lines if lines or (value is not None and "minItems" not in schema) else _NOTHING
    if not text:
        return _NOTHING
    if schema.get("type") == "boolean" and text in {_YES, _NO}:
        return text == _YES
    return int(text) if schema.get("type") == "integer" and text.isascii() and text.isdigit() else text


def _at(content: Any, path: Path) -> Any:  # noqa: ANN401  # any JSON
    for name in path:
        content = _item(content, name)
    return content


def _schema_at(schema: Schema, path: Path) -> Schema:
    for name in path:
        if isinstance(name, int):
            schema = _resolved(schema["items"])
            continue
        known = schema.get("properties", {})
        schema = _resolved(known[name] if name in known else schema["additionalProperties"])
    return schema


def _put(content: Any, path: Path, value: Any) -> Any:  # noqa: ANN401  # any JSON
    if not path:
        return dict(value)
    name, *rest = path
    if isinstance(name, int):
        made = [] if isinstance(value, _Nothing) else [value]
        return [*content[:name], *made, *content[name + 1 :]]
    others = {key: each for key, each in content.items() if key != name or rest}
    if isinstance(value, _Nothing) and not rest:
        return others
    inner = content.get(str(name), {})
    return {**others, str(name): _put(inner, tuple(rest), value) if rest else value}


def _name(path: Path) -> str:
    return ".".join(map(str, path))


def _plain(name: str) -> str:
    return plain_name(name).replace("-", " ")


def _words_of(path: Path) -> str:
    return _plain(path[-1]) if path and isinstance(path[-1], str) else ""


def _first_large(words: str) -> str:
    return words[:1].upper() + words[1:]


def _group(group: str, value: Any, name: str | int) -> str:  # noqa: ANN401  # any JSON
    """What stands over the fields of one thing: of a list what it is, or that it would be one more."""
    if not isinstance(name, int):
        return ", ".join(filter(None, (group, _plain(name))))
    known = value if isinstance(value, Mapping) else {}
    called = next((str(known[key]) for key in ("field", "words", "is", "every_minutes") if key in known), "")
    whom = f" ({known['for']})" if "for" in known else ""
    return f"{group}: {_plain(called)}{whom}" if called else f"{group}: one more"
