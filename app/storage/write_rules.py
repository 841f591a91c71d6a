"""Adding what is proposed of the site's rules, what becomes of it, and what is in force."""

from app.records.kept import SiteData
from app.records.kept_rules import RuleDecision, RuleProposal
from app.storage import rule_tables, tables
from app.storage.writer import Writer


class RuleWriter(Writer):
    """Adds rows; each may raise ConstraintBroken with the name of the rule that refused it."""

    def publish(self, site_data: SiteData) -> None:
        """A version of the library, the policy, the safety steps or the packs."""
        self._add(tables.site_data, site_data)

    def add_proposal(self, proposal: RuleProposal) -> None:
        """Somebody proposed a version of a document."""
        self._add(rule_tables.rule_proposal, proposal)

    def add_decision(self, decision: RuleDecision) -> None:
        """It was approved, refused or withdrawn."""
        self._add(rule_tables.rule_decision, decision)
