"""The flat rows that are exported as CSV, quoted by the database itself: one text for each check.

An object for each cell costs several times what the database's own output does, and a check's own cells are
the same in the row of each of its findings. So the database writes them once, behind those of each finding;
whoever writes the file makes rows of them.
"""

import sqlite3
from collections.abc import Iterator
from typing import Any

import psycopg
from sqlalchemy import (
    ColumnElement,
    FunctionElement,
    Integer,
    LargeBinary,
    Select,
    Text,
    and_,
    case,
    cast,
    func,
    literal,
    select,
)
from sqlalchemy.ext.compiler import compiles
from sqlalchemy.sql.compiler import SQLCompiler

from app.records.exported_columns import MARK, OF_CHECK, OF_FINDING, Exported, Holds
from app.storage.read_exports import ExportSpan, in_span, joined_to_checks, source_column
from app.storage.reader import Reader
from app.storage.row_tables import PLACE, ended_check, finding, finding_settled

# Checks held in memory at a time.
_CHECKS = 256
_QUOTE, _SECONDS = '"', "seconds_to_"
# What is told of is a row of one of these.
_ALWAYS = ("ended_check.", "finding.")


class _Together(FunctionElement[str]):
    """Cells with commas between them; one of which nothing is known is empty."""

    type = Text()
    inherit_cache = True


@compiles(_Together, "sqlite")
def _together_in_sqlite(element: _Together, compiler: SQLCompiler, **kw: Any) -> str:  # noqa: ANN401  # the library's own
    marks = ",".join('"%w"' if isinstance(each, _Known) else "%s" for each in element.clauses)
    return f"printf('{marks}', {compiler.process(element.clauses, **kw)})"


@compiles(_Together, "postgresql")
def _together_in_postgresql(element: _Together, compiler: SQLCompiler, **kw: Any) -> str:  # noqa: ANN401  # likewise
    cells = ", ".join(f"coalesce({compiler.process(each, **kw)}, '')" for each in element.clauses)
    return f"concat_ws(',', {cells})"


class _Known(FunctionElement[str]):
    """A cell of which there is always something to tell."""

    type = Text()
    inherit_cache = True


@compiles(_Known, "sqlite")
def _known_in_sqlite(element: _Known, compiler: SQLCompiler, **kw: Any) -> str:  # noqa: ANN401  # likewise
    # Cells are put together by what puts the quotes, too.
    return compiler.process(element.clauses, **kw)


@compiles(_Known, "postgresql")
def _known_in_postgresql(element: _Known, compiler: SQLCompiler, **kw: Any) -> str:  # noqa: ANN401  # likewise
    (value,) = element.clauses
    return compiler.process(_quoted(value), **kw)


class _Moment(FunctionElement[str]):
    """A time as the table shows it."""

    type = Text()
    inherit_cache = True


@compiles(_Moment, "sqlite")
def _moment_in_sqlite(element: _Moment, compiler: SQLCompiler, **kw: Any) -> str:  # noqa: ANN401  # likewise
    return f"replace({compiler.process(element.clauses, **kw)}, 'T', ' ')"


@compiles(_Moment, "postgresql")
def _moment_in_postgresql(element: _Moment, compiler: SQLCompiler, **kw: Any) -> str:  # noqa: ANN401  # likewise
    of = compiler.process(element.clauses, **kw)
    return f"to_char({of} AT TIME ZONE 'UTC', 'YYYY-MM-DD HH24:MI:SS.US\"Z\"')"


class _Between(FunctionElement[int]):
    """Whole seconds from one time to another."""

    type = Integer()
    inherit_cache = True


@compiles(_Between, "sqlite")
def _between_in_sqlite(element: _Between, compiler: SQLCompiler, **kw: Any) -> str:  # noqa: ANN401  # likewise
    # Parts of a second apart: SQLite rounds them.
    first, last = (
        f"(CAST(strftime('%s', substr({each}, 1, 19)) AS INTEGER) * 1000000"
        f" + CAST(substr({each}, 21, 6) AS INTEGER))"
        for each in (compiler.process(one, **kw) for one in element.clauses)
    )
    return f"(({last} - {first}) / 1000000)"


@compiles(_Between, "postgresql")
def _between_in_postgresql(element: _Between, compiler: SQLCompiler, **kw: Any) -> str:  # noqa: ANN401  # likewise
    first, last = (compiler.process(one, **kw) for one in element.clauses)
    return f"CAST(trunc(extract(epoch FROM {last} - {first})) AS BIGINT)"


class _Bytes(FunctionElement[bytes]):
    """A text that nobody reads sign by sign."""

    type = LargeBinary()
    inherit_cache = True


