"""A patient's identifier as it was read."""

import pytest

from app.judging.identifiers import compared_identifier, identifier_fault, is_patient


@pytest.mark.parametrize(
    ("one", "other", "is_the_same"),
    [
        ("DM-40417", "DM-40417", True),
        # As wristbands are compared: without case, white space and dashes of any kind.
        ("dm 40417", "DM-40417", True),
        ("DM\N{EN DASH}40417", "DM40417", True),
        ("DM-40417", "DM-40418", False),
        ("40417", "DM-40417", False),
        ("", "", False),
        ("-", "-", False),
        ("", "DM-40417", False),
    ],
)
def test_two_identifiers_are_one_patients(one: str, other: str, *, is_the_same: bool) -> None:
    assert is_patient(one, other) is is_the_same
    assert is_patient(other, one) is is_the_same


@pytest.mark.parametrize(
    ("text", "on_wristband", "on_paper"),
    [
        ("DM-40417", "", ""),
        ("*0417", "Write the whole identifier, as the wristband has it.", ""),
        ("* 04-17", "Write the whole identifier, as the wristband has it.", ""),
        (
            "*417",
            "Write the whole identifier, as the wristband has it.",
            "After the star write at least its last 4 characters.",
        ),
        (
            "*",
            "Write the whole identifier, as the wristband has it.",
            "After the star write at least its last 4 characters.",
        ),
        ("-", "Write the identifier as it is printed.", "Write the identifier as it is printed."),
    ],
)
def test_what_can_be_one(text: str, on_wristband: str, on_paper: str) -> None:
    for by_its_end, says in ((False, on_wristband), (True, on_paper)):
        fault = identifier_fault(text, by_its_end=by_its_end)
        assert (fault.says if fault else "") == says
        assert fault is None or fault.code == ("blank" if text == "-" else "partial-identifier")


@pytest.mark.parametrize(
    ("text", "compared"), [("DM-40417", "dm40417"), (" dm 40417", "dm40417"), ("*0417", ""), ("-", "")]
)
def test_an_identifier_has_one_form_in_which_it_is_compared(text: str, compared: str) -> None:
    assert compared_identifier(text) == compared
