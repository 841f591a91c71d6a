"""No one person can sign for another, an administrator with the database included.

Adele administers accounts and has the database under her hands: every trigger is out of her way. She does not
have the key file of the host, nor anybody else's secret. Each attack ends without a signature of Nadia's that
verifies. Two who collude, or whoever holds the host, can: that is shown too, so that the limit is known.
"""

from dataclasses import replace

import pytest

from app.keys import (
    WrongSecret,
    attest,
    sign_confirmation,
)
from app.records.key_statements import Holder, confirmation_statement, key_facts
from app.workflow import signing, signing_in
from app.workflow.key_ceremony import KeyConfirmed, NotASecondPerson, find_issuer
from app.workflow.refusals import KeyDoesNotOpen, KeyNotConfirmed, NotFound
from tests.story.attacked import (
    ADELES_SECRET_FOR_NADIA,
    Attacked,
    adele_as_nadia,
    copy_row,
    edits,
    forged_key,
    gives_a_secret,
    nobody_signed,
    plant,
)
from tests.story.key_acts import (
    account,
    confirms,
    key_of,
    reset,
    sets_secret,
)
from tests.story.people import ADELE, NADIA, RUTH, TOMAS
from tests.support.tampering import as_database_administrator

# By the pages alone.


def test_she_resets_the_nurse_and_sets_a_secret_of_her_own(attacked: Attacked) -> None:
    code = reset(attacked, NADIA)
    assert sets_secret(attacked, NADIA, code, ADELES_SECRET_FOR_NADIA) == signing_in.SecretSet()
    assert isinstance(adele_as_nadia(attacked), KeyNotConfirmed)
    # She gave the code: she cannot confirm, nor can Nadia's account, which she now has, confirm itself.
    kid = key_of(attacked, NADIA).kid
    assert confirms(attacked, kid, ADELE) == NotASecondPerson()
    assert confirms(attacked, kid, NADIA, secret=ADELES_SECRET_FOR_NADIA) == NotASecondPerson()
    assert isinstance(adele_as_nadia(attacked), KeyNotConfirmed)
    assert nobody_signed(attacked)


def test_two_who_collude_can(attacked: Attacked) -> None:
    """The limit: Ruth says that she met Nadia, and did not."""
    sets_secret(attacked, NADIA, reset(attacked, NADIA), ADELES_SECRET_FOR_NADIA)
    kid = key_of(attacked, NADIA).kid
    assert confirms(attacked, kid, RUTH) == KeyConfirmed(kid=kid)
    assert adele_as_nadia(attacked) == signing.Signed()
    # And the record says for ever who confirmed it.
    with attacked.site.store.read() as reader:
        kept = reader.find_confirmation(kid)
    assert kept is not None
    assert kept.confirmed_by == RUTH.id


# With the database.


def test_she_sets_the_nurse_s_secret_in_the_database(attacked: Attacked) -> None:
    """She is signed in as Nadia, and still cannot open Nadia's key."""
    gives_a_secret(attacked, NADIA, ADELES_SECRET_FOR_NADIA)
    assert adele_as_nadia(attacked) == KeyDoesNotOpen()
    assert nobody_signed(attacked)


def test_she_puts_her_own_locked_half_in_the_nurse_s_place(attacked: Attacked) -> None:
    gives_a_secret(attacked, NADIA, ADELES_SECRET_FOR_NADIA)
    _, sealed = forged_key(attacked)
    edits(attacked, "UPDATE personal_key_sealed SET sealed = :sealed WHERE kid = :kid",
          sealed=sealed, kid=key_of(attacked, NADIA).kid)  # fmt: skip
    assert adele_as_nadia(attacked) == KeyDoesNotOpen()
    assert nobody_signed(attacked)


def test_she_puts_her_own_public_half_in_the_nurse_s_place(attacked: Attacked) -> None:
    gives_a_secret(attacked, NADIA, ADELES_SECRET_FOR_NADIA)
    forged, sealed = forged_key(attacked)
    own = key_of(attacked, NADIA).kid
    edits(
        attacked, "UPDATE personal_key SET public = :public WHERE kid = :kid", public=forged.public, kid=own
    )
    edits(attacked, "UPDATE personal_key_sealed SET sealed = :s WHERE kid = :kid", s=sealed, kid=own)
    assert adele_as_nadia(attacked) == KeyNotConfirmed(kid="")
    assert nobody_signed(attacked)


