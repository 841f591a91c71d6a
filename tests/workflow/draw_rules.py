"""Draw `app/records/RULES.md` from the schemas of a site's rules: every value that a file may hold."""

from collections.abc import Iterator, Mapping
from typing import Any

from app.config import root
from app.workflow.rule_faults import schema_of
from app.workflow.rule_files import FILES, UNITS

PLACE = root() / "app" / "records" / "RULES.md"
_WORDS = {"boolean": "true or false", "object": "an object", "string": "a text"}


def drawn() -> str:
    """The page."""
    parts = ["# What the rules of a site may hold", _HEAD]
    for what, file in {**FILES, "units": UNITS}.items():
        schema = schema_of(what)
        parts += [f"## `{file}`", "| place | must | is | holds |\n| --- | --- | --- | --- |"]
        parts[-1] += "".join(f"\n{row}" for row in _rows("", schema))
    return "\n\n".join(parts) + "\n"


_HEAD = """\
Drawn from `schemas/*.schema.json`; nothing else may stand in a file. `*` is any name of the site's own, `[]`
each of a list. How they are checked and published: [Running it](../cli/OPERATING.md#the-rules-of-a-site)."""


def _rows(place: str, schema: Mapping[str, Any]) -> Iterator[str]:
    required = schema.get("required", ())
    for name, part in schema.get("properties", {}).items():
        yield from _row(f"{place}.{name}" if place else name, part, must=name in required)
    others = schema.get("additionalProperties")
    if isinstance(others, Mapping):
        yield from _row(f"{place}.*", others, must=False)
    if "items" in schema and not place:
        yield from _rows("[]", schema["items"])


def _row(place: str, part: Mapping[str, Any], *, must: bool) -> Iterator[str]:
    holds = part.get("description", "")
    yield f"| `{place}` | {'yes' if must else ''} | {_is(part)} | {holds} |"
    yield from _rows(place, part)
    items = part.get("items", {})
    for each in items.get("anyOf", [items]):
        yield from _rows(f"{place}[]", each)


def _is(part: Mapping[str, Any]) -> str:
    if "const" in part:
        return "`true`" if part["const"] is True else f"`{part['const']}`"
    if "enum" in part:
        return ", ".join(f"`{each}`" for each in part["enum"] if each)
    if "pattern" in part:
        units = part["pattern"].rpartition("(?:")[2].rstrip("$)").replace("|", ", ")
        return f"a quantity in {units}" if part["pattern"].endswith(")$") else "a short name"
    if part.get("type") == "integer":
        return f"a whole number from {part['minimum']} to {part['maximum']}"
    if part.get("type") == "array":
        least = part.get("minItems", 0)
        return f"a list of {least} at least" if least else "a list"
    return _WORDS[part["type"]]


if __name__ == "__main__":
    PLACE.write_text(drawn(), encoding="utf-8")
