"""Publish rules: the first of an empty installation from a folder, and new versions by two people."""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from app.people import Permission, Person, may
from app.records import events, site_events
from app.records.canonical import canonical, digest
from app.records.kept import SiteData, Unit
from app.records.rules import INVENTED, LIBRARY
from app.records.ward_events import BedAdded
from app.site.installation import Site, founded
from app.site.loading import rules_in_force
from app.storage import Reader, Transaction
from app.workflow.credentials import AT_THE_HOST, Known, Signatory, verify_credential
from app.workflow.refusals import TooManyTries, WrongCredential
from app.workflow.rule_faults import faults_of, unit_ids
from app.workflow.rule_files import FILES, UNITS, RuleFault, RuleFiles, RulesWrong


@dataclass(frozen=True, kw_only=True)
class InForce:
    """What came into force, by kind and version; empty where all of it stood already."""

    versions: Mapping[str, str]


@dataclass(frozen=True)
class NotEmpty:
    """The installation has been filled already; nothing of it was changed."""


@dataclass(frozen=True, kw_only=True)
class NotTheirs:
    """Whoever it is may not do that with rules; `login` as it was typed."""

    login: str
    may: str


@dataclass(frozen=True)
class OnePerson:
    """Whoever proposed rules does not approve them."""


Unpublished = RulesWrong | NotTheirs | OnePerson | WrongCredential | TooManyTries


def install_rules(
    site: Site, now: datetime, files: RuleFiles, *, installation: str
) -> InForce | RulesWrong | NotEmpty:
    """Found an installation, and fill it with units and rules, all or nothing."""
    if files.units is None:
        return RulesWrong(faults=(RuleFault(file=UNITS, path="", why="there is no such file"),))
    faults = faults_of(files, unit_ids(files))
    if faults:
        return RulesWrong(faults=faults)
    with site.store.write() as tx:
        if tx.head():
            return NotEmpty()
        tx.append(founded(site.key, installation), at=now)
        for unit in files.units:
            tx.add_unit(Unit(id=unit["id"], name=unit["name"]))
            tx.append(events.UnitNamed(unit=unit["id"], name=unit["name"]), at=now)
            for bed in unit["beds"]:
                tx.append(BedAdded(unit=unit["id"], bed=bed), at=now)
        for what, content in files.published.items():
            _publish(tx, now, what, content)
    return InForce(versions={what: content["version"] for what, content in files.published.items()})


def rule_faults(site: Site, now: datetime, files: RuleFiles) -> tuple[RuleFault, ...]:
    """Why these rules could not be published here: in themselves, and beside what stands."""
    with site.store.read() as reader:
        return _faults(reader, now, files)


def publish_rules(
    site: Site, now: datetime, files: RuleFiles, *, proposed: Signatory, approved: Signatory
) -> InForce | Unpublished:
    """Bring new versions into force from now on; two people answer for them, each with id and secret."""
    people: list[Person] = []
    for each in (proposed, approved):
        known = verify_credential(
            site, now, login=each.login, secret=each.secret, what="publishing", where=AT_THE_HOST
        )
        if not isinstance(known, Known):
            return known
        people.append(known.person)
    by, second = people
    if by.id == second.id:
        return OnePerson()
    with site.store.write() as tx:
        faults = _faults(tx, now, files)
        if faults:
            return RulesWrong(faults=faults)
        new = _new_of(tx, files)
        if not may(by.roles, Permission.PROPOSE_RULES):
            return NotTheirs(login=proposed.login, may="propose rules")
        if not may(second.roles, Permission.PROPOSE_RULES if LIBRARY in new else Permission.APPROVE_RULES):
            what = "a drug library: that takes two pharmacists" if LIBRARY in new else "rules"
            return NotTheirs(login=approved.login, may=f"approve {what}")
        for what in new:
            _publish(tx, now, what, files.published[what], by=by.id, approved_by=second.id)
    return InForce(versions={what: files.published[what]["version"] for what in new})


def _faults(reader: Reader, now: datetime, files: RuleFiles) -> tuple[RuleFault, ...]:
    units = frozenset(each.id for each in reader.units())
    return faults_of(files, units) or tuple(
        fault for what, content in files.published.items() for fault in _beside(reader, now, what, content)
    )


def _beside(reader: Reader, now: datetime, what: str, content: Mapping[str, Any]) -> tuple[RuleFault, ...]:
    """What stands already keeps its content, and invented rules never take the place of a site's own."""
    standing = reader.site_data_version(what, content["version"])
    if standing is not None and json.loads(standing.content) != content:
        why = f"{content['version']} stands already with another content: name another version"
        return (RuleFault(file=FILES[what], path="version", why=why),)
    in_force = rules_in_force(reader, now)
    if INVENTED in content and what in in_force.published and INVENTED not in in_force.content(what):
        why = "invented rules never take the place of a site's own"
        return (RuleFault(file=FILES[what], path=INVENTED, why=why),)
    return ()


def _new_of(reader: Reader, files: RuleFiles) -> tuple[str, ...]:
    return tuple(
        what
        for what, content in files.published.items()
        if reader.site_data_version(what, content["version"]) is None
    )


def _publish(  # who published and who approved are told apart
    tx: Transaction,
    now: datetime,
    what: str,
    content: Mapping[str, Any],
    *,
    by: str = "",
    approved_by: str = "",
) -> None:
    written = canonical(content)
    its = digest(written)
    version = content["version"]
    tx.publish(SiteData(what=what, version=version, content=written, digest=its, in_force_from=now))
    event = site_events.SiteDataPublished(what=what, version=version, digest=its, approved_by=approved_by)
    tx.append(event, at=now, by=by)
