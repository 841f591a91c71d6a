"""The rows that the database puts together for CSV: byte for byte those that are read value by value."""

import re
import tempfile
from collections.abc import Iterator
from dataclasses import fields, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from random import Random  # noqa: TID251  # drawn by a seed, so that it is drawn again
from typing import Any

import pytest
from sqlalchemy import delete

from app.records.exported_columns import COLUMNS, MARK
from app.records.policy import KEPT
from app.reports.cells import guard
from app.reports.csv_lines import write_csv
from app.reports.deidentified import Deidentifier
from app.storage import ExportSpan, Store, open_store
from app.storage.export_batches import ended_batches
from app.storage.export_lines import lines_of_checks
from app.storage.row_tables import ended_check
from app.workflow.export_by_columns import batches_of
from tests.bench.many_findings import Made, made, write
from tests.story.people import NADIA, TOMAS
from tests.support.tampering import as_database_administrator

SIGNS = [
    "",
    "a",
    "=1",
    "-1/7",
    '"',
    "'",
    ",",
    ";-",
    "\r\n",
    "\t",
    "\uff1d1",
    "\u2028@",
    MARK,
    "%",
    "\\",
    "\u00e9",
]
KEYS = {"check", "infusion", "subject"}
ALL = ExportSpan(from_=datetime(2000, 1, 1, tzinfo=UTC), before=datetime(2100, 1, 1, tzinfo=UTC))
OPEN, BARE = 3, 5
# As a policy may say of units and beds.
BARED = (
    Deidentifier(key=b"k" * 32, units="pseudonym", beds="left out"),
    Deidentifier(key=b"k" * 32, units=KEPT, beds="pseudonym"),
)


def hostile(drawn: Random, row: Any) -> Any:  # noqa: ANN401  # any of the rows
    """The same row with something nasty in each of its texts, and some of its times unknown."""
    texts = {
        each.name: "".join(drawn.choices(SIGNS, k=drawn.randrange(4)))
        for each in fields(row)
        if each.type is str and each.name not in KEYS
    }
    return replace(row, **texts)


def hostile_checks() -> Iterator[Made]:
    drawn = Random(5)  # noqa: S311  # drawn again by the same seed
    for number, each in enumerate(made(200)):
        ended = hostile(drawn, each.ended)
        late = each.ended.ended_at + timedelta(microseconds=number * 999_983)
        ended = replace(ended, ended_at=late, cleared_at=None if number % 7 == 0 else ended.cleared_at)
        findings, settled = ([hostile(drawn, row) for row in some] for some in (each.findings, each.settled))
        if number == BARE:
            findings, settled = [], []
        # Put down in another order than they are told in; and of one the last is not settled.
        yield Made(ended=ended, findings=tuple(reversed(findings)), settled=tuple(settled[: number % 5 + 1]))


def fill(address: str) -> None:
    with as_database_administrator(address) as connection:
        people = (replace(NADIA, printed_name='-Ferrow, "Nadia"'), TOMAS)
        write(connection, hostile_checks(), people=people)


@pytest.fixture
def filled(store: Store, database_url: str) -> Store:
    fill(database_url)
    return store


def shown(value: object) -> str:
    """One cell, by the words of EXPORT.md."""
    match value:
        case None:
            return ""
        case bool():
            text = "yes" if value else "no"
        case datetime():
            text = f"{value:%Y-%m-%d %H:%M:%S.%fZ}"
        case str():
            text = guard(value).replace('"', '""')
        case _:
            text = str(value)
    return f'"{text}"'


def plain(store: Store, span: ExportSpan, bared: Deidentifier | None = None) -> bytes:
    """The table as it is read value by value."""
    lines = [",".join(f'"{each.name}"' for each in COLUMNS)]
    with store.read() as reader:
        for batch in batches_of(reader, span, (), bared):
            lines += (",".join(map(shown, row.values())) for row in batch.to_pylist())
    return "".join(f"{line}\r\n" for line in lines).encode()


def fast(store: Store, span: ExportSpan, bared: Deidentifier | None = None) -> bytes:
    """The same as the database puts it together."""
    with store.read() as reader, tempfile.TemporaryDirectory() as folder:
        checks = lines_of_checks(reader, span)
        write_csv(checks, (), Path(folder), name="out.csv", tell=lambda _: None, bared=bared)
        return (Path(folder) / "out.csv").read_bytes()


def test_hostile_text_is_told_alike_by_both_databases_and_by_either_way(
    sqlite_url: str, postgresql_url: str
) -> None:
    told = {}
    for address in (sqlite_url, postgresql_url):
        fill(address)
        store = open_store(address)
        for bared in (None, *BARED):
            told[address, bared] = fast(store, ALL, bared)
            assert told[address, bared] == plain(store, ALL, bared)
        store.close()

    for bared in (None, *BARED):
        assert told[sqlite_url, bared] == told[postgresql_url, bared]
    whole = told[sqlite_url, None]
    assert whole.count(b'"finding"') == 200 - len(list(made(200))[BARE].findings)
    assert whole.count(b'"check",') == 2
    # Signs of each kind stand in it, and none that begins a formula begins a cell.
    assert all(sign.encode() in whole for sign in ('""', MARK, "\u00e9", "'=1", "'\uff1d1", "'\t"))
    assert not re.search(rb'(?:^|,)"[=+@-]', whole)


def test_what_has_not_ended_and_what_ended_at_another_time_is_in_neither(
    filled: Store, database_url: str
) -> None:
    every = list(made(200))
    open_one, span = every[OPEN].ended, replace(ALL, from_=every[10].ended.ended_at)
    with as_database_administrator(database_url) as connection:
        connection.execute(delete(ended_check).where(ended_check.c.check == open_one.check))

    for each in (ALL, span):
        told = fast(filled, each)
        assert told == plain(filled, each)
        assert open_one.check.encode() not in told
        assert (every[2].ended.check.encode() in told) is (each is ALL)
        assert every[20].ended.check.encode() in told


def test_a_bed_that_is_left_out_is_left_out_however_it_is_called(filled: Store) -> None:
    with filled.read() as reader:
        beds = {(each.row.unit, each.row.bed) for each in reader.ended_one_by_one(ALL)}
        named = {each for each in beds if "%" in each[1]}
        assert named
        assert sum(each.num_rows for each in ended_batches(reader, replace(ALL, left_out=beds))) == 0
