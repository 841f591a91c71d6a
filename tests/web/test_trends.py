"""The page of trends: who sees which units, what it counts, and when it says that it cannot judge."""

import re
import subprocess
import sys
from dataclasses import replace
from datetime import timedelta

import pytest

from app.workflow.trends import About
from tests.factories.many_checks import ODD_DEVICE, Found, Past, add_all, months_of_checks
from tests.support.browser import Page, words_of
from tests.support.world import START, UNIT, World

SVG = "{http://www.w3.org/2000/svg}svg"
TITLE = "{http://www.w3.org/2000/svg}title"
LATE = START + timedelta(hours=1)


def people(world: World) -> tuple[str, str]:
    return world.person("n.ferrow").id, world.person("t.osmund").id


def past(world: World, name: str, *found: Found, unit: str = UNIT, is_open: bool = False) -> Past:
    return Past(id=name, at=START, unit=unit, people=people(world), found=found, open=is_open)


def page(world: World, about: str = About.FINDINGS, query: str = "") -> Page:
    """A trend as the quality team sees it."""
    world.clock.now = LATE
    return world.at("q.lindqvist").get(f"/trends/{about}{query}")


def main(shown: Page) -> str:
    return words_of(shown.with_id("main"))


@pytest.mark.parametrize("about", list(About))
def test_each_trend_is_a_sentence_a_picture_and_its_table(world: World, about: About) -> None:
    add_all(world.site.store, months_of_checks(START, UNIT, people(world), months=12))
    shown = page(world, about)
    pictures = list(shown.all(SVG))

    assert shown.status == 200
    # A table alone: of cautions by rule, and of what is due; and of what was classified, which nothing is.
    assert bool(pictures) == (about not in {About.CAUTIONS, About.DUE, About.MISSED})
    assert all(each.find(TITLE) is not None for each in pictures)
    assert bool(list(shown.all("table"))) == (about is not About.MISSED)
    assert not any(each.get("style") for each in shown.all("*"))


def test_a_charge_nurse_sees_her_unit_and_the_quality_team_every_unit(world: World) -> None:
    stop = Found(code="device-differs")
    world.clock.now = LATE
    charge = world.at("r.calloway")
    add_all(
        world.site.store,
        [past(world, "one", stop), past(world, "two", stop), past(world, "three", stop, unit="recovery")],
    )
    own, every = main(charge.get("/trends")), main(page(world))
    asked = charge.get("/trends?unit=recovery").text
    one_unit = main(page(world, query="?unit=recovery"))

    assert "2 in 2 checks" in own
    assert "Recovery" not in own
    assert "3 in 3 checks" in every
    assert "to put right" in asked
    assert "in 1 checks" not in asked
    assert "1 in 1 checks" in one_unit


def test_what_a_check_found_that_goes_on_is_in_no_count(world: World) -> None:
    found = [Found(code="device-differs"), Found(code="patient-at-risk", severity="caution")]
    add_all(world.site.store, [past(world, "over"), past(world, "open", *found, is_open=True)])

    assert "0 in 1 checks" in main(page(world))
    assert "Nothing was found in this time." in main(page(world, About.CODES))
    assert "Patient at risk" not in main(page(world, About.CAUTIONS))


def test_whoever_reads_blind_sees_no_count_of_that_infusion(world: World) -> None:
    """What was found at this bed before would tell where to look."""
    world.clock.now = LATE
    charge, _, _ = world.pair("r.calloway", "t.osmund")
    stop = Found(code="device-differs", field="lockout")
    add_all(world.site.store, [past(world, "here", stop), replace(past(world, "there", stop), bed="14")])
    reading, other = (each.get("/trends/codes") for each in (charge, world.at("q.lindqvist")))

    assert "Most of 1: Device is not the order (1)." in main(reading)
    assert "Most of 2: Device is not the order (2)." in main(other)


def test_a_device_whose_accounts_come_apart_is_out_of_control_and_has_a_page_of_its_own(world: World) -> None:
    add_all(world.site.store, months_of_checks(START, UNIT, people(world), months=24))
    every = page(world, About.ACCOUNTS)
    own = page(world, About.ACCOUNTS, f"?device={ODD_DEVICE.lower()}")

    assert f"Out of control: {ODD_DEVICE} (above the upper limit)." in main(every)
    assert every.links()[ODD_DEVICE] == f"/trends/accounts?device={ODD_DEVICE}&months=24&unit="
    assert "By device" not in main(own)
    counted = re.search(rf"{ODD_DEVICE} (\d+) (\d+) ", main(every))
    assert counted is not None
    assert "{1} of {0} infusions with an account".format(*counted.groups()) in main(own)
    assert page(world, About.ACCOUNTS, "?device=" + "1" * 41).status == 422


def test_too_few_are_said_to_be_too_few_and_not_drawn(world: World) -> None:
    add_all(world.site.store, [past(world, "one", Found(code="device-differs"))])
    shown = page(world)

    assert "Too few to judge: 1 to go by, and a chart needs 8." in main(shown)
    assert list(shown.all(SVG)) == []


def test_where_nothing_was_checked_each_trend_says_so(world: World) -> None:
    assert "Nothing was checked in this time." in main(page(world))
    assert "Nothing was checked in this time." in main(page(world, About.INDEPENDENCE))
    assert "Nothing came so far in this time." in main(page(world, About.TIMES))
    assert "Nothing became due in this time." in main(page(world, About.DUE))
    assert "No serial number of a device was read in this time." in main(page(world, About.ACCOUNTS))


def test_a_caution_that_everybody_acknowledges_is_named_as_a_finding_about_its_rule(world: World) -> None:
    caution = Found(code="patient-at-risk", severity="caution", settled="acknowledged")
    other = Found(code="limit-required", severity="caution", settled="put right")
    add_all(world.site.store, [past(world, str(number), caution, other) for number in range(20)])
    text = main(page(world, About.CAUTIONS))

    assert "Acknowledged every time, 20 times or more: Patient at risk." in text
    assert "Put right, read again and agreed: 20" in text


@pytest.mark.parametrize("query", ["?months=7", "?unit=nowhere"])
def test_a_filter_that_cannot_be_read_is_said_so(world: World, query: str) -> None:
    shown = page(world, query=query)

    assert shown.status == 422
    assert "to put right" in shown.text


def test_there_is_no_trend_of_something_else_and_none_for_a_nurse(world: World) -> None:
    assert page(world, "people").status == 404
    assert world.at("n.ferrow").get("/trends").status == 403


def test_neither_charts_nor_statistics_are_loaded_when_the_pages_are_made_ready() -> None:
    script = "import sys, app.web.factory; print(sorted(sys.modules))"
    told = subprocess.run([sys.executable, "-c", script], capture_output=True, check=True, text=True)

    assert "'app.review.charts'" in told.stdout
    assert "'scipy'" not in told.stdout
    assert "'matplotlib'" not in told.stdout
