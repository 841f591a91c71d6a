from fractions import Fraction

import pytest

from app.review.coverage import Condition, Covered
from app.review.errors import Error
from app.review.mixes import MIXES
from app.review.plan import NO_ERROR, Findings
from app.review.study import Assumed, Caught, Way
from app.words.errors import ERRORS
from app.words.study import (
    MIX_NAMES,
    WAYS,
    assumptions,
    coverage_rows,
    nothing_row,
    percent,
    share_rows,
    ways_row,
)


def test_every_error_way_and_mix_has_words() -> None:
    assert list(ERRORS) == list(Error)
    assert list(WAYS) == list(Way)
    assert list(MIX_NAMES) == [mix.name for mix in MIXES]


def test_the_table_has_a_row_for_each_kind_and_mix_with_its_interval() -> None:
    caught = Caught(made=29, by=dict.fromkeys(Way, 1))
    names = [*map(str, Error), *MIX_NAMES, NO_ERROR]
    found = Findings(caught={(name, Fraction(0)): caught for name in names}, covered={})
    rows = list(share_rows(found, Fraction(0)))

    assert len(rows) == len(Error) + len(MIXES)
    # Newcombe, Stat Med 1998;17:857-72, table I, method 3: 1 of 29 is 0.0061 to 0.1718.
    assert rows[0].split("  ")[-1].strip() == "3.4 % (0.6 to 17.2)"
    assert len({len(row) for row in (*rows, *ways_row())}) == 1
    assert nothing_row(found, Fraction(0)).endswith(": 3.4 % (0.6 to 17.2)")


def test_an_estimate_that_was_never_given_is_said_to_be_none() -> None:
    given = Covered(tried=10, refused=2, held=8, estimated=Fraction(40), missed=60)
    none = Covered(tried=10, refused=10, held=0, estimated=Fraction(0), missed=0)
    rows = coverage_rows(
        {
            Condition(equal=True, shared=Fraction(0)): given,
            Condition(equal=False, shared=Fraction(1, 5)): none,
        }
    )
    _, first, second = rows

    assert first.startswith("independent, equally easy ")
    assert first.split()[-5:] == ["5.0", "7.5", "2", "of", "10"]
    assert second.startswith("one cause in 20 %, not equally easy ")
    assert "none given" in second


def test_what_is_assumed_names_its_source_or_says_that_there_is_none() -> None:
    said = list(assumptions(Assumed(shared=Fraction(1, 5))))
    by_hand = list(assumptions(Assumed(shared=Fraction(1, 4), led=Fraction(1, 2))))

    assert all("2010" in each or "20" in each or "no source" in each or "label" in each for each in said)
    assert not any("set by hand" in each for each in said)
    assert sum("set by hand" in each for each in by_hand) == 2


@pytest.mark.parametrize(
    ("share", "says"), [(Fraction(1, 5), "20 %"), (Fraction(16, 1000), "1.6 %"), (Fraction(0), "0 %")]
)
def test_a_share_is_said_in_percent(share: Fraction, says: str) -> None:
    assert percent(share) == says
