"""What is said of a drug that was taken back."""

import pytest

from app.words.taken_back import taken_back_words

SAID = {
    ("line", "wasted", False, "", True): "2.3 mL in its line: wasted, witnessed by Ruth. Lot L1.",
    ("line", "wasted", False, "2 May 2031, 14:05", True): (
        "2.3 mL in its line: wasted on 2 May 2031, 14:05, witnessed by Ruth. Lot L1."
    ),
    ("syringe", "returned", False, "", True): (
        "2.3 mL in the syringe that was replaced: returned to the pharmacy, witnessed by Ruth. Lot L1."
    ),
    ("syringe", "returned", True, "", False): (
        "2.3 mL in the syringe that was replaced: returned to the pharmacy, taken by the pharmacist Ruth. "
        "Lot L1. Counts no longer: it was written anew."
    ),
}


@pytest.mark.parametrize("case", SAID, ids=str)
def test_how_much_was_where_what_became_of_it_and_who_saw_it(case: tuple[str, str, bool, str, bool]) -> None:
    held_in, way, received, stated, stands = case
    words = taken_back_words(
        held_in=held_in,
        way=way,
        typed="2.3 mL",
        lot="L1",
        witness="Ruth",
        received=received,
        stated=stated,
        stands=stands,
    )

    assert words == SAID[case]
