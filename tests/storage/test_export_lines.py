"""The rows that the database puts together for CSV: byte for byte those that are read value by value."""

from collections.abc import Iterator
from dataclasses import fields, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from random import Random  # noqa: TID251  # drawn by a seed, so that it is drawn again
from typing import Any

import pytest
from sqlalchemy import delete

from app.records.exported_columns import MARK
from app.reports.flat_table import with_durations, write_csv, write_csv_lines
from app.storage import ExportSpan, Store
from app.storage.export_batches import ended_batches
from app.storage.export_lines import lines_of_checks
from app.storage.row_tables import ended_check
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


@pytest.fixture
def filled(store: Store, database_url: str) -> Store:
    with as_database_administrator(database_url) as connection:
        people = (replace(NADIA, printed_name='-Ferrow, "Nadia"'), TOMAS)
        write(connection, hostile_checks(), people=people)
    return store


def both(store: Store, folder: Path, span: ExportSpan = ALL) -> tuple[bytes, bytes]:
    """The table as it is read value by value, and as the database puts it together."""
    with store.read() as reader:
        batches = map(with_durations, ended_batches(reader, span))
        write_csv(batches, folder, name="plain", tell=lambda _: None)
        write_csv_lines(lines_of_checks(reader, span), (), folder, name="fast", tell=lambda _: None)
    return (folder / "plain").read_bytes(), (folder / "fast").read_bytes()


def test_hostile_text_is_told_alike_either_way(filled: Store, tmp_path: Path) -> None:
    plain, fast = both(filled, tmp_path)

    assert fast == plain
    assert plain.count(b'"finding"') == 200 - len(list(made(200))[BARE].findings)
    assert plain.count(b'"check",') == 2


def test_what_has_not_ended_and_what_ended_at_another_time_is_in_neither(
    filled: Store, database_url: str, tmp_path: Path
) -> None:
    every = list(made(200))
    open_one, span = every[OPEN].ended, replace(ALL, from_=every[10].ended.ended_at)
    with as_database_administrator(database_url) as connection:
        connection.execute(delete(ended_check).where(ended_check.c.check == open_one.check))

    for each, folder in ((ALL, tmp_path / "all"), (span, tmp_path / "later")):
        plain, fast = both(filled, folder, each)
        assert fast == plain
        assert open_one.check.encode() not in fast
        assert (every[2].ended.check.encode() in fast) is (each is ALL)
        assert every[20].ended.check.encode() in fast


def test_a_bed_that_is_left_out_is_left_out_however_it_is_called(filled: Store) -> None:
    with filled.read() as reader:
        beds = {(each.row.unit, each.row.bed) for each in reader.ended_one_by_one(ALL)}
        named = {each for each in beds if "%" in each[1]}
        assert named
        assert sum(each.num_rows for each in ended_batches(reader, replace(ALL, left_out=beds))) == 0
