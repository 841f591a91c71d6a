"""Publish rules at the host: the first of an empty installation, and new versions by two people."""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime

from app.base import Act, Actor, Method
from app.keys import new_id
from app.people import Permission, Person, may
from app.records import events
from app.records.canonical import canonical
from app.records.kept import Unit
from app.records.kept_rules import RuleProposal
from app.records.rules import LIBRARY
from app.records.ward_events import BedAdded
from app.site.approving import approves
from app.site.installation import Site, founded
from app.storage import Reader
from app.workflow.credentials import AT_THE_HOST, Known, Signatory, verify_credential
from app.workflow.proposing import (
    Approved,
    Draft,
    FromThePast,
    NotDecided,
    NotThisOne,
    OnePerson,
    TakesPlaceOf,
    approve_proposal,
    approved_for_later,
    digest_of,
    faults_beside,
    follows,
    hold_rules,
    keep_approval,
    keep_proposal,
    keep_version,
)
from app.workflow.refusals import TooManyTries, WrongCredential
from app.workflow.rule_faults import faults_of, unit_ids
from app.workflow.rule_files import UNITS, RuleFault, RuleFiles, RulesWrong


@dataclass(frozen=True, kw_only=True)
class InForce:
    """What came into force, by kind and version; empty where all of it stood already."""

    versions: Mapping[str, str]


@dataclass(frozen=True)
class NotEmpty:
    """The installation has been filled already; nothing of it was changed."""


NotKnown = WrongCredential | TooManyTries


@dataclass(frozen=True, kw_only=True)
class NotTheirs:
    """Whoever it is may not do that with rules; `login` as it was typed."""

    login: str
    may: str


NotProposedHere = RulesWrong | NotTheirs | FromThePast | NotKnown
Unpublished = NotProposedHere | OnePerson | TakesPlaceOf


def install_rules(
    site: Site, now: datetime, files: RuleFiles, *, installation: str, training: bool = False
) -> InForce | RulesWrong | NotEmpty:
    """Found an installation, for training or not, and fill it with units and rules, all or nothing."""
    if files.units is None:
        return RulesWrong(faults=(RuleFault(file=UNITS, path="", why="there is no such file"),))
    faults = faults_of(files, unit_ids(files))
    if faults:
        return RulesWrong(faults=faults)
    with site.store.write() as tx:
        if tx.head():
            return NotEmpty()
        tx.append(founded(site.key, installation, training=training), at=now)
        for unit in files.units:
            tx.add_unit(Unit(id=unit["id"], name=unit["name"]))
            tx.append(events.UnitNamed(unit=unit["id"], name=unit["name"]), at=now)
            for bed in unit["beds"]:
                tx.append(BedAdded(unit=unit["id"], bed=bed), at=now)
        for what, content in files.published.items():
            keep_version(tx, now, what, canonical(content), since=now)
    return InForce(versions={what: content["version"] for what, content in files.published.items()})


@dataclass(frozen=True, kw_only=True)
class Sitting:
    """Two people at the host: one proposes, the other approves; why, and from when if not from now on.

    `over` are the versions approved for later that they know never to come into force then.
    """

    proposed: Signatory
    approved: Signatory
    why: str
    in_force_from: datetime | None = None
    over: Collection[str] = ()


def rule_faults(
    site: Site, now: datetime, files: RuleFiles, *, since: datetime | None = None
) -> tuple[RuleFault, ...]:
    """Why these rules could not be published here: in themselves, and beside what stands."""
    with site.store.read() as reader:
        return faults_beside(reader, files.published, since or now)


