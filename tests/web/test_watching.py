"""`/health` and `/ready`: for whoever watches the server; neither asks who asks, and neither says a value."""

from pathlib import Path

import pytest

from app.site.installation import founded
from app.storage import Store, StoreUnavailable
from app.web import create_app
from app.web.asking import EXTENSION
from app.web.shown import moment
from tests.factories.site_keys import INSTALLATION
from tests.support.browser import ORIGIN
from tests.support.world import START, World, make_world


def test_health_answers_without_asking_anything_of_the_database(
    world: World, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(Store, "read", _unreachable)
    answer = world.app.test_client().get("/health")

    assert (answer.status_code, answer.text) == (200, "it answers\n")


def _unreachable(_store: Store) -> None:
    raise StoreUnavailable(outcome_known=True)


def test_what_is_made_for_a_demonstration_is_not_ready_for_anybody_else(world: World) -> None:
    answer = world.app.test_client().get("/ready")
    assert (answer.status_code, answer.text) == (503, "not ready: rules\n")
    demo = make_world(world.site.store, world.clock, demo=True)
    assert demo.app.test_client().get("/ready").text == "ready\n"


def test_a_lost_database_and_lost_keys_are_named_by_their_part_alone(
    world: World, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    demo = make_world(world.site.store, world.clock, demo=True)
    with monkeypatch.context() as lost:
        lost.setattr(
            "app.web.views.watching.site",
            lambda: demo.site.__class__(
                store=demo.site.store, key=demo.site.key, site_keys=tmp_path / "none"
            ),
        )
        assert demo.app.test_client().get("/ready").text == "not ready: keys of the site\n"
    monkeypatch.setattr(Store, "read", _unreachable)
    answer = demo.app.test_client().get("/ready")

    assert (answer.status_code, answer.text) == (503, "not ready: database\n")


def test_a_copy_for_training_says_so_on_every_page(world: World) -> None:
    with world.site.store.write() as tx:
        tx.append(founded(world.site.key, "a copy", copy_of=INSTALLATION), at=world.clock())
    # A server is started on it only afterwards.
    copy = make_world(world.site.store, world.clock, demo=True)
    app = create_app(copy.app.extensions[EXTENSION])
    for address in ("/sign-in", "/no-such-page"):
        assert "For training: never for a patient" in app.test_client().get(address).text
    assert "For training" not in world.app.test_client().get("/sign-in").text


def test_every_page_says_in_its_head_that_its_rules_are_invented(world: World) -> None:
    nurse = world.at("n.ferrow")
    for address in ("/sign-in", "/", "/no-such-page"):
        head, _, _ = nurse.get(address).text.partition("Skip to the page")[2].partition("<main")
        assert "Invented rules: never for a patient" in nurse.get(address).text, (address, head)


def test_times_are_shown_in_the_zone_of_the_sites_policy_and_no_other_setting_says_one(world: World) -> None:
    world.publishes_policy(zone="America/Halifax")
    shown = create_app(world.app.extensions[EXTENSION])
    with shown.test_request_context(base_url=ORIGIN):
        assert moment(START) == "2 May 2031, 09:00 (-03:00)"
    assert not [name for name in vars(world.settings) if "zone" in name]
