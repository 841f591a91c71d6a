"""Adults only."""

from datetime import date

import pytest

from app.judging.adults import adult_fault
from app.quantities import Fault


@pytest.mark.parametrize(
    ("birth_date", "on_date", "is_adult"),
    [
        (date(2013, 5, 2), date(2031, 5, 2), True),
        (date(2013, 5, 3), date(2031, 5, 2), False),
        (date(2013, 6, 1), date(2031, 5, 2), False),
        (date(2013, 4, 30), date(2031, 5, 2), True),
        (date(2012, 12, 31), date(2031, 1, 1), True),
        (date(2014, 1, 1), date(2031, 12, 31), False),
        # Born on a leap day: of age on the first of March where the year has no such day.
        (date(2008, 2, 29), date(2026, 2, 28), False),
        (date(2008, 2, 29), date(2026, 3, 1), True),
        (date(2040, 1, 1), date(2031, 5, 2), False),
    ],
)
def test_adults_only(birth_date: date, on_date: date, *, is_adult: bool) -> None:
    fault = adult_fault(birth_date, on_date, 18)
    expected = Fault(code="not-adult", says="This tool is for adults only: use the children's protocol.")
    assert fault == (None if is_adult else expected)
