"""The exported table in batches of columns (Arrow), as Parquet by month; the library is large."""

import shutil
import zipfile
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import IO, Any, cast

import pyarrow as pa
from pyarrow import compute, parquet

from app.records.exported_columns import COLUMNS, DURATIONS, Bared, Exported
from app.reports.deidentified import Deidentifier
from app.reports.hashed_file import HashedFile, Tell
from app.reports.manifest import Part

_PACKED = ".zip"
# So many rows wait in memory to be written together.
_GROUP = 65_536
_MICRO = 1_000_000
_DAY = 86_400 * _MICRO


def with_durations(batch: pa.RecordBatch) -> pa.RecordBatch:
    """How many seconds it took from the opening of a check to whatever came."""
    opened = batch["opened_at"].cast(pa.int64())
    for each in DURATIONS:
        after = batch[f"{each}_at"].cast(pa.int64())
        seconds = compute.divide(compute.subtract(after, opened), _MICRO)
        name = f"seconds_to_{each}"
        batch = batch.set_column(batch.schema.get_field_index(name), name, seconds)
    return batch


def bare(bared: Deidentifier, batch: pa.RecordBatch) -> pa.RecordBatch:
    """A batch in which nobody is known."""
    shift = _shift(bared, batch)
    columns = [_bare(bared, each, batch[each.name], shift) for each in COLUMNS]
    return pa.RecordBatch.from_arrays(columns, schema=batch.schema)


def _bare(
    bared: Deidentifier, column: Exported, values: "pa.Array[Any]", shift: "pa.Array[Any]"
) -> "pa.Array[Any]":
    match bared.how(column):
        case Bared.KEPT:
            return values
        case Bared.SHIFTED:
            moved: pa.Array[Any] = compute.subtract(values.cast(pa.int64()), shift).cast(values.type)
            return moved
        case Bared.PSEUDONYM:
            coded = values.dictionary_encode()
            named = [bared.pseudonym(column.name, str(each)) for each in coded.dictionary.to_pylist()]
            return pa.array(named, pa.string()).take(coded.indices)
        case _:
            nothing: pa.Array[Any] = pa.nulls(len(values), values.type)
            return nothing


def _shift(bared: Deidentifier, batch: pa.RecordBatch) -> "pa.Array[Any]":
    """By the patient, or by the infusion where no wristband was read."""
    patient = batch["patient"]
    whose = compute.if_else(compute.not_equal(patient, pa.scalar("")), patient, batch["infusion"])
    coded = compute.fill_null(whose, "").dictionary_encode()
    moved = [bared.days(str(each)) * _DAY for each in coded.dictionary.to_pylist()]
    return pa.array(moved, pa.int64()).take(coded.indices)


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
