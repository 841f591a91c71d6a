"""The tables of what is proposed of the site's rules, and of what became of it: rows are added alone."""

from sqlalchemy import CheckConstraint, ForeignKeyConstraint, PrimaryKeyConstraint, Table, UniqueConstraint

from app.storage.schema import bytes_column as _bytes
from app.storage.schema import metadata
from app.storage.schema import text_column as _text
from app.storage.schema import time_column as _time

rule_proposal = Table(
    "rule_proposal",
    metadata,
    _text("id"),
    _text("what"),
    _text("version"),
    _bytes("content"),
    _text("digest"),
    _text("against"),
    _text("why"),
    _time("in_force_from", nullable=True),
    _text("proposed_by"),
    _time("proposed_at"),
    PrimaryKeyConstraint("id", name="proposal_id_unique"),
    UniqueConstraint("id", "proposed_by", name="proposal_of_one_person"),
    ForeignKeyConstraint(["proposed_by"], ["person.id"], name="proposal_by_known_person"),
)

rule_decision = Table(
    "rule_decision",
    metadata,
    _text("proposal"),
    _text("outcome"),
    # Beside who decided, so that the database itself can tell the two apart.
    _text("proposed_by"),
    _text("decided_by"),
    _time("decided_at"),
    _text("why"),
    PrimaryKeyConstraint("proposal", name="one_decision_a_proposal"),
    ForeignKeyConstraint(
        ["proposal", "proposed_by"],
        ["rule_proposal.id", "rule_proposal.proposed_by"],
        name="decision_on_known_proposal",
    ),
    ForeignKeyConstraint(["decided_by"], ["person.id"], name="decision_by_known_person"),
    CheckConstraint("outcome IN ('approved', 'refused', 'withdrawn')", name="outcome_of_proposal"),
    CheckConstraint(
        "(outcome = 'withdrawn') = (decided_by = proposed_by)", name="nobody_decides_on_their_own_proposal"
    ),
)
