"""Pages that wait ask each second whether they still show what is, and are told no more than that."""

from collections.abc import Callable
from datetime import timedelta
from urllib.parse import urlsplit

import pytest

from app.keys import token_digest
from app.records.kept import Access
from app.workflow.sweeping import sweep_once
from tests.factories.answers import answers
from tests.story.pages import DONE_BUTTON, Pair, at_signing, at_steps, cleared, compared, joined
from tests.support.browser import Browser, Page
from tests.support.world import IDLE, World

NOTHING_NEW, RELOAD = (204, ""), (200, "Reload.")


def asked_by(page_body: str) -> str:
    """Where a page that waits asks."""
    _, _, rest = page_body.partition('data-refresh="')
    return rest.partition('"')[0]


def told(browser: Browser, where: str) -> tuple[int, str]:
    """What a page that waits is told; where that leads is not followed."""
    answer = browser.client.get(where, base_url="https://localhost")
    return answer.status_code, answer.get_data(as_text=True)


def waiting(pair: Pair, browser: Browser) -> str:
    """One of the two has handed in and waits; where the page asks."""
    pair.hand_in(browser, answers())
    where = asked_by(pair.page(browser, "/waiting").body)
    assert where.startswith(f"/check/{pair.check}/since/")
    return where


def test_a_page_that_waits_is_told_when_something_happened(world: World) -> None:
    pair = at_steps(world)
    pair.prime()
    where = asked_by(pair.page(pair.second, "/steps").body)
    assert where.startswith(f"/check/{pair.check}/since/")
    assert told(pair.second, where) == NOTHING_NEW

    pair.page(pair.first, "/steps")
    pair.first.press(DONE_BUTTON, done="cover-locked")
    assert told(pair.second, where) == RELOAD


def test_whoever_has_signed_waits_for_the_other(world: World) -> None:
    pair = at_signing(world)
    login = "n.ferrow"
    pair.page(pair.first, "/sign")
    assert asked_by(pair.first.page.body) == "", "there is something to do"
    pair.first.press("Sign this record", login=login, secret=world.secrets[login])
    where = asked_by(pair.page(pair.first, "/sign").body)
    assert told(pair.first, where) == NOTHING_NEW
    login = "t.osmund"
    pair.page(pair.second, "/sign")
    pair.second.press("Sign this record", login=login, secret=world.secrets[login])
    assert told(pair.first, where) == RELOAD


def test_a_clearance_that_lapses_by_time_alone_is_told(world: World) -> None:
    """Nobody acts then: the sweeper writes the lapse down."""
    pair = cleared(world)
    pair.page(pair.first, "/start")
    pair.first.press("The device shows exactly this")
    where = asked_by(pair.page(pair.first, "/start").body)
    for _ in range(3):
        assert told(pair.first, where) == NOTHING_NEW
        world.clock.pass_(minutes=5)
        pair.page(pair.first)
    assert told(pair.first, where) == NOTHING_NEW
    world.clock.pass_(seconds=1)
    sweep_once(world.site, world.clock.now, holder="sweeper")

    assert told(pair.first, where) == RELOAD
    page = pair.page(pair.first, "/start")
    assert page.heading == "No longer ready to start: the time has run out"
    assert asked_by(page.body) == "", "nobody asks for ever"


def asks_for_help(pair: Pair) -> None:
    pair.page(pair.second, "/help")
    pair.second.press("Ask for help", why="patient")


def stops(pair: Pair) -> None:
    pair.page(pair.second, "/stop")
    pair.second.press("The device was stopped: write it down")


def ends(pair: Pair) -> None:
    pair.page(pair.second, "/abandon")
    pair.second.press("Give this check up", reason="time")


# What the other may do before handing in, and whether the page that waits is to tell of it.
OF_THE_OTHER: dict[str, tuple[Callable[[Pair], object], tuple[int, str]]] = {
    "writes a whole reading": (lambda pair: pair.draft(pair.second, answers()), NOTHING_NEW),
    "asks for help": (asks_for_help, NOTHING_NEW),
    "signs out": (lambda pair: pair.second.press("Sign out"), NOTHING_NEW),
    "stops the device": (stops, RELOAD),
    "sees danger": (lambda pair: pair.sees_danger("label"), RELOAD),
    "ends the check": (ends, RELOAD),
    "hands in, and it is compared": (lambda pair: pair.hand_in(pair.second, answers()), RELOAD),
}


@pytest.mark.parametrize("what", OF_THE_OTHER)
def test_until_both_have_handed_in_little_of_the_other_changes_the_answer(world: World, what: str) -> None:
    does, wanted = OF_THE_OTHER[what]
    pair = joined(world)
    where = waiting(pair, pair.first)
    assert told(pair.first, where) == NOTHING_NEW

    does(pair)

    assert told(pair.first, where) == wanted
    # The page that is loaded then waits for the next thing.
    again = asked_by(pair.page(pair.first, "/waiting").body)
    assert not again or told(pair.first, again) == NOTHING_NEW


