"""Which row the log tells of with each event."""

from dataclasses import fields
from datetime import UTC, datetime
from typing import Any

import pytest

from app.records import events, order_events, review_events, site_events, training_events
from app.records.event_kinds import KINDS
from app.records.kept import Entry
from app.records.told_rows import OF_A_CHECK, OF_THE_SITE, told_by

AT = datetime(2031, 5, 2, 12, 10, tzinfo=UTC)
SIGNED_IN = datetime(2031, 5, 2, 7, 0, tzinfo=UTC)

# What stands in a field of an event that tells of a row.
VALUES: dict[str, Any] = {
    "slot": 2,
    "round": 1,
    "edition": 1,
    "rereadings_before": 0,
    "since": AT.isoformat(),
    "in_force_from": AT.isoformat(),
}

OF_CHECKS: dict[type[events.Event], str] = {
    events.CheckOpened: "check",
    events.Joined: "participant",
    events.HandedIn: "reading",
    events.Compared: "comparison",
    events.RecordFrozen: "frozen",
    events.Signed: "signature",
    events.RecordIssued: "pdf",
    events.WhatFollowedIssued: "what_followed",
    events.HelpTaken: "help_taker",
    review_events.FindingReviewed: "finding_review",
    review_events.FindingAssigned: "finding_review",
    review_events.FindingCommented: "finding_review",
    review_events.FindingClassified: "finding_classified",
}
OF_SITES: dict[type[events.Event], str] = {
    site_events.SiteDataPublished: "site_data",
    site_events.SiteKeyMade: "site_key",
    events.ResetRead: "code_told",
    events.PersonalKeyMade: "personal_key",
    events.PersonalKeyConfirmed: "key_confirmation",
    events.PersonalKeyRetired: "key_retirement",
    site_events.TrainingRecorded: "training",
    site_events.TrainingWithdrawn: "training_withdrawal",
    site_events.AccountabilityAccepted: "acceptance",
    site_events.SigningsRefused: "refused_signings",
    site_events.SigningsRefusedRead: "refused_signings_told",
    site_events.RulesProposed: "rule_proposal",
    site_events.ProposalApproved: "rule_decision",
    site_events.ProposalRefused: "rule_decision",
    site_events.ProposalWithdrawn: "rule_decision",
    training_events.CompetencyIssued: "competency_file",
    order_events.OrderSenderAdded: "order_sender",
    order_events.OrderSenderRevoked: "order_sender_revoked",
    order_events.OrderReceived: "order_message",
}


def entry(kind: type[events.Event], check: str = "", **given: Any) -> Entry:  # noqa: ANN401  # fields of any event
    values = {each.name: VALUES.get(each.name, f"some {each.name}") for each in fields(kind)}
    return Entry(
        position=1,
        at=AT,
        by="nadia",
        infusion="infusion-1",
        check=check,
        session="session",
        device="tablet",
        signed_in_at=SIGNED_IN,
        event=kind(**values | given),
        canonical=b"{}",
    )


@pytest.mark.parametrize("kind", KINDS.values())
def test_each_event_tells_of_its_table_or_of_none(kind: type[events.Event]) -> None:
    for check, expected in (("check-1", OF_CHECKS.get(kind)), ("", OF_SITES.get(kind))):
        told = told_by(entry(kind, check))
        assert (told.table if told else None) == expected
        if told is not None:
            assert told.key == {**OF_A_CHECK, **OF_THE_SITE}[told.table]
            assert set(told.key) <= set(told.row)
            assert len(told.place) == len(told.key)


def test_a_signature_by_its_person_its_session_and_the_digest_of_its_jws() -> None:
    told = told_by(entry(events.Signed, "check-1"))
    assert told is not None
    assert told.row == {
        "check": "check-1",
        "edition": 1,
        "slot": 2,
        "person": "nadia",
        "digest": "some digest",
        "meaning": "some meaning",
        "kid": "some kid",
        "jws": "some signature",
        "signed_at": AT,
        "session": "session",
        "device": "tablet",
        "signed_in_at": SIGNED_IN,
    }


def test_a_check_by_who_opened_it_and_where() -> None:
    told = told_by(entry(events.CheckOpened, "check-1"))
    assert told is not None
    assert told.place == ("check-1",)
    assert (told.row["opened_by"], told.row["opened_at"], told.row["infusion"]) == ("nadia", AT, "infusion-1")


@pytest.mark.parametrize(("what", "gave_a_code"), [("made", True), ("reset", True), ("deactivated", False)])
def test_an_account_that_is_made_or_reset_has_a_code(what: str, gave_a_code: bool) -> None:  # noqa: FBT001  # a parameter
    told = told_by(entry(events.AccountChanged, what=what, person="pia"))
    assert (told is not None) is gave_a_code
    if told is not None:
        assert told.row == {"person": "pia", "what": what, "issuer": "nadia", "issued_at": AT}


def test_refused_signings_by_the_moment_since_which_they_were_counted() -> None:
    told = told_by(entry(site_events.SigningsRefused, person="nadia", count=5))
    assert told is not None
    assert told.row == {"id": "some refused", "person": "nadia", "count": 5, "since": AT, "at": AT}


def test_a_proposal_counts_from_a_moment_or_from_its_approval_on() -> None:
    then, at_once = (
        told_by(entry(site_events.RulesProposed, in_force_from=text)) for text in (AT.isoformat(), "")
    )
    assert then is not None
    assert at_once is not None
    assert (then.row["in_force_from"], at_once.row["in_force_from"]) == (AT, None)
    assert (then.row["proposed_by"], then.row["proposed_at"], then.row["id"]) == (
        "nadia",
        AT,
        "some proposal",
    )


def test_what_became_of_a_proposal_by_who_decided() -> None:
    told = told_by(entry(site_events.ProposalRefused))
    assert told is not None
    assert told.row == {
        "proposal": "some proposal",
        "outcome": "refused",
        "proposed_by": "some proposed_by",
        "decided_by": "nadia",
        "decided_at": AT,
        "why": "some why",
    }
