"""The tables of the keys of people and of the site, and of the log's checkpoints."""

from sqlalchemy import (
    BigInteger,
    CheckConstraint,
    Column,
    ForeignKeyConstraint,
    Index,
    Integer,
    PrimaryKeyConstraint,
    Table,
    UniqueConstraint,
)

from app.storage.schema import bytes_column as _bytes
from app.storage.schema import large_number_column as _large_number
from app.storage.schema import metadata
from app.storage.schema import text_column as _text
from app.storage.schema import time_column as _time

issued_code = Table(
    "issued_code",
    metadata,
    _text("code"),
    _text("person"),
    _text("what"),
    _text("issuer"),
    _time("issued_at"),
    _text("attestation"),
    PrimaryKeyConstraint("code", name="one_issue_a_code"),
    ForeignKeyConstraint(["person"], ["person.id"], name="code_for_known_person"),
    Index("issued_code_by_person", "person", "issued_at"),
    Index("issued_code_by_what", "what", "issued_at"),
)

# Who has read that a code was given in the place of somebody's secret.
code_told = Table(
    "code_told",
    metadata,
    _text("code"),
    _text("person"),
    _time("told_at"),
    PrimaryKeyConstraint("code", "person", name="told_once_of_a_code"),
    ForeignKeyConstraint(["code"], ["issued_code.code"], name="told_of_known_code"),
    ForeignKeyConstraint(["person"], ["person.id"], name="told_to_known_person"),
)

personal_key = Table(
    "personal_key",
    metadata,
    _text("kid"),
    _text("person"),
    _text("algorithm"),
    _text("public"),
    _time("made_at"),
    _text("issuer"),
    _text("made_on"),
    _text("attestation"),
    PrimaryKeyConstraint("kid", name="personal_key_unique"),
    # What confirmations point at.
    UniqueConstraint("kid", "person", name="personal_key_in_full"),
    ForeignKeyConstraint(["person"], ["person.id"], name="key_of_known_person"),
    Index("personal_key_by_person", "person", "made_at"),
)

# The private half, locked under its person's secret: the one part that changes, when the secret does.
personal_key_sealed = Table(
    "personal_key_sealed",
    metadata,
    _text("kid"),
    _bytes("sealed"),
    PrimaryKeyConstraint("kid", name="one_sealed_half_a_key"),
    ForeignKeyConstraint(["kid"], ["personal_key.kid"], name="sealed_half_of_known_key"),
)

# What a person gives beside the secret; it goes when it is taken away, and the log keeps that it was there.
authenticator = Table(
    "authenticator",
    metadata,
    _text("id"),
    _text("person"),
    _text("kind"),
    _bytes("sealed"),
    _large_number("used_until"),
    _large_number("sign_count"),
    PrimaryKeyConstraint("id", name="authenticator_id_unique"),
    ForeignKeyConstraint(["person"], ["person.id"], name="authenticator_of_known_person"),
    CheckConstraint("kind IN ('code', 'passkey')", name="kind_of_authenticator"),
    Index("authenticator_by_person", "person"),
)

key_confirmation = Table(
    "key_confirmation",
    metadata,
    _text("kid"),
    _text("confirmed_by"),
    _time("confirmed_at"),
    _text("confirmer_kid"),
    _bytes("statement"),
    _text("jws"),
    _text("attestation"),
    PrimaryKeyConstraint("kid", name="one_confirmation_a_key"),
    ForeignKeyConstraint(["kid"], ["personal_key.kid"], name="confirmation_of_known_key"),
    ForeignKeyConstraint(
        ["confirmer_kid", "confirmed_by"],
        ["personal_key.kid", "personal_key.person"],
        name="confirmer_signs_with_own_key",
    ),
)

key_retirement = Table(
    "key_retirement",
    metadata,
    _text("kid"),
    _time("retired_at"),
    _text("why"),
    PrimaryKeyConstraint("kid", name="one_retirement_a_key"),
    ForeignKeyConstraint(["kid"], ["personal_key.kid"], name="retirement_of_known_key"),
)

site_key = Table(
    "site_key",
    metadata,
    _text("kid"),
    _text("purpose"),
    _text("certificate"),
    _time("made_at"),
    PrimaryKeyConstraint("kid", name="site_key_unique"),
    CheckConstraint("purpose IN ('seal', 'checkpoint')", name="purpose_of_site_key"),
)

checkpoint = Table(
    "checkpoint",
    metadata,
    Column("size", BigInteger().with_variant(Integer, "sqlite"), nullable=False, autoincrement=False),
    _text("root"),
    _time("at"),
    _text("kid"),
    _text("signature"),
    PrimaryKeyConstraint("size", name="one_checkpoint_a_size"),
    ForeignKeyConstraint(["kid"], ["site_key.kid"], name="checkpoint_by_known_key"),
)

# The roots over each 128 entries of the log, the first first: a start goes on from them. They follow from the
# log, and are read again with it whenever it is verified or signed whole.
log_block = Table(
    "log_block",
    metadata,
    Column("number", BigInteger().with_variant(Integer, "sqlite"), nullable=False, autoincrement=False),
    _text("root"),
    PrimaryKeyConstraint("number", name="one_root_a_block"),
)
