"""A new drug, and safety steps that are put in, moved, worded otherwise or taken out, by forms alone."""

import pytest

from app.records.rules import STEPS
from app.site.loading import rules_in_force
from tests.support.browser import Browser, Page
from tests.support.world import World

PHARMACIST, ADMINISTRATOR = "p.varga", "a.moreau"
NEW = {
    "name": "oxyCODONE",
    "peak": "20 min",
    "drugs.+.concentrations.0.is": "1 mg/mL",
    "drugs.+.limits.0.hard_high": "3 mg",
    "drugs.+.limits.1.hard_low": "5 min",
}


def steps(world: World) -> list[str]:
    with world.site.store.read() as reader:
        return [each["id"] for each in rules_in_force(reader, world.clock.now).content(STEPS)["steps"]]


def pharmacist(world: World, part: str) -> Browser:
    browser = world.at(PHARMACIST)
    assert browser.get(f"/rules/{part}").status == 200, browser.page.text
    return browser


def approved(world: World, browser: Browser) -> None:
    """What is compared is proposed, and the administrator approves it."""
    path = browser.press("Propose it", why="The ward asked.").path
    other = world.at(ADMINISTRATOR)
    other.get(path)
    assert "Approved by Adele Moreau" in other.press("Approve").text


def faults(page: Page) -> list[str]:
    return ["".join(each.itertext()) for each in page.all("p") if each.get("class") == "fault"]


def test_a_new_drug_is_proposed_by_a_form(world: World) -> None:
    browser = pharmacist(world, "library")
    browser.follow("A new drug")
    page = browser.press("See what differs", **NEW)
    assert page.status == 200, page.text
    for row in (
        "oxyCODONE: greatest effect after not there 20 min",
        "oxyCODONE: 1 mg/mL not there there",
        "oxyCODONE: demand dose not there hard high 3 mg",
        "oxyCODONE: lockout not there hard low 5 min",
    ):
        assert row in page.text
    # What is not bounded is no limit.
    assert "oxyCODONE: loading dose" not in page.text
    assert "waits for another pharmacist" in browser.press("Propose it", why="For the pain service.").text


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ({"name": ""}, "write its name"),
        ({"name": "morphine"}, "it is listed already"),
        ({"name": "Mor-phine"}, "morphine and Mor-phine are two spellings of one drug"),
        ({"drugs.+.limits.0.hard_high": "3mg"}, "write a number, one space and its unit"),
        ({"drugs.+.limits.0.hard_low": "4 mg"}, "hard low lies above hard high"),
        ({"peak": "soon"}, "write a number, one space and its unit"),
        ({"drugs.+.concentrations.0.is": ""}, "write a strength that is supplied"),
        ({"drugs.+.limits.0.hard_high": "", "drugs.+.limits.1.hard_low": ""}, "bound the demand dose"),
    ],
)
def test_what_is_wrong_with_a_new_drug_is_said_beside_its_field(
    world: World, typed: dict[str, str], says: str
) -> None:
    browser = pharmacist(world, "library/change/new-drug")
    page = browser.press("See what differs", **{**NEW, **typed})
    assert page.status == 422
    assert any(says in each for each in faults(page)), page.text
    held = dict(page.form_with("See what differs")[0].held)
    assert {name: held[name] for name in {**NEW, **typed}} == {**NEW, **typed}


def test_a_drug_is_taken_out_with_when_its_effect_is_greatest(world: World) -> None:
    browser = pharmacist(world, "library/change/SUFentanil")
    page = browser.press("Take SUFentanil out of the document")
    assert "SUFentanil: greatest effect after 5 min taken away" in page.text
    assert "SUFentanil: demand dose" in page.text


def test_a_step_is_put_in_at_its_place(world: World) -> None:
    before = steps(world)
    browser = pharmacist(world, "safety-steps")
    browser.follow("A new step")
    at = len(before)
    new = {
        f"steps.{at}.id": "bed-rail",
        f"steps.{at}.group": "1",
        f"steps.{at}.plans": "with-carrier",
        f"steps.{at}.do": "The rail is up.",
        f"steps.{at}.verify": "I saw that the rail is up.",
        "place": "2",
    }
    page = browser.press("See what differs", **new)
    assert page.status == 200, page.text
    assert (
        "Step bed-rail: done, and verified not there The rail is up. / I saw that the rail is up."
        in page.text
    )
    assert f"Step bed-rail: comes not there after {before[0]}" in page.text
    approved(world, browser)
    assert steps(world) == [before[0], "bed-rail", *before[1:]]


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ({"place": "0"}, "write a whole number from 1 to"),
        ({}, "write its name"),
        ({"do": "Only this."}, "'verify' is missing"),
    ],
)
def test_a_step_that_lacks_something_is_not_put_in(world: World, typed: dict[str, str], says: str) -> None:
    at = len(steps(world))
    browser = pharmacist(world, "safety-steps/change/new-step")
    given = {name if name == "place" else f"steps.{at}.{name}": text for name, text in typed.items()}
    page = browser.press("See what differs", **given)
    assert page.status == 422
    assert any(says in each for each in faults(page)), page.text


def test_steps_are_moved_worded_otherwise_and_taken_out_in_one_version(world: World) -> None:
    before = steps(world)
    browser = pharmacist(world, "safety-steps/change/order")
    page = browser.press("See what differs", **{f"place.{before[2]}": "2"})
    assert f"Step {before[2]}: comes after {before[1]} after {before[0]}" in page.text
    # Nothing is proposed yet, and what was changed is carried on.
    browser.press("Change that, too", part="step.baseline")
    page = browser.press(
        "See what differs", **{"steps.0.do": "Sedation, breathing and SpO2 are written here."}
    )
    assert "Sedation, breathing and SpO2 are written here. /" in page.text
    assert f"Step {before[2]}: comes after {before[1]} after {before[0]}" in page.text
    browser.press("Change that, too", part=f"step.{before[1]}")
    page = browser.press(f"Take Step {before[1]} out of the document")
    assert f"Step {before[1]}: comes after {before[0]} taken away" in page.text
    approved(world, browser)
    assert steps(world) == [before[0], before[2], *before[3:]]


def test_the_guards_of_steps_hold_for_forms_too(world: World) -> None:
    browser = pharmacist(world, "safety-steps/change/step.baseline")
    page = browser.press("Take Step baseline out of the document")
    assert page.status == 422
    assert "no step writes down the baseline" in page.text
    last = len(steps(world))
    browser.get("/rules/safety-steps/change/order")
    page = browser.press("See what differs", **{"place.old-out": "1"})
    assert page.status == 422
    assert "new-syringe: the step old-out comes after no step that stands before it" in page.text
    page = browser.press("See what differs", **{"place.old-out": "8", "place.paused": "first"})
    assert faults(page) == [f"write a whole number from 1 to {last}"]


def test_a_document_that_no_page_of_ours_carried_is_refused(world: World) -> None:
    browser = pharmacist(world, "library")
    for path in ("/rules/library/more", "/rules/library/change/morphine"):
        for content in ("[]", "{}", "no JSON"):
            sent = [("csrf_token", browser.token()), ("content", content), ("part", "morphine")]
            assert browser.post(path, sent).status == 400
            browser.get("/rules/library")
