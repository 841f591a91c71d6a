"""Keys of people and of the site, checkpoints of the log, and shift sessions.

With them what else stands about people and units: training, the accepted statement, refused signings, names,
and what was proposed of the rules; and orders from other systems.
"""

from typing import Any

import sqlalchemy as sa
from alembic import op

from app.storage import triggers

revision = "0002"
down_revision = "0001"

TIME = sa.DateTime(timezone=True).with_variant(sa.Text(), "sqlite")
SIZE = sa.BigInteger().with_variant(sa.Integer(), "sqlite")

# In the order in which they are made.
TABLES = (
    "issued_code",
    "code_told",
    "personal_key",
    "personal_key_sealed",
    "authenticator",
    "key_confirmation",
    "key_retirement",
    "site_key",
    "checkpoint",
    "log_block",
    "shift_session",
    "training",
    "training_withdrawal",
    "acceptance",
    "refused_signings",
    "refused_signings_told",
    "unit_renamed",
    "rule_proposal",
    "rule_decision",
    "order_sender",
    "order_sender_revoked",
    "order_message",
)
MAY_CHANGE = ("personal_key_sealed", "authenticator", "shift_session")
APPEND_ONLY = tuple(table for table in TABLES if table not in MAY_CHANGE)


def upgrade() -> None:
    """Make the tables and their triggers."""
    _make_personal_keys()
    _make_authenticators()
    _make_confirmations()
    _make_site_keys()
    _make_shift_sessions()
    _make_training()
    _make_refused_signings()
    _make_names_of_units()
    _make_proposals()
    _make_orders()
    connection = op.get_bind()
    triggers.create(connection, [triggers.append_only(table) for table in APPEND_ONLY])
    triggers.create(connection, triggers.KEY_RULES)


def downgrade() -> None:
    """Remove what was made here."""
    connection = op.get_bind()
    triggers.drop(connection, [rule for rule in triggers.KEY_RULES if rule.table not in TABLES])
    for table in reversed(TABLES):
        op.drop_table(table)
    triggers.drop_functions(connection, [rule.name for rule in triggers.KEY_RULES])


def _text(name: str) -> sa.Column[str]:
    return sa.Column(name, sa.Text(), nullable=False)


def _time(name: str) -> sa.Column[Any]:
    return sa.Column(name, TIME, nullable=False)


def _content(name: str) -> sa.Column[bytes]:
    return sa.Column(name, sa.LargeBinary(), nullable=False)


def _make_personal_keys() -> None:
    """Who gave which code, and the keys that were made with them."""
    op.create_table(
        "issued_code",
        _text("code"),
        _text("person"),
        _text("what"),
        _text("issuer"),
        _time("issued_at"),
        _text("attestation"),
        sa.ForeignKeyConstraint(["person"], ["person.id"], name="code_for_known_person"),
        sa.PrimaryKeyConstraint("code", name="one_issue_a_code"),
    )
    op.create_index("issued_code_by_person", "issued_code", ["person", "issued_at"])
    op.create_index("issued_code_by_what", "issued_code", ["what", "issued_at"])
    op.create_table(
        "code_told",
        _text("code"),
        _text("person"),
        _time("told_at"),
        sa.ForeignKeyConstraint(["code"], ["issued_code.code"], name="told_of_known_code"),
        sa.ForeignKeyConstraint(["person"], ["person.id"], name="told_to_known_person"),
        sa.PrimaryKeyConstraint("code", "person", name="told_once_of_a_code"),
    )
    op.create_table(
        "personal_key",
        _text("kid"),
        _text("person"),
        _text("algorithm"),
        _text("public"),
        _time("made_at"),
        _text("issuer"),
        _text("made_on"),
        _text("attestation"),
        sa.ForeignKeyConstraint(["person"], ["person.id"], name="key_of_known_person"),
        sa.PrimaryKeyConstraint("kid", name="personal_key_unique"),
        sa.UniqueConstraint("kid", "person", name="personal_key_in_full"),
    )
    op.create_index("personal_key_by_person", "personal_key", ["person", "made_at"])
    op.create_table(
        "personal_key_sealed",
        _text("kid"),
        _content("sealed"),
        sa.ForeignKeyConstraint(["kid"], ["personal_key.kid"], name="sealed_half_of_known_key"),
        sa.PrimaryKeyConstraint("kid", name="one_sealed_half_a_key"),
    )


