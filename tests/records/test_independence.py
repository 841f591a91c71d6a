"""How independent two readings were, in the words that are shown."""

from datetime import timedelta

import pytest

from app.records import events
from app.records.independence import of_round
from tests.story.events import BEGAN, NADIA, TOMAS, Story

A_MINUTE = timedelta(minutes=1)
A_SECOND = timedelta(seconds=1)
# The second hands in at the sixth minute of the story.
SECOND_AT = BEGAN + 5 * A_MINUTE


def read(first: str, second: str, *, signed_in_before: timedelta = 30 * A_MINUTE) -> Story:
    told = Story().opened().joined().handed_in(1, device=first)
    return told.handed_in(2, device=second, signed_in_at=SECOND_AT - signed_in_before)


def after_the_first(*, minutes: int, device: str = "other tablet", joins_before: bool = False) -> Story:
    """The second joins or signs in some minutes after the first handed in, and reads for two minutes."""
    told = Story().opened()
    told = told.joined().handed_in(1, device="tablet") if joins_before else told.handed_in(1, device="tablet")
    for _ in range(minutes):
        told.tell(events.SecurityNoted(person=TOMAS, what="elsewhere"))
    signed_in_at = told.now
    return (told if joins_before else told.joined()).handed_in(2, device=device, signed_in_at=signed_in_at)


TABLE: dict[str, tuple[Story, str]] = {
    "a tablet each": (read("tablet", "other tablet"), "two devices, overlapping in time"),
    "a tablet each, the second signed in as the first handed in": (
        read("tablet", "other tablet", signed_in_before=A_MINUTE),
        "two devices, overlapping in time",
    ),
    "a tablet each, the second joined when the first had handed in": (
        after_the_first(minutes=5),
        "two devices, one after the other",
    ),
    "a tablet each, the second signed in after the first had handed in": (
        after_the_first(minutes=5, joins_before=True),
        "two devices, one after the other",
    ),
    # At work since long before: what counts is when the reading could be begun.
    "a tablet each, signed in early, joined when the first had handed in": (
        Story()
        .opened()
        .handed_in(1, device="tablet")
        .joined()
        .handed_in(2, device="other tablet", signed_in_at=BEGAN - 60 * A_MINUTE),
        "two devices, one after the other",
    ),
    "a tablet each, signed in just now": (
        read("tablet", "other tablet", signed_in_before=A_SECOND),
        "second reading in under a minute, after the first",
    ),
    "one tablet, a minute for the second reading": (
        read("tablet", "tablet", signed_in_before=A_MINUTE),
        "one device, signed in anew",
    ),
    "one tablet, an hour later": (
        after_the_first(minutes=60, device="tablet"),
        "one device, signed in anew",
    ),
    "one tablet, less than a minute": (
        read("tablet", "tablet", signed_in_before=A_MINUTE - A_SECOND),
        "second reading in under a minute, after the first",
    ),
    "someone saw danger": (
        Story().opened().joined().handed_in(1).voided(),
        "voided: not blind",
    ),
    "someone saw danger and wrote no more": (
        Story().opened().joined().handed_in(1).voided(why=""),
        "voided: not blind",
    ),
}


@pytest.mark.parametrize("case", TABLE)
def test_each_grade(case: str) -> None:
    told, grade = TABLE[case]
    state = told.state()

    assert of_round(state, state.rounds[0], frozenset()).grade.value == grade


@pytest.mark.parametrize(
    ("looked", "stated"),
    [(frozenset[str](), False), (frozenset({"imogen"}), False), (frozenset({NADIA}), True)],
)
def test_an_earlier_look_by_one_of_the_two_is_stated(looked: frozenset[str], stated: bool) -> None:  # noqa: FBT001  # expected
    state = read("tablet", "other tablet").state()

    assert of_round(state, state.rounds[0], looked).earlier_look is stated


def test_it_does_not_matter_which_slot_handed_in_first() -> None:
    told = Story().opened().joined().handed_in(2, device="tablet")
    signed_in = told.now + A_SECOND
    state = told.handed_in(1, device="tablet", signed_in_at=signed_in).state()

    assert (
        of_round(state, state.rounds[0], frozenset()).grade.value
        == "second reading in under a minute, after the first"
    )


def unlocked(first: str, second: str, *, apart: timedelta, device: str = "tablet") -> Story:
    """Both have joined; the first hands in, then the second, each some time after a session began."""
    told = Story().opened().joined()
    began = told.now
    told = told.handed_in(1, device="tablet", signed_in_at=began, method=first)
    return told.handed_in(2, device=device, signed_in_at=began + apart, method=second)


@pytest.mark.parametrize(
    ("told", "grade", "letters", "together"),
    [
        (unlocked("secret", "pin", apart=A_SECOND), "one device, unlocked anew by six digits", ("B",), False),
        (unlocked("pin", "secret", apart=A_SECOND), "one device, signed in anew", ("A",), False),
        (unlocked("pin", "pin", apart=A_SECOND), "one device, unlocked anew by six digits", ("A", "B"), True),
        (
            unlocked("pin", "pin", apart=-3 * A_MINUTE, device="other"),
            "two devices, overlapping in time",
            ("A", "B"),
            True,
        ),
        (
            unlocked("pin", "pin", apart=-3 * A_MINUTE - A_SECOND, device="other"),
            "two devices, overlapping in time",
            ("A", "B"),
            False,
        ),
        (
            unlocked("secret", "secret", apart=-A_SECOND, device="other"),
            "two devices, overlapping in time",
            (),
            False,
        ),
    ],
)
def test_who_unlocked_by_six_digits_is_stated_and_both_within_one_reading_too(
    told: Story, grade: str, letters: tuple[str, ...], *, together: bool
) -> None:
    state = told.state()
    graded = of_round(state, state.rounds[0], frozenset())

    assert (graded.grade.value, graded.unlocked, graded.unlocked_together) == (grade, letters, together)
