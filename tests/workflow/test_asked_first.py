"""What a site asks of people first holds wherever id and secret are given: on another screen, at signing."""

from app.records.life import Action
from app.records.state import Phase
from app.workflow import signing
from app.workflow.confirming import NotConfirmed, Part, Unconfirmed, lock_part, part_with
from app.workflow.own_signature import NotReady
from app.workflow.training import record_training
from tests.story.key_acts import signatures, signs
from tests.story.people import ADELE, NADIA, TOMAS
from tests.story.ward import Ward
from tests.support.policies import publish_policy


def tomas_confirms_at_nadia_s_screen(ward: Ward) -> object:
    act = ward.act(NADIA)
    part = part_with(ward.site, act, slot=2, login=TOMAS.login, secret=TOMAS.secret)
    assert isinstance(part, Part)
    with ward.site.store.write() as tx:
        return lock_part(tx, act, ward.check, Action.CONFIRM_STEPS, part=part)


def test_whoever_is_not_trained_confirms_nothing_on_another_s_screen_and_signs_nothing(ward: Ward) -> None:
    ward.at_stage(Phase.STEPS)
    publish_policy(ward.site, ward.wait().now, training={"topics": ["the tool"], "days": 365})
    assert tomas_confirms_at_nadia_s_screen(ward) == NotConfirmed(Unconfirmed.NOT_READY)
    ward.at_stage(Phase.SIGNING)
    assert signs(ward, TOMAS) == NotReady()
    assert signatures(ward) == ()
    for each in (NADIA, TOMAS):
        record_training(
            ward.site,
            ward.wait().now,
            by=ADELE.id,
            new_id=each.id,
            person=each.id,
            topic="the tool",
            trained_on="2031-05-01",
        )
    assert signs(ward, TOMAS) == signing.Signed()


def test_whoever_has_not_accepted_the_statement_signs_nothing(ward: Ward) -> None:
    ward.at_stage(Phase.SIGNING)
    publish_policy(ward.site, ward.wait().now, accountability={"version": "1", "text": ["It binds me."]})
    assert signs(ward, NADIA) == NotReady()
    assert signatures(ward) == ()
