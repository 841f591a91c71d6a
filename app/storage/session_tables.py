"""The table of shift sessions: begun with id and secret, opened again at the same screen by six digits."""

from sqlalchemy import ForeignKeyConstraint, Index, PrimaryKeyConstraint, Table

from app.storage.schema import metadata
from app.storage.schema import number_column as _number
from app.storage.schema import text_column as _text
from app.storage.schema import time_column as _time

shift_session = Table(
    "shift_session",
    metadata,
    _text("id"),
    _text("person"),
    _text("device"),
    _text("unit"),
    _time("began_at"),
    _text("pin_hash"),
    _number("tries"),
    _time("ended_at", nullable=True),
    PrimaryKeyConstraint("id", name="shift_session_id_unique"),
    ForeignKeyConstraint(["person"], ["person.id"], name="shift_session_of_known_person"),
    Index("shift_session_by_device", "device", "began_at"),
    Index("shift_session_by_person", "person"),
)