@compiles(_Bytes, "sqlite")
def _bytes_in_sqlite(element: _Bytes, compiler: SQLCompiler, **kw: Any) -> str:  # noqa: ANN401  # likewise
    return f"CAST({compiler.process(element.clauses, **kw)} AS BLOB)"


@compiles(_Bytes, "postgresql")
def _bytes_in_postgresql(element: _Bytes, compiler: SQLCompiler, **kw: Any) -> str:  # noqa: ANN401  # likewise
    # So the server sends each text anyhow.
    return compiler.process(element.clauses, **kw)


def lines_of_checks(reader: Reader, span: ExportSpan) -> Iterator[list[bytes]]:
    """Of some checks each: how many findings it has, the cells of each of them, and last the check's own."""
    is_sqlite = isinstance(reader.source_of(select(literal(1))).driver, sqlite3.Connection)
    source = reader.source_of(_lines(span, by_check=is_sqlite))
    yield from (_of_sqlite if is_sqlite else _of_postgres)(source.driver, source.text)


def _of_sqlite(driver: sqlite3.Connection, text: str) -> Iterator[list[bytes]]:
    cursor = driver.execute(text)
    while some := cursor.fetchmany(_CHECKS):
        yield [each for (each,) in some]


def _of_postgres(driver: psycopg.Connection[Any], text: str) -> Iterator[list[bytes]]:
    """By the server's own bulk output, as bytes that nobody need read."""
    with driver.cursor() as cursor, cursor.copy(f"COPY ({text}) TO STDOUT (FORMAT binary)".encode()) as copy:
        copy.set_types(["bytea"])
        some: list[bytes] = []
        for (each,) in copy.rows():
            some.append(each)
            if len(some) == _CHECKS:
                yield some
                some = []
        yield some


def _lines(span: ExportSpan, *, by_check: bool) -> Select[Any]:
    """SQLite asks for the findings of each check; a server is quicker at sorting all of them once."""
    ended = ended_check.c
    each = (
        select(finding.c.check, _Together(*map(_cell, OF_FINDING)).label("line"))
        .select_from(finding)
        .outerjoin(finding_settled, and_(*(finding_settled.c[name] == finding.c[name] for name in PLACE)))
        .order_by(finding.c.check, finding.c.round, finding.c.number, finding.c.subject)
    )
    joined = joined_to_checks()
    told: ColumnElement[Any]
    if by_check:
        some = each.where(finding.c.check == ended.check).correlate(ended_check).subquery()
        # Of none there is nothing to put together.
        told = select(_told(some)).select_from(some).scalar_subquery()
    else:
        wanted = select(ended.check).where(*in_span(span))
        some = each.where(finding.c.check.in_(wanted)).subquery()
        grouped = select(some.c.check, _told(some).label("told")).group_by(some.c.check).subquery()
        joined, told = joined.outerjoin(grouped, grouped.c.check == ended.check), grouped.c.told
    whole = func.coalesce(told, "0") + MARK + _Together(*map(_cell, OF_CHECK))
    return (
        select(_Bytes(whole)).select_from(joined).where(*in_span(span)).order_by(ended.ended_at, ended.check)
    )


def _told(some: Any) -> ColumnElement[str]:  # noqa: ANN401  # a subquery
    """Put together in the order in which the subquery gives them, behind how many they are."""
    told: ColumnElement[str] = cast(func.count(), Text) + MARK + func.aggregate_strings(some.c.line, MARK)
    return told


def _cell(column: Exported) -> ColumnElement[str]:
    """Within quotes; NULL where nothing is known."""
    if column.name.startswith(_SECONDS) and not column.of:
        after = ended_check.c[f"{column.name.removeprefix(_SECONDS)}_at"]
        return literal(_QUOTE) + cast(_Between(ended_check.c.opened_at, after), Text) + _QUOTE
    value = source_column(column)
    match column.holds:
        case Holds.TIME:
            return literal(_QUOTE) + _Moment(value) + _QUOTE
        case Holds.YES_OR_NO:
            return case((value, literal('"yes"')), else_=literal('"no"'))
        case _ if column.of.startswith(_ALWAYS) and not value.nullable:
            return _Known(value)
        case _:
            return _quoted(value)


def _quoted(value: Any) -> ColumnElement[str]:  # noqa: ANN401  # an expression
    if isinstance(value.type, Integer):
        return literal(_QUOTE) + cast(value, Text) + _QUOTE
    return literal(_QUOTE) + func.replace(value, _QUOTE, _QUOTE * 2) + _QUOTE