def test_she_writes_a_whole_key_of_her_own_into_the_nurse_s_name(attacked: Attacked) -> None:
    """With another's name as who gave the code; then she confirms it herself, as the second person."""
    gives_a_secret(attacked, NADIA, ADELES_SECRET_FOR_NADIA)
    forged, sealed = forged_key(attacked)
    plant(attacked, forged, sealed)
    assert key_of(attacked, NADIA).kid == forged.kid
    # The installation did not see this key being made.
    assert confirms(attacked, forged.kid, ADELE) == NotFound()
    assert adele_as_nadia(attacked) == KeyNotConfirmed(kid="")
    assert nobody_signed(attacked)


def test_she_ascribes_her_code_to_somebody_else(attacked: Attacked) -> None:
    """Then she would not be the one who gave it, and could confirm."""
    code = reset(attacked, NADIA)
    edits(attacked, "UPDATE issued_code SET issuer = :who WHERE person = :id AND issuer = :her",
          who=TOMAS.id, id=NADIA.id, her=ADELE.id)  # fmt: skip
    assert sets_secret(attacked, NADIA, code, ADELES_SECRET_FOR_NADIA) == signing_in.CodeWrong()
    nadia = account(attacked, NADIA)
    with attacked.site.store.read() as reader:
        assert find_issuer(reader, attacked.site, nadia) is None


def test_she_moves_a_colleague_s_code_to_the_nurse(attacked: Attacked) -> None:
    """A code that Ruth gave to Tomas, whom Adele knows it from."""
    code = reset(attacked, TOMAS, by=RUTH)
    given = account(attacked, TOMAS)
    edits(attacked, "UPDATE person SET code_hash = :hash, code_expires_at = "
          "(SELECT code_expires_at FROM person WHERE id = :tomas) WHERE id = :id",
          hash=given.code_hash, tomas=TOMAS.id, id=NADIA.id)  # fmt: skip
    edits(attacked, "UPDATE issued_code SET person = :id WHERE person = :tomas", id=NADIA.id, tomas=TOMAS.id)
    assert sets_secret(attacked, NADIA, code, ADELES_SECRET_FOR_NADIA) == signing_in.CodeWrong()


def test_she_rewrites_who_gave_the_code_after_the_key_was_made(attacked: Attacked) -> None:
    sets_secret(attacked, NADIA, reset(attacked, NADIA), ADELES_SECRET_FOR_NADIA)
    kid = key_of(attacked, NADIA).kid
    edits(attacked, "UPDATE personal_key SET issuer = :who WHERE kid = :kid", who=TOMAS.id, kid=kid)
    assert confirms(attacked, kid, ADELE) == NotFound()
    assert isinstance(adele_as_nadia(attacked), KeyNotConfirmed)
    assert nobody_signed(attacked)


def test_she_signs_in_as_the_colleague_who_is_to_confirm(attacked: Attacked) -> None:
    """She sets Ruth's secret in the database: the confirmation wants Ruth's key, which it does not open."""
    sets_secret(attacked, NADIA, reset(attacked, NADIA), ADELES_SECRET_FOR_NADIA)
    hers = "adele knows this one as well"
    gives_a_secret(attacked, RUTH, hers)
    kid = key_of(attacked, NADIA).kid
    assert confirms(attacked, kid, RUTH, secret=hers) == KeyDoesNotOpen()
    assert isinstance(adele_as_nadia(attacked), KeyNotConfirmed)
    assert nobody_signed(attacked)


