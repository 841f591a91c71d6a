from app.review.alone import CaughtByEach
from app.review.kappa import agreement
from app.review.missed import Caught, Missed, NoneAlone, TooFewByBoth, estimate_missed
from app.words import missed as words
from app.words.missed import missed_words


def test_an_estimate_is_said_with_its_interval() -> None:
    # A published class-room example: 100, 100 and 10, of which Chapman makes 926.
    found = estimate_missed(Caught(first=100, second=100, both=10))

    assert isinstance(found, Missed)
    assert missed_words(found).startswith(
        "Of 190 errors the first nurse caught 100, the second 100 and both 10. "
        "By that, about 736 more were caught by neither (95 % interval: "
    )


def test_next_to_nothing_is_not_said_to_be_nothing() -> None:
    found = estimate_missed(Caught(first=50, second=50, both=49))

    assert isinstance(found, Missed)
    said = "fewer than 1 more were caught by neither (95 % interval: fewer than 1 to fewer than 1)"
    assert said in missed_words(found)


def test_a_refusal_says_what_is_lacking() -> None:
    few = Caught(first=9, second=9, both=3)

    assert missed_words(TooFewByBoth(caught=few)) == (
        "Too few to estimate: both caught 3 errors, and 7 are needed."
    )
    assert "no estimate" in missed_words(NoneAlone(caught=few))


def caught_words(caught: Caught, slips: int = 0) -> tuple[str, tuple[tuple[str, ...], ...]]:
    part = words.caught_part(CaughtByEach(caught=caught, slips=slips), estimate_missed(caught))
    return part.says, part.rows


def test_the_definition_stands_with_its_table() -> None:
    says, rows = caught_words(Caught(first=10, second=9, both=8), slips=3)

    assert says.startswith("Of 11 errors the first nurse caught 10, the second 9 and both 8.")
    assert says.endswith(words.CAUGHT)
    assert rows == (
        ("The first nurse alone", "2"),
        ("The second nurse alone", "1"),
        ("Both", "8"),
        ("Nobody: what stood there was right, and was misread", "3"),
    )


def test_of_so_few_that_the_second_to_classify_would_know_no_count_is_told() -> None:
    few, rows = caught_words(Caught(first=2, second=2, both=1), slips=1)
    enough, told = caught_words(Caught(first=2, second=2, both=1), slips=2)

    assert few.startswith(words.FEW)
    assert rows == ()
    assert enough.startswith("Too few to estimate: both caught 1 errors")
    assert told


def test_how_far_two_agree_is_said_with_its_table() -> None:
    # Two raters of 50 proposals, an encyclopaedia's example: kappa 0.4, alike by chance 0.5.
    part = words.agreed_part(agreement([[20, 5], [10, 15]]), "AB", {"A": "none", "B": "an error"})

    assert part.says.startswith(
        "Two people classified 50 findings, and 35 alike. Kappa is 0.4, with a standard error of 0.13 "
    )
    assert "by chance alone a share of 0.5 would be alike" in part.says
    assert part.says.endswith(words.UNSTABLE)
    assert part.columns == ("The first said", "Second: A", "Second: B")
    assert part.rows == (("none", "20", "5"), ("an error", "10", "15"))


def test_where_kappa_says_little_or_is_none_it_is_said() -> None:
    assert words.agreed_words(agreement([[96, 2], [2, 0]])).endswith("So it is here.")
    for one_sided in ([[28, 8], [0, 0]], [[28, 0], [8, 0]]):
        assert words.agreed_words(agreement(one_sided)).endswith(words.ONE_SIDED)
    assert "There is no kappa: both said one and the same" in words.agreed_words(agreement([[12]]))
    assert words.agreed_words(agreement([])) == "No finding was classified by two people in this time."


def test_where_older_findings_are_left_out_it_is_said() -> None:
    assert "newest 250" in words.cut_words(250)
