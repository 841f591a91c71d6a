"""The tables of what is done with findings: looked through, given to somebody, classified."""

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

from app.storage.columns import Reference
from app.storage.row_tables import PLACE
from app.storage.schema import metadata
from app.storage.schema import number_column as _number
from app.storage.schema import text_column as _text
from app.storage.schema import time_column as _time

finding_review = Table(
    "finding_review",
    metadata,
    # Where the log tells of it.
    Column("position", BigInteger().with_variant(Integer, "sqlite"), nullable=False, autoincrement=False),
    _text("check"),
    _text("subject"),
    _number("round"),
    _number("number"),
    _text("what"),
    _time("at"),
    _text("person"),
    # NULL where nobody is given anything.
    Column("assigned_to", Reference),
    _text("text"),
    PrimaryKeyConstraint("position", name="one_review_a_position"),
    ForeignKeyConstraint(["check"], ["check.id"], name="review_of_known_check"),
    ForeignKeyConstraint(["person"], ["person.id"], name="review_by_known_person"),
    ForeignKeyConstraint(["assigned_to"], ["person.id"], name="assigned_to_known_person"),
    Index("finding_review_by_finding", *PLACE, "position"),
    Index("finding_review_by_what", "what", "position"),
)

finding_classified = Table(
    "finding_classified",
    metadata,
    _text("check"),
    _text("subject"),
    _number("round"),
    _number("number"),
    # 1 for the first who classified it, 2 for the second.
    _number("place"),
    _time("at"),
    _text("person"),
    _text("category"),
    _text("readers"),
    _text("factors"),
    _text("text"),
    PrimaryKeyConstraint(*PLACE, "place", name="one_classification_a_place"),
    UniqueConstraint(*PLACE, "person", name="classified_by_two_people"),
    ForeignKeyConstraint(["check"], ["check.id"], name="classification_of_known_check"),
    ForeignKeyConstraint(["person"], ["person.id"], name="classified_by_known_person"),
    CheckConstraint("place IN (1, 2)", name="first_or_second_classification"),
    CheckConstraint(
        "category IN ('A', 'B', 'C', 'D', 'E', 'F', 'G', 'H', 'I')", name="category_of_the_index"
    ),
    CheckConstraint("readers IN ('', 'A', 'B', 'AB')", name="readers_by_letter"),
)
