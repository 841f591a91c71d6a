"""The tables. A column carries the name of the field it keeps, and every constraint has a name.

No column holds a number that a clinician read: values live in sealed envelopes and canonical JSON, as typed.
"""

from sqlalchemy import (
    BigInteger,
    Boolean,
    CheckConstraint,
    Column,
    ForeignKeyConstraint,
    Index,
    Integer,
    PrimaryKeyConstraint,
    Table,
    Text,
    UniqueConstraint,
    text,
)

from app.storage import (
    key_tables,
    order_tables,
    people_tables,
    review_tables,
    row_tables,
    rule_tables,
    schema,
    session_tables,
    unit_tables,
)
from app.storage.columns import Reference
from app.storage.schema import bytes_column as _bytes
from app.storage.schema import number_column as _number
from app.storage.schema import text_column as _text
from app.storage.schema import time_column as _time

metadata = schema.metadata

# Those of keys, orders, people, flat rows, reviews, rules, shift sessions and units stand in other files; the
# list must be whole.
assert key_tables.personal_key.metadata is metadata  # noqa: S101  # and so the import is used
assert order_tables.order_message.metadata is metadata  # noqa: S101
assert people_tables.training.metadata is metadata  # noqa: S101
assert review_tables.finding_review.metadata is metadata  # noqa: S101
assert row_tables.finding.metadata is metadata  # noqa: S101
assert rule_tables.rule_proposal.metadata is metadata  # noqa: S101
assert session_tables.shift_session.metadata is metadata  # noqa: S101
assert unit_tables.unit.metadata is metadata  # noqa: S101

# Every sealed envelope has this many bytes, so that its size tells nothing (the number of `app.keys`).
ENVELOPE_SIZE = 16 * 1024

# Rows of these may change; every other table only ever grows, and triggers hold it to that.
MUTABLE = frozenset(
    {"person", "person_role", "personal_key_sealed", "authenticator", "session", "shift_session", "throttle"}
    | {"draft", "lease", "log_head"}
)

person = Table(
    "person",
    metadata,
    _text("id"),
    _text("login"),
    # In the form in which they are compared, so that two spellings cannot be two people.
    _text("login_folded"),
    _text("staff_number"),
    _text("staff_number_folded"),
    _text("printed_name"),
    _text("unit"),
    Column("secret_hash", Text),
    Column("code_hash", Text),
    _time("code_expires_at", nullable=True),
    Column("active", Boolean, nullable=False),
    PrimaryKeyConstraint("id", name="person_id_unique"),
    UniqueConstraint("login_folded", name="login_unique"),
    UniqueConstraint("staff_number_folded", name="staff_number_unique"),
)

person_role = Table(
    "person_role",
    metadata,
    _text("person"),
    _text("role"),
    PrimaryKeyConstraint("person", "role", name="role_held_once"),
    ForeignKeyConstraint(["person"], ["person.id"], name="role_of_known_person"),
)

session = Table(
    "session",
    metadata,
    _text("digest"),
    _text("person"),
    _text("device"),
    _text("unit"),
    _time("signed_in_at"),
    _time("last_seen_at"),
    _time("ended_at", nullable=True),
    _text("method"),
    # NULL where no six digits were chosen.
    Column("shift_session", Reference),
    PrimaryKeyConstraint("digest", name="session_digest_unique"),
    ForeignKeyConstraint(["person"], ["person.id"], name="session_of_known_person"),
    Index("session_by_person", "person", "signed_in_at"),
)

throttle = Table(
    "throttle",
    metadata,
    _text("key"),
    _number("failures"),
    _time("not_before", nullable=True),
    PrimaryKeyConstraint("key", name="throttle_key_unique"),
)

lease = Table(
    "lease",
    metadata,
    _text("name"),
    _text("holder"),
    _time("until"),
    PrimaryKeyConstraint("name", name="lease_name_unique"),
)

infusion = Table(
    "infusion",
    metadata,
    _text("id"),
    _text("unit"),
    _text("bed"),
    _time("opened_at"),
    PrimaryKeyConstraint("id", name="infusion_id_unique"),
    ForeignKeyConstraint(["unit"], ["unit.id"], name="infusion_in_known_unit"),
    Index("infusion_by_bed", "unit", "bed"),
)

