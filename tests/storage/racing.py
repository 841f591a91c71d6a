"""Doing things at the same instant, in threads and in processes."""

import os
import subprocess
import sys
import threading
from collections.abc import Callable, Sequence
from typing import TypeVar

Outcome = TypeVar("Outcome")


def at_once(actions: Sequence[Callable[[], Outcome]]) -> list[Outcome | Exception]:
    """What each action gave back or raised; all start together."""
    barrier = threading.Barrier(len(actions))
    outcomes: list[Outcome | Exception | None] = [None] * len(actions)

    def run(number: int) -> None:
        barrier.wait(30)
        try:
            outcomes[number] = actions[number]()
        except Exception as problem:  # noqa: BLE001  # handed to the test, which expects or refuses it
            outcomes[number] = problem

    threads = [threading.Thread(target=run, args=[number]) for number in range(len(actions))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
        assert not thread.is_alive(), "an action waits for ever"
    return [outcome for outcome in outcomes if outcome is not None]


def start_process(program: str, *arguments: str) -> subprocess.Popen[str]:
    """Another Python process of the project; what it prints can be read, and it waits for a line to go on."""
    return subprocess.Popen(
        [sys.executable, "-c", program, *arguments],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        env=dict(os.environ),
    )


def run_together(program: str, arguments: Sequence[Sequence[str]]) -> list[str]:
    """What each process printed last; each says `ready`, and all go on together."""
    processes = [start_process(program, *each) for each in arguments]
    for process in processes:
        assert process.stdout is not None
        assert process.stdout.readline() == "ready\n"
    for process in processes:
        assert process.stdin is not None
        process.stdin.write("go\n")
        process.stdin.flush()
    printed = []
    for process in processes:
        said, _ = process.communicate(timeout=90)
        assert process.returncode == 0
        printed.append(said.strip())
    return printed
