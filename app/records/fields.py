"""What is read, asked of the table of fields: by source, by name, by finding, by judge, by row."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

from app.records.field_table import TABLE
from app.records.sources import Field, JudgedBy, Source


def _in_source(each: Field, source: Source) -> Field:
    """A field as one source has it."""
    return replace(
        each,
        measure=each.measure_in.get(source, each.measure),
        choices=each.choices_in.get(source, each.choices),
        none=each.none_in.get(source, each.none),
        # A scan of another paper says nothing of it.
        from_scan=each.from_scan and source is each.sources[0],
        hint=each.hint_in.get(source, each.hint),
    )


FIELDS: dict[Source, tuple[Field, ...]] = {
    source: tuple(_in_source(each, source) for each in TABLE if source in each.sources) for source in Source
}
_IN_SOURCE = {(source, each.name): each for source, fields in FIELDS.items() for each in fields}
_BY_NAME = {each.name: each for each in TABLE}
# Of two that are found as one, the later is what the finding is about, and the earlier how it is written.
_BY_FINDING = {each.finding: each for each in TABLE}


def field_of(source: Source, name: str) -> Field:
    """The field of that name in that source; a wrong name is a bug."""
    return _IN_SOURCE[source, name]


def field_named(name: str) -> Field:
    """The row of that name, whatever the source; a wrong name is a bug."""
    return _BY_NAME[name]


def find_field(finding: str) -> Field | None:
    """The field that a finding is about, by its name there; None for what is computed and not read."""
    return _BY_FINDING.get(finding)


def fields_judged_by(judge: JudgedBy) -> Iterator[tuple[Source, Field]]:
    """What one judge has to say something of, with the source that it is read from."""
    for source, fields in FIELDS.items():
        yield from ((source, each) for each in fields if judge in each.judged_by)


def read_together(finding: str) -> tuple[str, ...]:
    """The names of what is read again for a finding: its field, and what is read with it."""
    field = _BY_FINDING[finding]
    return field.read_with or (field.name,)


@dataclass(frozen=True, kw_only=True)
class ComparedRow:
    """A row of a comparison: what it is called, where it is read, and which findings are about it."""

    name: str
    label: str
    sources: tuple[Source, ...]
    about: frozenset[str]
    last_look: bool


def _row(name: str) -> ComparedRow:
    own = _BY_NAME[name]
    return ComparedRow(
        name=name,
        label=own.label,
        sources=own.sources,
        about=frozenset(each.finding for each in TABLE if each.row_name == name),
        last_look=own.last_look,
    )


ROWS: tuple[ComparedRow, ...] = tuple(
    _row(name) for name in dict.fromkeys(each.row_name for each in TABLE if each.is_compared)
)


def rows_from(*first_read_in: Source) -> tuple[ComparedRow, ...]:
    """The rows of what is read first in one of these sources."""
    return tuple(row for row in ROWS if row.sources[0] in first_read_in)
