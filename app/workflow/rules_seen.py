"""What stands of the site's documents, what waits, and what a proposal would change."""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from app.people import Person, may
from app.records.canonical import canonical
from app.records.kept import SiteData
from app.records.kept_rules import APPROVED, RuleDecision, RuleProposal
from app.records.rules import INVENTED, POLICY
from app.site.approving import approves
from app.site.installation import Site
from app.site.loading import rules_in_force, unit_name
from app.storage import Reader
from app.words.rules import DOCUMENTS, RuleChange, RuleRow, rule_changes, rule_rows
from app.workflow.proposing import (
    ComparedWithAnother,
    NothingNew,
    approved_for_later,
    digest_of,
    faults_beside,
    follows,
    is_overtaken,
    since_when,
    why_not_now,
)
from app.workflow.rule_files import RulesWrong


@dataclass(frozen=True, kw_only=True)
class ProposalSeen:
    """A proposal, and by name who proposed it and who decided; `decision` is None while it waits."""

    proposal: RuleProposal
    proposed_by: str
    decision: RuleDecision | None
    decided_by: str


@dataclass(frozen=True, kw_only=True)
class VersionSeen:
    """A version, and how it came about; the first of an installation was proposed by nobody.

    `never` says that one approved after it takes its place before its time comes.
    """

    data: SiteData
    came_by: ProposalSeen | None
    never: bool

    @property
    def version(self) -> str:
        """What the site calls it."""
        return self.data.version

    @property
    def content(self) -> Mapping[str, Any]:
        """As it was published, the sources too."""
        content: Mapping[str, Any] = json.loads(self.data.content)
        return content

    @property
    def is_invented(self) -> bool:
        """Whether it says so of itself."""
        return INVENTED in self.content


@dataclass(frozen=True, kw_only=True)
class DocumentSeen:
    """One document: what is in force, what was before and comes later, and what was proposed of it."""

    what: str
    in_force: VersionSeen | None
    later: tuple[VersionSeen, ...]
    earlier: tuple[VersionSeen, ...]
    waiting: tuple[ProposalSeen, ...]
    decided: tuple[ProposalSeen, ...]


@dataclass(frozen=True, kw_only=True)
class Compared:
    """What a document would change of the one that it would follow, and from when; or why it cannot come."""

    since: datetime
    follows: str
    against: str
    changes: tuple[RuleChange, ...]
    takes_place_of: tuple[str, ...]
    why_not: ComparedWithAnother | RulesWrong | NothingNew | None


def see_documents(site: Site, now: datetime) -> tuple[DocumentSeen, ...]:
    """Every document."""
    with site.store.read() as reader:
        return tuple(_document(reader, what, now) for what in DOCUMENTS)


def waiting_for(site: Site, person: Person) -> int:
    """How many proposals wait for this person; nothing is looked up for whoever decides on none."""
    if not any(may(person.roles, approves(what)) for what in DOCUMENTS):
        return 0
    with site.store.read() as reader:
        return sum(
            each.proposed_by != person.id and may(person.roles, approves(each.what))
            for each in reader.waiting_proposals()
        )


def see_document(site: Site, now: datetime, what: str) -> DocumentSeen:
    """One of them."""
    with site.store.read() as reader:
        return _document(reader, what, now)


def rows_in_force(site: Site, now: datetime, what: str) -> tuple[RuleRow, ...]:
    """Every value of a document in force, with where it comes from."""
    with site.store.read() as reader:
        standing = follows(reader, what, now)
        return rule_rows({what: json.loads(standing.content)}, _units(reader)) if standing else ()


def units_otherwise(site: Site, now: datetime) -> dict[str, tuple[RuleRow, ...]]:
    """What each unit has otherwise than the site by the policy in force."""
    with site.store.read() as reader:
        standing = follows(reader, POLICY, now)
        policy = json.loads(standing.content) if standing else {}
        of_units: Mapping[str, Any] = policy.get("units", {})
        # By its own name alone, so that each row is the one unit's.
        return {
            unit: tuple(
                row
                for row in rule_rows({POLICY: {"engine": {}, "units": {unit: own}}}, {})
                if row.head != "Policy"
            )
            for unit, own in of_units.items()
        }


