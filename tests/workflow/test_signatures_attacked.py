"""Stored signatures under attack by who has the database: none is moved, forged, changed or taken over."""

import base64
import json
from collections.abc import Callable

import pytest
from sqlalchemy import text

from app.keys import RecordHeader, sign_detached
from app.people import folded
from app.records.canonical import digest
from app.records.kinds import SET_UP
from app.records.state import Phase
from app.workflow.key_ceremony import usable_key
from app.workflow.refusals import KeyNotConfirmed, NotYours, WrongCredential
from tests.story.attacked import (
    Attacked,
    edits,
    key_of_id,
    nobody_signed,
)
from tests.story.key_acts import account, signatures, signs, valid
from tests.story.people import ADELE, NADIA, TOMAS, Somebody
from tests.support.tampering import as_database_administrator

# Rows of signatures.


def test_she_copies_a_signature_to_another_record(attacked: Attacked) -> None:
    """The row says all that a signature says, of another check; it is over other bytes."""
    signs(attacked, NADIA)
    signs(attacked, TOMAS)
    first = attacked.check
    (kept,) = [each for each in signatures(attacked) if each.person == NADIA.id]
    attacked.at_stage(Phase.SIGNING)
    with attacked.site.store.read() as reader:
        (frozen,) = reader.frozen_records(attacked.check)
    with as_database_administrator(attacked.address) as connection:
        columns = (
            "edition, slot, person, printed_name, meaning, signed_at, session, device, signed_in_at, kid, jws"
        )
        connection.execute(
            text(
                f'INSERT INTO signature ("check", digest, {columns}) '  # noqa: S608  # columns of this test
                f'SELECT :check, :digest, {columns} FROM signature WHERE "check" = :first AND slot = :slot'
            ),
            {"check": attacked.check, "digest": frozen.digest, "first": first, "slot": kept.slot},
        )
    (copied,) = signatures(attacked)
    assert copied.jws == kept.jws
    assert valid(attacked, kept, check=first)
    assert not valid(attacked, copied)


@pytest.mark.parametrize("named", [ADELE, NADIA], ids=["as Adele's key", "as Nadia's key"])
def test_she_signs_with_her_own_key_in_the_nurse_s_name(attacked: Attacked, named: Somebody) -> None:
    """She writes the row herself: the key is hers, whatever the header and the row say."""
    own = key_of_id(attacked, ADELE.id)
    with attacked.site.store.read() as reader:
        (frozen,) = reader.frozen_records(attacked.check)
        sealed = reader.find_sealed(own) or b""
    header = RecordHeader(
        kid=own,
        user_id=NADIA.id,
        printed_name=NADIA.printed_name,
        signed_at=attacked.now,
        meaning=SET_UP.meaning,
        record_id=attacked.check,
        edition=1,
    )
    signs(attacked, NADIA)
    (honest,) = signatures(attacked)
    jws = sign_detached(sealed, ADELE.secret, frozen.document, header)
    edits(attacked, "UPDATE signature SET kid = :kid, jws = :jws", kid=key_of_id(attacked, named.id), jws=jws)
    (forged,) = signatures(attacked)
    assert (forged.person, forged.digest) == (honest.person, honest.digest)
    assert valid(attacked, honest)
    assert not valid(attacked, forged)


def _renamed(jws: str) -> str:
    header, _, signature = jws.split(".")
    said = json.loads(base64.urlsafe_b64decode(header + "=" * (-len(header) % 4)))
    said["printed_name"] = "Somebody Else"
    written = base64.urlsafe_b64encode(json.dumps(said, separators=(",", ":")).encode()).rstrip(b"=").decode()
    return f"{written}..{signature}"


CHANGES: dict[str, Callable[[str], str]] = {
    "another letter": lambda jws: jws[:-2] + ("A" if jws[-2] != "A" else "B") + jws[-1],
    "nothing": lambda _jws: "",
    "another name in the header": _renamed,
}


@pytest.mark.parametrize("change", CHANGES)
def test_she_changes_a_signature(attacked: Attacked, change: str) -> None:
    signs(attacked, NADIA)
    (kept,) = signatures(attacked)
    assert valid(attacked, kept)
    edits(attacked, "UPDATE signature SET jws = :jws", jws=CHANGES[change](kept.jws))
    (changed,) = signatures(attacked)
    assert not valid(attacked, changed)


def test_she_changes_the_record_after_it_was_signed(attacked: Attacked) -> None:
    signs(attacked, NADIA)
    with attacked.site.store.read() as reader:
        (frozen,) = reader.frozen_records(attacked.check)
    document = frozen.document.replace(b'"edition":1', b'"edition":2')
    edits(attacked, "UPDATE frozen SET document = :document, digest = :digest",
          document=document, digest=digest(document))  # fmt: skip
    (kept,) = signatures(attacked)
    assert not valid(attacked, kept)


def test_she_renames_herself(attacked: Attacked) -> None:
    """Her own key was confirmed under her own name, and signs under no other."""
    named = {"name": NADIA.printed_name, "id": ADELE.id}
    edits(attacked, "UPDATE person SET printed_name = :name WHERE id = :id", **named)
    adele = account(attacked, ADELE)
    with attacked.site.store.read() as reader:
        usable = usable_key(reader, attacked.site, adele)
    assert usable == KeyNotConfirmed(kid=key_of_id(attacked, ADELE.id))


def test_she_swaps_two_logins(attacked: Attacked) -> None:
    """Signing in as Nadia then leads to Adele's own account, which is neither of the two."""
    swap = "UPDATE person SET login_folded = :folded, login = :login WHERE id = :id"
    edits(attacked, swap, login="elsewhere", folded="elsewhere", id=NADIA.id)
    edits(attacked, swap, login=NADIA.login, folded=folded(NADIA.login), id=ADELE.id)
    assert signs(attacked, NADIA, secret=ADELE.secret) == NotYours()
    assert signs(attacked, NADIA) == WrongCredential()
    assert nobody_signed(attacked)
