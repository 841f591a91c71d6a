"""How independent two readings were, in one line."""

import pytest

from app.records.independence import Grade
from app.words.independence import independence_words

KEPT = "one device, unlocked anew by six digits"
GRADE = "one screen, unlocked anew by six digits"


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
    told = {"grade": KEPT, "unlocked": unlocked, "unlocked_together": together, "earlier_look": False}

    assert independence_words(told) == says


def test_a_record_from_before_says_the_grade_alone() -> None:
    assert independence_words({"grade": KEPT, "earlier_look": True}) == GRADE


def test_no_grade_calls_a_screen_a_device() -> None:
    shown = [independence_words({"grade": each, "unlocked": []}) for each in Grade]

    assert len({*shown}) == len(Grade)
    assert not [each for each in shown if "device" in each]