check = Table(
    "check",
    metadata,
    _text("id"),
    _text("infusion"),
    _text("kind"),
    _text("unit"),
    _text("bed"),
    _text("opened_by"),
    _time("opened_at"),
    PrimaryKeyConstraint("id", name="check_id_unique"),
    ForeignKeyConstraint(["infusion"], ["infusion.id"], name="check_of_known_infusion"),
    ForeignKeyConstraint(["unit"], ["unit.id"], name="check_in_known_unit"),
    ForeignKeyConstraint(["opened_by"], ["person.id"], name="check_opened_by_known_person"),
    Index("check_by_infusion", "infusion", "opened_at"),
    Index("check_by_unit", "unit", "opened_at"),
    Index("check_by_bed", "unit", "bed"),
)

participant = Table(
    "participant",
    metadata,
    _text("check"),
    _number("slot"),
    _text("person"),
    _time("joined_at"),
    PrimaryKeyConstraint("check", "slot", name="one_person_a_slot"),
    UniqueConstraint("check", "person", name="two_different_people"),
    # What readings and signatures point at.
    UniqueConstraint("check", "slot", "person", name="participant_in_full"),
    ForeignKeyConstraint(["check"], ["check.id"], name="participant_of_known_check"),
    ForeignKeyConstraint(["person"], ["person.id"], name="participant_is_known_person"),
    CheckConstraint("slot IN (1, 2)", name="slot_is_one_or_two"),
    Index("participant_by_person", "person"),
)

draft = Table(
    "draft",
    metadata,
    _text("check"),
    _text("subject"),
    _number("round"),
    _text("person"),
    _number("version"),
    _bytes("envelope"),
    _time("saved_at"),
    PrimaryKeyConstraint("check", "subject", "round", "person", name="one_draft_a_person_a_round"),
    ForeignKeyConstraint(
        ["check", "person"], ["participant.check", "participant.person"], name="draft_is_by_a_participant"
    ),
    CheckConstraint(f"length(envelope) = {ENVELOPE_SIZE}", name="draft_envelope_size"),
)

reading = Table(
    "reading",
    metadata,
    _text("id"),
    _text("check"),
    _text("subject"),
    _number("round"),
    _number("slot"),
    _text("person"),
    _bytes("envelope"),
    _text("commitment"),
    _time("handed_in_at"),
    _text("session"),
    _text("device"),
    _time("signed_in_at"),
    PrimaryKeyConstraint("id", name="reading_id_unique"),
    UniqueConstraint("check", "subject", "round", "person", name="one_reading_a_person_a_round"),
    UniqueConstraint("check", "subject", "round", "slot", name="one_reading_a_slot_a_round"),
    UniqueConstraint("check", "subject", "round", "session", name="two_different_sessions"),
    ForeignKeyConstraint(
        ["check", "slot", "person"],
        ["participant.check", "participant.slot", "participant.person"],
        name="reader_is_participant",
    ),
    CheckConstraint(f"length(envelope) = {ENVELOPE_SIZE}", name="envelope_size"),
)

comparison = Table(
    "comparison",
    metadata,
    _text("check"),
    _text("subject"),
    _number("round"),
    _time("at"),
    _text("engine"),
    _bytes("case"),
    _bytes("result"),
    PrimaryKeyConstraint("check", "subject", "round", name="one_comparison_a_round"),
    ForeignKeyConstraint(["check"], ["check.id"], name="comparison_of_known_check"),
)

frozen = Table(
    "frozen",
    metadata,
    _text("check"),
    _number("edition"),
    _time("at"),
    _bytes("document"),
    _text("digest"),
    PrimaryKeyConstraint("check", "edition", name="one_frozen_an_edition"),
    # What signatures point at.
    UniqueConstraint("check", "edition", "digest", name="frozen_in_full"),
    ForeignKeyConstraint(["check"], ["check.id"], name="frozen_of_known_check"),
)

signature = Table(
    "signature",
    metadata,
    _text("check"),
    _number("edition"),
    _number("slot"),
    _text("person"),
    _text("printed_name"),
    _text("digest"),
    _text("meaning"),
    _time("signed_at"),
    _text("session"),
    _text("device"),
    _time("signed_in_at"),
    _text("kid"),
    _text("jws"),
    PrimaryKeyConstraint("check", "edition", "slot", name="one_signature_a_slot"),
    ForeignKeyConstraint(
        ["check", "slot", "person"],
        ["participant.check", "participant.slot", "participant.person"],
        name="signer_is_participant",
    ),
    ForeignKeyConstraint(
        ["check", "edition", "digest"],
        ["frozen.check", "frozen.edition", "frozen.digest"],
        name="signature_is_of_the_frozen_digest",
    ),
    Index("signature_by_time", "signed_at", "check"),
)

