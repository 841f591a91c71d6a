"""The log's tree as one process knows it."""

import threading

from app.records.checkpoint import Place
from app.records.proofs import Tree
from app.storage import Reader


class LogTree:
    """The log's tree in this process, so that a place in it costs only what is new since the last time.

    It is no stored state: every process builds its own from the log when it first needs it.
    """

    def __init__(self) -> None:
        self._guard = threading.Lock()
        self._tree = Tree()

    def place(self, reader: Reader, position: int, size: int) -> Place:
        """Where an entry stands in the log of `size` entries."""
        (leaf,) = reader.leaves(after=position - 1, up_to=position)
        with self._guard:
            self._read_up(reader, size)
            path = self._tree.inclusion(position - 1, size)
        return Place(leaf=leaf, position=position, path=tuple(step.hex() for step in path))

    def find_root(self, reader: Reader, size: int) -> str | None:
        """The root over the first `size` entries, in hexadecimal; None when some of them are missing."""
        with self._guard:
            self._read_up(reader, size)
            return self._tree.root(size).hex() if size <= self._tree.size else None

    def _read_up(self, reader: Reader, size: int) -> None:
        if size > self._tree.size:
            self._tree.extend(reader.leaves(after=self._tree.size, up_to=size))
