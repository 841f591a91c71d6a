"""What refuses the confirmation of a key, each layer alone: the rules without the triggers, and each trigger.

With both away it is confirmed, so that each of the two is seen to be what refuses. What the page offers is
held in `tests/web/test_keys.py`.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import pytest

from app.storage import Reader, triggers
from app.storage.engine import database_url as with_driver
from app.storage.engine import make_engine
from app.storage.triggers import KEY_RULES
from app.workflow import key_ceremony
from app.workflow.key_ceremony import KeyConfirmed, NotASecondPerson
from app.workflow.refusals import KeyNotConfirmed, NotFound
from tests.story.attacked import Attacked
from tests.story.key_acts import NEW_SECRET, confirms, key_of, reset, sets_secret
from tests.story.people import ADELE, NADIA, RUTH, TOMAS, Somebody
from tests.story.ward import open_ward

OTHER_SECRET = "twelve kites over the salt marsh"


@dataclass(frozen=True, kw_only=True)
class Refused:
    """Who tries to confirm Nadia's new key, what the rules say of it, and the trigger that refuses it."""

    by: Somebody
    secret: str = ""
    says: type
    trigger: str
    before: Callable[[Attacked], object] = lambda _: None


def _tomas_waits_too(ward: Attacked) -> None:
    sets_secret(ward, TOMAS, reset(ward, TOMAS), OTHER_SECRET)


REFUSED = {
    "its own person": Refused(
        by=NADIA, secret=NEW_SECRET, says=NotASecondPerson, trigger="key_is_confirmed_by_a_second_person"
    ),
    "who gave the code": Refused(
        by=ADELE, says=NotASecondPerson, trigger="key_is_confirmed_by_a_second_person"
    ),
    "one whose own key waits": Refused(
        by=TOMAS,
        secret=OTHER_SECRET,
        says=KeyNotConfirmed,
        trigger="key_is_confirmed_with_one_confirmed_before",
        before=_tomas_waits_too,
    ),
    "of a retired key": Refused(
        by=RUTH,
        says=NotFound,
        trigger="retired_key_is_not_confirmed",
        before=lambda ward: reset(ward, NADIA),
    ),
}


@pytest.fixture(params=REFUSED)
def refused(request: pytest.FixtureRequest) -> Refused:
    return REFUSED[str(request.param)]


@pytest.fixture
def renewed(database_url: str) -> Iterator[Attacked]:
    """Nadia was reset by Adele and has made a new key; what happens to it is not held to the invariants."""
    with open_ward(database_url) as made:
        under = Attacked(made.site, database_url)
        sets_secret(under, NADIA, reset(under, NADIA))
        yield under


def _keep_triggers(ward: Attacked, *names: str) -> None:
    """Of those about confirmations."""
    engine = make_engine(with_driver(ward.address))
    gone = [each for each in KEY_RULES if each.table == "key_confirmation" and each.name not in names]
    with engine.begin() as connection:
        triggers.drop(connection, gone)
    engine.dispose()


def _take_rules_away(patch: pytest.MonkeyPatch, kid: str) -> None:
    found = Reader.live_key

    def live_or_retired(reader: Reader, person: str) -> object:
        return reader.find_key(kid) if person == NADIA.id else found(reader, person)

    patch.setattr(Reader, "live_key", live_or_retired)
    patch.setattr(key_ceremony, "why_not_by", lambda *_: None)
    patch.setattr(key_ceremony, "usable_key", lambda reader, _, person: reader.live_key(person.id))


def _is_confirmed(ward: Attacked, kid: str) -> bool:
    with ward.site.store.read() as reader:
        return reader.find_confirmation(kid) is not None


def test_the_rules_alone_refuse_it(renewed: Attacked, refused: Refused) -> None:
    kid = key_of(renewed, NADIA).kid
    refused.before(renewed)
    _keep_triggers(renewed)
    assert isinstance(confirms(renewed, kid, refused.by, secret=refused.secret), refused.says)
    assert not _is_confirmed(renewed, kid)


def test_its_trigger_alone_refuses_it(
    renewed: Attacked, refused: Refused, monkeypatch: pytest.MonkeyPatch
) -> None:
    kid = key_of(renewed, NADIA).kid
    refused.before(renewed)
    _keep_triggers(renewed, refused.trigger)
    _take_rules_away(monkeypatch, kid)
    assert confirms(renewed, kid, refused.by, secret=refused.secret) == NotFound()
    assert not _is_confirmed(renewed, kid)


def test_with_both_away_it_is_confirmed(
    renewed: Attacked, refused: Refused, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The twin."""
    kid = key_of(renewed, NADIA).kid
    refused.before(renewed)
    _keep_triggers(renewed)
    _take_rules_away(monkeypatch, kid)
    assert confirms(renewed, kid, refused.by, secret=refused.secret) == KeyConfirmed(kid=kid)
    assert _is_confirmed(renewed, kid)
