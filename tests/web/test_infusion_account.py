"""The account on an infusion's page: statement, picture and findings, from accounts written by hand."""

from datetime import datetime
from typing import Any

import pytest

from app.accounting import balance
from app.judging.account import LOOK_AT_PATIENT
from app.records.account_entries import AccountEntry
from app.records.account_so_far import Account
from app.site.lasting import AccountRead
from app.web.models.infusion_account import PlaceRow, Statement, statement_of
from app.words.account import NOT_COUNTED, VERDICTS
from tests.accounting.builders import account, entry, issued, read, set_up, totals


def statement(*entries: dict[str, Any]) -> Statement:
    result = balance(read(account(*entries)))
    told = tuple(
        AccountEntry(at=datetime.fromisoformat(each["at"]), data=each, position=place)
        for place, each in enumerate(entries)
    )
    return statement_of(AccountRead(account=Account(entries=told, begun=None), result=result, lasting=None))


def read_at(time: str, amount: str, left: str) -> dict[str, Any]:
    return entry("read", time, totals=totals(amount, 12, 12), left=left)


def test_each_place_stands_with_its_volume_and_its_drug_and_nothing_that_is_not_there() -> None:
    """12 mg of 1 mg/mL are 12 mL; 38 mL left of 50 mL are just the rest."""
    (syringe,) = statement(*set_up(), read_at("16:30", "12 mg", "38 mL")).syringes
    assert syringe.rows == (
        PlaceRow(label="In it, by its label", volume="50 mL", amount="50 mg"),
        PlaceRow(label="Primed, off the patient", volume="0 mL", amount="0 mg"),
        PlaceRow(label="Given, by the device's totals", volume="12 mL", amount="12 mg"),
        PlaceRow(label="Left in it", volume="38 mL", amount="38 mg"),
    )
    assert (syringe.verdict, syringe.adds_up) == (VERDICTS["balances"], True)
    assert syringe.counted_at == datetime.fromisoformat("2031-05-02T16:30+02:00")


def test_of_one_syringe_nothing_is_said_together() -> None:
    told = statement(*set_up(), read_at("16:30", "12 mg", "38 mL"))
    assert (told.together, told.of_patient, told.others) == ((), (), ())


def test_all_syringes_together_are_their_sums() -> None:
    told = statement(*set_up(), read_at("16:30", "12 mg", "38 mL"), issued("17:00", "S2"))
    rows = {each.label: (each.volume, each.amount) for each in told.together}
    assert rows["In it, by its label"] == ("100 mL", "100 mg")
    assert rows["Left in it"] == ("88 mL", "88 mg")
    assert rows["Given, by the device's totals"] == ("12 mL", "12 mg")


@pytest.mark.parametrize(("left", "of_patient"), [("20 mL", True), ("48 mL", False)])
def test_where_less_is_left_than_was_given_the_patient_comes_first(left: str, of_patient: bool) -> None:  # noqa: FBT001  # expected
    told = statement(*set_up(), read_at("16:30", "12 mg", left))
    first, other = (told.of_patient, told.others) if of_patient else (told.others, told.of_patient)
    assert len(first) == 1
    assert other == ()
    assert first[0].startswith(LOOK_AT_PATIENT) is of_patient
    (syringe,) = told.syringes
    assert (syringe.verdict, syringe.adds_up) == (VERDICTS["does-not-fit"], False)


def test_what_was_not_read_is_not_known_and_does_not_add_up() -> None:
    removed = entry("removed", "16:30")
    told = statement(*set_up(), removed)
    (syringe,) = told.syringes
    assert syringe.verdict == NOT_COUNTED
    assert PlaceRow(label="Left in it", volume="not known", amount="not known") in syringe.rows
    assert "Where the rest is" in syringe.picture
    assert told.others


def test_what_was_wasted_has_a_row_and_a_part_of_the_picture() -> None:
    removed = entry("removed", "16:30", totals=totals("12 mg", 12, 12), left="38 mL")
    wasted = entry("wasted", "16:40", syringe="S1", volume="38 mL", witnessed=True)
    (syringe,) = statement(*set_up(), removed, wasted).syringes
    assert PlaceRow(label="Wasted", volume="38 mL", amount="38 mg") in syringe.rows
    assert "Wasted" in syringe.picture
    assert "Left in it" not in syringe.picture.split("</title>")[1]
