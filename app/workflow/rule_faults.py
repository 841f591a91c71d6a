"""Why rules cannot count: against the schemas that are published beside them, and across their values."""

import json
import unicodedata
from collections.abc import Collection, Iterable, Iterator, Mapping
from functools import cache
from itertools import product
from typing import Any
from zoneinfo import available_timezones

from jsonschema import Draft202012Validator, ValidationError

from app.accounting import read_account
from app.comparison import Case, CaseError, read_case
from app.config import root
from app.judging.account import account_case
from app.people import Permission, Role, folded, may
from app.quantities import Dimension, Fault, parse_quantity
from app.records.beds import LONGEST_BED, plain
from app.records.case import build_case
from app.records.field_table import TABLE
from app.records.kept import A, B
from app.records.kinds import KINDS, Kind
from app.records.known import NOTHING_KNOWN
from app.records.observing import protocol_from
from app.records.policy import UNIT_MAY_SET, BaselineRule, SitePolicy, policy_from
from app.records.reading import WHOLE
from app.records.rules import FORMATS, LIBRARY, OBSERVATIONS, PACKS, POLICY, STEPS, without_sources
from app.records.shifts import is_time_of_day
from app.records.steps import plan_faults, plan_from
from app.workflow.limit_faults import limit_faults
from app.workflow.rule_files import FILES, UNITS, RuleFault, RuleFiles

# Letters of a wrong value that are repeated in a fault.
_LONGEST_SHOWN = 80
_SCHEMAS = root() / "app" / "records" / "schemas"


def faults_of(files: RuleFiles, units: Collection[str]) -> tuple[RuleFault, ...]:
    """Everything that is wrong; what no file could mean by its shape is not looked into further."""
    shape = tuple(_shape_faults(files))
    return shape or tuple(_faults_across(files.published, units))


def unit_ids(files: RuleFiles) -> frozenset[str]:
    """The units that a folder names, as far as it can be read."""
    listed = files.units if isinstance(files.units, list) else ()
    return frozenset(str(each.get("id")) for each in listed if isinstance(each, dict))


# By the schemas.


@cache
def schema_of(what: str) -> dict[str, Any]:
    """The schema of one kind of file, which anybody may check with."""
    read: dict[str, Any] = json.loads((_SCHEMAS / f"{what}.schema.json").read_text(encoding="utf-8"))
    return read


def has_shape(what: str, content: object) -> bool:
    """Whether it can be a document of this kind by its schema; what its values come to is not asked."""
    return bool(Draft202012Validator(schema_of(what)).is_valid(content))


def _shape_faults(files: RuleFiles) -> Iterator[RuleFault]:
    for what in (each for each in FILES if each not in files.published):
        yield RuleFault(file=FILES[what], path="", why="none has been published")
    for what, content in files.published.items():
        newest = FORMATS[what].newest
        if not isinstance(content, Mapping) or content.get("format") != newest:
            why = f"write {newest}, the one that this program reads"
            yield RuleFault(file=FILES[what], path="format", why=why)
        else:
            yield from _against_schema(FILES[what], what, content)
    if files.units is not None:
        yield from _against_schema(UNITS, "units", files.units)
        if isinstance(files.units, list):
            yield from _unit_faults(each for each in files.units if isinstance(each, Mapping))


def _against_schema(file: str, what: str, content: object) -> Iterator[RuleFault]:
    found: Iterable[ValidationError] = Draft202012Validator(schema_of(what)).iter_errors(content)
    for error in sorted(found, key=lambda each: [str(part) for part in each.absolute_path]):
        yield RuleFault(file=file, path=_path(error.absolute_path), why=_why(error))
    yield from (
        RuleFault(file=file, path=path, why="holds a sign that cannot be printed")
        for path, text in _texts(content)
        if any(unicodedata.category(sign).startswith("C") for sign in text)
    )


def _path(parts: Iterable[str | int]) -> str:
    return ".".join(str(part) for part in parts)


def _why(error: ValidationError) -> str:
    """The library's words repeat the whole value; ours say what to write."""
    rule: Any = error.validator_value
    given = json.dumps(error.instance, ensure_ascii=False)
    not_written = f"{given if len(given) <= _LONGEST_SHOWN else 'this'} is not written as it must be"
    says = {
        "required": f"{error.message.partition(' is ')[0]} is missing",
        "additionalProperties": f"nothing is known by the name {_unknown(error)}",
        "enum": f"write one of {', '.join(map(str, filter(None, rule)))}" if isinstance(rule, list) else "",
        "minimum": f"{given} lies below {rule}, the lowest that is sensible",
        "maximum": f"{given} lies above {rule}, the highest that is sensible",
        "type": f"this must be {_TYPES.get(str(rule))}",
        "minItems": "name one at least" if rule == 1 else f"name {rule} at least",
        "minProperties": "name one at least",
        "uniqueItems": "one stands twice",
        "minLength": "this is empty",
        "maxLength": f"longer than {rule} letters",
        "const": f"write {json.dumps(rule)}",
        "pattern": _quantity(str(rule)) or not_written,
    }
    return says.get(str(error.validator), not_written)


