"""A person's signing key: made with the secret, confirmed face to face, and what is signed with it."""

from dataclasses import replace
from datetime import timedelta

import pytest

from app.base import Method
from app.keys import (
    CONFIRMATION_TYPE,
    RecordHeader,
    SecretFault,
    Verified,
    make_personal_key,
    reseal,
    sign_confirmation,
    sign_detached,
    verify_detached,
    verify_record,
)
from app.records import events
from app.records.canonical import digest
from app.records.kept_keys import KeptKey
from app.records.key_statements import MEANING as CONFIRMING
from app.records.kinds import SET_UP
from app.records.state import Phase
from app.storage import ConstraintBroken
from app.workflow import changing_secret, key_ceremony, own_signature, signing, signing_in
from app.workflow.accounts import AccountMade, NewPerson, make_account
from app.workflow.credentials import Known, Where, verify_credential
from app.workflow.enrolling import ISSUER, enrol
from app.workflow.key_ceremony import (
    AlreadyConfirmed,
    KeyConfirmed,
    NotASecondPerson,
    OneSignIn,
    TooAlike,
    confirm_key,
    usable_key,
)
from app.workflow.refusals import KeyDoesNotOpen, KeyNotConfirmed, NotFound, WrongCredential
from tests.story.key_acts import (
    NEW_SECRET,
    account,
    confirms,
    damaged,
    key_of,
    reset,
    sets_secret,
    signatures,
    signs,
    valid,
)
from tests.story.people import ADELE, NADIA, RUTH, TOMAS, Somebody
from tests.story.ward import Ward


def logged(ward: Ward, kind: type[events.Event]) -> list[events.Event]:
    with ward.site.store.read() as reader:
        entries = reader.log_entries(after=0, limit=10_000)
    return [each.event for each in entries if isinstance(each.event, kind)]


def usable(ward: Ward, who: Somebody) -> KeptKey | KeyNotConfirmed:
    person = account(ward, who)
    with ward.site.store.read() as reader:
        return usable_key(reader, ward.site, person)


# Signing.


def test_each_signs_the_frozen_bytes_with_a_key_of_their_own(ward: Ward) -> None:
    ward.at_stage(Phase.CLEARED)
    with ward.site.store.read() as reader:
        (frozen,) = reader.frozen_records(ward.check)
    kept = signatures(ward)
    assert {each.person for each in kept} == {NADIA.id, TOMAS.id}
    for each in kept:
        key = key_of(ward, NADIA if each.person == NADIA.id else TOMAS)
        assert each.kid == key.kid
        header = verify_record(each.jws, frozen.document, key.public)
        assert header == RecordHeader(
            kid=key.kid,
            user_id=each.person,
            printed_name=each.printed_name,
            signed_at=each.signed_at,
            meaning=SET_UP.meaning,
            record_id=ward.check,
            edition=1,
        )
        # In the site's zone, which is not the server's.
        assert header.signed_at.utcoffset() == timedelta(hours=1)


def test_the_log_names_the_key_and_the_signature(one_ward: Ward) -> None:
    one_ward.at_stage(Phase.CLEARED)
    told = [each for each in logged(one_ward, events.Signed) if isinstance(each, events.Signed)]
    kept = {each.slot: each for each in signatures(one_ward)}
    assert {each.slot: (each.kid, each.signature) for each in told} == {
        slot: (each.kid, digest(each.jws.encode())) for slot, each in kept.items()
    }


def test_one_screen_serves_for_both(one_ward: Ward) -> None:
    one_ward.at_stage(Phase.SIGNING)
    assert signs(one_ward, TOMAS, screen=NADIA) == signing.Signed()
    (kept,) = signatures(one_ward)
    assert kept.person == TOMAS.id
    assert valid(one_ward, kept)


def test_a_wrong_secret_signs_nothing(one_ward: Ward) -> None:
    one_ward.at_stage(Phase.SIGNING)
    assert signs(one_ward, NADIA, secret=TOMAS.secret) == WrongCredential()
    assert signatures(one_ward) == ()


# Making, confirming, resetting.


