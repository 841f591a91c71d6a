from app.review.missed import Caught, Missed, NoneAlone, TooFewByBoth, estimate_missed
from app.words.missed import missed_words


def test_an_estimate_is_said_with_its_interval() -> None:
    # A published class-room example: 100, 100 and 10, of which Chapman makes 926.
    found = estimate_missed(Caught(first=100, second=100, both=10))

    assert isinstance(found, Missed)
    assert missed_words(found).startswith(
        "Of 190 errors the first nurse caught 100, the second 100 and both 10. "
        "So neither may have caught 736 more ("
    )


def test_next_to_nothing_is_not_said_to_be_nothing() -> None:
    found = estimate_missed(Caught(first=50, second=50, both=49))

    assert isinstance(found, Missed)
    assert "fewer than 1 more (fewer than 1 to fewer than 1)" in missed_words(found)


def test_a_refusal_says_what_is_lacking() -> None:
    few = Caught(first=9, second=9, both=3)

    assert missed_words(TooFewByBoth(caught=few)) == (
        "Too few to estimate: both caught 3 errors, and 7 are needed."
    )
    assert "no estimate" in missed_words(NoneAlone(caught=few))