def _quantity(pattern: str) -> str:
    """How a quantity is written, where a pattern is one."""
    units = (
        pattern.rpartition("(?:")[2].removesuffix(")$").replace("|", ", ") if pattern.endswith(")$") else ""
    )
    return f"write a number, one space and its unit: {units}" if units else ""


_TYPES = {
    "object": "an object",
    "array": "a list",
    "string": "a text",
    "integer": "a whole number",
    "boolean": "true or false",
}


def _unknown(error: ValidationError) -> str:
    known = error.schema.get("properties", {}) if isinstance(error.schema, Mapping) else {}
    return ", ".join(sorted(set(error.instance) - set(known))) if isinstance(error.instance, dict) else ""


def _texts(value: object, path: tuple[str | int, ...] = ()) -> Iterator[tuple[str, str]]:
    match value:
        case str():
            yield _path(path), value
        case dict():
            for name, each in value.items():
                yield _path(path), name
                yield from _texts(each, (*path, name))
        case list():
            for at, each in enumerate(value):
                yield from _texts(each, (*path, at))
        case _:
            pass


# Across values.


def _faults_across(given: Mapping[str, Any], units: Collection[str]) -> Iterator[RuleFault]:
    published = {what: without_sources(content) for what, content in given.items()}
    content, packs = published[POLICY], published[PACKS]["packs"]
    yield from _policy_faults(policy_from(content))
    yield from _faults_of_unit_policies(content.get("units", {}), units)
    for each in sorted(protocol_from(published[OBSERVATIONS]).recovery.difference(units)):
        yield RuleFault(file=FILES[OBSERVATIONS], path="recovery", why=f"there is no unit {each}")
    for fault in dict.fromkeys(_step_faults(published[STEPS])):
        yield RuleFault(file=FILES[STEPS], path="steps", why=fault)
    keys = [each["key"] for each in packs]
    for key in sorted({key for key in keys if keys.count(key) > 1}):
        yield RuleFault(file=FILES[PACKS], path="packs", why=f"the key {key} stands twice")
    yield from _engine_faults(published, units)
    yield from _account_faults(policy_from(content).account)


def _step_faults(steps: Mapping[str, Any]) -> Iterator[str]:
    for kind in KINDS.values():
        for name in kind.plans:
            yield from (f"{name}: {fault}" for fault in _plan_faults(kind, steps, name))


def _plan_faults(kind: Kind, steps: Mapping[str, Any], name: str) -> Iterator[str]:
    return plan_faults(plan_from(steps, name), kind.entries, put_right=kind.put_right, of_remainder=kind.ends)


def _engine_faults(published: Mapping[str, Any], units: Collection[str]) -> Iterator[RuleFault]:
    """What the engine itself refuses, and what its limits say across each other."""
    drugs = published[LIBRARY]["drugs"]
    packs = [(each["prime_volume"], each["dead_volume"]) for each in published[PACKS]["packs"]]
    engines = [policy_from(published[POLICY], unit).engine for unit in ("", *sorted(units))]
    asked = [
        _empty_case({**engine, "prime_volume": prime, "dead_volume": dead}, {})
        for engine, (prime, dead) in product(engines, packs)
    ]
    of_library = read_case(_empty_case({}, drugs))
    read = (*map(read_case, asked), of_library)
    yield from dict.fromkeys(_refused(each) for each in read if isinstance(each, CaseError))
    if isinstance(of_library, Case):
        yield from limit_faults(drugs, of_library.library or {})


def _account_faults(policy: Mapping[str, Any]) -> Iterator[RuleFault]:
    """What the account's engine refuses: of a case with one syringe only the rules can be wrong."""
    issued = {"kind": "issued", "syringe": "1", "volume": "1 mL", "amount": "1 mg", "size": "1 mL"}
    read = read_account(account_case([{**issued, "at": "2000-01-01T00:00Z"}], policy))
    if isinstance(read, CaseError):
        path = read.path.replace("policy", "account", 1)
        yield RuleFault(file=FILES[POLICY], path=path, why=read.message)


def _refused(error: CaseError) -> RuleFault:
    where, _, path = error.path.partition(".")
    file = FILES[LIBRARY] if where == "library" else FILES[POLICY]
    if path in ("prime_volume", "dead_volume"):
        file = FILES[PACKS]
    return RuleFault(file=file, path=path or where, why=error.message)


