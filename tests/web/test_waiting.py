"""Pages that wait ask whether anything happened, and are told no more than that."""

from datetime import timedelta

from app.records.kept import Access
from tests.factories.answers import answers
from tests.story.pages import DONE_BUTTON, Pair, at_signing, at_steps, compared, joined
from tests.support.world import World, hand_in


def asked_by(page_body: str) -> str:
    """Where a page that waits asks."""
    _, _, rest = page_body.partition('data-refresh="')
    return rest.partition('"')[0]


def test_a_page_that_waits_is_told_when_something_happened(world: World) -> None:
    pair = at_steps(world)
    pair.prime()
    where = asked_by(pair.page(pair.second, "/steps").body)
    assert where.startswith(f"/check/{pair.check}/since/")
    nothing = pair.second.get(where)
    assert (nothing.status, nothing.body) == (204, "")

    pair.page(pair.first, "/steps")
    pair.first.press(DONE_BUTTON, done="cover-locked")
    told = pair.second.get(where)
    assert (told.status, told.body) == (200, "Refresh.")


def test_whoever_has_signed_waits_for_the_other(world: World) -> None:
    pair = at_signing(world)
    login = "n.ferrow"
    pair.page(pair.first, "/sign")
    assert asked_by(pair.first.page.body) == "", "there is something to do"
    pair.first.press("Sign this record", login=login, secret=world.secrets[login])
    where = asked_by(pair.page(pair.first, "/sign").body)
    assert pair.first.get(where).status == 204
    login = "t.osmund"
    pair.page(pair.second, "/sign")
    pair.second.press("Sign this record", login=login, secret=world.secrets[login])
    assert pair.first.get(where).status == 200


def test_while_they_read_alone_there_is_always_something_new(world: World) -> None:
    pair = joined(world)
    where = f"/check/{pair.check}/since/999999"
    before = pair.second.get(where)
    hand_in(pair.first, pair.check, answers())
    after = pair.second.get(where)
    assert (before.status, before.body) == (after.status, after.body) == (200, "Refresh.")
    hand_in(pair.second, pair.check, answers())
    assert pair.second.get(where).status == 204


def test_asking_is_no_look_at_a_value_and_is_for_the_two_alone(world: World) -> None:
    pair = compared(world)
    before = looks(pair)
    where = f"/check/{pair.check}/since/0"
    assert pair.first.get(where).status == 200
    assert world.at("r.calloway").get(where).status == 404
    assert looks(pair) == before
    pair.page(pair.first)
    assert len(looks(pair)) == len(before) + 1


def looks(pair: Pair) -> tuple[Access, ...]:
    """Every look at a value that was written down."""
    with pair.world.site.store.read() as reader:
        return tuple(reader.accesses_between(None, pair.world.clock.now + timedelta(days=1)))