# PDFs are large and seldom read: a table of their own keeps every other scan small.
pdf = Table(
    "pdf",
    metadata,
    _text("check"),
    _number("edition"),
    _text("digest"),
    _time("issued_at"),
    _bytes("content"),
    PrimaryKeyConstraint("check", "edition", name="one_pdf_an_edition"),
    ForeignKeyConstraint(
        ["check", "edition"], ["frozen.check", "frozen.edition"], name="pdf_of_frozen_record"
    ),
)

what_followed = Table(
    "what_followed",
    metadata,
    _text("check"),
    _number("edition"),
    _bytes("document"),
    _bytes("content"),
    _text("digest"),
    _time("issued_at"),
    PrimaryKeyConstraint("check", "edition", name="one_what_followed_an_edition"),
    ForeignKeyConstraint(
        ["check", "edition"], ["frozen.check", "frozen.edition"], name="what_followed_a_frozen_record"
    ),
)

help_taker = Table(
    "help_taker",
    metadata,
    _text("help"),
    _number("turn"),
    _text("check"),
    _text("person"),
    _time("taken_at"),
    PrimaryKeyConstraint("help", "turn", name="one_taker_a_turn"),
    ForeignKeyConstraint(["check"], ["check.id"], name="help_for_known_check"),
    ForeignKeyConstraint(["person"], ["person.id"], name="help_by_known_person"),
    Index("help_taker_by_check", "check"),
)

join_code = Table(
    "join_code",
    metadata,
    _text("digest"),
    _text("check"),
    _time("expires_at"),
    # Short codes come round again after years; the one that expires last counts.
    PrimaryKeyConstraint("digest", "check", name="one_code_a_check"),
    ForeignKeyConstraint(["check"], ["check.id"], name="code_of_known_check"),
)

site_data = Table(
    "site_data",
    metadata,
    _text("what"),
    _text("version"),
    _bytes("content"),
    _text("digest"),
    _time("in_force_from"),
    _number("number"),
    PrimaryKeyConstraint("what", "version", name="site_data_version_unique"),
    UniqueConstraint("what", "number", name="one_site_data_after_another"),
)

log_head = Table(
    "log_head",
    metadata,
    _number("id"),
    Column("size", BigInteger, nullable=False),
    PrimaryKeyConstraint("id", name="log_head_id_unique"),
    CheckConstraint("id = 1", name="only_one_log_head"),
)

# What a list asks of the stops that count for nothing yet, however many there were that do. The index is of
# exactly this, and an engine takes it only where a statement says the same, word for word.
OF_STOPS_NOWHERE = text("infusion IS NULL AND kind IN ('device-stopped', 'stop-misplaced', 'stop-settled')")

log_entry = Table(
    "log_entry",
    metadata,
    Column("position", BigInteger().with_variant(Integer, "sqlite"), nullable=False, autoincrement=False),
    _time("at"),
    _text("by"),
    Column("infusion", Reference),
    Column("check", Reference),
    _text("session"),
    _text("device"),
    _time("signed_in_at", nullable=True),
    _text("kind"),
    _bytes("canonical"),
    PrimaryKeyConstraint("position", name="one_entry_a_position"),
    ForeignKeyConstraint(["infusion"], ["infusion.id"], name="entry_of_known_infusion"),
    ForeignKeyConstraint(["check"], ["check.id"], name="entry_of_known_check"),
    Index("log_entry_by_check", "check", "kind"),
    Index("log_entry_by_infusion", "infusion", "position"),
    Index("log_entry_by_kind", "kind", "at"),
    Index(
        "log_entry_of_stops_nowhere",
        "infusion",
        "position",
        sqlite_where=OF_STOPS_NOWHERE,
        postgresql_where=OF_STOPS_NOWHERE,
    ),
)

access = Table(
    "access",
    metadata,
    Column("position", BigInteger().with_variant(Integer, "sqlite"), nullable=False, autoincrement=True),
    _time("at"),
    _text("person"),
    _text("session"),
    Column("check", Reference),
    _text("what"),
    PrimaryKeyConstraint("position", name="access_position_unique"),
    ForeignKeyConstraint(["check"], ["check.id"], name="access_to_known_check"),
    Index("access_by_check", "check", "at"),
    Index("access_by_person", "person", "at"),
)
