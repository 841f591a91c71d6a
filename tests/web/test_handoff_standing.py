"""The page of a handoff of what does not run says in which state it is handed over, from the list on."""

from app.workflow import emergencies as hurry
from tests.factories.answers import answers, changed
from tests.story.pages import started
from tests.support.browser import words_of
from tests.support.world import World

TOTALS = {"total_amount": "0 mg", "presses": "0", "doses": "0", "left": "27.6 mL"}


def test_it_is_opened_from_the_list_and_says_how_it_stands(world: World) -> None:
    pair = started(world)
    infusion = pair.state.check.infusion
    hurry.note_reversal(world.site, pair.act(pair.second), infusion)
    hurry.note_key(world.site, pair.act(pair.second), infusion, what="key")
    pair.first.get("/")
    pair.first.press("Handoff of what stands")
    pair.check = pair.first.page.links()["Begin my reading"].split("/")[2]
    pair.joins()
    pair.read(changed(answers(), totals=TOTALS))
    page = pair.page(pair.first)
    shown = words_of(next(page.all("body")))
    assert "Handed over as it stands: It stands, since" in shown
    assert "Held: a reversal agent was given" in shown
    assert "It starts again only once a prescriber has decided." in shown
    assert "is not found" in shown
    assert "It had to start without this check" not in page.text
