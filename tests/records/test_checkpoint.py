"""Checkpoints as they leave the site: as data, on paper and in `checkpoint.json`."""

import json
from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone
from typing import Any

import pytest

from app.records.canonical import canonical
from app.records.checkpoint import (
    Checkpoint,
    CheckpointFile,
    Place,
    Unreadable,
    as_data,
    as_text,
    file_content,
    from_data,
    from_text,
    holds,
    place_as_data,
    place_from_data,
    read_file,
    statement,
    statement_of,
)
from app.records.proofs import Tree

ENTRIES = [f'{{"position":{number},"who":"é"}}'.encode() for number in range(1, 12)]
TREE = Tree(ENTRIES)
CHECKPOINT = Checkpoint(
    size=11,
    root=TREE.root(11).hex(),
    at=datetime(2026, 3, 1, 22, 15, 0, 5, tzinfo=UTC),
    kid="kPrK_qmxVWaYVA9wwBF6Iuo3vVzz7TxHCTwXBygrS4k",
    signature="0f" * 64,
)
DIGEST = "ab" * 32


def place(position: int = 7) -> Place:
    path = tuple(step.hex() for step in TREE.inclusion(position - 1, 11))
    return Place(leaf=ENTRIES[position - 1], position=position, path=path)


FILE = CheckpointFile(checkpoint=CHECKPOINT, issued={DIGEST: place()})


def test_what_is_signed_is_written_in_one_way() -> None:
    assert statement_of(CHECKPOINT) == (
        b'{"format":"countersign.checkpoint/1","key":"kPrK_qmxVWaYVA9wwBF6Iuo3vVzz7TxHCTwXBygrS4k","root":"'
        + CHECKPOINT.root.encode()
        + b'","size":11,"time":"2026-03-01T22:15:00.000005Z"}'
    )


def test_the_zone_in_which_a_time_is_told_does_not_matter() -> None:
    elsewhere = CHECKPOINT.at.astimezone(timezone(timedelta(hours=-5)))
    assert statement_of(replace(CHECKPOINT, at=elsewhere)) == statement_of(CHECKPOINT)


@pytest.mark.parametrize(
    "changed", [{"size": 12}, {"root": "00" * 32}, {"at": datetime(2026, 3, 2, tzinfo=UTC)}, {"kid": "k"}]
)
def test_each_part_is_in_what_is_signed(changed: dict[str, Any]) -> None:
    given = {name: getattr(CHECKPOINT, name) for name in ("size", "root", "at", "kid")}
    assert statement(**given | changed) != statement_of(CHECKPOINT)


def test_as_data_and_back() -> None:
    assert from_data(json.loads(canonical(as_data(CHECKPOINT)))) == CHECKPOINT


def test_on_paper_and_back() -> None:
    assert from_text(as_text(CHECKPOINT)) == CHECKPOINT


def test_on_paper() -> None:
    root = CHECKPOINT.root
    assert as_text(CHECKPOINT).splitlines() == [
        "Countersign: checkpoint of the log",
        "entries    11",
        f"root       {root[0:8]} {root[8:16]} {root[16:24]} {root[24:32]}",
        f"           {root[32:40]} {root[40:48]} {root[48:56]} {root[56:64]}",
        "time       2026-03-01T22:15:00.000005Z",
        "key        kPrK_qmxVWaYVA9wwBF6Iuo3vVzz7TxHCTwXBygrS4k",
        "signature  0f0f0f0f 0f0f0f0f 0f0f0f0f 0f0f0f0f",
        *["           0f0f0f0f 0f0f0f0f 0f0f0f0f 0f0f0f0f"] * 3,
    ]


def test_a_sheet_that_was_copied_with_other_line_breaks_is_read() -> None:
    words = as_text(CHECKPOINT).split()
    assert from_text("\r\n".join(["Ward 4 East", *words])) == CHECKPOINT


@pytest.mark.parametrize(
    "change",
    [
        lambda text: text.replace("entries", "entrys"),
        lambda text: text.replace("0f0f0f0f\n", "0f0f0f0\n"),
        lambda text: text.replace("22:15:00.000005Z", "22:15:00Z"),
        lambda text: text.replace("2026-03-01", "2026-02-30"),
        lambda text: text.replace("entries    11", "entries    011111111111111111111"),
        lambda _text: "",
    ],
    ids=["misspelt", "a digit missing", "shorter time", "no such day", "too many digits", "nothing"],
)
def test_a_sheet_with_a_fault_is_unreadable(change: Any) -> None:  # noqa: ANN401  # a change of text
    assert from_text(change(as_text(CHECKPOINT))) == Unreadable()


