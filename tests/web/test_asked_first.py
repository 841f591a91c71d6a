"""What a site asks of people before they take anything up at a patient: training, an accepted statement."""

import pytest

from app.people import takes_up
from app.records import site_events
from app.records.policy import policy_from
from app.workflow import training
from tests.factories.seeded import seeded
from tests.support.browser import Browser
from tests.support.world import World

TOPIC = "the tool"
TRAINING = {"topics": [TOPIC], "days": 365}
STATEMENT = {"version": "2031-1", "text": ["What I sign with my id and secret binds me like ink."]}
NURSE, ADMINISTRATOR = "n.ferrow", "a.moreau"
PIN = "739204"


def train(world: World, login: str, day: str = "2031-05-01") -> None:
    kept = training.record_training(
        world.site,
        world.clock.now,
        by=world.person(ADMINISTRATOR).id,
        new_id=next(world.ids),
        person=world.person(login).id,
        topic=TOPIC,
        trained_on=day,
    )
    assert isinstance(kept, training.TrainingKept), kept


def signed_in(world: World, login: str = NURSE) -> Browser:
    browser = world.browser()
    world.sign_in(browser, login)
    return browser


def takes_something_up(browser: Browser) -> bool:
    """Whether a check can be opened from here."""
    return browser.get("/open").path == "/open"


def words(browser: Browser) -> str:
    return " ".join(browser.page.text.split())


def test_where_the_site_has_not_said_nothing_is_asked(world: World) -> None:
    browser = world.at(NURSE)
    assert takes_something_up(browser)
    assert browser.get("/keys/statement").status == 404


# Training.


def test_without_training_nothing_is_taken_up_and_it_is_told_at_sign_in(world: World) -> None:
    world.publishes_policy(training=TRAINING)
    browser = signed_in(world)
    assert browser.page.path == "/keys"
    assert f"Training {TOPIC}: none is recorded. An administrator records it" in words(browser)
    assert not takes_something_up(browser)
    train(world, NURSE)
    assert takes_something_up(browser)
    assert world.sign_in(world.browser(), NURSE).path == "/"


def test_a_training_counts_for_the_site_s_days_and_no_longer(world: World) -> None:
    world.publishes_policy(training=TRAINING)
    train(world, NURSE, "2030-05-02")
    assert takes_something_up(signed_in(world))
    world.clock.pass_(days=1)
    browser = signed_in(world)
    assert "the last one, of 2 May 2030, is too long ago" in words(browser)
    assert not takes_something_up(browser)


def test_nobody_is_shut_out_within_a_shift(world: World) -> None:
    """It stands as it did when the secret was given: past midnight the check goes on."""
    world.publishes_policy(training=TRAINING)
    train(world, NURSE, "2030-05-02")
    # An hour before midnight there.
    world.clock.pass_(hours=10, minutes=55)
    browser = signed_in(world)
    world.clock.pass_(minutes=4)
    assert takes_something_up(browser)
    world.clock.pass_(minutes=4)
    assert takes_something_up(browser)
    assert not takes_something_up(signed_in(world))


@pytest.mark.parametrize("path", ["/stop", "/pause"])
def test_stopping_and_pausing_never_wait(world: World, path: str) -> None:
    world.publishes_policy(training=TRAINING, accountability=STATEMENT)
    browser = signed_in(world)
    assert not takes_something_up(browser)
    assert browser.get(path).path != "/keys"


def test_an_administrator_records_it_and_whoever_recorded_it_stands_beside_it(world: World) -> None:
    world.publishes_policy(training=TRAINING)
    browser = world.at(ADMINISTRATOR)
    person = world.person(NURSE).id
    browser.get(f"/accounts/{person}")
    page = browser.press("Record the training", topic=TOPIC, trained_on="2031-04-30")
    assert page.status == 200
    assert f"{TOPIC} 30 April 2031 Adele Moreau" in words(browser)
    assert world.sign_in(world.browser(), NURSE).path == "/"


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ({"topic": "something else"}, "Choose one of: the tool."),
        ({"trained_on": "30 April"}, "Write the day as year-month-day"),
        ({"trained_on": "20310430"}, "Write the day as year-month-day"),
        ({"trained_on": "2031-05-03"}, "This day has not come yet."),
    ],
)
def test_what_is_no_training_is_refused_beside_its_field(
    world: World, given: dict[str, str], says: str
) -> None:
    world.publishes_policy(training=TRAINING)
    browser = world.at(ADMINISTRATOR)
    browser.get(f"/accounts/{world.person(NURSE).id}")
    usual = {"topic": TOPIC, "trained_on": "2031-04-30"}
    page = browser.press("Record the training", **usual | given)
    assert page.status == 422
    assert says in words(browser)
    assert all(value in page.body for value in (usual | given).values())


