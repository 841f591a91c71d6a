"""The first tables, and the triggers that keep them.

Alembic does not know triggers: whoever adds a table says, in the migration that makes it, how it is kept.
"""

from typing import Any

import sqlalchemy as sa
from alembic import op

from app.storage import triggers

revision = "0001"
down_revision = None

TIME = sa.DateTime(timezone=True).with_variant(sa.Text(), "sqlite")
POSITION = sa.BigInteger().with_variant(sa.Integer(), "sqlite")

# In the order in which they are made.
TABLES = (
    "unit",
    "person",
    "person_role",
    "session",
    "throttle",
    "lease",
    "site_data",
    "infusion",
    "check",
    "participant",
    "draft",
    "reading",
    "comparison",
    "help_taker",
    "join_code",
    "frozen",
    "signature",
    "pdf",
    "what_followed",
    "log_head",
    "log_entry",
    "access",
)
# Rows of these may change; every other table only grows.
MAY_CHANGE = ("person", "person_role", "session", "throttle", "lease", "draft", "log_head")
APPEND_ONLY = tuple(table for table in TABLES if table not in MAY_CHANGE)
NEVER_DELETED = ("person", "log_head")


def upgrade() -> None:
    """Make the tables, the triggers and the log's head at nothing."""
    _make_accounts()
    _make_checks()
    _make_records()
    _make_log()
    op.execute("INSERT INTO log_head (id, size) VALUES (1, 0)")
    connection = op.get_bind()
    triggers.create_refusing_function(connection)
    triggers.create(connection, [triggers.append_only(table) for table in APPEND_ONLY])
    triggers.create(connection, [triggers.never_deleted(table) for table in NEVER_DELETED])
    triggers.create(connection, triggers.FIRST_RULES)
    if connection.dialect.name == "postgresql":
        # PDFs are compressed already; trying again costs more than half of the speed of storing one.
        op.execute("ALTER TABLE pdf ALTER COLUMN content SET STORAGE EXTERNAL")
        op.execute("ALTER TABLE what_followed ALTER COLUMN content SET STORAGE EXTERNAL")


def downgrade() -> None:
    """Remove everything, the youngest tables first because of their foreign keys."""
    for table in reversed(TABLES):
        op.drop_table(table)
    functions = ["refuse_change", *(rule.name for rule in triggers.FIRST_RULES)]
    triggers.drop_functions(op.get_bind(), functions)


def _text(name: str) -> sa.Column[str]:
    return sa.Column(name, sa.Text(), nullable=False)


def _number(name: str) -> sa.Column[int]:
    return sa.Column(name, sa.Integer(), nullable=False)


def _time(name: str) -> sa.Column[Any]:
    return sa.Column(name, TIME, nullable=False)


def _content(name: str) -> sa.Column[bytes]:
    return sa.Column(name, sa.LargeBinary(), nullable=False)


