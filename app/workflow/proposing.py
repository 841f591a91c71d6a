"""Propose a version of one of the site's documents, and decide on it: one proposes, another decides.

What is checked when it is proposed is checked again when it is approved: what is in force, or will be by
then, may have changed in between.
"""

import json
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from app.base import Act
from app.people import Permission, Role, may
from app.records import site_events
from app.records.canonical import canonical, digest
from app.records.kept import SiteData
from app.records.kept_rules import APPROVED, REFUSED, WITHDRAWN, RuleDecision, RuleProposal
from app.records.rules import INVENTED
from app.site.approving import approves
from app.site.installation import Site
from app.storage import Reader, Transaction
from app.workflow.queueing import one_at_a_time
from app.workflow.refusals import Incomplete, NotAllowed
from app.workflow.rule_faults import faults_of
from app.workflow.rule_files import FILES, RuleFault, RuleFiles, RulesWrong


@dataclass(frozen=True, kw_only=True)
class Draft:
    """What somebody wants to propose: a whole document, why, from when, and compared with which digest.

    `in_force_from` is None where it is to count from its approval on.
    """

    what: str
    content: Mapping[str, Any]
    why: str
    in_force_from: datetime | None
    against: str


@dataclass(frozen=True, kw_only=True)
class Proposed:
    """It waits for another person."""

    proposal: str


@dataclass(frozen=True, kw_only=True)
class Approved:
    """The version is in force from a moment on, for every check that is opened from then on."""

    version: str
    in_force_from: datetime


@dataclass(frozen=True)
class Refused:
    """Another person refused it; nothing is changed."""


@dataclass(frozen=True)
class Withdrawn:
    """Whoever proposed it took it back."""


@dataclass(frozen=True)
class FromThePast:
    """Nothing comes into force before now."""


@dataclass(frozen=True, kw_only=True)
class ComparedWithAnother:
    """It was compared with another version than the one that it would follow: to be compared anew."""

    version: str


@dataclass(frozen=True, kw_only=True)
class TakesPlaceOf:
    """Versions approved for later would never come into force, and nobody was told of them."""

    versions: tuple[str, ...]


@dataclass(frozen=True)
class NothingNew:
    """It is, word for word, what it would follow."""


@dataclass(frozen=True)
class NoSuchProposal:
    """There is no such proposal."""


@dataclass(frozen=True, kw_only=True)
class AlreadyDecided:
    """Somebody was faster."""

    outcome: str


@dataclass(frozen=True)
class OnePerson:
    """Whoever proposed rules does not decide on them."""


@dataclass(frozen=True)
class NotTheProposer:
    """Only whoever proposed it takes it back; anybody else refuses it, with a reason."""


NotProposed = NotAllowed | Incomplete | FromThePast | ComparedWithAnother | NothingNew | RulesWrong
NotDecided = NoSuchProposal | AlreadyDecided | OnePerson | NotAllowed
NotThisOne = ComparedWithAnother | RulesWrong | TakesPlaceOf
_RULES = "publishing rules"


def follows(reader: Reader, what: str, at: datetime) -> SiteData | None:
    """What of a document would be in force at a moment if nothing were approved: what a proposal follows."""
    return reader.published(at=at).get(what)


def digest_of(standing: SiteData | None) -> str:
    """Its digest; empty where there is none."""
    return standing.digest if standing else ""


def propose_rules(site: Site, act: Act, roles: frozenset[Role], draft: Draft) -> Proposed | NotProposed:
    """Keep what somebody proposes, if it could come into force as it is."""
    if not may(roles, Permission.PROPOSE_RULES):
        return NotAllowed()
    if not draft.why.strip():
        return Incomplete(fields=("why",))
    if draft.in_force_from is not None and draft.in_force_from <= act.now:
        return FromThePast()
    with site.store.write() as tx:
        hold_rules(tx, act.now)
        since = draft.in_force_from or _now_or_later(tx, draft.what, act.now)
        before = follows(tx, draft.what, since)
        faults = faults_beside(tx, {draft.what: draft.content}, since)
        if faults:
            return tx.refuse(RulesWrong(faults=faults))
        if before is not None and before.content == canonical(draft.content):
            return tx.refuse(NothingNew())
        if digest_of(before) != draft.against:
            return tx.refuse(ComparedWithAnother(version=before.version if before else ""))
        return Proposed(proposal=keep_proposal(tx, act, roles, draft).id)


