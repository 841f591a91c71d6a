"""Findings and ended checks as flat rows, what is done with findings, and the sealed files of training."""

from typing import Any

import sqlalchemy as sa
from alembic import op

from app.storage import triggers

revision = "0003"
down_revision = "0002"

TIME = sa.DateTime(timezone=True).with_variant(sa.Text(), "sqlite")

# A finding by its place.
PLACE = ("check", "subject", "round", "number")
# In the order in which they are made.
TABLES = (
    "finding",
    "ended_check",
    "finding_settled",
    "finding_reached",
    "finding_review",
    "finding_classified",
    "competency_file",
)


def upgrade() -> None:
    """Make the tables and their triggers."""
    _make_rows()
    _make_reviews()
    _make_training()
    connection = op.get_bind()
    triggers.create(connection, [triggers.append_only(table) for table in TABLES])
    triggers.create(connection, triggers.REVIEW_RULES)


def downgrade() -> None:
    """Remove what was made here."""
    for table in reversed(TABLES):
        op.drop_table(table)
    triggers.drop_functions(op.get_bind(), [rule.name for rule in triggers.REVIEW_RULES])


def _text(name: str) -> sa.Column[str]:
    return sa.Column(name, sa.Text(), nullable=False)


def _number(name: str) -> sa.Column[int]:
    return sa.Column(name, sa.Integer(), nullable=False)


def _time(name: str) -> sa.Column[Any]:
    return sa.Column(name, TIME, nullable=False)


def _yes_or_no(name: str) -> sa.Column[bool]:
    return sa.Column(name, sa.Boolean(), nullable=False)


def _make_rows() -> None:
    """What was found, how it came to rest, and each check that has ended, for lists, counts and exports."""
    op.create_table(
        "finding",
        *(_text(name) for name in ("check", "subject")),
        *(_number(name) for name in ("round", "number")),
        *(_text(name) for name in ("infusion", "unit", "bed", "kind", "drug")),
        _time("compared_at"),
        *(_text(name) for name in ("severity", "code", "field", "about", "clinician", "group")),
        *(_text(name) for name in ("origin", "slip", "factor")),
        _yes_or_no("repeated"),
        _text("independence"),
        _yes_or_no("earlier_look"),
        *(_text(name) for name in ("pseudonym_a", "pseudonym_b")),
        sa.ForeignKeyConstraint(
            ["check", "subject", "round"],
            ["comparison.check", "comparison.subject", "comparison.round"],
            name="finding_of_known_comparison",
        ),
        sa.PrimaryKeyConstraint(*PLACE, name="one_finding_a_place"),
    )
    _make_indexes("finding")
    for name in ("code", "origin", "severity", "drug", "independence"):
        _make_indexes("finding", name)
    has_slip = sa.text("slip <> ''")
    _make_indexes("finding", "slip", sqlite_where=has_slip, postgresql_where=has_slip)
    op.create_table(
        "ended_check",
        *(_text(name) for name in ("check", "infusion", "patient", "kind", "unit", "bed", "drug", "device")),
        _time("opened_at"),
        *(
            sa.Column(name, TIME, nullable=True)
            for name in ("joined_at", "compared_at", "cleared_at", "started_at")
        ),
        _time("ended_at"),
        *(_text(name) for name in ("how", "reason")),
        _yes_or_no("was_lapsed"),
        *(_number(name) for name in ("rounds", "rounds_voided", "rereadings")),
        *(_number(name) for name in ("stops", "cautions", "notes", "exceptions", "escalated")),
        _text("independence"),
        _yes_or_no("earlier_look"),
        *(_text(name) for name in ("account", "account_left", "account_difference")),
        _number("edition"),
        _text("format"),
        _yes_or_no("invented"),
        *(_text(name) for name in ("engine", "policy", "library", "pseudonym_a", "pseudonym_b")),
        sa.ForeignKeyConstraint(["check"], ["check.id"], name="end_of_known_check"),
        sa.PrimaryKeyConstraint("check", name="one_end_a_check"),
    )
    op.create_index("ended_check_by_time", "ended_check", ["ended_at"])
    op.create_index("ended_check_by_unit", "ended_check", ["unit", "ended_at"])
    op.create_index("ended_check_by_comparison", "ended_check", ["compared_at"])
    op.create_index("ended_check_by_infusion", "ended_check", ["infusion", "compared_at"])
    has_device = sa.text("device <> ''")
    op.create_index(
        "ended_check_by_device",
        "ended_check",
        ["infusion", "device"],
        sqlite_where=has_device,
        postgresql_where=has_device,
    )
    op.create_table(
        "finding_settled",
        *(_text(name) for name in ("check", "subject")),
        *(_number(name) for name in ("round", "number")),
        _text("unit"),
        _time("compared_at"),
        _text("settled"),
        sa.Column("settled_at", TIME, nullable=True),
        _number("settled_in_round"),
        _text("settled_by"),
        _text("settled_outcome"),
        sa.Column("seconds_to_settle", sa.Integer(), nullable=True),
        *(_text(name) for name in ("reason_a", "reason_b")),
        sa.ForeignKeyConstraint(
            [*PLACE], [f"finding.{name}" for name in PLACE], name="settled_is_a_known_finding"
        ),
        sa.ForeignKeyConstraint(["check"], ["ended_check.check"], name="settled_once_its_check_has_ended"),
        sa.PrimaryKeyConstraint(*PLACE, name="settled_once"),
    )
    _make_indexes("finding_settled", "settled")
    op.create_table(
        "finding_reached",
        *(_text(name) for name in ("check", "subject")),
        *(_number(name) for name in ("round", "number")),
        *(_text(name) for name in ("state", "person", "unit")),
        _time("compared_at"),
        sa.ForeignKeyConstraint(
            [*PLACE], [f"finding_settled.{name}" for name in PLACE], name="reached_by_a_settled_finding"
        ),
        sa.PrimaryKeyConstraint(*PLACE, "state", "person", name="reached_once"),
    )
    _make_indexes("finding_reached", "state", "person")
    if op.get_bind().dialect.name == "postgresql":
        # A person stands with one state alone. Not knowing that, PostgreSQL expects few findings given to
        # somebody, and sorts all of them for a page instead of going through the index in the list's order.
        op.execute("CREATE STATISTICS finding_reached_state_of_person ON state, person FROM finding_reached")


