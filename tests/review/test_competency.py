"""What a person's checks on training cards add up to, and the record of it that is signed."""

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from app.records.canonical import canonical
from app.review.competency import (
    Holder,
    Missed,
    Trained,
    build_record,
    competency,
    missed_by_kind,
    person_of,
    read_record,
    record_of,
)
from app.review.errors import Error
from app.review.intervals import Share

LINE = Trained(
    check="check-1",
    on=datetime(2031, 5, 2, 8, 30, tzinfo=UTC),
    number=1,
    error=Error.DIGITS,
    caught=True,
    seconds=100,
)
MISSED = replace(LINE, caught=False, seconds=300)
NOTHING = replace(LINE, error=None, caught=None, seconds=None)
HOLDER = Holder(person="amari", printed_name="Amari Okoye", staff_number="N-1")


def test_what_could_be_caught_is_counted_and_what_could_not_is_left_out() -> None:
    made = competency([LINE, MISSED, LINE, NOTHING])

    assert made.caught == Share(count=2, of=3)
    assert made.took is not None
    assert made.took.count == 3
    assert made.took.median == 100
    assert len(made.lines) == 4


@pytest.mark.parametrize("lines", [[], [replace(LINE, caught=None, seconds=None)]])
def test_where_nothing_could_be_caught_there_is_no_share_and_no_time(lines: list[Trained]) -> None:
    made = competency(lines)
    assert (made.caught, made.took) == (None, None)


def test_the_kind_that_is_missed_most_often_comes_first_and_what_nobody_could_catch_is_left_out() -> None:
    unit, never = replace(MISSED, error=Error.UNIT), replace(MISSED, error=Error.DRUG, caught=None)

    assert missed_by_kind([LINE, MISSED, unit, NOTHING, never]) == (
        Missed(error=Error.UNIT, read=1, missed=1),
        Missed(error=Error.DIGITS, read=2, missed=1),
    )


def test_a_record_holds_each_check_and_is_read_back_as_it_was_written() -> None:
    made = build_record(
        [LINE, MISSED, NOTHING], edition=2, holder=HOLDER, site="School", zone="Europe/Zurich", invented=True
    )

    assert read_record(made) == competency([LINE, MISSED, NOTHING])
    assert (made["record"], made["edition"]) == ("competency-amari", 2)
    assert made["holder"] == {"person": "amari", "printed_name": "Amari Okoye", "staff_number": "N-1"}
    assert canonical(made)
    assert person_of(record_of("amari")) == "amari"