def _make_authenticators() -> None:
    """What a person gives beside the secret."""
    op.create_table(
        "authenticator",
        _text("id"),
        _text("person"),
        _text("kind"),
        _content("sealed"),
        sa.Column("used_until", SIZE, nullable=False),
        sa.Column("sign_count", SIZE, nullable=False),
        sa.CheckConstraint("kind IN ('code', 'passkey')", name="kind_of_authenticator"),
        sa.ForeignKeyConstraint(["person"], ["person.id"], name="authenticator_of_known_person"),
        sa.PrimaryKeyConstraint("id", name="authenticator_id_unique"),
    )
    op.create_index("authenticator_by_person", "authenticator", ["person"])


def _make_confirmations() -> None:
    """What a second person confirmed, and what is no longer in use."""
    op.create_table(
        "key_confirmation",
        _text("kid"),
        _text("confirmed_by"),
        _time("confirmed_at"),
        _text("confirmer_kid"),
        _content("statement"),
        _text("jws"),
        _text("attestation"),
        sa.ForeignKeyConstraint(["kid"], ["personal_key.kid"], name="confirmation_of_known_key"),
        sa.ForeignKeyConstraint(
            ["confirmer_kid", "confirmed_by"],
            ["personal_key.kid", "personal_key.person"],
            name="confirmer_signs_with_own_key",
        ),
        sa.PrimaryKeyConstraint("kid", name="one_confirmation_a_key"),
    )
    op.create_table(
        "key_retirement",
        _text("kid"),
        _time("retired_at"),
        _text("why"),
        sa.ForeignKeyConstraint(["kid"], ["personal_key.kid"], name="retirement_of_known_key"),
        sa.PrimaryKeyConstraint("kid", name="one_retirement_a_key"),
    )


def _make_site_keys() -> None:
    """The site's keys and what they signed of the log."""
    op.create_table(
        "site_key",
        _text("kid"),
        _text("purpose"),
        _text("certificate"),
        _time("made_at"),
        sa.CheckConstraint("purpose IN ('seal', 'checkpoint')", name="purpose_of_site_key"),
        sa.PrimaryKeyConstraint("kid", name="site_key_unique"),
    )
    op.create_table(
        "checkpoint",
        sa.Column("size", SIZE, autoincrement=False, nullable=False),
        _text("root"),
        _time("at"),
        _text("kid"),
        _text("signature"),
        sa.ForeignKeyConstraint(["kid"], ["site_key.kid"], name="checkpoint_by_known_key"),
        sa.PrimaryKeyConstraint("size", name="one_checkpoint_a_size"),
    )
    op.create_table(
        "log_block",
        sa.Column("number", SIZE, autoincrement=False, nullable=False),
        _text("root"),
        sa.PrimaryKeyConstraint("number", name="one_root_a_block"),
    )


def _make_shift_sessions() -> None:
    """What six digits open again at one screen."""
    op.create_table(
        "shift_session",
        _text("id"),
        _text("person"),
        _text("device"),
        _text("unit"),
        _time("began_at"),
        _text("pin_hash"),
        sa.Column("tries", sa.Integer(), nullable=False),
        sa.Column("ended_at", TIME, nullable=True),
        sa.ForeignKeyConstraint(["person"], ["person.id"], name="shift_session_of_known_person"),
        sa.PrimaryKeyConstraint("id", name="shift_session_id_unique"),
    )
    op.create_index("shift_session_by_device", "shift_session", ["device", "began_at"])
    op.create_index("shift_session_by_person", "shift_session", ["person"])


def _make_training() -> None:
    """Who was trained when, by whose word, and who accepted which statement of accountability."""
    op.create_table(
        "training",
        _text("id"),
        _text("person"),
        _text("topic"),
        _text("trained_on"),
        _text("recorded_by"),
        _time("recorded_at"),
        sa.ForeignKeyConstraint(["person"], ["person.id"], name="training_of_known_person"),
        sa.PrimaryKeyConstraint("id", name="training_id_unique"),
    )
    op.create_index("training_by_person", "training", ["person"])
    op.create_table(
        "training_withdrawal",
        _text("training"),
        _text("withdrawn_by"),
        _time("withdrawn_at"),
        _text("why"),
        sa.ForeignKeyConstraint(["training"], ["training.id"], name="withdrawal_of_known_training"),
        sa.PrimaryKeyConstraint("training", name="one_withdrawal_a_training"),
    )
    op.create_table(
        "acceptance",
        _text("person"),
        _text("digest"),
        _text("version"),
        _time("accepted_at"),
        _text("session"),
        _text("device"),
        _time("signed_in_at"),
        sa.ForeignKeyConstraint(["person"], ["person.id"], name="acceptance_by_known_person"),
        sa.PrimaryKeyConstraint("person", "digest", name="accepted_once"),
    )


