# ruff: noqa: ANN401  # a builder takes any field of what it builds
"""Flat rows for the tests of storage; each test names only what it is about."""

from typing import Any

from app.records.kept import SOURCES
from app.records.kept_reviews import Classification, FindingReview
from app.records.kept_rows import EndedRow, FindingReached, FindingRow, SettledRow
from tests.storage.builders import NOW, later


def finding(**given: Any) -> FindingRow:
    usual: dict[str, Any] = {
        "check": "check-1",
        "subject": SOURCES,
        "round": 1,
        "number": 1,
        "infusion": "infusion-1",
        "unit": "ward-5",
        "bed": "12",
        "kind": "set-up",
        "drug": "morphine",
        "compared_at": later(3),
        "severity": "stop",
        "code": "readings-differ",
        "field": "demand_dose",
        "about": "",
        "clinician": "B",
        "group": "",
        "origin": "reading",
        "slip": "decimal-point",
        "factor": "10",
        "repeated": False,
        "independence": "two-devices",
        "earlier_look": False,
        "pseudonym_a": "0123456789abcdef",
        "pseudonym_b": "fedcba9876543210",
    }
    return FindingRow(**usual | given)


def settled(**given: Any) -> SettledRow:
    usual: dict[str, Any] = {
        "check": "check-1",
        "subject": SOURCES,
        "round": 1,
        "number": 1,
        "unit": "ward-5",
        "compared_at": later(3),
        "settled": "read again",
        "settled_at": later(5),
        "settled_in_round": 2,
        "settled_by": "A",
        "settled_outcome": "",
        "seconds_to_settle": 120,
        "reason_a": "",
        "reason_b": "",
    }
    return SettledRow(**usual | given)


def reached(**given: Any) -> FindingReached:
    usual: dict[str, Any] = {
        "check": "check-1",
        "subject": SOURCES,
        "round": 1,
        "number": 1,
        "state": "given to",
        "person": "femi",
        "unit": "ward-5",
        "compared_at": later(3),
    }
    return FindingReached(**usual | given)


def reviewed(**given: Any) -> FindingReview:
    usual: dict[str, Any] = {
        "check": "check-1",
        "subject": SOURCES,
        "round": 1,
        "number": 1,
        "position": 1,
        "what": "assigned",
        "at": later(8),
        "person": "gita",
        "assigned_to": "femi",
        "text": "look at this",
    }
    return FindingReview(**usual | given)


def classified(**given: Any) -> Classification:
    usual: dict[str, Any] = {
        "check": "check-1",
        "subject": SOURCES,
        "round": 1,
        "number": 1,
        "place": 1,
        "at": later(9),
        "person": "gita",
        "category": "B",
        "readers": "A",
        "factors": "hurry tired",
        "text": "misread",
    }
    return Classification(**usual | given)


def ended(**given: Any) -> EndedRow:
    usual: dict[str, Any] = {
        "check": "check-1",
        "infusion": "infusion-1",
        "patient": "0011223344556677",
        "kind": "set-up",
        "unit": "ward-5",
        "bed": "12",
        "drug": "morphine",
        "device": "SN0042",
        "opened_at": NOW,
        "joined_at": NOW,
        "compared_at": later(3),
        "cleared_at": later(6),
        "started_at": later(7),
        "ended_at": later(7),
        "how": "started",
        "reason": "",
        "was_lapsed": False,
        "rounds": 2,
        "rounds_voided": 0,
        "rereadings": 1,
        "stops": 1,
        "cautions": 0,
        "notes": 0,
        "exceptions": 0,
        "escalated": 0,
        "independence": "two-devices",
        "earlier_look": False,
        "account": "",
        "account_left": "",
        "account_difference": "",
        "edition": 1,
        "format": "record-2",
        "invented": True,
        "engine": "0.1.0",
        "policy": "1",
        "library": "1",
        "pseudonym_a": "0123456789abcdef",
        "pseudonym_b": "fedcba9876543210",
    }
    return EndedRow(**usual | given)