def approve_proposal(
    site: Site, act: Act, roles: frozenset[Role], proposal_id: str, *, over: Collection[str] = ()
) -> Approved | NotDecided | NotThisOne:
    """Bring it into force, if it still follows what it was compared with.

    `over` are the versions of which whoever approves was told that they then never come into force.
    """
    with site.store.write() as tx:
        hold_rules(tx, act.now)
        proposal = _of_another(tx, act, roles, proposal_id)
        if not isinstance(proposal, RuleProposal):
            return tx.refuse(proposal)
        now = _now_or_later(tx, proposal.what, act.now)
        refusal = why_not_now(tx, proposal, now)
        if refusal is not None:
            return tx.refuse(refusal)
        untold = set(approved_for_later(tx, proposal.what, since_when(proposal, now))).difference(over)
        if untold:
            return tx.refuse(TakesPlaceOf(versions=tuple(sorted(untold))))
        return keep_approval(tx, act, roles, proposal)


def refuse_proposal(
    site: Site, act: Act, roles: frozenset[Role], proposal_id: str, *, why: str
) -> Refused | NotDecided | Incomplete:
    """Say no to it, with a reason that its proposer reads."""
    if not why.strip():
        return Incomplete(fields=("no",))
    with site.store.write() as tx:
        hold_rules(tx, act.now)
        proposal = _of_another(tx, act, roles, proposal_id)
        if not isinstance(proposal, RuleProposal):
            return tx.refuse(proposal)
        by, why = proposal.proposed_by, why.strip()
        _decide(tx, act, proposal, REFUSED, why=why)
        tx.append(site_events.ProposalRefused(proposal=proposal.id, proposed_by=by, why=why), act=act)
    return Refused()


def withdraw_proposal(
    site: Site, act: Act, proposal_id: str
) -> Withdrawn | NoSuchProposal | AlreadyDecided | NotTheProposer:
    """Take one's own proposal back."""
    with site.store.write() as tx:
        hold_rules(tx, act.now)
        proposal = _undecided(tx, proposal_id)
        if not isinstance(proposal, RuleProposal):
            return tx.refuse(proposal)
        if proposal.proposed_by != act.by.person:
            return tx.refuse(NotTheProposer())
        _decide(tx, act, proposal, WITHDRAWN)
        event = site_events.ProposalWithdrawn(proposal=proposal.id, proposed_by=proposal.proposed_by)
        tx.append(event, act=act)
    return Withdrawn()


def why_not_now(
    reader: Reader, proposal: RuleProposal, now: datetime
) -> ComparedWithAnother | RulesWrong | None:
    """Why a proposal could not come into force any more as it was proposed; None where it can."""
    since = since_when(proposal, now)
    before = follows(reader, proposal.what, since)
    if digest_of(before) != proposal.against:
        return ComparedWithAnother(version=before.version if before else "")
    faults = faults_beside(reader, {proposal.what: json.loads(proposal.content)}, since)
    return RulesWrong(faults=faults) if faults else None


def since_when(proposal: RuleProposal, now: datetime) -> datetime:
    """From when on it counts if it is approved now."""
    return max(proposal.in_force_from or now, now)


def approved_for_later(reader: Reader, what: str, since: datetime) -> tuple[str, ...]:
    """Versions that would never come into force if one approved now counts from this moment on."""
    versions = reader.versions(what)
    return tuple(
        each.version
        for each in reversed(versions)
        if each.in_force_from > since and not is_overtaken(each, versions)
    )


def is_overtaken(version: SiteData, versions: Iterable[SiteData]) -> bool:
    """Whether one that was approved after it takes its place before its time comes."""
    return any(
        other.number > version.number and other.in_force_from <= version.in_force_from for other in versions
    )


def _now_or_later(reader: Reader, what: str, now: datetime) -> datetime:
    """Now, or the last approval of the document: whoever waited for it began before, and comes after it."""
    approved = (each.decided_at for each in reader.decisions(what).values() if each.outcome == APPROVED)
    return max((now, *approved))


def _undecided(reader: Reader, proposal_id: str) -> RuleProposal | NoSuchProposal | AlreadyDecided:
    proposal = reader.find_proposal(proposal_id)
    if proposal is None:
        return NoSuchProposal()
    decision = reader.find_decision(proposal_id)
    return AlreadyDecided(outcome=decision.outcome) if decision else proposal


def _of_another(
    reader: Reader, act: Act, roles: frozenset[Role], proposal_id: str
) -> RuleProposal | NotDecided:
    proposal = _undecided(reader, proposal_id)
    if not isinstance(proposal, RuleProposal):
        return proposal
    if proposal.proposed_by == act.by.person:
        return OnePerson()
    return proposal if may(roles, approves(proposal.what)) else NotAllowed()


