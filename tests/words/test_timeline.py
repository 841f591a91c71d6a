"""The words of the time line: each kind of event has its row, or the reason why it has none."""

import json
from dataclasses import fields
from typing import Any

import pytest

from app.config import root
from app.records import events, export_events, order_events, sample_events, site_events
from app.records.account_events import AccountClosed, AccountLeftOpen
from app.records.event_kinds import KINDS
from app.records.events import Event
from app.records.training_events import (
    CardSetDealt,
    CompetencyIssued,
    CompetencyReviewed,
    CompetencySigned,
)
from app.records.ward_events import BedAdded, BedRetired, DrugTakenBack, StopSettled
from app.words.timeline import (
    NOT_SHOWN,
    OF_THE_ACCOUNT,
    SHOWN,
    TOLD_BY_THE_EVENT,
    account_words,
    shown_words,
)

# What never stands with an infusion.
OF_NO_INFUSION = {
    kind
    for kind, event in KINDS.items()
    if event.__module__ in {site_events.__name__, order_events.__name__, sample_events.__name__}
    or event
    in {
        events.AccountChanged,
        export_events.Exported,
        events.KeysFounded,
        events.PersonNamed,
        events.PersonalKeyConfirmed,
        events.PersonalKeyMade,
        events.PersonalKeyRetired,
        events.ResetRead,
        events.SecurityNoted,
        events.UnitNamed,
        BedAdded,
        BedRetired,
        CardSetDealt,
        CompetencyIssued,
        CompetencyReviewed,
        CompetencySigned,
        StopSettled,
    }
}
CONTRACT = root() / "app" / "accounting" / "schemas" / "account.schema.json"
ENTRY_KINDS = {
    each["properties"]["kind"]["const"]
    for each in json.loads(CONTRACT.read_text(encoding="utf-8"))["properties"]["entries"]["items"]["oneOf"]
}
GIVEN: dict[str, Any] = {
    "check_kind": "re-check",
    "why": "other",
    "outcome": "other",
    "code": "above-hard-limit",
    "way": "wasted",
    "held_in": "syringe",
    "syringe": "1",
    "not_witnessed": "",
    "what": "start",
    "how": "returned",
    "source": "pharmacy",
    "told": (("dose", "0.1 mg"),),
    "turn": 1,
}


def data_of(kind: type[Event], **given: Any) -> dict[str, Any]:  # noqa: ANN401  # fields of any event
    return {each.name: {**GIVEN, **given}.get(each.name, f"some {each.name}") for each in fields(kind)}


def test_each_kind_of_event_of_an_infusion_has_a_row_or_a_reason_why_it_has_none() -> None:
    assert set(SHOWN) | set(NOT_SHOWN) | OF_NO_INFUSION == set(KINDS)
    assert not set(SHOWN) & set(NOT_SHOWN)
    assert not (set(SHOWN) | set(NOT_SHOWN)) & OF_NO_INFUSION
    assert all(NOT_SHOWN.values())


@pytest.mark.parametrize("kind", sorted(SHOWN))
def test_each_row_is_a_sentence_without_a_code(kind: str) -> None:
    said = shown_words(kind, data_of(KINDS[kind]))
    assert said[:1].isupper()
    assert said.endswith((".", "some text", "some reason", "some totals")), said


@pytest.mark.parametrize("kind", sorted(NOT_SHOWN))
def test_what_has_no_row_says_nothing(kind: str) -> None:
    assert shown_words(kind, data_of(KINDS[kind])) == ""


@pytest.mark.parametrize(
    ("kind", "given", "said"),
    [
        (events.ExceptionGranted, {"prescriber": ""}, "Prescriber: not named."),
        (events.BaselineObserved, {"below": True}, "outside the protocol."),
        (events.BaselineObserved, {"below": False}, "SpO2 some spo2."),
        (events.DeviceStopped, {"stopped_at": "", "totals": " "}, "The device was stopped: Something else"),
        (events.DeviceStopped, {"stopped_at": "14:10", "totals": "12 mg"}, "Stated: 14:10. 12 mg"),
        (events.StartedWithoutCheck, {"started_at": ""}, "Started without a check. some reason"),
        (events.HelpTaken, {"turn": 1}, "The request for help was taken."),
        (events.HelpTaken, {"turn": 2}, "The request for help was taken over."),
        (DrugTakenBack, {"received": False}, "Drug taken back: some volume left in the syringe"),
    ],
)
def test_what_was_said_beside_it_is_told(kind: type[Event], given: dict[str, Any], said: str) -> None:
    assert said in shown_words(kind.kind, data_of(kind, **given))


