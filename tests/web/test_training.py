"""An installation for training in the browser: cards are named at the opening, and told of after the end."""

import pytest

from app.people import Role
from app.review.errors import Error
from app.review.mixes import Mix
from app.site.installation import founded
from app.web import create_app
from app.web.asking import EXTENSION
from app.workflow.training_cards import deal_cards
from tests.factories.site_keys import INSTALLATION
from tests.support.browser import Browser
from tests.support.world import UNIT, World

EVEN = Mix(name="even", weights=dict.fromkeys(Error, 1), source="")


@pytest.fixture
def school(world: World) -> World:
    """The world as an installation for training, in which sets of cards were dealt."""
    with world.site.store.write() as tx:
        tx.append(founded(world.site.key, "a school", copy_of=INSTALLATION), at=world.clock())
    deal_cards(world.site, world.clock(), seed="1", mix=EVEN, sets=3)
    # A server is started on it only afterwards.
    world.app = create_app(world.app.extensions[EXTENSION])
    return world


def test_a_check_is_opened_on_cards_and_once_it_has_ended_a_page_says_what_was_wrong(school: World) -> None:
    nurse = school.at("n.ferrow")
    nurse.get("/open")
    nurse.press("Open it, and begin", unit=UNIT, bed="12", cards="2")
    check = nurse.page.path.split("/")[2]
    assert nurse.get(f"/check/{check}/training").status == 404
    nurse.get(f"/check/{check}/abandon")
    told = nurse.press("Give this check up", reason="exercise-over")
    assert told.path == f"/check/{check}/training"
    assert "What was wrong on the cards" in nurse.get(f"/check/{check}").text
    told = nurse.get(f"/check/{check}/training")
    assert "Cards of set 2." in told.text
    assert "Did not hand in reading 1." in told.text
    assert "For training: never for a patient" in told.text


def test_a_number_that_no_set_has_is_said_beside_its_field_and_nothing_is_lost(school: World) -> None:
    nurse = school.at("n.ferrow")
    nurse.get("/open")
    page = nurse.press("Open it, and begin", unit=UNIT, bed="12", cards="77")
    assert page.status == 422
    assert "No such set waits for its check" in page.text
    held = dict(page.form_with("Open it, and begin")[0].held)
    assert (held["bed"], held["cards"]) == ("12", "77")


def test_where_patients_are_nobody_is_asked_for_cards_and_there_is_no_such_page(world: World) -> None:
    nurse = world.at("n.ferrow")
    assert "Number of the cards" not in nurse.get("/open").text
    check = world.open_check(nurse)
    assert "The exercise is over" not in nurse.get(f"/check/{check}/abandon").text
    with pytest.raises(LookupError, match="does not offer 'exercise-over'"):
        nurse.press("Give this check up", reason="exercise-over")
    nurse.press("Give this check up", reason="order-withdrawn")
    assert "on the cards" not in nurse.get(f"/check/{check}").text
    assert nurse.get(f"/check/{check}/training").status == 404


def trainer_at(school: World) -> Browser:
    """The charge nurse, who is a trainer too from now on."""
    person = school.person("r.calloway")
    with school.site.store.write() as tx:
        tx.set_roles(person.id, {*person.roles, Role.TRAINER})
    return school.at("r.calloway")


def ended(nurse: Browser, cards: str) -> str:
    """A check on a set of cards that was given up."""
    nurse.get("/open")
    nurse.press("Open it, and begin", unit=UNIT, bed="12", cards=cards)
    check = nurse.page.path.split("/")[2]
    nurse.get(f"/check/{check}/abandon")
    nurse.press("Give this check up", reason="order-withdrawn")
    return check


def test_ones_own_checks_stand_on_a_page_once_they_have_ended_and_are_signed_there(school: World) -> None:
    nurse, other = school.at("n.ferrow"), school.at("i.bexley")
    assert "No check on cards has ended yet" in nurse.get("/training").text
    nurse.get("/open")
    nurse.press("Open it, and begin", unit=UNIT, bed="12", cards="1")
    check = nurse.page.path.split("/")[2]
    page = nurse.get("/training")
    assert "No check on cards has ended yet" in page.text
    assert "Sign my record" not in page.text
    nurse.get(f"/check/{check}/abandon")
    nurse.press("Give this check up", reason="order-withdrawn")
    assert "Set 1, " in nurse.get("/training").text
    assert "No check on cards has ended yet" in other.get("/training").text
    refused = nurse.press("Sign my record", login="n.ferrow", secret="another secret altogether")
    assert refused.status == 422
    assert "Id and secret do not belong together" in refused.text
    another = nurse.press("Sign my record", login="i.bexley", secret=school.secrets["i.bexley"])
    assert "Whoever signs here is whoever is signed in" in another.text
    signed = nurse.press("Sign my record", login="n.ferrow", secret=school.secrets["n.ferrow"])
    assert "a trainer signs next" in signed.text
    assert "Sign my record" not in signed.text


def test_a_trainer_sees_everybody_and_signs_what_a_person_signed(school: World) -> None:
    nurse, trainer = school.at("n.ferrow"), trainer_at(school)
    ended(nurse, "1")
    nurse.get("/training")
    nurse.press("Sign my record", login="n.ferrow", secret=school.secrets["n.ferrow"])
    assert nurse.get("/training/people").status == 403
    everybody = trainer.get("/training/people")
    assert "A record waits for a trainer's signature." in everybody.text
    one = trainer.follow("Nadia Ferrow")
    assert "Record 1" in one.text
    signed = trainer.press(
        "Sign this record as a trainer", login="r.calloway", secret=school.secrets["r.calloway"]
    )
    assert "the PDF is being made" in signed.text
    person = signed.path.rsplit("/", 1)[1]
    assert nurse.get(f"/training/people/{person}/1.pdf").status == 404
    assert school.at("i.bexley").get(f"/training/people/{person}/1.pdf").status == 404


def test_where_patients_are_there_is_no_training_to_be_told_of(world: World) -> None:
    nurse = world.at("n.ferrow")
    assert [nurse.get(path).status for path in ("/training", "/training/people/any/1.pdf")] == [404, 404]
    assert "training" not in nurse.get("/").text


def test_a_trainer_is_made_where_people_train_and_nowhere_else(world: World) -> None:
    administrator = world.at("a.moreau")
    assert "Trainer" not in administrator.get("/accounts").text
    assert "Trainer" not in administrator.get("/accounts/new").text


def test_where_people_train_an_administrator_makes_a_trainer(school: World) -> None:
    administrator = school.at("a.moreau")
    assert "Trainer" in administrator.get("/accounts").text
    assert "Trainer" in administrator.get("/accounts/new").text