# What the command line does in one sitting.


def hold_rules(tx: Transaction, now: datetime) -> None:
    """Whoever proposes and whoever decides follow each other: each sees what the one before left."""
    one_at_a_time(tx, _RULES, now)


def faults_beside(
    reader: Reader, proposed: Mapping[str, Mapping[str, Any]], since: datetime
) -> tuple[RuleFault, ...]:
    """What is wrong with documents beside what stands when they come into force, and at each change after."""
    units = frozenset(each.id for each in reader.units())
    later = {
        each.in_force_from
        for what in FILES
        if what not in proposed
        for each in reader.versions(what)
        if each.in_force_from > since
    }
    for moment in sorted({since, *later}):
        standing = {what: json.loads(each.content) for what, each in reader.published(at=moment).items()}
        faults = faults_of(RuleFiles(published={**standing, **proposed}), units)
        if faults:
            return faults
    return tuple(
        fault for what, content in proposed.items() for fault in _beside(reader, since, what, content)
    )


def _beside(reader: Reader, since: datetime, what: str, content: Mapping[str, Any]) -> tuple[RuleFault, ...]:
    """What stands already keeps its content, and invented rules never take the place of a site's own."""
    standing = reader.site_data_version(what, content["version"])
    if standing is not None and standing.content != canonical(content):
        why = f"{content['version']} stands already with another content: name another version"
        return (RuleFault(file=FILES[what], path="version", why=why),)
    before = follows(reader, what, since)
    if before is None:
        return ()
    old = json.loads(before.content)
    if INVENTED in content and INVENTED not in old:
        why = "invented rules never take the place of a site's own"
        return (RuleFault(file=FILES[what], path=INVENTED, why=why),)
    return ()


def keep_proposal(tx: Transaction, act: Act, roles: frozenset[Role], draft: Draft) -> RuleProposal:
    """Keep what was found to be right."""
    written = canonical(draft.content)
    kept = RuleProposal(
        id=act.new_id(),
        what=draft.what,
        version=draft.content["version"],
        content=written,
        digest=digest(written),
        against=draft.against,
        why=draft.why.strip(),
        in_force_from=draft.in_force_from,
        proposed_by=act.by.person,
        proposed_at=act.now,
    )
    tx.add_proposal(kept)
    event = site_events.RulesProposed(
        proposal=kept.id,
        what=kept.what,
        version=kept.version,
        digest=kept.digest,
        against=kept.against,
        why=kept.why,
        in_force_from=kept.in_force_from.isoformat() if kept.in_force_from else "",
        roles=tuple(sorted(roles)),
    )
    tx.append(event, act=act)
    return kept


def keep_approval(tx: Transaction, act: Act, roles: frozenset[Role], proposal: RuleProposal) -> Approved:
    """Approved, and in force from its time on, or from now on where that is past."""
    _decide(tx, act, proposal, APPROVED)
    event = site_events.ProposalApproved(
        proposal=proposal.id, proposed_by=proposal.proposed_by, roles=tuple(sorted(roles))
    )
    tx.append(event, act=act)
    since = since_when(proposal, _now_or_later(tx, proposal.what, act.now))
    keep_version(tx, act.now, proposal.what, proposal.content, since=since, by=act.by.person)
    return Approved(version=proposal.version, in_force_from=since)


def keep_version(  # what, since when, and by whom
    tx: Transaction, now: datetime, what: str, content: bytes, *, since: datetime, by: str = ""
) -> None:
    """One more version of a document; of those whose time has come the last one counts."""
    made = SiteData(
        what=what,
        version=json.loads(content)["version"],
        content=content,
        digest=digest(content),
        in_force_from=since,
        number=1 + len(tx.versions(what)),
    )
    tx.publish(made)
    event = site_events.SiteDataPublished(
        what=what,
        version=made.version,
        digest=made.digest,
        number=made.number,
        in_force_from=since.isoformat(),
    )
    tx.append(event, at=now, by=by)


def _decide(tx: Transaction, act: Act, proposal: RuleProposal, outcome: str, *, why: str = "") -> None:
    tx.add_decision(
        RuleDecision(
            proposal=proposal.id,
            outcome=outcome,
            proposed_by=proposal.proposed_by,
            decided_by=act.by.person,
            decided_at=act.now,
            why=why,
        )
    )
