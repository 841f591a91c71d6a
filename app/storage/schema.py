"""What every table is made of: one list of tables, and columns that are named and never silently empty."""

from sqlalchemy import BigInteger, Column, Integer, LargeBinary, MetaData, Text

from app.storage.columns import UtcTime

metadata = MetaData()


def text_column(name: str) -> Column[str]:
    """Text that must be given."""
    return Column(name, Text, nullable=False)


def number_column(name: str) -> Column[int]:
    """A whole number that must be given."""
    return Column(name, Integer, nullable=False)


def large_number_column(name: str) -> Column[int]:
    """One that may outgrow 32 bits, such as a place in the log."""
    return Column(name, BigInteger().with_variant(Integer, "sqlite"), nullable=False)


def time_column(name: str, *, nullable: bool = False) -> Column[object]:
    """A moment in UTC."""
    return Column(name, UtcTime, nullable=nullable)


def bytes_column(name: str) -> Column[bytes]:
    """Bytes that must be given."""
    return Column(name, LargeBinary, nullable=False)
