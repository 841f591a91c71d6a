# ruff: noqa: ANN401  # a row holds values of every kind
"""Rows of what is proposed of a site's rules that the database must refuse."""

from typing import Any

from tests.storage import rule_builders as rules
from tests.storage.key_breaches import Breach, row_of


def _proposal(**given: Any) -> Breach:
    return Breach(table="rule_proposal", row=row_of(rules.proposal(**given), "rule_proposal"))


def _decision(**given: Any) -> Breach:
    made = rules.decision(**{"proposal": "proposal-2", **given})
    return Breach(table="rule_decision", row=row_of(made, "rule_decision"))


RULE_BREACHES: dict[str, Breach] = {
    "proposal_id_unique": _proposal(proposed_by="birk"),
    "proposal_by_known_person": _proposal(id="proposal-3", proposed_by="nobody"),
    "one_decision_a_proposal": _decision(proposal="proposal-1"),
    "decision_on_known_proposal": _decision(proposed_by="chidi"),
    "decision_by_known_person": _decision(decided_by="nobody"),
    "outcome_of_proposal": _decision(outcome="forgotten"),
    "nobody_decides_on_their_own_proposal": _decision(decided_by="amari"),
}
