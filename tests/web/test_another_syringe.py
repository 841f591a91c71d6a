"""The pages of a re-check in which another syringe hangs than was put on."""

from app.records.state import Phase
from app.site.loading import account_of
from tests.factories.answers import answers, changed
from tests.story.pages import started
from tests.support.world import World

OTHER = changed(answers(), label={"lot": "LOT-9"})


def test_both_read_its_lot_and_sign_that_the_account_is_open(world: World) -> None:
    """The first nurse alone is asked for the lot; that it is another one, both have seen."""
    pair = started(world)
    pair.re_checks()
    pair.read(OTHER, changed(answers(), label={"lot": None}))
    assert pair.phase() is Phase.DISPUTED
    assert "LOT-7" not in pair.page(pair.first).text

    pair.read_again(OTHER)
    page = pair.page(pair.second)
    assert pair.phase() is Phase.SIGNING, page.text
    assert "another syringe than was put on" in page.text.casefold()
    assert "LOT-7" in page.text
    pair.sign()
    infusion = pair.state.check.infusion
    with world.site.store.read() as reader:
        account = account_of(reader, infusion)
    assert (account.on, account.lots["2"]) == ("2", "LOT-9")
    # The one before is off: what became of it can be written, by its lot.
    waste = pair.first.get(f"/infusion/{infusion}/waste")
    assert waste.status == 200
    assert "The account is open at bed" in world.at("r.calloway").get("/").text
