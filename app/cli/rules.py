"""`countersign rules`: the rules in force, each value with its source, and what a unit has otherwise."""

import json
from collections.abc import Iterator, Mapping
from typing import Any

import click

from app.cli.installation import fail, now, open_site, settings
from app.records.kept import SiteData
from app.records.rules import LIBRARY, PACKS, POLICY, SOURCE, STEPS
from app.site.loading import rules_in_force, unit_name

# Of a policy these are said in the first line, or stand below it.
_NO_VALUES = ("format", "version", "site", "zone", "engine", "units", "sources")

_BOUNDS = ("hard_low", "soft_low", "soft_high", "hard_high")


@click.command(name="rules")
def rules() -> None:
    """Print the rules in force: policy, drug library, line sets and safety steps, with their sources."""
    with open_site(settings()).store.read() as reader:
        published = rules_in_force(reader, now()).published
        if not published:
            fail("no rules have been published: run `countersign install`")
        units = {each.id: unit_name(reader, each.id) for each in reader.units()}
    for line in _lines({what: _told(each) for what, each in published.items()}, units):
        click.echo(line)


def _told(each: SiteData) -> Mapping[str, Any]:
    """As it was published, the sources too."""
    told: Mapping[str, Any] = json.loads(each.content)
    return told


def _lines(published: Mapping[str, Mapping[str, Any]], units: Mapping[str, str]) -> Iterator[str]:
    policy = published[POLICY]
    yield f"{policy['site']}, {policy['zone']}: {', '.join(each['version'] for each in published.values())}"
    yield from _policy(policy, units)
    for drug, listed in published[LIBRARY]["drugs"].items():
        yield f"\n{drug}"
        for strength in listed["concentrations"]:
            row = {"is": strength} if isinstance(strength, str) else strength
            whom = ", for tolerant patients only" if row.get("tolerant_only") else ""
            yield _line(f"{row['is']}{whom}", row.get(SOURCE, ""))
        for row in listed["limits"]:
            yield _line(_bounds(row), row.get(SOURCE, ""))
    yield "\nLine sets"
    for pack in published[PACKS]["packs"]:
        holds = f"{pack['words']}: holds {pack['prime_volume']}, {pack['dead_volume']} past the junction"
        yield _line(holds, pack.get(SOURCE, ""))
    yield "\nSafety steps"
    for step in published[STEPS]["steps"]:
        yield _line(f"{step['group']}: {step['do']}", step.get(SOURCE, ""))


def _policy(policy: Mapping[str, Any], units: Mapping[str, str]) -> Iterator[str]:
    sources: Mapping[str, str] = policy.get("sources", {})
    yield "\nPolicy"
    for name, value in {**policy, **policy["engine"]}.items():
        if name not in _NO_VALUES:
            yield _line(f"{name}: {_text(value)}", sources.get(name, ""))
    for unit, own in policy.get("units", {}).items():
        yield f"\nPolicy, otherwise on {units.get(unit, unit)}"
        for name, value in own.items():
            if name != SOURCE:
                yield _line(f"{name}: {_text(value)}", own.get(SOURCE, ""))


def _bounds(row: Mapping[str, str]) -> str:
    whom = f" ({row['for']})" if "for" in row else ""
    bounds = (f"{name} {row[name]}" for name in _BOUNDS if name in row)
    return f"{row['field']}{whom}: {', '.join(bounds)}".replace("_", " ")


def _text(value: Any) -> str:  # noqa: ANN401  # any JSON value
    return value if isinstance(value, str) else json.dumps(value, ensure_ascii=False)


def _line(says: str, source: str) -> str:
    return f"  {says}" + (f"  [{source}]" if source else "")
