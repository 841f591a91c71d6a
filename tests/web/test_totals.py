"""The page on which the totals of a device that runs are read, in a check of what runs."""

import re

import pytest

from app.records.sources import Source
from tests.factories.answers import answers
from tests.story.pages import Pair, started
from tests.support.browser import Page, words_of
from tests.support.world import World, read_source, typed

KEEP = "Keep, and"
READ = {"total_amount": "2 mg", "total_volume": "none", "presses": "13", "doses": "10", "left": "17.5 mL"}


@pytest.fixture
def pair(world: World) -> Pair:
    made = started(world)
    made.re_checks()
    return made


def totals_page(pair: Pair) -> Page:
    return pair.first.get(f"/check/{pair.check}/read/totals")


def test_it_comes_last_and_asks_what_the_device_shows_and_the_barrel_tells(pair: Pair) -> None:
    page = totals_page(pair)

    assert page.heading == "Device totals"
    form, _ = page.form_with(KEEP)
    # Nothing is filled in or chosen, and nobody types when it was read.
    assert not any(value for name, value in form.held if name not in ("csrf_token", "round", "version"))
    assert {"total_amount", "total_amount_unit", "presses", "doses", "left"} <= set(form.names)
    assert "read_at" not in form.names
    for row in page.all("fieldset"):
        assert not re.search(r"[0-9]", words_of(row))


def test_a_count_has_digits_and_no_unit(pair: Pair) -> None:
    inputs = {each.get("name"): each for each in totals_page(pair).all("input")}

    assert inputs["presses"].get("inputmode") == "numeric"
    assert "presses_unit" not in inputs
    assert inputs["total_amount"].get("inputmode") == "decimal"


@pytest.mark.parametrize(
    ("name", "text", "says"),
    [
        ("presses", "1.5", "This is a count: a whole number."),
        ("presses", "1,5", ""),
        ("doses", "ten", ""),
        ("doses", "-1", ""),
        ("doses", "1000000", "No device counts as far."),
        ("left", "17,5", ""),
    ],
)
def test_what_is_no_count_is_said_beside_its_field_and_nothing_is_lost(
    pair: Pair, name: str, text: str, says: str
) -> None:
    totals_page(pair)
    page = read_source(pair.first, {**READ, name: text} if name != "left" else {**READ, name: f"{text} mL"})

    assert page.status == 422
    form, _ = page.form_with(KEEP)
    held = dict(form.held)
    assert held[name] == text
    assert {each: held[each] for each in ("presses", "doses") if each != name} == {
        each: READ[each] for each in ("presses", "doses") if each != name
    }
    (row,) = [each for each in page.all("fieldset") if each.get("data-field") == name]
    assert "wrong" in str(row.get("class"))
    assert says in words_of(row)


def test_zero_is_an_answer(pair: Pair) -> None:
    totals_page(pair)
    page = read_source(pair.first, answers()["totals"])

    assert page.heading == "Go over my reading"
    assert "0 mg" in page.text


def test_the_look_over_shows_when_it_was_read_and_a_look_back_does_not_change_it(pair: Pair) -> None:
    totals_page(pair)
    read_source(pair.first, READ)
    shown = re.search(
        r"Totals read at 2 May 2031, [0-9:]{5} \(\+[0-9:]{5}\)",
        pair.first.get(f"/check/{pair.check}/read").text,
    )
    assert shown is not None
    pair.world.clock.pass_(seconds=90)
    totals_page(pair)
    read_source(pair.first, READ)

    assert shown[0] in pair.first.page.text


def test_what_was_typed_and_not_kept_comes_back(pair: Pair) -> None:
    page = totals_page(pair)
    form, _ = page.form_with(KEEP)
    given = {**dict(form.held), **typed(Source.TOTALS, READ), "go": "next"}
    pair.first.post(f"/check/{pair.check}/read/totals/typing", list(given.items()))

    held = dict(totals_page(pair).form_with(KEEP)[0].held)
    assert (held["presses"], held["doses"]) == ("13", "10")
