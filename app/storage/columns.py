"""How times and references to another row are written in a column, alike on both engines."""

from datetime import UTC, datetime
from typing import Any

from sqlalchemy import DateTime, Dialect, Text, TypeDecorator
from sqlalchemy.types import TypeEngine

from app.records.written import iso


class UtcTime(TypeDecorator[datetime]):
    """An aware UTC time: `timestamptz` on PostgreSQL, ISO 8601 text on SQLite, which has no time type."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def load_dialect_impl(self, dialect: Dialect) -> TypeEngine[Any]:
        """Text on SQLite, the time type elsewhere."""
        if dialect.name == "sqlite":
            return dialect.type_descriptor(Text())
        return dialect.type_descriptor(DateTime(timezone=True))

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | str | None:
        """Write; a time without a zone is a bug and is refused."""
        if value is None:
            return None
        written = iso(value)
        return written if dialect.name == "sqlite" else value.astimezone(UTC)

    def process_result_value(self, value: Any | None, dialect: Dialect) -> datetime | None:  # noqa: ANN401, ARG002  # what the driver gives
        """Read back as aware UTC."""
        if value is None:
            return None
        moment = datetime.fromisoformat(value) if isinstance(value, str) else value
        return moment.astimezone(UTC)


class Reference(TypeDecorator[str]):
    """The id of another row, or an empty string for none; kept as NULL so that a foreign key can hold."""

    impl = Text
    cache_ok = True

    def process_bind_param(self, value: str | None, dialect: Dialect) -> str | None:  # noqa: ARG002  # SQLAlchemy's signature
        """An empty reference becomes NULL."""
        return value or None

    def process_result_value(self, value: str | None, dialect: Dialect) -> str:  # noqa: ARG002  # SQLAlchemy's signature
        """NULL becomes an empty reference."""
        return value or ""


# The largest whole number that a column of either engine holds.
_LARGEST = 2**63 - 1


def is_storable(value: object) -> bool:
    """Whether a text or a number from outside can be kept, and asked for, on either engine."""
    if isinstance(value, int):
        return -_LARGEST <= value <= _LARGEST
    text = str(value)
    # PostgreSQL keeps no NUL, and neither engine half of a pair of code units.
    return "\0" not in text and not any("\ud800" <= sign <= "\udfff" for sign in text)
