"""Publish the first rules of a site from a folder: policy, library, safety steps, packs and units."""

import json
from collections.abc import Collection, Iterator, Mapping
from datetime import datetime, timedelta
from itertools import product
from pathlib import Path
from typing import Any
from zoneinfo import available_timezones

from app.comparison import CaseError, read_case
from app.people import Permission, Role, may
from app.quantities import Dimension, Fault, parse_quantity
from app.records import events, site_events
from app.records.beds import LONGEST_BED, plain
from app.records.canonical import canonical, digest
from app.records.case import build_case
from app.records.field_table import TABLE
from app.records.kept import A, B, SiteData, Unit
from app.records.kinds import KINDS
from app.records.known import NOTHING_KNOWN
from app.records.policy import LEFT_OUT, PRINTED, UNIT_MAY_SET, SitePolicy, policy_from
from app.records.reading import WHOLE
from app.records.rules import FORMATS, LIBRARY, PACKS, POLICY, STEPS, without_sources
from app.records.shifts import is_time_of_day
from app.records.steps import plan_faults, plan_from
from app.records.ward_events import BedAdded
from app.site.beds import beds_in
from app.site.installation import Site
from app.storage import Transaction

FILES = {
    POLICY: "policy.json",
    LIBRARY: "library.json",
    STEPS: "safety_steps.json",
    PACKS: "packs.json",
}
UNITS = "units.json"


class RulesWrongError(Exception):
    """A file of rules cannot be published: which one, and why. Nothing of the folder is."""


def install_seed(site: Site, now: datetime, folder: Path) -> None:
    """Publish what is not published yet, all or nothing; run again it does no harm.

    Raises RulesWrongError for rules that a check could later not be judged by, and for a version that stands
    already with another content.
    """
    published = {what: _read(folder / name) for what, name in FILES.items()}
    units = _read(folder / UNITS)
    faults = (*faults_of(published, {unit["id"] for unit in units}), *_unit_faults(units))
    if faults:
        raise RulesWrongError("; ".join(faults))
    with site.store.write() as tx:
        for unit in units:
            if tx.find_unit(unit["id"]) is None:
                tx.add_unit(Unit(id=unit["id"], name=unit["name"]))
                tx.append(events.UnitNamed(unit=unit["id"], name=unit["name"]), at=now)
            _add_beds(tx, now, unit["id"], unit["beds"])
        for what, content in published.items():
            _publish(tx, now, what, content)


def _add_beds(tx: Transaction, now: datetime, unit: str, beds: list[str]) -> None:
    """Those that the unit never had: one that was retired since stays so."""
    stands = beds_in(tx, unit)
    for bed in beds:
        if stands.find(bed) is None and stands.find_retired(bed) is None:
            tx.append(BedAdded(unit=unit, bed=bed), at=now)


def _read(path: Path) -> Any:  # noqa: ANN401  # whatever the file holds
    try:
        return json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError) as error:
        raise RulesWrongError(f"{path.name}: {error}") from error


def _publish(tx: Transaction, now: datetime, what: str, content: dict[str, Any]) -> None:
    written = canonical(content)
    its = digest(written)
    standing = tx.site_data_version(what, content["version"])
    if standing is not None:
        # One that was published before it said its format is the same without it.
        if {**json.loads(standing.content), "format": ""} != {**content, "format": ""}:
            raise RulesWrongError(f"{what}: {content['version']} stands already with another content")
        return
    tx.publish(
        SiteData(what=what, version=content["version"], content=written, digest=its, in_force_from=now)
    )
    tx.append(site_events.SiteDataPublished(what=what, version=content["version"], digest=its), at=now)


def faults_of(given: Mapping[str, Any], units: Collection[str]) -> Iterator[str]:
    """Why these rules cannot be published, in plain words; a check would find out when it is too late."""
    published = {what: without_sources(content) for what, content in given.items()}
    unknown = tuple(_unknown_formats(published))
    if unknown:
        yield from unknown
        return
    try:
        policy = policy_from(published[POLICY])
        plans = [(plan_from(published[STEPS], name), kind) for kind in KINDS.values() for name in kind.plans]
        packs = [(each["prime_volume"], each["dead_volume"]) for each in published[PACKS]["packs"]]
        drugs = published[LIBRARY]["drugs"]
    except (KeyError, TypeError) as error:
        yield f"something is missing: {error}"
        return
    yield from _policy_faults(policy)
    yield from _faults_of_unit_policies(published[POLICY].get("units", {}), units)
    yield from (
        f"{STEPS}: {plan.name}: {fault}" for plan, kind in plans for fault in plan_faults(plan, kind.entries)
    )
    engines = [policy_from(published[POLICY], unit).engine for unit in ("", *units)]
    for engine, (prime, dead) in product(engines, packs):
        read = read_case(_empty_case({**engine, "prime_volume": prime, "dead_volume": dead}, drugs))
        if isinstance(read, CaseError):
            yield f"{read.path}: {read.message}"