def test_that_the_second_has_joined_is_told(world: World) -> None:
    first, second = world.at("n.ferrow"), world.at("t.osmund")
    check = world.open_check(first)
    pair = Pair(world=world, first=first, second=second, check=check)
    where = waiting(pair, first)
    assert told(first, where) == NOTHING_NEW

    world.join(second, check)

    assert told(first, where) == RELOAD


def test_the_safety_steps_that_the_other_begins_meanwhile_are_not_told(world: World) -> None:
    pair = joined(world)
    where = waiting(pair, pair.second)
    pair.page(pair.first, "/steps")
    pair.first.press(DONE_BUTTON, done="cover-locked")

    assert told(pair.second, where) == NOTHING_NEW


def test_whoever_has_not_handed_in_is_told_nothing_of_the_others_hand_in(world: World) -> None:
    pair = joined(world)
    position = pair.state.told_position
    where = f"/check/{pair.check}/since/{position}"
    assert told(pair.second, where) == NOTHING_NEW

    pair.hand_in(pair.first, answers())

    assert pair.state.last_position > position
    assert told(pair.second, where) == NOTHING_NEW


REASONS: dict[str, Callable[[Pair, str], object]] = {
    "something happened": lambda pair, _: pair.hand_in(pair.second, answers()),
    "the session has ended": lambda pair, _: pair.first.press("Sign out"),
    "the session ran out": lambda pair, _: pair.world.clock.pass_(seconds=IDLE.total_seconds() + 1),
    "somebody else has signed in there": lambda pair, _: pair.world.sign_in(pair.first, "r.calloway"),
}


def test_whatever_the_reason_a_reload_is_the_same_bytes(world: World) -> None:
    answered: list[tuple[int, object, bytes]] = []
    where = ""
    for why, comes_about in REASONS.items():
        pair = joined(world) if not answered else anew(world, str(len(answered)))
        where = waiting(pair, pair.first)
        comes_about(pair, where)
        answer = pair.first.client.get(where, base_url="https://localhost")
        answered.append((answer.status_code, sorted(answer.headers.items()), answer.get_data()))
        assert answered[-1] == answered[0], why
    stranger = world.at("r.calloway").client.get(where, base_url="https://localhost")
    gone = world.at("r.calloway").client.get("/check/none/since/0", base_url="https://localhost")
    for answer in (stranger, gone):
        assert (answer.status_code, sorted(answer.headers.items()), answer.get_data()) == answered[0]


def anew(world: World, bed: str) -> Pair:
    """The next check of the same two, who sign in for it."""
    first, second = world.at("n.ferrow"), world.at("t.osmund")
    check = world.open_check(first, bed=bed)
    world.join(second, check)
    return Pair(world=world, first=first, second=second, check=check)


def test_asking_never_counts_as_being_there(world: World) -> None:
    pair = joined(world)
    where = waiting(pair, pair.first)
    seen = last_seen(pair.first, world)
    minute = timedelta(minutes=1)
    for _ in range(IDLE // minute):
        world.clock.pass_(seconds=minute.total_seconds())
        assert told(pair.first, where) == NOTHING_NEW
    assert last_seen(pair.first, world) == seen

    world.clock.pass_(seconds=1)

    assert told(pair.first, where) == RELOAD
    assert pair.first.get(urlsplit(where).path.split("/since")[0]).heading == "Sign in"


def last_seen(browser: Browser, world: World) -> object:
    """When the session at a browser was there last."""
    cookie = browser.client.get_cookie(world.settings.session_cookie, domain="localhost")
    assert cookie is not None
    with world.site.store.read() as reader:
        session = reader.find_session(token_digest(cookie.value))
    assert session is not None
    return session.last_seen_at


def test_asking_is_no_look_at_a_value_and_is_for_the_two_alone(world: World) -> None:
    pair = compared(world)
    before = looks(pair)
    where = f"/check/{pair.check}/since/{pair.state.last_position}"
    assert told(pair.first, where) == NOTHING_NEW
    assert told(world.at("r.calloway"), where) == RELOAD
    assert looks(pair) == before
    pair.page(pair.first)
    assert len(looks(pair)) == len(before) + 1


def test_whoever_waits_for_help_and_is_not_one_of_the_two_asks_nothing(world: World) -> None:
    pair = compared(world)
    page: Page = world.at("r.calloway").get(f"/check/{pair.check}")
    assert asked_by(page.body) == ""


def looks(pair: Pair) -> tuple[Access, ...]:
    """Every look at a value that was written down."""
    with pair.world.site.store.read() as reader:
        return tuple(reader.accesses_between(0, 10_000))