def test_a_secret_of_one_s_own_makes_a_key_that_signs_nothing_yet(ward: Ward) -> None:
    ward.at_stage(Phase.SIGNING)
    old = key_of(ward, NADIA)
    code = reset(ward, NADIA)
    assert sets_secret(ward, NADIA, code) == signing_in.SecretSet()
    new = key_of(ward, NADIA)
    assert new.kid != old.kid
    assert new.issuer == ADELE.id
    assert usable(ward, NADIA) == KeyNotConfirmed(kid=new.kid)
    assert signs(ward, NADIA, secret=NEW_SECRET) == KeyNotConfirmed(kid=new.kid)
    assert signatures(ward) == ()
    assert confirms(ward, new.kid, RUTH) == KeyConfirmed(kid=new.kid)
    assert signs(ward, NADIA, secret=NEW_SECRET) == signing.Signed()
    (kept,) = signatures(ward)
    assert kept.kid == new.kid
    assert valid(ward, kept)


def test_making_confirming_and_retiring_stand_in_the_log(one_ward: Ward) -> None:
    old = key_of(one_ward, NADIA)
    sets_secret(one_ward, NADIA, reset(one_ward, NADIA))
    new = key_of(one_ward, NADIA)
    confirms(one_ward, new.kid, RUTH)
    made = logged(one_ward, events.PersonalKeyMade)[-1]
    assert isinstance(made, events.PersonalKeyMade)
    assert (made.person, made.kid, made.public, made.issuer) == (NADIA.id, new.kid, new.public, ADELE.id)
    assert logged(one_ward, events.PersonalKeyRetired) == [
        events.PersonalKeyRetired(kid=old.kid, why="reset")
    ]
    confirmed = logged(one_ward, events.PersonalKeyConfirmed)[-1]
    assert isinstance(confirmed, events.PersonalKeyConfirmed)
    assert (confirmed.kid, confirmed.confirmed_by) == (new.kid, RUTH.id)
    assert confirmed.confirmer_kid == key_of(one_ward, RUTH).kid


def test_the_confirmation_is_the_colleague_s_own_signature(one_ward: Ward) -> None:
    sets_secret(one_ward, NADIA, reset(one_ward, NADIA))
    new = key_of(one_ward, NADIA)
    confirms(one_ward, new.kid, RUTH)
    with one_ward.site.store.read() as reader:
        kept = reader.find_confirmation(new.kid)
    assert kept is not None
    assert isinstance(
        verify_detached(kept.jws, kept.statement, key_of(one_ward, RUTH).public, typ=CONFIRMATION_TYPE),
        Verified,
    )
    for said in (new.kid, NADIA.printed_name, f"DM-{NADIA.id}", RUTH.id, CONFIRMING):
        assert said in kept.statement.decode()


def test_nobody_confirms_where_another_is_signed_in(one_ward: Ward) -> None:
    """One person with two logins would not even have to sign out."""
    sets_secret(one_ward, NADIA, reset(one_ward, NADIA))
    new = key_of(one_ward, NADIA)
    assert confirms(one_ward, new.kid, RUTH, at_screen_of=NADIA) == OneSignIn()
    assert usable(one_ward, NADIA) == KeyNotConfirmed(kid=new.kid)


def test_at_the_screen_where_a_key_was_made_a_colleague_signs_in_anew_to_confirm_it(one_ward: Ward) -> None:
    """Who was signed in there before could have set the secret, and gone on."""
    ruth = one_ward.act(RUTH)
    code = reset(one_ward, NADIA)
    sets_secret(one_ward, NADIA, code, at_screen_of=RUTH)
    new = key_of(one_ward, NADIA)
    now = one_ward.wait().now

    def confirmed_in(**session: object) -> object:
        act = replace(ruth, now=now, by=replace(ruth.by, **session))  # type: ignore[arg-type]  # fields of an actor
        return confirm_key(one_ward.site, act, kid=new.kid, login=RUTH.login, secret=RUTH.secret)

    assert confirmed_in() == OneSignIn()
    assert confirmed_in(signed_in_at=now, method=Method.PIN) == OneSignIn()
    assert confirmed_in(signed_in_at=now) == KeyConfirmed(kid=new.kid)


def test_at_another_screen_a_colleague_goes_on_confirming(one_ward: Ward) -> None:
    one_ward.act(RUTH)
    sets_secret(one_ward, NADIA, reset(one_ward, NADIA), at_screen_of=NADIA)
    new = key_of(one_ward, NADIA)
    assert confirms(one_ward, new.kid, RUTH) == KeyConfirmed(kid=new.kid)