@pytest.mark.parametrize(
    "changed",
    [
        {"format": "another"},
        {"size": "11"},
        {"size": True},
        {"size": -1},
        {"size": 2**53},
        {"root": CHECKPOINT.root.upper()},
        {"root": CHECKPOINT.root[:-1]},
        {"root": 1},
        {"time": "2026-03-01T22:15:00.000005+00:00"},
        {"time": "2026-03-01T22:15:00.5Z"},
        {"time": 5},
        {"key": "k"},
        {"signature": ""},
        {"more": 1},
    ],
)
def test_data_with_a_fault_is_unreadable(changed: dict[str, object]) -> None:
    assert from_data(as_data(CHECKPOINT) | changed) == Unreadable()


@pytest.mark.parametrize("name", ["format", "size", "root", "time", "key", "signature"])
def test_data_that_lacks_something_is_unreadable(name: str) -> None:
    data = as_data(CHECKPOINT)
    del data[name]
    assert from_data(data) == Unreadable()


@pytest.mark.parametrize("data", [None, [], "text", 1])
def test_what_is_no_checkpoint_is_unreadable(data: object) -> None:
    assert from_data(data) == Unreadable()
    assert place_from_data(data) == Unreadable()


@pytest.mark.parametrize("position", range(1, 12))
def test_every_entry_has_its_place(position: int) -> None:
    assert holds(place(position), CHECKPOINT)
    assert place_from_data(json.loads(canonical(place_as_data(place(position))))) == place(position)


@pytest.mark.parametrize(
    "changed",
    [
        {"leaf": ENTRIES[5]},
        {"leaf": ENTRIES[6] + b" "},
        {"position": 6},
        {"position": 0},
        {"position": 12},
        {"path": place(6).path},
        {"path": place().path[:-1]},
        {"path": ()},
    ],
)
def test_no_entry_has_the_place_of_another(changed: dict[str, Any]) -> None:
    assert not holds(replace(place(), **changed), CHECKPOINT)


def test_a_place_belongs_to_one_root() -> None:
    assert not holds(place(), replace(CHECKPOINT, root=TREE.root(10).hex()))
    assert not holds(place(), replace(CHECKPOINT, size=6))


@pytest.mark.parametrize(
    "changed",
    [{"leaf": 1}, {"leaf": "\ud800"}, {"position": "7"}, {"position": True}, {"path": "ab"}, {"path": ["ab"]},
     {"path": [1]}, {"more": 1}],
)  # fmt: skip
def test_a_place_with_a_fault_is_unreadable(changed: dict[str, object]) -> None:
    assert place_from_data(place_as_data(place()) | changed) == Unreadable()


def test_a_file_is_read_back() -> None:
    assert read_file(file_content(FILE)) == FILE
    empty = CheckpointFile(checkpoint=CHECKPOINT, issued={})
    assert read_file(file_content(empty)) == empty


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"\xff",
        b"[]",
        b"{}",
        b"[" * 100_000,
        file_content(FILE)[:-1],
        file_content(FILE).replace(b"countersign.checkpoint-file/1", b"another"),
        file_content(FILE).replace(b'"issued":{', b'"issued":{},"other":{'),
        file_content(FILE).replace(DIGEST.encode(), DIGEST.upper().encode()),
        file_content(FILE).replace(b'"size":11', b'"size":"11"'),
        file_content(FILE).replace(b'"position":7}', b'"position":"7"}'),
        canonical({**json.loads(file_content(FILE)), "issued": []}),
    ],
    ids=range(12),
)
def test_a_file_with_a_fault_is_unreadable(content: bytes) -> None:
    assert read_file(content) == Unreadable()


@pytest.mark.parametrize("newer", ["countersign.checkpoint/2", "countersign.checkpoint-file/2"])
def test_a_format_of_a_newer_program_is_refused_by_its_name(newer: str) -> None:
    of = newer.replace("/2", "/1").encode()
    read = read_file(file_content(FILE).replace(of, newer.encode()))
    assert isinstance(read, Unreadable)
    assert f"has the format {newer}, which this version of the program does not know" in read.says
