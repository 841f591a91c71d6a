"""What is said of a drug that was taken back."""

from typing import Any

import pytest

from app.words.taken_back import kept_words, taken_back_words

WROTE: dict[str, Any] = {
    "held_in": "line",
    "syringe": "reading 1",
    "way": "wasted",
    "volume": "2.3 mL",
    "first": "2.3 mL",
    "lot": "L1",
    "received": False,
    "not_witnessed": "",
}
AT_THE_END = {"held_in": "syringe", "syringe": "1"}
SAID: list[tuple[dict[str, Any], str]] = [
    ({}, "2.3 mL in its line: wasted, witnessed by Ruth. Lot L1."),
    (
        {"held_in": "syringe", "way": "returned"},
        "2.3 mL in the syringe that was replaced: returned to the pharmacy, witnessed by Ruth. Lot L1.",
    ),
    (
        {**AT_THE_END, "way": "returned", "received": True},
        "2.3 mL left in the syringe: returned to the pharmacy, taken by the pharmacist Ruth. Lot L1.",
    ),
    (
        {"first": "2.4 mL"},
        "2.3 mL in its line: wasted, witnessed by Ruth (read first as 2.4 mL). Lot L1.",
    ),
    (
        {"not_witnessed": "nobody"},
        "2.3 mL in its line: wasted, NOT WITNESSED: nobody else saw it. Lot L1.",
    ),
    (
        {"not_witnessed": "late"},
        (
            "2.3 mL in its line: wasted, NOT WITNESSED: Ruth saw it more than two minutes "
            "after the first reading. Lot L1."
        ),
    ),
    (
        {"not_witnessed": "elsewhere"},
        "2.3 mL in its line: wasted, NOT WITNESSED: Ruth signed for it at another screen. Lot L1.",
    ),
    (
        {"not_witnessed": "apart", "first": "9 mL"},
        (
            "2.3 mL in its line: wasted, NOT WITNESSED: Ruth saw it, and the two do not agree "
            "how much it was (read first as 9 mL). Lot L1."
        ),
    ),
]


@pytest.mark.parametrize(("told", "words"), SAID, ids=str)
def test_how_much_was_where_what_became_of_it_and_who_saw_it(told: dict[str, Any], words: str) -> None:
    assert taken_back_words({**WROTE, **told}, witness="Ruth", stated="", stands=True) == words


def test_when_it_was_and_that_it_was_written_anew() -> None:
    words = taken_back_words(WROTE, witness="Ruth", stated="2 May 2031, 14:05", stands=False)

    assert words == (
        "2.3 mL in its line: wasted on 2 May 2031, 14:05, witnessed by Ruth. Lot L1. "
        "Counts no longer: it was written anew."
    )


def test_what_was_spilt_or_broke_is_no_waste_in_words() -> None:
    spilt = {**WROTE, "syringe": "1", "held_in": "spilt"}
    assert taken_back_words(spilt, witness="Ruth", stated="", stands=True) == (
        "2.3 mL spilt or lost: witnessed by Ruth. Lot L1."
    )
    broken = {**spilt, "held_in": "broken", "not_witnessed": "nobody"}
    assert taken_back_words(broken, witness="", stated="2 May 2031, 14:05", stands=True) == (
        "2.3 mL in the syringe that broke on 2 May 2031, 14:05: NOT WITNESSED: nobody else saw it. Lot L1."
    )


def test_where_all_is_kept_each_lot_is_named_or_that_it_has_none() -> None:
    said = kept_words(("LOT-7", ""))
    assert "in the syringe of lot LOT-7 and a syringe without a lot: nothing of it goes." in said
