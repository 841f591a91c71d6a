"""The flat rows that are exported as batches of columns (Arrow), from the driver itself.

A row of the ORM, or an object for each cell, costs several times what the database's own output does. Whoever
exports alone loads this: the library is large.
"""

import io
import sqlite3
from collections.abc import Iterator
from itertools import islice
from typing import Any

import psycopg
import pyarrow as pa
from pyarrow import csv

from app.records.exported_columns import COLUMNS, Exported, Holds
from app.storage.read_exports import STORED, ExportSpan
from app.storage.reader import Reader

# Rows held in memory at a time.
_ROWS = 2048

_TYPES: dict[Holds, pa.DataType] = {
    Holds.TEXT: pa.string(),
    Holds.NUMBER: pa.int64(),
    Holds.TIME: pa.timestamp("us", tz="UTC"),
    Holds.YES_OR_NO: pa.bool_(),
}
EXPORT_SCHEMA = pa.schema([pa.field(each.name, _TYPES[each.holds]) for each in COLUMNS])


def ended_batches(reader: Reader, span: ExportSpan) -> Iterator[pa.RecordBatch]:
    """A row a finding, and one for a check without; of columns that no database has nothing is said."""
    source = reader.flat_source(span)
    of_engine = _of_sqlite if isinstance(source.driver, sqlite3.Connection) else _of_postgres
    yield from of_engine(source.driver, source.text)


def _of_sqlite(driver: sqlite3.Connection, text: str) -> Iterator[pa.RecordBatch]:
    cursor = driver.cursor()
    cursor.execute(text)
    while some := cursor.fetchmany(_ROWS):
        columns = zip(*some, strict=True)
        yield _whole(
            {each.name: _array(each, column) for each, column in zip(STORED, columns, strict=True)},
            len(some),
        )


def _array(column: Exported, values: tuple[Any, ...]) -> "pa.Array[Any]":
    if column.holds is Holds.TIME:
        return pa.array(values, pa.string()).cast(_TYPES[Holds.TIME])
    if column.holds is Holds.YES_OR_NO:
        return pa.array(values, pa.int8()).cast(pa.bool_())
    return pa.array(values, _TYPES[column.holds])


def _of_postgres(driver: psycopg.Connection[Any], text: str) -> Iterator[pa.RecordBatch]:
    """By the server's own bulk output: one object a row is what takes the time otherwise.

    It gives a row at a time; the library, left to read by itself, reads far ahead.
    """
    options = csv.ConvertOptions(
        column_types={each.name: _TYPES[each.holds] for each in STORED},
        null_values=[""],
        true_values=["t"],
        false_values=["f"],
        strings_can_be_null=True,
        quoted_strings_can_be_null=False,
    )
    reading = csv.ReadOptions(column_names=[each.name for each in STORED], use_threads=False)
    parsing = csv.ParseOptions(newlines_in_values=True)
    with driver.cursor() as cursor, cursor.copy(f"COPY ({text}) TO STDOUT (FORMAT csv)".encode()) as copy:
        rows = iter(copy)
        while some := b"".join(islice(rows, _ROWS)):
            read = csv.read_csv(
                io.BytesIO(some),
                read_options=reading,
                parse_options=parsing,
                convert_options=options,
            )
            for batch in read.to_batches():
                yield _whole(dict(zip(batch.schema.names, batch.columns, strict=True)), batch.num_rows)


def _whole(columns: "dict[str, pa.Array[Any]]", count: int) -> pa.RecordBatch:
    """With the columns that no database has, of which nothing is said yet."""
    arrays = [columns.get(field.name, pa.nulls(count, field.type)) for field in EXPORT_SCHEMA]
    return pa.RecordBatch.from_arrays(arrays, schema=EXPORT_SCHEMA)
