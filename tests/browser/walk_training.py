"""The walk past what is told of training cards, in what is said last to be a copy for training."""

from app.records.training_events import CardSetTaken
from app.review.mixes import MIXES
from app.site.installation import find_installation, founded
from app.workflow.training_cards import deal_cards
from tests.browser.walk_running import Visitor
from tests.browser.ward import Ward


def of_training(ward: Ward, visitor: Visitor) -> None:
    """What was wrong on the cards of a check that has ended, as the quality team sees it."""
    site, now = ward.running.site, ward.now()
    with site.store.write() as tx:
        said = find_installation(tx)
        assert said is not None
        tx.append(founded(site.key, "a school", copy_of=said.installation), at=now)
        check = str(next(iter(tx.rows("ended_check", how="abandoned")))["check"])
    deal_cards(site, now, seed="1", mix=MIXES[-1], sets=1)
    with site.store.write() as tx:
        tx.append(CardSetTaken(number=1), at=now, check=check)
    analyst = ward.person("q.lindqvist")
    analyst.go(f"/check/{check}/training")
    visitor.take(analyst, "what was wrong on the cards")
    nurse = ward.person("t.osmund")
    nurse.go("/training")
    visitor.take(nurse, "own checks on training cards")