def publish_rules(site: Site, now: datetime, files: RuleFiles, sitting: Sitting) -> InForce | Unpublished:
    """Propose and approve new versions in one sitting; each of the two answers with id and secret."""
    by = _known(site, now, sitting.proposed)
    if not isinstance(by, Person):
        return by
    second = _known(site, now, sitting.approved)
    if not isinstance(second, Person):
        return second
    if by.id == second.id:
        return OnePerson()
    if sitting.in_force_from is not None and sitting.in_force_from <= now:
        return FromThePast()
    since = sitting.in_force_from or now
    with site.store.write() as tx:
        hold_rules(tx, now)
        new = _new_of(tx, files)
        refusal = (
            _not_right(tx, files, since)
            or _not_theirs(sitting, by, second, new)
            or _untold(tx, new, since, sitting.over)
        )
        if refusal is not None:
            return tx.refuse(refusal)
        for what in new:
            draft = Draft(
                what=what,
                content=files.published[what],
                why=sitting.why,
                in_force_from=sitting.in_force_from,
                against=digest_of(follows(tx, what, since)),
            )
            proposal = keep_proposal(tx, _act_of(by, now), by.roles, draft)
            keep_approval(tx, _act_of(second, now), second.roles, proposal)
    return InForce(versions={what: files.published[what]["version"] for what in new})


def propose_here(  # what, who, why and from when
    site: Site, now: datetime, files: RuleFiles, who: Signatory, *, why: str, since: datetime | None
) -> tuple[RuleProposal, ...] | NotProposedHere:
    """Propose whatever of these files is new, all or nothing: each waits for another person."""
    by = _known(site, now, who)
    if not isinstance(by, Person):
        return by
    if not may(by.roles, Permission.PROPOSE_RULES):
        return NotTheirs(login=who.login, may="propose rules")
    if since is not None and since <= now:
        return FromThePast()
    with site.store.write() as tx:
        hold_rules(tx, now)
        refusal = _not_right(tx, files, since or now)
        if refusal is not None:
            return tx.refuse(refusal)
        drafts = (
            Draft(
                what=what,
                content=files.published[what],
                why=why,
                in_force_from=since,
                against=digest_of(follows(tx, what, since or now)),
            )
            for what in _new_of(tx, files)
        )
        return tuple(keep_proposal(tx, _act_of(by, now), by.roles, each) for each in drafts)


def approve_here(
    site: Site, now: datetime, proposal: str, who: Signatory, *, over: Collection[str]
) -> Approved | NotDecided | NotThisOne | NotKnown:
    """Approve what somebody else proposed, on the screens or here."""
    by = _known(site, now, who)
    if not isinstance(by, Person):
        return by
    return approve_proposal(site, _act_of(by, now), by.roles, proposal, over=over)


def _known(site: Site, now: datetime, who: Signatory) -> Person | NotKnown:
    known = verify_credential(
        site, now, login=who.login, secret=who.secret, what="publishing", where=AT_THE_HOST
    )
    return known.person if isinstance(known, Known) else known


def _not_right(reader: Reader, files: RuleFiles, since: datetime) -> RulesWrong | None:
    faults = faults_beside(reader, files.published, since)
    return RulesWrong(faults=faults) if faults else None


def _untold(
    reader: Reader, new: Iterable[str], since: datetime, over: Collection[str]
) -> TakesPlaceOf | None:
    later = {version for what in new for version in approved_for_later(reader, what, since)}
    untold = later.difference(over)
    return TakesPlaceOf(versions=tuple(sorted(untold))) if untold else None


def _not_theirs(sitting: Sitting, by: Person, second: Person, new: tuple[str, ...]) -> NotTheirs | None:
    if not may(by.roles, Permission.PROPOSE_RULES):
        return NotTheirs(login=sitting.proposed.login, may="propose rules")
    if not all(may(second.roles, approves(what)) for what in new):
        says = "a drug library: that takes two pharmacists" if LIBRARY in new else "rules"
        return NotTheirs(login=sitting.approved.login, may=f"approve {says}")
    return None


def _act_of(person: Person, now: datetime) -> Act:
    by = Actor(
        person=person.id, session="", device="", signed_in_at=now, unit=person.unit, method=Method.SECRET
    )
    return Act(now=now, by=by, new_id=new_id)


def _new_of(reader: Reader, files: RuleFiles) -> tuple[str, ...]:
    return tuple(
        what
        for what, content in files.published.items()
        if reader.site_data_version(what, content["version"]) is None
    )
