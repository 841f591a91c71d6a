"""After a reset nobody takes part before a colleague has seen them: the database refuses it too."""

from app.workflow.key_ceremony import KeyConfirmed
from app.workflow.opening import NotSeen
from app.workflow.reading import SignInAnew
from tests.factories.answers import answers
from tests.story.key_acts import confirms, key_of, reset, sets_secret
from tests.story.people import IMOGEN, TOMAS
from tests.story.ward import Ward

SAYS = "seen_by_a_colleague"


def test_nobody_opens_or_joins_before(ward: Ward) -> None:
    ward.opens()
    code = reset(ward, TOMAS)
    assert ward.joining(TOMAS) == NotSeen()
    sets_secret(ward, TOMAS, code)
    assert ward.joining(TOMAS) == NotSeen()
    assert ward.opening(TOMAS, bed="9") == NotSeen()
    assert isinstance(confirms(ward, key_of(ward, TOMAS).kid, IMOGEN), KeyConfirmed)
    ward.joins(TOMAS)


def test_nobody_hands_in_before_who_had_joined(ward: Ward) -> None:
    ward.opens().joins(TOMAS)
    sets_secret(ward, TOMAS, reset(ward, TOMAS))
    assert ward.reading(TOMAS, ward.of_its_patient(answers())) == SignInAnew()
    assert isinstance(confirms(ward, key_of(ward, TOMAS).kid, IMOGEN), KeyConfirmed)
    ward.reads(TOMAS)