@pytest.mark.parametrize(
    "alike", [{"printed_name": "RUTH  Calloway"}, {"printed_name": "Ruth Call\N{CYRILLIC SMALL LETTER O}way"}]
)
def test_nobody_confirms_a_key_of_their_own_name(one_ward: Ward, alike: dict[str, str]) -> None:
    """A second login of hers, which an administrator was told is another person."""
    twin = NewPerson(
        login="r.second", staff_number="DM-9", unit=RUTH.unit, roles=RUTH.roles, is_another=True, **alike
    )
    made = make_account(one_ward.site, one_ward.wait().now, by=ADELE.id, new_id="second", person=twin)
    assert isinstance(made, AccountMade)
    second = Somebody(id="second", login="r.second", printed_name=alike["printed_name"], roles=RUTH.roles)
    sets_secret(one_ward, second, made.code)
    kid = key_of(one_ward, second).kid
    assert confirms(one_ward, kid, RUTH) == TooAlike()
    assert confirms(one_ward, kid, TOMAS) == KeyConfirmed(kid=kid)


def test_who_cannot_confirm(ward: Ward) -> None:
    sets_secret(ward, NADIA, reset(ward, NADIA))
    new = key_of(ward, NADIA)
    # Not its person, not who gave the code, nobody with a wrong secret, nobody who waits too.
    assert confirms(ward, new.kid, NADIA, secret=NEW_SECRET) == NotASecondPerson()
    assert confirms(ward, new.kid, ADELE) == NotASecondPerson()
    assert confirms(ward, new.kid, RUTH, secret=NEW_SECRET) == WrongCredential()
    sets_secret(ward, TOMAS, reset(ward, TOMAS), "twelve kites over the salt marsh")
    waits = key_of(ward, TOMAS)
    assert confirms(ward, new.kid, TOMAS, secret="twelve kites over the salt marsh") == KeyNotConfirmed(
        kid=waits.kid
    )
    assert usable(ward, NADIA) == KeyNotConfirmed(kid=new.kid)
    assert confirms(ward, "no such key", RUTH) == NotFound()
    assert confirms(ward, new.kid, RUTH) == KeyConfirmed(kid=new.kid)
    assert confirms(ward, new.kid, RUTH) == AlreadyConfirmed()
    assert usable(ward, NADIA) == new


def test_a_retired_key_is_not_confirmed(one_ward: Ward) -> None:
    sets_secret(one_ward, NADIA, reset(one_ward, NADIA))
    waiting = key_of(one_ward, NADIA)
    reset(one_ward, NADIA)
    assert confirms(one_ward, waiting.kid, RUTH) == NotFound()


def test_a_retired_key_signs_nothing_and_what_it_signed_stays_signed(ward: Ward) -> None:
    ward.at_stage(Phase.SIGNING)
    signs(ward, NADIA)
    reset(ward, NADIA)
    assert usable(ward, NADIA) == KeyNotConfirmed(kid="")
    (kept,) = signatures(ward)
    assert valid(ward, kept)
    assert signs(ward, NADIA) == WrongCredential()


def test_a_code_works_once_also_at_the_same_instant(ward: Ward, monkeypatch: pytest.MonkeyPatch) -> None:
    code = reset(ward, NADIA)

    def overtaken(secret: str) -> object:
        monkeypatch.undo()
        assert sets_secret(ward, NADIA, code) == signing_in.SecretSet()
        return make_personal_key(secret)

    monkeypatch.setattr(signing_in, "make_personal_key", overtaken)
    assert sets_secret(ward, NADIA, code, "twelve kites over the salt marsh") == signing_in.CodeWrong()
    known = verify_credential(
        ward.site, ward.now, login=NADIA.login, secret=NEW_SECRET, what="sign-in", where=Where()
    )
    assert isinstance(known, Known)


def test_a_key_confirmed_at_the_same_instant_is_confirmed_once(
    ward: Ward, monkeypatch: pytest.MonkeyPatch
) -> None:
    sets_secret(ward, NADIA, reset(ward, NADIA))
    new = key_of(ward, NADIA)

    def overtaken(*given: object, **named: object) -> object:
        monkeypatch.undo()
        assert confirms(ward, new.kid, TOMAS) == KeyConfirmed(kid=new.kid)
        return sign_confirmation(*given, **named)  # type: ignore[arg-type]  # passed on

    monkeypatch.setattr(key_ceremony, "sign_confirmation", overtaken)
    assert confirms(ward, new.kid, RUTH) == AlreadyConfirmed()
    with ward.site.store.read() as reader:
        kept = reader.find_confirmation(new.kid)
    assert kept is not None
    assert kept.confirmed_by == TOMAS.id