def _empty_case(engine: Mapping[str, Any], drugs: Mapping[str, Any]) -> dict[str, Any]:
    """A case in which nothing was read: only the rules in it can be wrong."""
    empty: dict[str, Any] = {"order": {}, "label": {}, "device": {}}
    entries = ({"clinician": A, **empty}, {"clinician": B, **empty})
    return build_case(entries=entries, policy=engine, library=drugs, known=NOTHING_KNOWN, reads=WHOLE)


def _policy_faults(policy: SitePolicy) -> Iterator[RuleFault]:
    found = (*_baseline_faults(policy.baseline), *_time_faults(policy), *_list_faults(policy))
    yield from (RuleFault(file=FILES[POLICY], path=path, why=why) for path, why in found)


def _baseline_faults(baseline: BaselineRule) -> Iterator[tuple[str, str]]:
    quantities = (
        ("lowest_respiratory_rate", baseline.lowest_respiratory_rate, Dimension.FREQUENCY),
        ("lowest_spo2", baseline.lowest_spo2, Dimension.PERCENT),
    )
    for name, text, dimension in quantities:
        read = parse_quantity(text, dimension, zero_allowed=True)
        if isinstance(read, Fault):
            yield f"baseline.{name}", read.says
    known = [key for key, _ in baseline.levels]
    if len(set(known)) < len(known):
        yield "baseline.levels", "two levels have one key"
    if not set(baseline.may_start_at) <= set(known):
        yield "baseline.may_start_at", "names a level of sedation that the scale has not"
    if set(baseline.may_start_at) >= set(known):
        yield "baseline.may_start_at", "a dose may be given at every level of sedation: no start is held"


def _time_faults(policy: SitePolicy) -> Iterator[tuple[str, str]]:
    if policy.zone not in available_timezones():
        yield "zone", f"{policy.zone} is no time zone"
    for each in policy.shift_changes:
        if not is_time_of_day(each):
            yield "shift_changes", f"{each} is no time of day, such as 07:00"


def _list_faults(policy: SitePolicy) -> Iterator[tuple[str, str]]:
    licensed = {role.value for role in Role if may({role}, Permission.WITNESS)}
    for name in policy.witnesses:
        if name not in licensed:
            yield "witnesses", f"{name} is none of {', '.join(sorted(licensed))}"
    may_be_asked = [each.name for each in TABLE if each.by_policy]
    for name in policy.also_read:
        if name not in may_be_asked:
            yield "also_read", f"{name} is none of {', '.join(may_be_asked)}"
    listed = {each.casefold() for each in policy.engine.get("carrier_fluids", ())}
    for each in policy.engine.get("carrier_refused", ()):
        if each.casefold() in listed:
            yield "engine.carrier_refused", f"{each} may run, too"


def _faults_of_unit_policies(
    policies: Mapping[str, Mapping[str, Any]], units: Collection[str]
) -> Iterator[RuleFault]:
    """What a unit has otherwise than its site is of a unit that there is, and of what it may have so."""
    for unit, policy in policies.items():
        path = f"units.{unit}"
        if unit not in units:
            yield RuleFault(file=FILES[POLICY], path=path, why="there is no such unit")
        for name in policy:
            if name not in UNIT_MAY_SET:
                yield RuleFault(file=FILES[POLICY], path=f"{path}.{name}", why="is the same on every unit")


def _unit_faults(units: Iterable[Mapping[str, Any]]) -> Iterator[RuleFault]:
    """Each unit names its beds: a check is opened at one of them, however its name is written."""
    seen: set[str] = set()
    named: set[str] = set()
    for at, unit in enumerate(units):
        unit_id, path = str(unit.get("id")), f"{at}.beds"
        if unit_id in seen:
            yield RuleFault(file=UNITS, path=f"{at}.id", why=f"{unit_id} stands twice")
        seen.add(unit_id)
        name = folded(str(unit.get("name")))
        if not name or name in named:
            why = "another unit is called so" if name else "a name has a letter or a digit"
            yield RuleFault(file=UNITS, path=f"{at}.name", why=why)
        named.add(name)
        given = unit.get("beds", [])
        beds = [each for each in given if isinstance(each, str)] if isinstance(given, list) else []
        if len({plain(bed) for bed in beds}) < len(beds):
            yield RuleFault(file=UNITS, path=path, why=f"{unit_id}: two of its beds read alike")
        if any(not plain(bed) or len(bed) > LONGEST_BED for bed in beds):
            why = f"{unit_id}: a bed is a number or a name of at most {LONGEST_BED} letters"
            yield RuleFault(file=UNITS, path=path, why=why)
