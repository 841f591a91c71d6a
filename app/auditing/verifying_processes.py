"""Verify the checks of a store in several processes, each in the same snapshot of the same moment.

Chunks go out in order and their answers are handed on in order, so that what is found, and how it is said,
is the same as in one process. A process that ends by itself takes its chunk with it: that is said, and
nothing of that chunk counts as verified.

They are made by a process that has opened no database: an open SQLite file must not be carried over a fork.
"""

import signal
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from multiprocessing.connection import Connection, wait
from multiprocessing.context import ForkServerProcess
from pathlib import Path
from typing import Any

from app.auditing.making_processes import maker
from app.auditing.verifying_checks import Asked, Chunk, Verified, check_verifier
from app.keys import ApplicationKey
from app.records.store_verification import Unverified
from app.site.installation import Site
from app.storage import StoreUnavailable, open_store

# Answers that may wait for one of an earlier chunk, for each process.
_AHEAD = 4
# Seconds for a process to end in order.
_PATIENCE = 5

Answer = tuple[Verified, ...] | Unverified


@dataclass(frozen=True, kw_only=True)
class _Installation:
    """What a process opens for itself."""

    address: str
    key: ApplicationKey
    site_keys: Path


@dataclass(frozen=True, kw_only=True)
class _Failed:
    """What kept a process from going on, where that is no fault of one check; its words may hold a value."""

    is_out_of_reach: bool
    kind: str


class _Ended(Exception):  # noqa: N818  # named for what happened
    """A process is not there any more."""


class _CouldNotGoOn(Exception):  # noqa: N818  # named for what happened
    """A process said so, and it was not for want of the database."""


@dataclass(eq=False, frozen=True, kw_only=True)
class _Worker:
    """One process, at the other end of a pipe."""

    process: ForkServerProcess
    pipe: "Connection[Any, Any]"

    def tell(self, said: object) -> None:
        try:
            self.pipe.send(said)
        except OSError:
            raise _Ended from None

    def answer(self) -> Any:  # noqa: ANN401  # what was asked for
        try:
            said = self.pipe.recv()
        except (EOFError, OSError):
            raise _Ended from None
        if not isinstance(said, _Failed):
            return said
        raise StoreUnavailable(outcome_known=True) if said.is_out_of_reach else _CouldNotGoOn(said.kind)

    def result(self, chunk: Chunk) -> Answer:
        """What it found of a chunk, or that it took the chunk with it."""
        try:
            found: Answer = self.answer()
        except _Ended:
            return _unverified(chunk, self._end())
        return found

    def _end(self) -> str:
        self.process.join(_PATIENCE)
        code = self.process.exitcode
        return f"signal {-code}" if code is not None and code < 0 else f"status {code}"


class Processes:
    """Some processes that wait for what to verify."""

    def __init__(self, workers: Sequence[_Worker]) -> None:
        """They were started."""
        self._idle = list(workers)
        self._busy: dict[_Worker, tuple[int, Chunk]] = {}
        self._most = _AHEAD * len(workers)

    def begin(self, moment: str) -> None:
        """Each begins its snapshot; whoever calls sees to it that nobody writes meanwhile."""
        for each in self._idle:
            # Of one that ended nothing comes back later, either.
            with suppress(_Ended):
                each.tell(moment)
                each.answer()

    def verified(self, asked: Asked, chunks: Iterable[Chunk]) -> Iterator[Answer]:
        """The answer to each chunk, in the order of the chunks."""
        for each in self._idle:
            with suppress(_Ended):
                each.tell(asked)
        waiting, turn, answered = enumerate(chunks), 0, dict[int, Answer]()
        while self._hand_out(waiting, most=self._most - len(answered)):
            answered |= self._answers()
            while turn in answered:
                yield answered.pop(turn)
                turn += 1
        yield from (_unverified(chunk, "and none is left") for _, chunk in waiting)

    def _hand_out(self, waiting: Iterator[tuple[int, Chunk]], *, most: int) -> bool:
        """A chunk to each that has none, where few answers wait for their turn; whether any is busy."""
        for _ in range(min(most, len(self._idle))):
            given = next(waiting, None)
            if given is None:
                break
            worker = self._idle.pop()
            self._busy[worker] = given
            with suppress(_Ended):
                worker.tell(given[1])
        return bool(self._busy)

    def _answers(self) -> dict[int, Answer]:
        """Those that are there, as soon as there is one."""
        there = wait([each.pipe for each in self._busy])
        found = {}
        for worker in [each for each in self._busy if each.pipe in there]:
            number, chunk = self._busy.pop(worker)
            found[number] = answer = worker.result(chunk)
            # One that ended is given nothing more.
            self._idle += [] if isinstance(answer, Unverified) else [worker]
        return found


def _unverified(chunk: Chunk, end: str) -> Unverified:
    positions = [position for position, _ in chunk.checks]
    return Unverified(first=positions[0], last=positions[-1], checks=len(positions), end=end)


@contextmanager
def started(site: Site, count: int) -> Iterator[Processes]:
    """So many processes, ended when the work is."""
    context = maker()
    installation = _Installation(address=site.store.address, key=site.key, site_keys=site.site_keys)
    workers: list[_Worker] = []
    try:
        for _ in range(count):
            ours, theirs = context.Pipe()
            process = context.Process(target=_work, args=(theirs, installation), daemon=True)
            process.start()
            theirs.close()
            workers.append(_Worker(process=process, pipe=ours))
        yield Processes(workers)
    finally:
        for each in workers:
            each.pipe.close()
        for each in workers:
            each.process.join(_PATIENCE)
            each.process.kill()


def _work(pipe: "Connection[Any, Any]", installation: _Installation) -> None:
    """What each process does, until nobody asks any more."""
    # Whoever interrupts the command means the process that asks.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    site = Site(
        store=open_store(installation.address), key=installation.key, site_keys=installation.site_keys
    )
    try:
        _answer(pipe, site)
    except (EOFError, BrokenPipeError):
        pass
    except Exception as error:  # noqa: BLE001  # whoever asks says that it was raised
        pipe.send(_Failed(is_out_of_reach=isinstance(error, StoreUnavailable), kind=type(error).__name__))
    site.store.close()


def _answer(pipe: "Connection[Any, Any]", site: Site) -> None:
    with site.store.read_ahead(pipe.recv()) as reader:
        pipe.send(None)
        verifier = check_verifier(site, reader, pipe.recv())
        while True:
            pipe.send(tuple(verifier.verified(pipe.recv())))