def _make_refused_signings() -> None:
    """Signings that were refused again and again, and who has read of it."""
    op.create_table(
        "refused_signings",
        _text("id"),
        sa.Column("person", sa.Text(), nullable=True),
        sa.Column("count", sa.Integer(), nullable=False),
        _time("since"),
        _time("at"),
        sa.ForeignKeyConstraint(["person"], ["person.id"], name="refused_signings_of_known_person"),
        sa.PrimaryKeyConstraint("id", name="refused_signings_id_unique"),
    )
    op.create_index("refused_signings_by_time", "refused_signings", ["at"])
    op.create_table(
        "refused_signings_told",
        _text("refused"),
        _text("person"),
        _time("told_at"),
        sa.ForeignKeyConstraint(["refused"], ["refused_signings.id"], name="told_of_known_refused_signings"),
        sa.ForeignKeyConstraint(["person"], ["person.id"], name="refused_signings_told_to_known_person"),
        sa.PrimaryKeyConstraint("refused", "person", name="told_once_of_refused_signings"),
    )


def _make_names_of_units() -> None:
    """What a unit was called after its first name."""
    op.create_table(
        "unit_renamed",
        _text("unit"),
        sa.Column("number", sa.Integer(), nullable=False),
        _text("name"),
        _text("name_folded"),
        _time("named_at"),
        sa.ForeignKeyConstraint(["unit"], ["unit.id"], name="name_of_known_unit"),
        sa.PrimaryKeyConstraint("unit", "number", name="one_name_at_a_time"),
    )


def _make_proposals() -> None:
    """What was proposed of the site's rules, and what became of it."""
    op.create_table(
        "rule_proposal",
        _text("id"),
        _text("what"),
        _text("version"),
        _content("content"),
        _text("digest"),
        _text("against"),
        _text("why"),
        sa.Column("in_force_from", TIME, nullable=True),
        _text("proposed_by"),
        _time("proposed_at"),
        sa.ForeignKeyConstraint(["proposed_by"], ["person.id"], name="proposal_by_known_person"),
        sa.PrimaryKeyConstraint("id", name="proposal_id_unique"),
        sa.UniqueConstraint("id", "proposed_by", name="proposal_of_one_person"),
    )
    op.create_table(
        "rule_decision",
        _text("proposal"),
        _text("outcome"),
        _text("proposed_by"),
        _text("decided_by"),
        _time("decided_at"),
        _text("why"),
        sa.CheckConstraint("outcome IN ('approved', 'refused', 'withdrawn')", name="outcome_of_proposal"),
        sa.CheckConstraint(
            "(outcome = 'withdrawn') = (decided_by = proposed_by)",
            name="nobody_decides_on_their_own_proposal",
        ),
        sa.ForeignKeyConstraint(
            ["proposal", "proposed_by"],
            ["rule_proposal.id", "rule_proposal.proposed_by"],
            name="decision_on_known_proposal",
        ),
        sa.ForeignKeyConstraint(["decided_by"], ["person.id"], name="decision_by_known_person"),
        sa.PrimaryKeyConstraint("proposal", name="one_decision_a_proposal"),
    )


def _make_orders() -> None:
    """Orders from other systems, and who sends them."""
    op.create_table(
        "order_sender",
        _text("id"),
        _text("name"),
        _text("name_folded"),
        _text("token_digest"),
        _text("added_by"),
        _time("added_at"),
        sa.PrimaryKeyConstraint("id", name="order_sender_id_unique"),
        sa.UniqueConstraint("name_folded", name="order_sender_name_taken"),
        sa.UniqueConstraint("token_digest", name="order_sender_token_unique"),
    )
    op.create_table(
        "order_sender_revoked",
        _text("sender"),
        sa.Column("position", SIZE, nullable=False),
        _text("revoked_by"),
        _time("revoked_at"),
        sa.ForeignKeyConstraint(["sender"], ["order_sender.id"], name="revocation_of_known_order_sender"),
        sa.PrimaryKeyConstraint("sender", name="one_revocation_an_order_sender"),
    )
    op.create_table(
        "order_message",
        _text("id"),
        sa.Column("position", SIZE, nullable=False),
        _text("sender"),
        _time("received_at"),
        _text("order_named"),
        _text("patient"),
        _text("salt"),
        _content("message"),
        _text("message_digest"),
        _content("read"),
        _text("digest"),
        sa.ForeignKeyConstraint(["sender"], ["order_sender.id"], name="order_message_of_known_sender"),
        sa.PrimaryKeyConstraint("id", name="order_message_id_unique"),
        sa.UniqueConstraint("sender", "message_digest", name="one_order_message_a_sender"),
    )
    op.create_index("order_message_by_patient", "order_message", ["patient"])
    op.create_index("order_message_by_order", "order_message", ["sender", "order_named"])
