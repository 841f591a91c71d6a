"""Papers for the time when the program is down."""

import pytest

from app.records.state import Phase
from app.workflow.downtime import Forms, downtime_forms
from tests.story.pages import pair_of
from tests.support.world import UNIT, World


def test_the_page_leads_to_the_forms_and_they_are_what_the_command_writes(world: World) -> None:
    nurse = world.at("n.ferrow")
    nurse.get("/")
    page = nurse.follow("Papers for when the program is down")
    assert page.heading == "When the program is down"
    given = nurse.get(page.links()["The forms of Ward 4 East (PDF)"])
    made = downtime_forms(world.site, world.clock.now, UNIT)
    assert isinstance(made, Forms)
    assert given.response.get_data() == made.pdf


def test_they_are_of_the_unit_of_the_shift(world: World) -> None:
    made = {
        unit: world.at("n.ferrow", unit).get("/downtime/forms.pdf").response.get_data()
        for unit in (UNIT, "recovery")
    }
    assert made[UNIT] != made["recovery"]


@pytest.mark.parametrize(
    ("login", "status"),
    [("n.ferrow", 200), ("r.calloway", 200), ("p.varga", 200), ("q.lindqvist", 403), ("a.moreau", 403)],
)
def test_they_are_for_whoever_has_a_unit(world: World, login: str, status: int) -> None:
    browser = world.at(login)
    assert {browser.get(path).status for path in ("/downtime", "/downtime/forms.pdf")} == {status}


def test_two_who_read_may_have_them_too(world: World) -> None:
    first, second, _ = world.pair()
    assert first.get("/downtime/forms.pdf").status == second.get("/downtime/forms.pdf").status == 200


def test_what_runs_is_printed_for_the_unit(world: World) -> None:
    pair_of(world).at_stage(Phase.STARTED)
    charge = world.at("r.calloway")
    page = charge.get("/downtime")
    given = charge.get(page.links()["Settings in force on Ward 4 East (PDF)"]).response
    assert given.mimetype == "application/pdf"
    assert (
        given.headers["Content-Disposition"] == 'attachment; filename="countersign-settings-ward-4-east.pdf"'
    )


def test_it_is_refused_to_the_two_who_read_and_that_is_counted(world: World) -> None:
    first, second, _ = world.pair()
    for browser in (first, second):
        page = browser.get("/downtime/settings.pdf")
        assert page.status == 403
        assert "closed to you for now: you are one of two who read here" in page.text
    with world.site.store.read() as reader:
        looks = [row["what"] for row in reader.rows("access")]
    assert looks.count("not for the role: downtime.settings") == 2
