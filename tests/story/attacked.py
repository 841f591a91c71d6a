"""What Adele does to a ward: she administers accounts, and has the database under her hands.

Every trigger is out of her way. She has neither the key file of the host nor anybody else's secret.
"""

from typing import Any

from sqlalchemy import Connection, MetaData, insert, select, text

from app.keys import hash_secret, make_personal_key
from app.records.kept_keys import KeptKey
from tests.story.key_acts import key_of, signatures, signs, valid
from tests.story.people import ADELE, NADIA, TOMAS, Somebody
from tests.story.ward import Ward
from tests.support.tampering import as_database_administrator

ADELES_SECRET_FOR_NADIA = "adele knows this long secret well"


class Attacked(Ward):
    """A ward whose database Adele reaches behind its back."""


def edits(ward: Attacked, statement: str, **values: Any) -> None:  # noqa: ANN401  # values of any column
    with as_database_administrator(ward.address) as connection:
        connection.execute(text(statement), values)


def gives_a_secret(ward: Attacked, who: Somebody, secret: str) -> None:
    """Write a hash of her own making into an account."""
    edits(ward, "UPDATE person SET secret_hash = :hash WHERE id = :id", hash=hash_secret(secret), id=who.id)


def nobody_signed(ward: Ward) -> bool:
    return not any(each.person == NADIA.id and valid(ward, each) for each in signatures(ward))


def adele_as_nadia(ward: Ward) -> object:
    return signs(ward, NADIA, secret=ADELES_SECRET_FOR_NADIA, screen=ADELE)


def forged_key(ward: Ward, secret: str = ADELES_SECRET_FOR_NADIA) -> tuple[KeptKey, bytes]:
    """A key of Adele's making that says it is Nadia's, given by somebody else."""
    made = make_personal_key(secret)
    key = KeptKey(
        kid=made.kid,
        person=NADIA.id,
        algorithm=made.algorithm,
        public=made.public,
        made_at=ward.now,
        issuer=TOMAS.id,
        made_on="",
        attestation=key_of(ward, NADIA).attestation,
    )
    return key, made.sealed


def plant(ward: Attacked, key: KeptKey, sealed: bytes) -> None:
    """Retire Nadia's key and put another in its place, by SQL."""
    old = key_of(ward, NADIA).kid
    with as_database_administrator(ward.address) as connection:
        retire = "INSERT INTO key_retirement SELECT kid, made_at, 'reset' FROM personal_key WHERE kid = :kid"
        connection.execute(text(retire), {"kid": old})
        copy_row(connection, "personal_key", old, kid=key.kid, public=key.public, issuer=key.issuer)
        copy_row(connection, "personal_key_sealed", old, kid=key.kid, sealed=sealed)


def copy_row(connection: Connection, table: str, like: str, /, **changed: object) -> None:
    """A row of keys as another one is, but for some columns."""
    found = MetaData()
    found.reflect(connection, only=[table])
    rows = found.tables[table]
    row = dict(connection.execute(select(rows).where(rows.c.kid == like)).mappings().one())
    connection.execute(insert(rows), row | changed)


def key_of_id(ward: Ward, person: str) -> str:
    with ward.site.store.read() as reader:
        found = reader.live_key(person)
    assert found is not None
    return found.kid