def test_each_kind_of_entry_of_the_account_is_told_by_itself_or_by_its_event() -> None:
    assert set(OF_THE_ACCOUNT) | TOLD_BY_THE_EVENT == ENTRY_KINDS
    assert not set(OF_THE_ACCOUNT) & TOLD_BY_THE_EVENT
    assert account_words({"kind": "started"}) == ""


TOTALS = {"amount": "1200 mcg", "presses": 15, "doses": 12}
SETTINGS = {"kind": "settings", "mode": "demand", "demand_dose": "1 mg", "lockout": "8 min"}


@pytest.mark.parametrize(
    ("entry", "said"),
    [
        (
            {"kind": "issued", "syringe": "2", "amount": "50 mg", "volume": "50 mL"},
            "Syringe 2: 50 mg, 50 mL.",
        ),
        (
            {"kind": "issued", "syringe": "2", "concentration": "1 mg/mL", "volume": "50 mL"},
            "Syringe 2: 1 mg/mL, 50 mL.",
        ),
        ({"kind": "loaded", "syringe": "2"}, "Syringe 2 is on the device."),
        ({"kind": "primed", "volume": "2.3 mL"}, "Primed, off the patient: 2.3 mL."),
        (
            {"kind": "read", "totals": TOTALS, "left": "38 mL"},
            "Read: totals 1,200 mcg, 15 presses and 12 doses given, 38 mL left.",
        ),
        ({"kind": "read", "totals": {"volume": "12 mL"}}, "Read: totals 12 mL."),
        ({"kind": "read", "left": "38 mL"}, "Read: 38 mL left."),
        ({"kind": "removed"}, "The syringe was taken off."),
        ({"kind": "removed", "left": "0 mL"}, "The syringe was taken off. Read: 0 mL left."),
        ({"kind": "bolus", "amount": "1 mg", "loading": True}, "Loading dose: 1 mg."),
        ({"kind": "bolus", "amount": "1 mg", "loading": False}, "Bolus: 1 mg."),
        (
            {"kind": "cleared", "totals": {"amount": "9 mg"}, "after": {"amount": "0 mg"}},
            "The totals were cleared. Read: totals 9 mg. Now: totals 0 mg.",
        ),
        (
            {"kind": "device", "totals": {"amount": "9 mg"}, "after": {"amount": "0 mg"}},
            "Another device or line, or this one set up again. Read: totals 9 mg. Now: totals 0 mg.",
        ),
        (
            {**SETTINGS, "limit": None},
            "Settings in force: demand only, each demand 1 mg, lockout 8 min, no limit.",
        ),
        (
            {
                "kind": "settings",
                "mode": "continuous",
                "continuous_rate": "2 mg/h",
                "limit": [{"amount": "1500 mcg", "window": "1 h"}, {"amount": "4 mg", "window": "4 h"}],
            },
            (
                "Settings in force: continuous only, continuous part 2 mg/h, "
                "limit 1,500 mcg in 1 h, limit 4 mg in 4 h."
            ),
        ),
        (
            {**SETTINGS, "limit": {"amount": "4 mg", "window": "4 h"}},
            "Settings in force: demand only, each demand 1 mg, lockout 8 min, limit 4 mg in 4 h.",
        ),
    ],
)
def test_what_the_account_has_of_it(entry: dict[str, Any], said: str) -> None:
    assert account_words(entry) == said


def test_of_an_account_it_is_told_that_it_was_left_open_and_why_it_was_closed() -> None:
    assert shown_words(AccountLeftOpen.kind, {"round": 2}) == (
        "The account does not add up: it is the charge nurse's to close."
    )
    assert shown_words(AccountLeftOpen.kind, {"round": 0, "drug": "7"}) == (
        "What went was not witnessed, or not received: it is the charge nurse's to settle."
    )
    closed = {"left_open": "7", "reason": "Counted with pharmacy."}
    assert shown_words(AccountClosed.kind, closed) == "The account was closed. Counted with pharmacy."
