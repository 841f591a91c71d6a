"""The exported table, in batches of columns: as CSV that is safe in a spreadsheet, or as Parquet by month."""

import shutil
import zipfile
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from typing import IO, Any, cast

import pyarrow as pa
from pyarrow import compute, csv, parquet

from app.records.exported_columns import DURATIONS
from app.reports.cells import guard
from app.reports.csv_lines import HEAD, rows_of
from app.reports.hashed_file import HashedFile
from app.reports.manifest import Part

_WRITTEN_AT_ONCE = 16_384
_PACKED = ".zip"
_YES, _NO = pa.scalar("yes"), pa.scalar("no")
# So many rows wait in memory to be written together.
_GROUP = 65_536
_MICRO = 1_000_000

Tell = Callable[[int], None]


def with_durations(batch: pa.RecordBatch) -> pa.RecordBatch:
    """How many seconds it took from the opening of a check to whatever came."""
    opened = batch["opened_at"].cast(pa.int64())
    for each in DURATIONS:
        after = batch[f"{each}_at"].cast(pa.int64())
        seconds = compute.divide(compute.subtract(after, opened), _MICRO)
        name = f"seconds_to_{each}"
        batch = batch.set_column(batch.schema.get_field_index(name), name, seconds)
    return batch


def write_csv(batches: Iterable[pa.RecordBatch], folder: Path, *, name: str, tell: Tell) -> tuple[Part, ...]:
    """One table (RFC 4180, UTF-8, every value quoted; what is not known is empty)."""
    with HashedFile(folder, name) as file:
        _write_batches(file, batches, tell, with_head=True)
    return (file.part,)


def write_csv_lines(
    checks: Iterable[list[bytes]], rest: Iterable[pa.RecordBatch], folder: Path, *, name: str, tell: Tell
) -> tuple[Part, ...]:
    """The same table, of checks that the database has put together, and of the rest in batches."""
    with HashedFile(folder, name) as file:
        file.write(HEAD)
        for some in checks:
            rows = [row for each in rows_of(some) for row in each]
            file.write(b"".join(rows))
            file.rows += len(rows)
            tell(file.rows)
        _write_batches(file, rest, tell, with_head=False)
    return (file.part,)


def _write_batches(
    file: HashedFile, batches: Iterable[pa.RecordBatch], tell: Tell, *, with_head: bool
) -> None:
    writer: csv.CSVWriter | None = None
    for batch in batches:
        text = _as_text(batch)
        writer = writer or _csv_writer(file, text.schema, with_head=with_head)
        writer.write_batch(text)
        file.rows += batch.num_rows
        tell(file.rows)
    if writer is not None:
        writer.close()


def _csv_writer(file: HashedFile, schema: pa.Schema, *, with_head: bool) -> csv.CSVWriter:
    options = csv.WriteOptions(
        include_header=with_head,
        quoting_style="all_valid",
        eol="\r\n",  # type: ignore[call-arg]  # the stubs are older
        batch_size=_WRITTEN_AT_ONCE,
    )
    return csv.CSVWriter(cast("IO[bytes]", file), schema, write_options=options)


def _as_text(batch: pa.RecordBatch) -> pa.RecordBatch:
    fields, columns = [], []
    for field, column in zip(batch.schema, batch.columns, strict=True):
        if pa.types.is_boolean(field.type):
            shown = compute.if_else(column, _YES, _NO)
        elif pa.types.is_string(field.type):
            shown = _guarded(column)
        else:
            shown = column
        fields.append(pa.field(field.name, shown.type))
        columns.append(shown)
    return pa.RecordBatch.from_arrays(columns, schema=pa.schema(fields))


def _guarded(column: "pa.Array[Any]") -> "pa.Array[Any]":
    """No cell that a spreadsheet takes for a formula: each different text is looked at once."""
    if column.null_count == len(column):
        return column
    coded = column.dictionary_encode()
    texts = [str(text) for text in coded.dictionary.to_pylist()]
    guarded = [guard(text) for text in texts]
    if guarded == texts:
        return column
    return pa.array(guarded, pa.string()).take(coded.indices)


def write_parquet(
    batches: Iterable[pa.RecordBatch], folder: Path, *, name: str, installation: str, tell: Tell
) -> tuple[Part, ...]:
    """A folder with a file a month, under names that any query engine reads as columns; named .zip, packed.

    Copied into one folder, those of many hospitals are one table.
    """
    if name.endswith(_PACKED):
        return _packed(batches, folder, name=name, installation=installation, tell=tell)
    months: dict[str, _Month] = {}
    rows = 0
    for batch in batches:
        for month, some in _by_month(batch):
            if month not in months:
                place = f"{name}/installation={installation}/month={month}/checks.parquet"
                months[month] = _Month(HashedFile(folder, place), some.schema)
            months[month].add(some)
        rows += batch.num_rows
        tell(rows)
        if sum(each.waiting for each in months.values()) >= _GROUP:
            max(months.values(), key=lambda each: each.waiting).write()
    (folder / name).mkdir(mode=0o700, exist_ok=True)
    return tuple(each.end() for _, each in sorted(months.items()))


def _packed(
    batches: Iterable[pa.RecordBatch], folder: Path, *, name: str, installation: str, tell: Tell
) -> tuple[Part, ...]:
    inside = name.removesuffix(_PACKED)
    parts = write_parquet(batches, folder, name=inside, installation=installation, tell=tell)
    with HashedFile(folder, name) as file:
        with zipfile.ZipFile(cast("IO[bytes]", file), "w", zipfile.ZIP_STORED) as packed:
            for each in parts:
                packed.write(folder / each.name, each.name)
        file.rows = sum(each.rows for each in parts)
    shutil.rmtree(folder / inside)
    return (file.part,)


class _Month:
    """The file of one month, and the rows that wait until there are enough to be read at once."""

    def __init__(self, file: HashedFile, schema: pa.Schema) -> None:
        self.waiting = 0
        self._file, self._batches = file, list[pa.RecordBatch]()
        self._writer = parquet.ParquetWriter(cast("IO[bytes]", file), schema, compression="zstd")

    def add(self, batch: pa.RecordBatch) -> None:
        self._batches.append(batch)
        self.waiting += batch.num_rows
        self._file.rows += batch.num_rows

    def write(self) -> None:
        if self._batches:
            self._writer.write_table(pa.Table.from_batches(self._batches))
        self._batches, self.waiting = [], 0

    def end(self) -> Part:
        self.write()
        self._writer.close()
        self._file.close()
        return self._file.part


def _by_month(batch: pa.RecordBatch) -> Iterator[tuple[str, pa.RecordBatch]]:
    """The runs of one month within a batch."""
    at = compute.coalesce(batch["ended_at"], batch["at"])
    months = compute.strftime(at, format="%Y-%m").dictionary_encode()
    for code, month in enumerate(months.dictionary.to_pylist()):
        yield str(month), batch.filter(compute.equal(months.indices, pa.scalar(code)))