def _make_reviews() -> None:
    """What is done with a finding: looked through, given to somebody, classified."""
    place = (_text("check"), _text("subject"), _number("round"), _number("number"))
    position = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
    op.create_table(
        "finding_review",
        sa.Column("position", position, autoincrement=False, nullable=False),
        *place,
        _text("what"),
        _time("at"),
        _text("person"),
        sa.Column("assigned_to", sa.Text(), nullable=True),
        _text("text"),
        sa.ForeignKeyConstraint(["check"], ["check.id"], name="review_of_known_check"),
        sa.ForeignKeyConstraint(["person"], ["person.id"], name="review_by_known_person"),
        sa.ForeignKeyConstraint(["assigned_to"], ["person.id"], name="assigned_to_known_person"),
        sa.PrimaryKeyConstraint("position", name="one_review_a_position"),
    )
    op.create_index("finding_review_by_finding", "finding_review", [*PLACE, "position"])
    op.create_index("finding_review_by_what", "finding_review", ["what", "position"])
    op.create_table(
        "finding_classified",
        *(_text(name) for name in ("check", "subject")),
        *(_number(name) for name in ("round", "number", "place")),
        _time("at"),
        *(_text(name) for name in ("person", "category", "readers", "factors", "text")),
        sa.CheckConstraint("place IN (1, 2)", name="first_or_second_classification"),
        sa.CheckConstraint(
            "category IN ('A', 'B', 'C', 'D', 'E', 'F', 'G', 'H', 'I')", name="category_of_the_index"
        ),
        sa.CheckConstraint("readers IN ('', 'A', 'B', 'AB')", name="readers_by_letter"),
        sa.ForeignKeyConstraint(["check"], ["check.id"], name="classification_of_known_check"),
        sa.ForeignKeyConstraint(["person"], ["person.id"], name="classified_by_known_person"),
        sa.PrimaryKeyConstraint(*PLACE, "place", name="one_classification_a_place"),
        sa.UniqueConstraint(*PLACE, "person", name="classified_by_two_people"),
    )


def _make_training() -> None:
    """The sealed files of records of checks on training cards."""
    op.create_table(
        "competency_file",
        _text("record"),
        _number("edition"),
        _text("digest"),
        _time("issued_at"),
        sa.Column("content", sa.LargeBinary(), nullable=False),
        sa.PrimaryKeyConstraint("record", "edition", name="one_competency_file_an_edition"),
    )
    if op.get_bind().dialect.name == "postgresql":
        # PDFs are compressed already.
        op.execute("ALTER TABLE competency_file ALTER COLUMN content SET STORAGE EXTERNAL")


def _make_indexes(table: str, *filtered: str, **where: Any) -> None:  # noqa: ANN401  # of an index
    """Of some columns in the order of the list, and the same within a unit."""
    name = "_".join((table, "by", *(filtered or ("time",))))
    op.create_index(name, table, [*filtered, "compared_at"], **where)
    op.create_index(f"{name}_of_unit", table, ["unit", *filtered, "compared_at"], **where)
