"""What was taken back of a wrong syringe, on the printed record."""

from typing import Any

from app.reports.record import record_page
from tests.reports import told

TAKEN: dict[str, Any] = {
    "kind": "wasted",
    "at": "2031-05-02T13:05:00+01:00",
    "syringe": "reading 1",
    "volume": "2.3 mL",
    "witnessed": True,
    "held_in": "line",
    "typed": "2.3 mL",
    "first": "2.3 mL",
    "not_witnessed": "",
    "lot": "LK-2207",
    "by": "Nadia Ferrow",
    "person": "nadia",
    "written_at": "2031-05-02T13:05:00+01:00",
    "witness": "Ruth Calloway",
    "witness_person": "ruth",
    "stands": True,
}


def page_with(*taken: dict[str, Any]) -> str:
    document = told.STORIES["clean"]()
    document["safety_steps"]["taken_back"] = list(taken)
    page = record_page(document, digest=told.digest_of(document), signatures=told.signed(document))
    return " ".join(page.split())


def test_it_says_how_much_was_where_what_became_of_it_and_who_saw_it() -> None:
    page = page_with(TAKEN)

    assert "<b>Drug taken back,</b>" in page
    assert "written by Nadia Ferrow: 2.3 mL in its line: wasted, witnessed by Ruth Calloway." in page
    assert "Lot LK-2207." in page


def test_a_time_that_was_stated_stands_beside_that_of_writing() -> None:
    assert "wasted on" not in page_with(TAKEN)
    page = page_with({**TAKEN, "at": "2031-05-02T12:40+01:00"})
    assert "wasted on 2 May 2031, 12:40 (+01:00), witnessed by" in page


def test_what_was_written_anew_stands_beside_what_counts() -> None:
    returned = {**TAKEN, "kind": "returned", "received": True, "typed": "27 mL", "first": "27 mL"}
    returned["held_in"] = "syringe"
    page = page_with({**TAKEN, "stands": False}, returned)

    assert "Lot LK-2207. Counts no longer: it was written anew." in page
    became = "returned to the pharmacy, taken by the pharmacist Ruth Calloway"
    assert f"27 mL in the syringe that was replaced: {became}" in page


def test_without_a_wrong_syringe_nothing_is_said_of_it() -> None:
    assert "taken back" not in page_with()