def test_nobody_records_their_own(world: World) -> None:
    browser = world.at(ADMINISTRATOR)
    browser.get(f"/accounts/{world.person(ADMINISTRATOR).id}")
    page = browser.press("Record the training", topic=TOPIC, trained_on="2031-04-30")
    assert page.status == 422
    assert "Nobody records their own training" in words(browser)


def test_one_that_was_recorded_wrongly_is_withdrawn_and_counts_no_more_at_once(world: World) -> None:
    world.publishes_policy(training=TRAINING)
    train(world, NURSE)
    nurse = world.at(NURSE)
    assert takes_something_up(nurse)
    browser = world.at(ADMINISTRATOR)
    browser.get(f"/accounts/{world.person(NURSE).id}")
    browser.press("Withdraw")
    assert "None is recorded." in words(browser)
    assert not takes_something_up(nurse)


# The statement of accountability.


def test_the_statement_is_accepted_at_sign_in_and_asked_once(world: World) -> None:
    world.publishes_policy(accountability=STATEMENT)
    browser = signed_in(world)
    assert browser.page.path == "/keys"
    assert not takes_something_up(browser)
    page = browser.get("/keys/statement")
    assert STATEMENT["text"][0] in page.text
    assert browser.press("I accept this statement").path == "/"
    assert takes_something_up(browser)
    assert world.sign_in(world.browser(), NURSE).path == "/"
    nurse = world.person(NURSE).id
    with world.site.store.read() as reader:
        (kept,) = reader.acceptances_of(nurse)
        (entry,) = reader.entries_of_kind(site_events.AccountabilityAccepted.kind)
    assert (kept.version, kept.accepted_at, entry.by) == ("2031-1", world.clock.now, kept.person)
    statement = policy_from({**seeded("policy"), "accountability": STATEMENT}).accountability
    assert statement is not None
    assert kept.digest == statement.digest


@pytest.mark.parametrize("changed", [{"version": "2031-2"}, {"text": ["Other words."]}])
def test_another_version_is_asked_anew_and_so_are_other_words(
    world: World, changed: dict[str, object]
) -> None:
    world.publishes_policy(accountability=STATEMENT)
    browser = signed_in(world)
    browser.get("/keys/statement")
    browser.press("I accept this statement")
    world.clock.pass_(minutes=1)
    world.publishes_policy(version="policy-other", accountability={**STATEMENT, **changed})
    # Not within the shift: at the next sign-in.
    assert takes_something_up(browser)
    assert not takes_something_up(signed_in(world))


def test_what_was_shown_is_what_is_accepted(world: World) -> None:
    world.publishes_policy(accountability=STATEMENT)
    browser = signed_in(world)
    browser.get("/keys/statement")
    world.publishes_policy(version="policy-other", accountability={**STATEMENT, "version": "2031-2"})
    page = browser.press("I accept this statement")
    assert page.status == 409
    assert "The statement has changed" in words(browser)


def test_it_is_accepted_with_the_secret_just_given(world: World) -> None:
    world.publishes_policy(accountability=STATEMENT)
    browser = signed_in(world)
    for _ in range(4):
        world.clock.pass_(minutes=3)
        browser.get("/keys/statement")
    page = browser.press("I accept this statement")
    assert page.status == 422
    assert "sign in again" in words(browser)
    assert not takes_something_up(browser)


def test_six_digits_accept_nothing(world: World) -> None:
    world.publishes_policy(accountability=STATEMENT)
    browser = world.browser()
    world.sign_in(browser, NURSE, pin=PIN)
    browser.press("Lock")
    browser.follow("Nadia Ferrow")
    browser.press("Unlock", pin=PIN)
    browser.get("/keys/statement")
    assert browser.press("I accept this statement").heading == "Sign in"
    with world.site.store.read() as reader:
        assert reader.acceptances() == ()


def test_whoever_takes_up_nothing_at_a_patient_is_not_kept_from_the_rest(world: World) -> None:
    world.publishes_policy(training=TRAINING)
    assert not takes_up(world.person(ADMINISTRATOR).roles)
    browser = signed_in(world, ADMINISTRATOR)
    assert browser.get("/accounts").path == "/accounts"
