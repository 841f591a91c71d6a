"""The walk past what is told of training cards, in what is said last to be a copy for training."""

from app.people import Role
from app.records.training_events import CardSetTaken
from app.review.mixes import MIXES
from app.site.installation import find_installation, founded
from app.workflow.training_cards import deal_cards
from tests.browser.people import Person
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
    _signs(ward, nurse, "t.osmund", "Sign my record")
    visitor.take(nurse, "own record, signed")
    with site.store.write() as tx:
        trainer = next(each for each in tx.people() if each.login == "r.calloway")
        tx.set_roles(trainer.id, {*trainer.roles, Role.TRAINER})
    charge = ward.person("r.calloway")
    charge.go("/training/people")
    visitor.take(charge, "who trained on cards")
    charge.follow("Tomas Osmund")
    visitor.take(charge, "training of one, to be signed")
    _signs(ward, charge, "r.calloway", "Sign this record as a trainer")
    visitor.take(charge, "training of one, signed")


def _signs(ward: Ward, person: Person, login: str, button: str) -> None:
    person.write("Id", login)
    person.write("Secret", ward.running.person(login).secret)
    person.press(button)