def _make_accounts() -> None:
    """Units, people, and the rows that may change without a trace."""
    op.create_table(
        "unit",
        _text("id"),
        _text("name"),
        _text("name_folded"),
        sa.PrimaryKeyConstraint("id", name="unit_id_unique"),
    )
    op.create_table(
        "person",
        _text("id"),
        _text("login"),
        _text("login_folded"),
        _text("staff_number"),
        _text("staff_number_folded"),
        _text("printed_name"),
        _text("unit"),
        sa.Column("secret_hash", sa.Text(), nullable=True),
        sa.Column("code_hash", sa.Text(), nullable=True),
        sa.Column("code_expires_at", TIME, nullable=True),
        sa.Column("active", sa.Boolean(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="person_id_unique"),
        sa.UniqueConstraint("login_folded", name="login_unique"),
        sa.UniqueConstraint("staff_number_folded", name="staff_number_unique"),
    )
    op.create_table(
        "person_role",
        _text("person"),
        _text("role"),
        sa.ForeignKeyConstraint(["person"], ["person.id"], name="role_of_known_person"),
        sa.PrimaryKeyConstraint("person", "role", name="role_held_once"),
    )
    op.create_table(
        "session",
        _text("digest"),
        _text("person"),
        _text("device"),
        _text("unit"),
        _time("signed_in_at"),
        _time("last_seen_at"),
        sa.Column("ended_at", TIME, nullable=True),
        _text("method"),
        sa.Column("shift_session", sa.Text(), nullable=True),
        sa.ForeignKeyConstraint(["person"], ["person.id"], name="session_of_known_person"),
        sa.PrimaryKeyConstraint("digest", name="session_digest_unique"),
    )
    op.create_index("session_by_person", "session", ["person", "signed_in_at"])
    op.create_table(
        "throttle",
        _text("key"),
        _number("failures"),
        sa.Column("not_before", TIME, nullable=True),
        sa.PrimaryKeyConstraint("key", name="throttle_key_unique"),
    )
    op.create_table(
        "lease",
        _text("name"),
        _text("holder"),
        _time("until"),
        sa.PrimaryKeyConstraint("name", name="lease_name_unique"),
    )
    op.create_table(
        "site_data",
        _text("what"),
        _text("version"),
        _content("content"),
        _text("digest"),
        _time("in_force_from"),
        _number("number"),
        sa.PrimaryKeyConstraint("what", "version", name="site_data_version_unique"),
        sa.UniqueConstraint("what", "number", name="one_site_data_after_another"),
    )


def _make_checks() -> None:
    """Infusions, checks and readings."""
    op.create_table(
        "infusion",
        _text("id"),
        _text("unit"),
        _text("bed"),
        _time("opened_at"),
        sa.ForeignKeyConstraint(["unit"], ["unit.id"], name="infusion_in_known_unit"),
        sa.PrimaryKeyConstraint("id", name="infusion_id_unique"),
    )
    op.create_index("infusion_by_bed", "infusion", ["unit", "bed"])
    op.create_table(
        "check",
        _text("id"),
        _text("infusion"),
        _text("kind"),
        _text("unit"),
        _text("bed"),
        _text("opened_by"),
        _time("opened_at"),
        sa.ForeignKeyConstraint(["infusion"], ["infusion.id"], name="check_of_known_infusion"),
        sa.ForeignKeyConstraint(["opened_by"], ["person.id"], name="check_opened_by_known_person"),
        sa.ForeignKeyConstraint(["unit"], ["unit.id"], name="check_in_known_unit"),
        sa.PrimaryKeyConstraint("id", name="check_id_unique"),
    )
    op.create_index("check_by_infusion", "check", ["infusion", "opened_at"])
    op.create_index("check_by_unit", "check", ["unit", "opened_at"])
    op.create_index("check_by_bed", "check", ["unit", "bed"])
    op.create_table(
        "participant",
        _text("check"),
        _number("slot"),
        _text("person"),
        _time("joined_at"),
        sa.CheckConstraint("slot IN (1, 2)", name="slot_is_one_or_two"),
        sa.ForeignKeyConstraint(["check"], ["check.id"], name="participant_of_known_check"),
        sa.ForeignKeyConstraint(["person"], ["person.id"], name="participant_is_known_person"),
        sa.PrimaryKeyConstraint("check", "slot", name="one_person_a_slot"),
        sa.UniqueConstraint("check", "person", name="two_different_people"),
        sa.UniqueConstraint("check", "slot", "person", name="participant_in_full"),
    )
    op.create_index("participant_by_person", "participant", ["person"])
    op.create_table(
        "draft",
        _text("check"),
        _text("subject"),
        _number("round"),
        _text("person"),
        _number("version"),
        _content("envelope"),
        _time("saved_at"),
        sa.CheckConstraint("length(envelope) = 16384", name="draft_envelope_size"),
        sa.ForeignKeyConstraint(
            ["check", "person"], ["participant.check", "participant.person"], name="draft_is_by_a_participant"
        ),
        sa.PrimaryKeyConstraint("check", "subject", "round", "person", name="one_draft_a_person_a_round"),
    )
    op.create_table(
        "reading",
        _text("id"),
        _text("check"),
        _text("subject"),
        _number("round"),
        _number("slot"),
        _text("person"),
        _content("envelope"),
        _text("commitment"),
        _time("handed_in_at"),
        _text("session"),
        _text("device"),
        _time("signed_in_at"),
        sa.CheckConstraint("length(envelope) = 16384", name="envelope_size"),
        sa.ForeignKeyConstraint(
            ["check", "slot", "person"],
            ["participant.check", "participant.slot", "participant.person"],
            name="reader_is_participant",
        ),
        sa.PrimaryKeyConstraint("id", name="reading_id_unique"),
        sa.UniqueConstraint("check", "subject", "round", "person", name="one_reading_a_person_a_round"),
        sa.UniqueConstraint("check", "subject", "round", "session", name="two_different_sessions"),
        sa.UniqueConstraint("check", "subject", "round", "slot", name="one_reading_a_slot_a_round"),
    )
    op.create_table(
        "comparison",
        _text("check"),
        _text("subject"),
        _number("round"),
        _time("at"),
        _text("engine"),
        _content("case"),
        _content("result"),
        sa.ForeignKeyConstraint(["check"], ["check.id"], name="comparison_of_known_check"),
        sa.PrimaryKeyConstraint("check", "subject", "round", name="one_comparison_a_round"),
    )
    op.create_table(
        "help_taker",
        _text("help"),
        _number("turn"),
        _text("check"),
        _text("person"),
        _time("taken_at"),
        sa.ForeignKeyConstraint(["check"], ["check.id"], name="help_for_known_check"),
        sa.ForeignKeyConstraint(["person"], ["person.id"], name="help_by_known_person"),
        sa.PrimaryKeyConstraint("help", "turn", name="one_taker_a_turn"),
    )
    op.create_index("help_taker_by_check", "help_taker", ["check"])
    op.create_table(
        "join_code",
        _text("digest"),
        _text("check"),
        _time("expires_at"),
        sa.ForeignKeyConstraint(["check"], ["check.id"], name="code_of_known_check"),
        sa.PrimaryKeyConstraint("digest", "check", name="one_code_a_check"),
    )


def _make_records() -> None:
    """What both sign."""
    op.create_table(
        "frozen",
        _text("check"),
        _number("edition"),
        _time("at"),
        _content("document"),
        _text("digest"),
        sa.ForeignKeyConstraint(["check"], ["check.id"], name="frozen_of_known_check"),
        sa.PrimaryKeyConstraint("check", "edition", name="one_frozen_an_edition"),
        sa.UniqueConstraint("check", "edition", "digest", name="frozen_in_full"),
    )
    op.create_table(
        "signature",
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
        sa.ForeignKeyConstraint(
            ["check", "edition", "digest"],
            ["frozen.check", "frozen.edition", "frozen.digest"],
            name="signature_is_of_the_frozen_digest",
        ),
        sa.ForeignKeyConstraint(
            ["check", "slot", "person"],
            ["participant.check", "participant.slot", "participant.person"],
            name="signer_is_participant",
        ),
        sa.PrimaryKeyConstraint("check", "edition", "slot", name="one_signature_a_slot"),
    )
    op.create_index("signature_by_time", "signature", ["signed_at", "check"])
    op.create_table(
        "pdf",
        _text("check"),
        _number("edition"),
        _text("digest"),
        _time("issued_at"),
        _content("content"),
        sa.ForeignKeyConstraint(
            ["check", "edition"], ["frozen.check", "frozen.edition"], name="pdf_of_frozen_record"
        ),
        sa.PrimaryKeyConstraint("check", "edition", name="one_pdf_an_edition"),
    )
    op.create_table(
        "what_followed",
        _text("check"),
        _number("edition"),
        _content("document"),
        _content("content"),
        _text("digest"),
        _time("issued_at"),
        sa.ForeignKeyConstraint(
            ["check", "edition"], ["frozen.check", "frozen.edition"], name="what_followed_a_frozen_record"
        ),
        sa.PrimaryKeyConstraint("check", "edition", name="one_what_followed_an_edition"),
    )


def _make_log() -> None:
    """The log, its head, and who looked at what."""
    op.create_table(
        "log_head",
        _number("id"),
        sa.Column("size", sa.BigInteger(), nullable=False),
        sa.CheckConstraint("id = 1", name="only_one_log_head"),
        sa.PrimaryKeyConstraint("id", name="log_head_id_unique"),
    )
    op.create_table(
        "log_entry",
        sa.Column("position", POSITION, autoincrement=False, nullable=False),
        _time("at"),
        _text("by"),
        sa.Column("infusion", sa.Text(), nullable=True),
        sa.Column("check", sa.Text(), nullable=True),
        _text("session"),
        _text("device"),
        sa.Column("signed_in_at", TIME, nullable=True),
        _text("kind"),
        _content("canonical"),
        sa.ForeignKeyConstraint(["check"], ["check.id"], name="entry_of_known_check"),
        sa.ForeignKeyConstraint(["infusion"], ["infusion.id"], name="entry_of_known_infusion"),
        sa.PrimaryKeyConstraint("position", name="one_entry_a_position"),
    )
    op.create_index("log_entry_by_check", "log_entry", ["check", "kind"])
    op.create_index("log_entry_by_infusion", "log_entry", ["infusion", "position"])
    stops_nowhere = "infusion IS NULL AND kind IN ('device-stopped', 'stop-misplaced', 'stop-settled')"
    op.create_index("log_entry_by_kind", "log_entry", ["kind", "at"])
    op.create_index(
        "log_entry_of_stops_nowhere",
        "log_entry",
        ["infusion", "position"],
        sqlite_where=sa.text(stops_nowhere),
        postgresql_where=sa.text(stops_nowhere),
    )
    op.create_table(
        "access",
        sa.Column("position", POSITION, autoincrement=True, nullable=False),
        _time("at"),
        _text("person"),
        _text("session"),
        sa.Column("check", sa.Text(), nullable=True),
        _text("what"),
        sa.ForeignKeyConstraint(["check"], ["check.id"], name="access_to_known_check"),
        sa.PrimaryKeyConstraint("position", name="access_position_unique"),
    )
    op.create_index("access_by_check", "access", ["check", "at"])
    op.create_index("access_by_person", "access", ["person", "at"])
