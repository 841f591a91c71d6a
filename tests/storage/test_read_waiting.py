"""What pages that wait are told is looked up once, and again once something has happened to their check."""

from collections.abc import Callable

import pytest
from sqlalchemy import Engine

from app.records.events import DeviceStopped, RoundVoided
from app.storage import Awaited, Reader, Store
from app.storage import read_waiting as waiting
from app.storage.remembered import Memory
from tests.storage import builders as build
from tests.storage.builders import NOW


class Looks:
    """Looks at a check, and counts them."""

    def __init__(self, infusion: str) -> None:
        self.infusion = infusion
        self.count = 0

    def __call__(self) -> Awaited:
        self.count += 1
        return Awaited(infusion=self.infusion, people=frozenset({"amari"}), told_position=self.count)


def ask(store: Store, look: Callable[[], Awaited | None], check: str = "check-1") -> int | None:
    """The position that a page is told."""
    with store.read() as reader:
        awaited = reader.find_awaited(check, look)
    return awaited.told_position if awaited else None


def infusion_of(store: Store, check: str) -> str:
    with store.read() as reader:
        kept = reader.find_check(check)
    assert kept is not None
    return kept.infusion


def test_a_check_is_looked_at_once_until_something_happens_to_it_or_its_infusion(ward: Store) -> None:
    infusion = infusion_of(ward, "check-1")
    look = Looks(infusion)
    assert [ask(ward, look) for _ in range(3)] == [1, 1, 1]

    with ward.write() as tx:
        build.add_joined_check(tx, id="check-2")
        tx.append(RoundVoided(round=9, why="danger"), act=build.act(at=NOW), check="check-2")
    assert ask(ward, look) == 1, "it happened to another"

    with ward.write() as tx:
        tx.append(RoundVoided(round=9, why="danger"), act=build.act(at=NOW), check="check-1")
    assert [ask(ward, look) for _ in range(2)] == [2, 2]

    stopped = DeviceStopped(stopped_at="", why="", totals="")
    with ward.write() as tx:
        tx.append(stopped, act=build.act(at=NOW), infusion=infusion)
    assert [ask(ward, look) for _ in range(2)] == [3, 3]


def test_of_what_is_not_there_nothing_is_remembered(ward: Store) -> None:
    looked: list[str] = []

    def look() -> None:
        looked.append("look")

    assert [ask(ward, look, "none") for _ in range(2)] == [None, None]
    assert len(looked) == 2


def test_only_so_much_is_remembered(ward: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(waiting, "_MOST", 2)
    looks = {check: Looks("i") for check in ("a", "b", "c")}
    for check in ("a", "b", "b", "c", "c", "a"):
        ask(ward, looks[check], check)

    # The third began anew.
    assert [each.count for each in looks.values()] == [2, 1, 1]


@pytest.mark.usefixtures("ward")
def test_whoever_writes_looks_for_itself_and_leaves_no_memory(sql: Engine) -> None:
    look = Looks("i")
    with sql.connect() as connection:
        for _ in range(2):
            Reader(connection, None).find_awaited("check-1", look)
        assert look.count == 2
        memory = Memory()
        for _ in range(2):
            Reader(connection, memory).find_awaited("check-1", look)
        assert look.count == 3
