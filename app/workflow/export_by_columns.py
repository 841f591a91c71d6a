"""What is exported as Parquet, in batches of columns; loaded for that alone, as the library is large."""

from collections.abc import Iterable, Iterator
from itertools import islice

import pyarrow as pa

from app.reports.deidentified import Deidentifier
from app.reports.ended_lines import Outside
from app.reports.flat_table import bare, with_durations, write_parquet
from app.storage import ExportSpan, Reader
from app.storage.export_batches import EXPORT_SCHEMA, ended_batches

__all__ = ["batches_of", "write_parquet"]

# Rows beside checks in one batch.
_BATCH = 1024


def batches_of(
    reader: Reader, span: ExportSpan, outside: Iterable[Outside], bared: Deidentifier | None
) -> Iterator[pa.RecordBatch]:
    """A head at least; durations are those of the days that were, also where these are moved."""
    for batch in _told(reader, span, outside):
        yield bare(bared, batch) if bared else batch


def _told(reader: Reader, span: ExportSpan, outside: Iterable[Outside]) -> Iterator[pa.RecordBatch]:
    yield pa.RecordBatch.from_pylist([], schema=EXPORT_SCHEMA)
    yield from map(with_durations, ended_batches(reader, span))
    told = (dict(each.told) for each in outside)
    while some := list(islice(told, _BATCH)):
        yield pa.RecordBatch.from_pylist(some, schema=EXPORT_SCHEMA)
