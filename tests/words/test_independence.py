"""How independent two readings were, in one line."""

import pytest

from app.words.independence import independence_words

GRADE = "one device, unlocked anew by six digits"


@pytest.mark.parametrize(
    ("unlocked", "together", "says"),
    [
        ([], False, GRADE),
        (["B"], False, f"{GRADE}; B unlocked by six digits"),
        (["A", "B"], False, f"{GRADE}; A and B unlocked by six digits"),
        (
            ["A", "B"],
            True,
            f"{GRADE}; A and B unlocked by six digits, within 3\N{NO-BREAK SPACE}min of each other",
        ),
    ],
)
def test_the_grade_and_who_unlocked(unlocked: list[str], *, together: bool, says: str) -> None:
    told = {"grade": GRADE, "unlocked": unlocked, "unlocked_together": together, "earlier_look": False}

    assert independence_words(told) == says


def test_a_record_from_before_says_the_grade_alone() -> None:
    assert independence_words({"grade": GRADE, "earlier_look": True}) == GRADE