def test_she_resets_the_colleague_too(attacked: Attacked) -> None:
    """By the pages she has both accounts: neither has a confirmed key, and neither can confirm the other."""
    sets_secret(attacked, NADIA, reset(attacked, NADIA), ADELES_SECRET_FOR_NADIA)
    hers = "adele knows this one as well"
    sets_secret(attacked, RUTH, reset(attacked, RUTH), hers)
    assert isinstance(confirms(attacked, key_of(attacked, NADIA).kid, RUTH, secret=hers), KeyNotConfirmed)
    assert isinstance(adele_as_nadia(attacked), KeyNotConfirmed)
    assert nobody_signed(attacked)


def write_confirmation(ward: Attacked, kid: str, *, by: str, signed_with: str, secret: str) -> None:
    """A confirmation of her own writing, in the name of whom she likes, as good as she can make it."""
    with ward.site.store.read() as reader:
        key = reader.find_key(kid)
        own = reader.live_key(signed_with)
        assert key is not None
        assert own is not None
        sealed = reader.find_sealed(own.kid) or b""
        person = reader.find_person(NADIA.id)
        other = reader.find_confirmation(own.kid)
        assert person is not None
        assert other is not None
    holder = Holder(
        person=NADIA.id,
        login=person.login,
        staff_number=person.staff_number,
        printed_name=person.printed_name,
    )
    statement = confirmation_statement(key, holder, by=by, at=other.confirmed_at)
    jws = sign_confirmation(sealed, secret, statement, kid=own.kid)
    assert not isinstance(jws, WrongSecret)
    with as_database_administrator(ward.address) as connection:
        copy_row(connection, "key_confirmation", own.kid, kid=kid, confirmed_by=by, confirmer_kid=own.kid,
              statement=statement, jws=jws)  # fmt: skip


@pytest.mark.parametrize("by", [ADELE.id, RUTH.id])
def test_she_writes_a_confirmation_of_her_own(attacked: Attacked, by: str) -> None:
    sets_secret(attacked, NADIA, reset(attacked, NADIA), ADELES_SECRET_FOR_NADIA)
    kid = key_of(attacked, NADIA).kid
    write_confirmation(attacked, kid, by=by, signed_with=ADELE.id, secret=ADELE.secret)
    assert isinstance(adele_as_nadia(attacked), KeyNotConfirmed)
    assert nobody_signed(attacked)


def test_she_moves_another_s_confirmation_to_the_new_key(attacked: Attacked) -> None:
    old = key_of(attacked, NADIA).kid
    sets_secret(attacked, NADIA, reset(attacked, NADIA), ADELES_SECRET_FOR_NADIA)
    new = key_of(attacked, NADIA).kid
    edits(attacked, "UPDATE key_confirmation SET kid = :new WHERE kid = :old", new=new, old=old)
    assert isinstance(adele_as_nadia(attacked), KeyNotConfirmed)
    assert nobody_signed(attacked)


def test_she_brings_a_retired_key_back(attacked: Attacked) -> None:
    """What had opened it opens it no more: the locked half is gone, and the secret was never hers."""
    old = key_of(attacked, NADIA).kid
    sets_secret(attacked, NADIA, reset(attacked, NADIA), ADELES_SECRET_FOR_NADIA)
    new = key_of(attacked, NADIA).kid
    edits(attacked, "DELETE FROM key_retirement WHERE kid = :kid", kid=old)
    edits(attacked, "DELETE FROM personal_key WHERE kid = :kid", kid=new)
    assert adele_as_nadia(attacked) == KeyDoesNotOpen()
    assert nobody_signed(attacked)


def test_whoever_holds_the_host_can(attacked: Attacked) -> None:
    """The limit: the key file of the host vouches for whatever its holder likes."""
    forged, sealed = forged_key(attacked)
    forged = replace(forged, issuer=TOMAS.id, made_at=key_of(attacked, NADIA).made_at)
    plant(attacked, forged, sealed)
    vouched = attest(attacked.site.key, "personal key", key_facts(forged))
    edits(attacked, "UPDATE personal_key SET attestation = :a WHERE kid = :kid", a=vouched, kid=forged.kid)
    gives_a_secret(attacked, NADIA, ADELES_SECRET_FOR_NADIA)
    assert confirms(attacked, forged.kid, ADELE) == KeyConfirmed(kid=forged.kid)
    assert adele_as_nadia(attacked) == signing.Signed()
