import click
import pytest

from app.cli.days import DAY, MOMENT


@pytest.mark.parametrize("text", ["0001-01-01T00:00+1400", "9999-12-31 23:59-1400"])
def test_a_moment_that_no_clock_shows_is_refused_as_any_text_that_is_none(text: str) -> None:
    with pytest.raises(click.BadParameter, match="no year from 1900 to 2999"):
        MOMENT(text)


@pytest.mark.parametrize(
    "text", ["2031-05-02T14:00+0200", "2031-05-02 14:00+0200", "2031-05-02T14:00:00+0200"]
)
def test_a_moment_is_read_with_its_offset(text: str) -> None:
    assert MOMENT(text).isoformat() == "2031-05-02T14:00:00+02:00"


def test_a_day_is_read_as_year_month_day_alone() -> None:
    assert DAY("2031-05-02").date().isoformat() == "2031-05-02"
    with pytest.raises(click.BadParameter, match="does not match the format"):
        DAY("2 May 2031")
