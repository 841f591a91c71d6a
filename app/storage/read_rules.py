"""Reading what the site has published, and what was proposed of it."""

from datetime import datetime

from sqlalchemy import Connection, bindparam, func, select

from app.records.kept import SiteData
from app.records.kept_rules import RuleDecision, RuleProposal
from app.storage import rule_tables, tables
from app.storage.rows import find_one, read_all, rows_by

_DATA = tables.site_data
_PROPOSAL, _DECISION = rule_tables.rule_proposal, rule_tables.rule_decision
_other = _DATA.alias("other")
# Of those whose time has come: what was approved later counts.
_LAST = select(func.max(_other.c.number)).where(
    _other.c.what == _DATA.c.what, _other.c.in_force_from <= bindparam("at")
)
_IN_FORCE = select(_DATA).where(_DATA.c.number == _LAST.scalar_subquery())
_FIND_VERSION = rows_by(_DATA, "what", "version")
_VERSIONS = rows_by(_DATA, "what").order_by(_DATA.c.number.desc())
_PROPOSALS = rows_by(_PROPOSAL, "what").order_by(_PROPOSAL.c.proposed_at.desc(), _PROPOSAL.c.id)
_WAITING = (
    select(_PROPOSAL)
    .where(~select(_DECISION.c.proposal).where(_DECISION.c.proposal == _PROPOSAL.c.id).exists())
    .order_by(_PROPOSAL.c.proposed_at, _PROPOSAL.c.id)
)
_FIND_PROPOSAL = rows_by(_PROPOSAL, "id")
_DECISIONS = (
    select(_DECISION)
    .join(_PROPOSAL, _PROPOSAL.c.id == _DECISION.c.proposal)
    .where(_PROPOSAL.c.what == bindparam("what"))
)
_FIND_DECISION = rows_by(_DECISION, "proposal")


class RuleReader:
    """The site's rules in their versions."""

    _connection: Connection

    def published(self, *, at: datetime) -> dict[str, SiteData]:
        """Of each kind of published data the version in force at a moment."""
        return {each.what: each for each in read_all(self._connection, SiteData, _IN_FORCE, at=at)}

    def site_data_version(self, what: str, version: str) -> SiteData | None:
        """One version, in force or not."""
        return find_one(self._connection, SiteData, _FIND_VERSION, what=what, version=version)

    def versions(self, what: str) -> tuple[SiteData, ...]:
        """Every version of a document, the last first."""
        return read_all(self._connection, SiteData, _VERSIONS, what=what)

    def proposals(self, what: str) -> tuple[RuleProposal, ...]:
        """Everything that was proposed of a document, the last first."""
        return read_all(self._connection, RuleProposal, _PROPOSALS, what=what)

    def waiting_proposals(self) -> tuple[RuleProposal, ...]:
        """What is proposed and nobody has decided, the oldest first."""
        return read_all(self._connection, RuleProposal, _WAITING)

    def find_proposal(self, proposal: str) -> RuleProposal | None:
        """The proposal with this id."""
        return find_one(self._connection, RuleProposal, _FIND_PROPOSAL, id=proposal)

    def decisions(self, what: str) -> dict[str, RuleDecision]:
        """What became of the proposals of a document, by proposal."""
        its = read_all(self._connection, RuleDecision, _DECISIONS, what=what)
        return {each.proposal: each for each in its}

    def find_decision(self, proposal: str) -> RuleDecision | None:
        """What became of a proposal; None while it waits."""
        return find_one(self._connection, RuleDecision, _FIND_DECISION, proposal=proposal)
