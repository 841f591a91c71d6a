"""The beds of a unit as the log has them."""

from app.records.beds import Beds, beds_of
from app.storage import Reader


def beds_in(reader: Reader, unit: str) -> Beds:
    """The beds of a unit."""
    return beds_of(unit, reader.bed_entries())


def find_bed(reader: Reader, unit: str, typed: str) -> str | None:
    """The bed of a unit that somebody means, as it is written in its list."""
    return beds_in(reader, unit).find(typed)
