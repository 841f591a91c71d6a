"""Samples that anyone can draw again, and what they say of all."""

from fractions import Fraction
from hashlib import sha256
from math import isclose, sqrt

import pytest

from app.review.intervals import Share, wilson
from app.review.sampling import Stratum, digest_of, draw, rank_of, stratified

STRATA = {"ward-4-east": [f"check-{number}" for number in range(20)], "recovery": ["check-20", "check-21"]}


def test_it_is_drawn_by_the_digest_of_seed_and_id_as_is_stated() -> None:
    """Worked apart from the code, as whoever draws again would."""
    by_digest = sorted(STRATA["ward-4-east"], key=lambda one: sha256(b"2031-05\n" + one.encode()).digest())
    assert draw("2031-05", STRATA, 3) == {
        "recovery": tuple(sorted(STRATA["recovery"], key=lambda one: rank_of("2031-05", one))),
        "ward-4-east": tuple(by_digest[:3]),
    }


def test_it_follows_from_seed_and_ids_alone_however_they_come() -> None:
    drawn = draw("seed", STRATA, 5)
    turned = {stratum: ids[::-1] for stratum, ids in reversed(STRATA.items())}
    assert draw("seed", turned, 5) == drawn
    assert digest_of(draw("seed", turned, 5)) == digest_of(drawn)
    assert draw("another", STRATA, 5) != drawn
    assert digest_of(draw("another", STRATA, 5)) != digest_of(drawn)


def test_more_of_the_same_seed_begins_with_fewer() -> None:
    assert draw("seed", STRATA, 8)["ward-4-east"][:5] == draw("seed", STRATA, 5)["ward-4-east"]


def test_each_is_drawn_as_often_as_any_other() -> None:
    """Of 2,000 seeds, 5 of 20: each some 500 times."""
    counts = dict.fromkeys(STRATA["ward-4-east"], 0)
    for seed in range(2000):
        for one in draw(str(seed), STRATA, 5)["ward-4-east"]:
            counts[one] += 1
    assert sum((count - 500) ** 2 / 500 for count in counts.values()) < 40


def test_each_stratum_counts_by_its_size_worked_by_hand() -> None:
    """Of 300 checks 20 judged and 18 hold; of 100 checks 10 judged and 5 hold.

    The share is 3/4 of 9/10 and 1/4 of 1/2: 4/5, where the plain count would say 23/30. Its variance is
    9/16 * 14/15 * (9/100)/19 + 1/16 * 9/10 * (1/4)/9.
    """
    found = stratified([Stratum(size=300, judged=20, holds=18), Stratum(size=100, judged=10, holds=5)])
    assert found is not None
    assert found.share == Fraction(4, 5)
    variance = 9 / 16 * 14 / 15 * 0.09 / 19 + 1 / 16 * 9 / 10 * 0.25 / 9
    simple = 0.8 * 0.2 / variance
    z = 1.959963984540054
    half = z * sqrt(0.16 / simple + z * z / (4 * simple * simple)) / (1 + z * z / simple)
    middle = (0.8 + z * z / (2 * simple)) / (1 + z * z / simple)
    assert isclose(found.interval.low, middle - half)
    assert isclose(found.interval.high, middle + half)


def test_where_all_hold_the_interval_is_that_of_the_plain_count() -> None:
    found = stratified([Stratum(size=300, judged=20, holds=20), Stratum(size=100, judged=10, holds=10)])
    assert found is not None
    assert found.share == 1
    assert found.interval == wilson(Share(count=30, of=30))


@pytest.mark.parametrize(
    "strata", [(), (Stratum(size=300, judged=20, holds=18), Stratum(size=9, judged=0, holds=0))]
)
def test_of_a_stratum_of_which_nothing_was_judged_nothing_is_said(strata: tuple[Stratum, ...]) -> None:
    assert stratified(strata) is None
