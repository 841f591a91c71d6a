"""Writers go first come, first served."""

import os
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest

from app.records.events import SecurityNoted
from app.storage import Store
from app.storage.engine import database_url, make_engine
from app.storage.queue import FirstComeQueue, WaitedTooLong, WriterGate, file_lock
from tests.storage.builders import NOW


def _wait_until(reached: int, queue: FirstComeQueue) -> None:
    while queue.waiting() < reached:
        time.sleep(0.001)


def test_turns_come_in_the_order_of_arrival() -> None:
    queue = FirstComeQueue()
    order: list[int] = []

    def take(number: int) -> None:
        with queue.turn(patience=10):
            order.append(number)

    threads = [threading.Thread(target=take, args=[number]) for number in range(20)]
    with queue.turn(patience=10):
        for number, thread in enumerate(threads):
            thread.start()
            _wait_until(number + 1, queue)
    for thread in threads:
        thread.join(10)
    assert order == list(range(20))


def test_nobody_slips_in_between() -> None:
    """One who leaves and comes back at once stands behind the one who waits."""
    queue = FirstComeQueue()
    order: list[str] = []

    def wait() -> None:
        with queue.turn(patience=10):
            order.append("the one who waits")

    other = threading.Thread(target=wait)
    with queue.turn(patience=10):
        other.start()
        _wait_until(1, queue)
    with queue.turn(patience=10):
        order.append("the one who comes back")
    other.join(10)
    assert order == ["the one who waits", "the one who comes back"]


def test_writers_of_a_store_pass_its_queue(sqlite_url: str) -> None:
    """Whoever writes waits behind those who came before: what is written stands in the order of arrival."""
    url = database_url(sqlite_url)
    gate = WriterGate(Path(str(url.database)), patience=60)
    store = Store(make_engine(url), gate)

    def write(number: int) -> None:
        with store.write() as tx:
            tx.append(SecurityNoted(person="amari", what=str(number)), at=NOW)

    writers = [threading.Thread(target=write, args=[number]) for number in range(5)]
    with gate.turn():
        for number, writer in enumerate(writers):
            writer.start()
            _wait_until(number + 1, gate.queue)
    for writer in writers:
        writer.join(60)
    with store.read() as reader:
        written = [entry.event for entry in reader.log_entries(after=0, limit=10)]
    assert [event.what for event in written if isinstance(event, SecurityNoted)] == list("01234")
    store.close()


def test_only_one_has_the_turn() -> None:
    queue = FirstComeQueue()
    inside, most = 0, 0

    def work() -> None:
        nonlocal inside, most
        for _ in range(50):
            with queue.turn(patience=30):
                inside += 1
                most = max(most, inside)
                time.sleep(0)
                inside -= 1

    threads = [threading.Thread(target=work) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(30)
    assert (inside, most) == (0, 1)


def test_patience_ends_and_leaves_no_place_behind() -> None:
    queue = FirstComeQueue()
    with queue.turn(patience=1):
        problems: list[Exception] = []

        def wait() -> None:
            try:
                with queue.turn(patience=0.01):
                    pass
            except WaitedTooLong as problem:
                problems.append(problem)

        other = threading.Thread(target=wait)
        other.start()
        other.join(10)
        assert len(problems) == 1
        assert queue.waiting() == 0
    with queue.turn(patience=0):
        pass


def test_a_turn_that_comes_as_patience_ends_is_taken(monkeypatch: pytest.MonkeyPatch) -> None:
    """Between waking up and looking again the one before may leave; the turn must not be lost."""
    queue = FirstComeQueue()

    class LateTurn(threading.Event):
        def wait(self, timeout: float | None = None) -> bool:  # noqa: ARG002  # the wait is over at once
            queue._leave()  # noqa: SLF001  # the one before leaves at this very moment
            return False

    queue._arrive(1)  # noqa: SLF001  # the one before
    monkeypatch.setattr("app.storage.queue.threading.Event", LateTurn)
    with queue.turn(patience=0.01):
        assert queue.waiting() == 0
    with queue.turn(patience=0):
        pass


def test_an_exception_passes_the_turn_on() -> None:
    queue = FirstComeQueue()
    with pytest.raises(LookupError), queue.turn(patience=1):
        raise LookupError
    with queue.turn(patience=0):
        pass


def test_the_lock_file_keeps_other_processes_out(tmp_path: Path) -> None:
    lock = tmp_path / "store.lock"
    program = (
        "import sys, pathlib\n"
        "from app.storage.queue import file_lock\n"
        "with file_lock(pathlib.Path(sys.argv[1])):\n"
        "    print('in', flush=True)\n"
    )
    with file_lock(lock):
        other = subprocess.Popen(
            [sys.executable, "-c", program, str(lock)],
            stdout=subprocess.PIPE,
            text=True,
            env=dict(os.environ),
        )
        with pytest.raises(subprocess.TimeoutExpired):
            other.wait(1.5)
    said, _ = other.communicate(timeout=20)
    assert (other.returncode, said) == (0, "in\n")
