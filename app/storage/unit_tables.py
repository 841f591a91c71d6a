"""The tables of units: what each was called first, and what since."""

from sqlalchemy import ForeignKeyConstraint, PrimaryKeyConstraint, Table

from app.storage.schema import metadata
from app.storage.schema import number_column as _number
from app.storage.schema import text_column as _text
from app.storage.schema import time_column as _time

unit = Table(
    "unit",
    metadata,
    _text("id"),
    # What it was called first.
    _text("name"),
    # In the form in which it is compared.
    _text("name_folded"),
    PrimaryKeyConstraint("id", name="unit_id_unique"),
)

# What it was called since; the last counts.
unit_renamed = Table(
    "unit_renamed",
    metadata,
    _text("unit"),
    _number("number"),
    _text("name"),
    _text("name_folded"),
    _time("named_at"),
    PrimaryKeyConstraint("unit", "number", name="one_name_at_a_time"),
    ForeignKeyConstraint(["unit"], ["unit.id"], name="name_of_known_unit"),
)
