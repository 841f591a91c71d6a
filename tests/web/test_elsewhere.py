"""What the two are told where PCA runs already for their patient."""

from dataclasses import replace

from app.records.state import Phase
from tests.factories.answers import answers
from tests.story.pages import Pair, at_signing, cleared, started
from tests.support.world import World

WHERE = "PCA runs already for this patient: Ward 4 East, bed 13."


def beside(pair: Pair) -> Pair:
    """The same two open another check of the same patient, at another bed."""
    other = replace(pair, bed="13")
    other.check = pair.world.open_check(pair.first, other.bed)
    other.joins()
    other.read(answers())
    return other


def runs_beside(pair: Pair) -> Pair:
    """And start it."""
    other = beside(pair)
    other.take_steps()
    other.sign()
    other.look()
    other.start()
    return other


def test_the_comparison_says_where_and_what_to_do(world: World) -> None:
    pair = started(world)
    other = beside(pair)
    page = other.page(other.first)

    assert page.heading == "PCA runs already for this patient: Ward 4 East, bed 12."
    for says in ("DO NOT START", "Two at once can stop the breathing.", "only one may go on"):
        assert says in page.text
    # The button says what was done there, not that a wristband was replaced.
    other.first.press("It was stopped, and that is written down: read the wristband again")
    assert other.first.page.path.endswith("/read/wristband")


def test_the_second_signature_is_refused_in_words(world: World) -> None:
    pair = at_signing(world)
    runs_beside(pair)
    first, second = pair.logins
    for browser, login in ((pair.second, second), (pair.first, first)):
        pair.page(browser, "/sign")
        browser.press("Sign this record", login=login, secret=world.secrets[login])

    page = pair.first.page
    assert page.status == 409
    assert f"Not signed. {WHERE} Look there at patient, wristband and device." in page.text
    assert pair.phase() is Phase.SIGNING


def test_the_last_look_and_the_start_are_refused_in_words(world: World) -> None:
    pair = cleared(world)
    pair.page(pair.second, "/start")
    pair.second.press("The device shows exactly this")
    runs_beside(pair)
    pair.page(pair.first, "/start")
    page = pair.first.press("The device shows exactly this")

    assert page.status == 409
    assert f"DO NOT START; if it runs, stop it now. {WHERE}" in page.text
    assert pair.phase() is Phase.CLEARED


def test_a_start_is_refused_in_words_and_once_the_other_is_stopped_it_is_not(world: World) -> None:
    pair = cleared(world)
    pair.look()
    other = runs_beside(pair)
    page = pair.start()

    assert page.status == 409
    assert f"DO NOT START; if it runs, stop it now. {WHERE}" in page.text
    other.page(other.first, "/stop")
    other.first.press("The device was stopped: write it down", why="other")
    pair.start()
    assert pair.phase() is Phase.STARTED
