# ruff: noqa: ANN401  # a builder takes any field of what it builds
"""Rows of what stands about people beside their accounts; each test names only what it is about."""

from typing import Any

from app.records.kept_people import (
    Acceptance,
    KeptCompetency,
    RefusedSignings,
    RefusedSigningsTold,
    Training,
    TrainingWithdrawal,
)
from app.storage import Transaction
from tests.storage.builders import NOW, later, session


def training(**given: Any) -> Training:
    usual: dict[str, Any] = {
        "id": "training-1",
        "person": "amari",
        "topic": "the tool",
        "trained_on": "2026-02-27",
        "recorded_by": "birk",
        "recorded_at": NOW,
    }
    return Training(**usual | given)


def withdrawal(**given: Any) -> TrainingWithdrawal:
    usual: dict[str, Any] = {
        "training": "training-1",
        "withdrawn_by": "birk",
        "withdrawn_at": later(1),
        "why": "another person",
    }
    return TrainingWithdrawal(**usual | given)


def acceptance(**given: Any) -> Acceptance:
    """In the session that `fill` begins."""
    begun = session()
    usual: dict[str, Any] = {
        "person": begun.person,
        "digest": "digest of a statement",
        "version": "1",
        "accepted_at": later(1),
        "session": begun.digest,
        "device": begun.device,
        "signed_in_at": begun.signed_in_at,
    }
    return Acceptance(**usual | given)


def refused_signings(**given: Any) -> RefusedSignings:
    usual: dict[str, Any] = {
        "id": "refused-1",
        "person": "amari",
        "count": 5,
        "since": NOW,
        "at": later(5),
    }
    return RefusedSignings(**usual | given)


def refused_told(**given: Any) -> RefusedSigningsTold:
    usual: dict[str, Any] = {"refused": "refused-1", "person": "birk", "told_at": later(6)}
    return RefusedSigningsTold(**usual | given)


def competency_file(**given: Any) -> KeptCompetency:
    usual: dict[str, Any] = {
        "record": "competency-amari",
        "edition": 1,
        "digest": "digest of a PDF",
        "issued_at": later(7),
        "content": b"%PDF-1.7 of training",
    }
    return KeptCompetency(**usual | given)


def add_people(tx: Transaction) -> None:
    """A training withdrawn, one that counts, a statement, refused signings told, a file of training."""
    tx.add_training(training())
    tx.add_training(training(id="training-2"))
    tx.withdraw_training(withdrawal())
    tx.add_acceptance(acceptance())
    tx.add_refused_signings(refused_signings())
    tx.add_refused_signings_told(refused_told())
    tx.add_competency_file(competency_file())