def test_a_key_retired_while_it_is_confirmed_stays_retired(
    ward: Ward, monkeypatch: pytest.MonkeyPatch
) -> None:
    sets_secret(ward, NADIA, reset(ward, NADIA))
    new = key_of(ward, NADIA)

    def overtaken(*given: object, **named: object) -> object:
        monkeypatch.undo()
        reset(ward, NADIA)
        return sign_confirmation(*given, **named)  # type: ignore[arg-type]  # passed on

    monkeypatch.setattr(key_ceremony, "sign_confirmation", overtaken)
    assert confirms(ward, new.kid, RUTH) == NotFound()


def test_a_key_retired_while_it_signs_signs_nothing(ward: Ward, monkeypatch: pytest.MonkeyPatch) -> None:
    ward.at_stage(Phase.SIGNING)
    kid = key_of(ward, NADIA).kid

    def overtaken(*given: object) -> object:
        monkeypatch.undo()
        reset(ward, NADIA)
        return sign_detached(*given)  # type: ignore[arg-type]  # passed on

    monkeypatch.setattr(own_signature, "sign_detached", overtaken)
    assert signs(ward, NADIA) == KeyNotConfirmed(kid=kid)
    assert signatures(ward) == ()


def test_the_database_itself_takes_no_signature_without_its_key(ward: Ward) -> None:
    ward.at_stage(Phase.CLEARED)
    (first, _) = signatures(ward)
    with_none = replace(first, edition=2, kid="", jws="")
    for changed in (with_none, replace(first, edition=2, kid=key_of(ward, RUTH).kid)):
        with pytest.raises(ConstraintBroken) as refused, ward.site.store.write() as tx:
            tx.add_signature(changed)
        assert refused.value.name == "signed_with_own_confirmed_key"


# Changing the secret.


def test_a_changed_secret_keeps_the_key(ward: Ward) -> None:
    ward.at_stage(Phase.SIGNING)
    before = key_of(ward, NADIA)
    done = changing_secret.change_secret(
        ward.site, ward.act(NADIA), login=NADIA.login, secret=NADIA.secret, new=NEW_SECRET
    )
    assert done == signing_in.SecretSet()
    assert usable(ward, NADIA) == before
    assert signs(ward, NADIA) == WrongCredential()
    assert signs(ward, NADIA, secret=NEW_SECRET) == signing.Signed()


def test_who_does_not_know_the_secret_does_not_change_it(one_ward: Ward) -> None:
    def changes(secret: str, new: str) -> object:
        return changing_secret.change_secret(
            one_ward.site, one_ward.act(NADIA), login=NADIA.login, secret=secret, new=new
        )

    assert changes(TOMAS.secret, NEW_SECRET) == WrongCredential()
    assert isinstance(changes(NADIA.secret, "too short"), SecretFault)
    one_ward.at_stage(Phase.SIGNING)
    assert signs(one_ward, NADIA) == signing.Signed()


def test_a_secret_reset_while_it_is_changed_stays_reset(ward: Ward, monkeypatch: pytest.MonkeyPatch) -> None:
    def overtaken(*given: object, **named: object) -> object:
        monkeypatch.undo()
        reset(ward, NADIA)
        return reseal(*given, **named)  # type: ignore[arg-type]  # passed on

    monkeypatch.setattr(changing_secret, "reseal", overtaken)
    changed = changing_secret.change_secret(
        ward.site, ward.act(NADIA), login=NADIA.login, secret=NADIA.secret, new=NEW_SECRET
    )
    assert changed == WrongCredential()
    assert account(ward, NADIA).secret_hash is None


def test_a_key_that_does_not_open_is_noted_and_signs_nothing(ward: Ward) -> None:
    ward.at_stage(Phase.SIGNING)
    kid = key_of(ward, NADIA).kid
    with damaged(ward, kid):
        assert signs(ward, NADIA) == KeyDoesNotOpen()
        assert (
            changing_secret.change_secret(
                ward.site, ward.act(NADIA), login=NADIA.login, secret=NADIA.secret, new=NEW_SECRET
            )
            == KeyDoesNotOpen()
        )
    assert signatures(ward) == ()
    noted = events.SecurityNoted(person=NADIA.id, what="signing key did not open")
    assert logged(ward, events.SecurityNoted).count(noted) == 2


# The demonstration's people.


def test_invented_people_have_what_real_ones_have(one_ward: Ward) -> None:
    assert isinstance(usable(one_ward, NADIA), KeptKey)
    assert key_of(one_ward, NADIA).issuer == ISSUER
    with pytest.raises(ValueError, match="one person alone"):
        enrol(one_ward.site, one_ward.now, [NADIA.newcomer])