def find_version(site: Site, what: str, version: str) -> SiteData | None:
    """One version, in force or not."""
    with site.store.read() as reader:
        return reader.site_data_version(what, version)


def see_proposal(site: Site, now: datetime, proposal_id: str) -> tuple[ProposalSeen, Compared] | None:
    """A proposal beside what it would follow if it were approved now."""
    with site.store.read() as reader:
        proposal = reader.find_proposal(proposal_id)
        if proposal is None:
            return None
        decision = reader.find_decision(proposal_id)
        seen = _seen(reader, proposal, decision)
        at = decision.decided_at if decision else now
        why_not = None if decision else why_not_now(reader, proposal, now)
        since = since_when(proposal, at)
        before = _before(reader, proposal, decision, since)
        content = json.loads(proposal.content)
        return seen, _compared(reader, proposal.what, content, since, before=before, why_not=why_not)


def compare_document(
    site: Site, now: datetime, what: str, content: Mapping[str, Any], *, since: datetime | None
) -> Compared:
    """A document that somebody may propose beside what it would follow."""
    with site.store.read() as reader:
        at = since or now
        before = follows(reader, what, at)
        faults = faults_beside(reader, {what: content}, at)
        nothing_new = before is not None and not faults and before.content == canonical(content)
        found = RulesWrong(faults=faults) if faults else None
        why_not = NothingNew() if nothing_new else found
        return _compared(reader, what, content, at, before=before, why_not=why_not)


def _compared(  # what with what, and why not
    reader: Reader,
    what: str,
    content: Mapping[str, Any],
    since: datetime,
    *,
    before: SiteData | None,
    why_not: ComparedWithAnother | RulesWrong | NothingNew | None,
) -> Compared:
    units = _units(reader)
    old = rule_rows({what: json.loads(before.content)}, units) if before else ()
    # What has not even the shape of such a document has no values to compare.
    is_wrong = isinstance(why_not, RulesWrong)
    return Compared(
        since=since,
        follows=before.version if before else "",
        against=digest_of(before),
        changes=() if is_wrong else rule_changes(old, rule_rows({what: content}, units)),
        takes_place_of=approved_for_later(reader, what, since),
        why_not=why_not,
    )


def _before(
    reader: Reader, proposal: RuleProposal, decision: RuleDecision | None, since: datetime
) -> SiteData | None:
    """What it would follow; of one that was decided, what it was compared with."""
    if decision is None:
        return follows(reader, proposal.what, since)
    versions = reader.versions(proposal.what)
    return next((each for each in versions if each.digest == proposal.against), None)


def _document(reader: Reader, what: str, now: datetime) -> DocumentSeen:
    decisions = reader.decisions(what)
    proposals = [_seen(reader, each, decisions.get(each.id)) for each in reader.proposals(what)]
    approved = {
        each.proposal.version: each
        for each in proposals
        if each.decision is not None and each.decision.outcome == APPROVED
    }
    standing = rules_in_force(reader, now).published.get(what)
    versions = reader.versions(what)
    seen = [
        VersionSeen(
            data=each,
            came_by=approved.get(each.version),
            never=is_overtaken(each, versions),
        )
        for each in versions
    ]
    return DocumentSeen(
        what=what,
        in_force=next((each for each in seen if each.data == standing), None),
        later=tuple(each for each in seen if each.data.in_force_from > now),
        earlier=tuple(each for each in seen if each.data != standing and each.data.in_force_from <= now),
        waiting=tuple(each for each in proposals if each.decision is None),
        decided=tuple(each for each in proposals if each.decision is not None),
    )


def _seen(reader: Reader, proposal: RuleProposal, decision: RuleDecision | None) -> ProposalSeen:
    people = reader.people_with({proposal.proposed_by, *([decision.decided_by] if decision else ())})
    return ProposalSeen(
        proposal=proposal,
        proposed_by=people[proposal.proposed_by].printed_name,
        decision=decision,
        decided_by=people[decision.decided_by].printed_name if decision else "",
    )


def _units(reader: Reader) -> dict[str, str]:
    return {each.id: unit_name(reader, each.id) for each in reader.units()}
