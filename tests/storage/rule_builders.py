# ruff: noqa: ANN401  # a builder takes any field of what it builds
"""Rows of what is proposed of a site's rules; each test names only what it is about."""

from typing import Any

from app.records.kept_rules import RuleDecision, RuleProposal
from app.storage import Transaction
from tests.storage.builders import NOW, later


def proposal(**given: Any) -> RuleProposal:
    usual: dict[str, Any] = {
        "id": "proposal-1",
        "what": "packs",
        "version": "2",
        "content": b'{"packs":["invented"]}',
        "digest": "digest of version 2",
        "against": "digest of version 1",
        "why": "another set",
        "in_force_from": None,
        "proposed_by": "amari",
        "proposed_at": NOW,
    }
    return RuleProposal(**usual | given)


def decision(**given: Any) -> RuleDecision:
    usual: dict[str, Any] = {
        "proposal": "proposal-1",
        "outcome": "approved",
        "proposed_by": "amari",
        "decided_by": "birk",
        "decided_at": later(1),
        "why": "",
    }
    return RuleDecision(**usual | given)


def add_proposals(tx: Transaction) -> None:
    """One that was approved, and one that waits."""
    tx.add_proposal(proposal())
    tx.add_decision(decision())
    tx.add_proposal(proposal(id="proposal-2", version="3", in_force_from=later(60)))
