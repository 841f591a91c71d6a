"""A day as people write it: in the site's order, with the year first, or with the month as a word."""

from datetime import date

import pytest

from app.quantities import DateOrder, Fault, parse_date, show_date

DAY, MONTH, YEAR = DateOrder.DAY_FIRST, DateOrder.MONTH_FIRST, DateOrder.YEAR_FIRST
BORN = date(1958, 11, 23)
APRIL, MARCH = date(1958, 4, 3), date(1958, 3, 4)


@pytest.mark.parametrize("order", DateOrder)
@pytest.mark.parametrize(
    "text",
    [
        "1958-11-23",
        "1958 11 23",
        "1958/11/23",
        "1958.11.23",
        "19581123",
        "23 Nov 1958",
        "23 november 1958",
        "23-NOV-1958",
        "23Nov1958",
        "23. November 1958",
        "Nov 23, 1958",
        "November 23 1958",
        "1958 Nov 23",
    ],
)
def test_what_can_be_only_one_day_is_read_at_every_site(text: str, order: DateOrder) -> None:
    assert parse_date(text, order) == BORN


@pytest.mark.parametrize(
    ("text", "order", "wanted"),
    [
        ("3/4/1958", DAY, APRIL),
        ("3/4/1958", MONTH, MARCH),
        ("03 04 1958", DAY, APRIL),
        ("03041958", DAY, APRIL),
        ("03041958", MONTH, MARCH),
        ("3.4.1958", DAY, APRIL),
        ("23/11/1958", DAY, BORN),
        ("11/23/1958", MONTH, BORN),
        # Where the site has no word on it, only what can be one day.
        ("23/11/1958", YEAR, BORN),
        ("11/23/1958", YEAR, BORN),
        ("4/4/1958", YEAR, date(1958, 4, 4)),
        ("29 2 1960", DAY, date(1960, 2, 29)),
        ("1 1 1800", DAY, date(1800, 1, 1)),
    ],
)
def test_in_digits_it_is_read_in_the_sites_order(text: str, order: DateOrder, wanted: date) -> None:
    assert parse_date(text, order) == wanted


REFUSED = [
    # In the other order it would be a day: which of the two it is, nobody guesses.
    ("11/23/1958", DAY, "There is no such month. A date in digits is written day month year here."),
    ("23/11/1958", MONTH, "There is no such month. A date in digits is written month day year here."),
    ("11231958", DAY, "There is no such month."),
    ("3/4/1958", YEAR, "This can be two days: write the month as a word, or the year first."),
    ("31/31/1958", YEAR, "There is no such day."),
    ("23/11/58", DAY, "Write all four digits of the year."),
    ("231158", DAY, "Write all three: day month year."),
    ("23 Nov 58", DAY, "Write all four digits of the year."),
    ("1958 1958 11", DAY, "Write all four digits of the year."),
    ("231 11 1958", DAY, "Write all four digits of the year."),
    ("31 4 1958", DAY, "There is no such day in April."),
    ("29 Feb 1958", DAY, "There is no such day in February."),
    ("0 4 1958", DAY, "There is no such day in April."),
    ("19581323", YEAR, "There is no such month. A date in digits is written year month day here."),
    ("31 12 1799", DAY, "There is no such year in any record."),
    ("1958-13-01", DAY, "There is no such month. A date in digits is written year month day here."),
    ("23 1958 11", DAY, "The year stands first or last."),
    ("23 Ju 1958", DAY, "This is no month."),
    ("23 Brumaire 1958", DAY, "This is no month."),
    ("Nov Nov 1958", DAY, "This is no month."),
    ("23 1958", DAY, "Write all three: day month year."),
    ("1958", MONTH, "Write all three: month day year."),
    ("23  11 1958", DAY, "Write day month year; the month may be a word"),
    ("\u0662\u0663 11 1958", DAY, "Write day month year; the month may be a word"),
    ("yesterday?", DAY, "Write day month year; the month may be a word"),
    ("00000000", YEAR, "There is no such year in any record."),
    ("10101010", DAY, "There is no such year in any record."),
    ("1 1 0001", MONTH, "There is no such year in any record."),
    ("03041958", YEAR, "There is no such year in any record."),
]


@pytest.mark.parametrize(("text", "order", "says"), REFUSED)
def test_what_is_no_day_or_may_be_two_is_refused_in_words(text: str, order: DateOrder, says: str) -> None:
    read = parse_date(text, order)

    assert isinstance(read, Fault)
    assert read.says.startswith(says)
    assert read.code == "date"


def test_eight_digits_never_are_two_days_of_the_last_centuries() -> None:
    """With the year first the fifth digit is a month's, in the other orders it is a year's."""
    for year in range(1850, 2050):
        for order, wanted in ((DAY, APRIL), (MONTH, MARCH)):
            assert parse_date(f"0304{year}", order) == wanted.replace(year=year)
            assert parse_date(f"{year}0304", order) == MARCH.replace(year=year)
        assert isinstance(parse_date(f"0304{year}", YEAR), Fault)


@pytest.mark.parametrize("order", DateOrder)
def test_what_is_shown_is_read_again_as_the_same_day(order: DateOrder) -> None:
    assert show_date(BORN) == "23 November 1958"
    for month in range(1, 13):
        day = date(1958, month, 3)
        assert parse_date(show_date(day), order) == day
