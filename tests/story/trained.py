"""A record of checks on training cards that both signed, without the checks: as a database may hold one."""

from datetime import timedelta
from typing import Any

from app.keys import RecordHeader, sign_detached
from app.records.canonical import canonical, digest
from app.records.training_events import CompetencyReviewed, CompetencySigned
from app.review.competency import Holder, Trained, build_record, record_of
from app.review.errors import Error
from app.words.training import OWN_MEANING, TRAINER_MEANING
from app.workflow.issuing import Issued
from app.workflow.issuing_competency import issue_competency
from tests.story.people import NADIA, RUTH, Somebody
from tests.story.ward import Ward


def signed_record(ward: Ward) -> None:
    """Nadia and, as a trainer, Ruth sign; it is sealed."""
    caught = Trained(
        check=ward.check,
        on=ward.now - timedelta(hours=1),
        number=1,
        error=Error.LOCKOUT,
        caught=True,
        seconds=240,
    )
    holder = Holder(person=NADIA.id, printed_name=NADIA.printed_name, staff_number=f"DM-{NADIA.id}")
    content = canonical(
        build_record([caught], edition=1, holder=holder, site="School", zone="Europe/Zurich", invented=True)
    )
    for who, meaning in ((NADIA, OWN_MEANING), (RUTH, TRAINER_MEANING)):
        act = ward.wait().act(who)
        kid, jws = _signature(ward, who, content, meaning)
        its: dict[str, Any] = {
            "record": record_of(NADIA.id),
            "edition": 1,
            "printed_name": who.printed_name,
            "meaning": meaning,
            "kid": kid,
            "signature": jws,
            "beside": "",
        }
        event = (
            CompetencySigned(document=content.decode(), **its)
            if who is NADIA
            else CompetencyReviewed(digest=digest(content), **its)
        )
        with ward.site.store.write() as tx:
            tx.append(event, act=act)
    assert isinstance(issue_competency(ward.site, record_of(NADIA.id), 1, ward.wait().now), Issued)


def _signature(ward: Ward, who: Somebody, content: bytes, meaning: str) -> tuple[str, str]:
    with ward.site.store.read() as reader:
        key = reader.live_key(who.id)
        assert key is not None
        sealed = reader.find_sealed(key.kid)
    assert sealed is not None
    header = RecordHeader(
        kid=key.kid,
        user_id=who.id,
        printed_name=who.printed_name,
        signed_at=ward.now,
        meaning=meaning,
        record_id=record_of(NADIA.id),
        edition=1,
    )
    jws = sign_detached(sealed, who.secret, content, header)
    assert isinstance(jws, str)
    return key.kid, jws
