"""The tables of what stands about people beside their accounts: rows of them are added and never change."""

from sqlalchemy import Column, ForeignKeyConstraint, Index, PrimaryKeyConstraint, Table

from app.storage.columns import Reference
from app.storage.schema import bytes_column as _bytes
from app.storage.schema import metadata
from app.storage.schema import number_column as _number
from app.storage.schema import text_column as _text
from app.storage.schema import time_column as _time

training = Table(
    "training",
    metadata,
    _text("id"),
    _text("person"),
    _text("topic"),
    _text("trained_on"),
    _text("recorded_by"),
    _time("recorded_at"),
    PrimaryKeyConstraint("id", name="training_id_unique"),
    ForeignKeyConstraint(["person"], ["person.id"], name="training_of_known_person"),
    Index("training_by_person", "person"),
)

training_withdrawal = Table(
    "training_withdrawal",
    metadata,
    _text("training"),
    _text("withdrawn_by"),
    _time("withdrawn_at"),
    _text("why"),
    PrimaryKeyConstraint("training", name="one_withdrawal_a_training"),
    ForeignKeyConstraint(["training"], ["training.id"], name="withdrawal_of_known_training"),
)

acceptance = Table(
    "acceptance",
    metadata,
    _text("person"),
    _text("digest"),
    _text("version"),
    _time("accepted_at"),
    _text("session"),
    _text("device"),
    _time("signed_in_at"),
    PrimaryKeyConstraint("person", "digest", name="accepted_once"),
    ForeignKeyConstraint(["person"], ["person.id"], name="acceptance_by_known_person"),
)

refused_signings = Table(
    "refused_signings",
    metadata,
    _text("id"),
    # NULL where nobody has the id that was typed.
    Column("person", Reference),
    _number("count"),
    _time("since"),
    _time("at"),
    PrimaryKeyConstraint("id", name="refused_signings_id_unique"),
    ForeignKeyConstraint(["person"], ["person.id"], name="refused_signings_of_known_person"),
    Index("refused_signings_by_time", "at"),
)

refused_signings_told = Table(
    "refused_signings_told",
    metadata,
    _text("refused"),
    _text("person"),
    _time("told_at"),
    PrimaryKeyConstraint("refused", "person", name="told_once_of_refused_signings"),
    ForeignKeyConstraint(["refused"], ["refused_signings.id"], name="told_of_known_refused_signings"),
    ForeignKeyConstraint(["person"], ["person.id"], name="refused_signings_told_to_known_person"),
)

competency_file = Table(
    "competency_file",
    metadata,
    _text("record"),
    _number("edition"),
    _text("digest"),
    _time("issued_at"),
    _bytes("content"),
    PrimaryKeyConstraint("record", "edition", name="one_competency_file_an_edition"),
)
