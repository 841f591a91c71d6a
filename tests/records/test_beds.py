"""The beds of a unit: what is known is found however people write it."""

from dataclasses import replace

import pytest

from app.records.beds import Beds, beds_of, place_then
from app.records.change_events import BedChanged
from app.records.events import Event
from app.records.kept import Entry
from app.records.ward_events import BedAdded, BedRetired
from tests.story.events import Story

WARD = "ward"


def entries(*told: Event) -> list[Entry]:
    (any_entry,) = Story().stopped().entries
    return [replace(any_entry, position=place, event=event) for place, event in enumerate(told, start=1)]


def beds(*told: Event) -> Beds:
    return beds_of(WARD, entries(*told))


def added(*named: str) -> list[BedAdded]:
    return [BedAdded(unit=WARD, bed=bed) for bed in named]


def test_they_stand_in_the_order_in_which_people_count() -> None:
    assert beds(*added("10", "9", "2b", "2a", "Bay 12", "Bay 3")).known == (
        "2a",
        "2b",
        "9",
        "10",
        "Bay 3",
        "Bay 12",
    )


def test_another_units_beds_are_not_among_them() -> None:
    assert beds(BedAdded(unit="another", bed="1"), *added("2")).known == ("2",)


@pytest.mark.parametrize("typed", ["4B", "4 b", " Bed 4B", "bed4b", "４Ｂ"])  # noqa: RUF001  # as some keyboards write it
def test_a_bed_is_found_however_it_is_written(typed: str) -> None:
    assert beds(*added("4B", "14B", "4")).find(typed) == "4B"


@pytest.mark.parametrize("typed", ["", " ", "bed", "4C", "4BB", "04B"])
def test_what_is_no_bed_is_not_guessed(typed: str) -> None:
    assert beds(*added("4B", "14B", "4")).find(typed) is None


def test_a_bed_that_was_retired_is_not_found_until_it_is_added_again() -> None:
    gone = beds(*added("1", "2"), BedRetired(unit=WARD, bed="2"))
    assert (gone.known, gone.retired) == (("1",), ("2",))
    assert (gone.find("2"), gone.find_retired(" bed 2")) == (None, "2")

    back = beds(*added("1", "2"), BedRetired(unit=WARD, bed="2"), *added("2"))
    assert (back.known, back.retired) == (("1", "2"), ())


def moved(*moves: tuple[int, str, str]) -> list[Entry]:
    """Moves by their positions, from one bed to another."""
    (any_entry,) = Story().stopped().entries
    return [
        replace(any_entry, position=position, event=BedChanged(unit=WARD, bed=bed, before=before))
        for position, before, bed in moves
    ]


@pytest.mark.parametrize(
    ("moves", "position", "bed"),
    [
        ((), 9, "14"),
        (((3, "12", "14"),), 9, "14"),
        (((3, "12", "14"),), 3, "12"),
        (((3, "12", "13"), (7, "13", "14")), 7, "13"),
        (((3, "12", "13"), (7, "13", "14")), 1, "12"),
    ],
)
def test_where_it_was_then_is_told_by_its_moves(
    moves: tuple[tuple[int, str, str], ...], position: int, bed: str
) -> None:
    assert place_then((WARD, "14"), moved(*moves), position) == (WARD, bed)