def _unit_faults(units: list[Mapping[str, Any]]) -> Iterator[str]:
    """Each unit names its beds: a check is opened at one of them, however its name is written."""
    for unit in units:
        beds = unit.get("beds", [])
        if not beds:
            yield f"{UNITS}: {unit['id']}: name its beds"
        if len({plain(bed) for bed in beds}) < len(beds):
            yield f"{UNITS}: {unit['id']}: two of its beds read alike"
        if any(not plain(bed) or len(bed) > LONGEST_BED for bed in beds):
            yield f"{UNITS}: {unit['id']}: a bed is a number or a name of at most {LONGEST_BED} letters"


def _unknown_formats(published: Mapping[str, Any]) -> Iterator[str]:
    """What is published says its format: it is to be read in ten years."""
    for what, content in published.items():
        if not isinstance(content, Mapping) or content.get("format") != FORMATS[what].newest:
            yield f"{what}: format: write {FORMATS[what].newest}, the one that this program reads"


def _policy_faults(policy: SitePolicy) -> Iterator[str]:
    quantities = (
        ("lowest_respiratory_rate", policy.baseline.lowest_respiratory_rate, Dimension.FREQUENCY),
        ("lowest_spo2", policy.baseline.lowest_spo2, Dimension.PERCENT),
    )
    for name, text, dimension in quantities:
        read = parse_quantity(text, dimension, zero_allowed=True)
        if isinstance(read, Fault):
            yield f"{POLICY}: {name}: {read.says}"
    known = {key for key, _ in policy.baseline.levels}
    if not set(policy.baseline.may_start_at) <= known:
        yield f"{POLICY}: may_start_at names a level of sedation that the scale has not"
    if policy.name_on_record not in (PRINTED, LEFT_OUT):
        yield f"{POLICY}: patient_name_on_record: write {PRINTED} or {LEFT_OUT}"
    may_be_asked = [each.name for each in TABLE if each.by_policy]
    yield from (
        f"{POLICY}: also_read: {name} is none of {', '.join(may_be_asked)}"
        for name in policy.also_read
        if name not in may_be_asked
    )
    licensed = {role.value for role in Role if may({role}, Permission.WITNESS)}
    if not policy.witnesses or not set(policy.witnesses) <= licensed:
        yield f"{POLICY}: witnesses: name roles among {', '.join(sorted(licensed))}"
    yield from _time_faults(policy)


def _time_faults(policy: SitePolicy) -> Iterator[str]:
    if policy.zone not in available_timezones():
        yield f"{POLICY}: zone: {policy.zone} is no time zone"
    if policy.pause <= timedelta(0):
        yield f"{POLICY}: pause_minutes: name how long one nurse may pause a line"
    if not policy.shift_changes:
        yield f"{POLICY}: shift_changes: name one at least"
    for each in policy.shift_changes:
        if not is_time_of_day(each):
            yield f"{POLICY}: shift_changes: {each} is no time of day, such as 07:00"


def _faults_of_unit_policies(policies: Mapping[str, Any], units: Collection[str]) -> Iterator[str]:
    """What a unit has otherwise than its site is of a unit that there is, and of what it may have so."""
    for unit, policy in policies.items():
        if unit not in units:
            yield f"{POLICY}: units: there is no unit {unit}"
        yield from (
            f"{POLICY}: units: {unit}: {name} is the same on every unit"
            for name in policy
            if name not in UNIT_MAY_SET
        )


def _empty_case(engine: Mapping[str, Any], drugs: Mapping[str, Any]) -> dict[str, Any]:
    """A case in which nothing was read: only the rules in it can be wrong."""
    empty: dict[str, Any] = {"order": {}, "label": {}, "device": {}}
    entries = ({"clinician": A, **empty}, {"clinician": B, **empty})
    return build_case(entries=entries, policy=engine, library=drugs, known=NOTHING_KNOWN, reads=WHOLE)
