"""The log's tree as one process knows it."""

import threading
from itertools import takewhile

from app.records.checkpoint import Place
from app.records.proofs import BLOCK, Tree
from app.storage import Reader


class LogTree:
    """The log's tree in this process, so that a place in it costs only what is new since the last time.

    It begins with the roots that were kept with the checkpoints, and reads the entries behind them: so a
    restart does not read the whole log. What is kept is never believed alone: with it the log has the root
    that the site signed, or nothing is signed and issued any more. Read `anew` it takes nothing from there.
    """

    def __init__(self, *, anew: bool = False) -> None:
        self._guard = threading.Lock()
        self._anew = anew
        self._tree = Tree()
        self._rests_on_kept = False

    @property
    def has_read_all(self) -> bool:
        """Whether this process has read all that it holds: for a root that was kept a checkpoint stands."""
        return self._tree.size > 0 and not self._rests_on_kept

    def place(self, reader: Reader, position: int, size: int) -> Place:
        """Where an entry stands in the log of `size` entries."""
        (leaf,) = reader.leaves(after=position - 1, up_to=position)
        with self._guard:
            self._read_up(reader, size)
            self._open(reader, position - 1)
            path = self._tree.inclusion(position - 1, size)
        return Place(leaf=leaf, position=position, path=tuple(step.hex() for step in path))

    def find_root(self, reader: Reader, size: int) -> str | None:
        """The root over the first `size` entries, in hexadecimal; None when some of them are missing."""
        with self._guard:
            self._read_up(reader, size)
            return self._tree.root(size).hex() if size <= self._tree.size else None

    def blocks(self, reader: Reader, size: int) -> tuple[str, ...]:
        """The root over each full block of the first `size` entries, in hexadecimal."""
        with self._guard:
            self._read_up(reader, size)
            return tuple(each.hex() for each in self._tree.blocks(size))

    def _read_up(self, reader: Reader, size: int) -> None:
        if not (self._tree.size or self._anew):
            kept = reader.log_blocks()
            # As far as none is missing.
            known = takewhile(kept.__contains__, range(size // BLOCK))
            self._tree = Tree(blocks=(bytes.fromhex(kept[each]) for each in known))
            self._rests_on_kept = self._tree.size > 0
        if size > self._tree.size:
            self._tree.extend(reader.leaves(after=self._tree.size, up_to=size))
        # An end within a block that is kept whole.
        self._open(reader, size - 1)

    def _open(self, reader: Reader, index: int) -> None:
        if self._tree.is_closed(index):
            number = index // BLOCK
            first = number * BLOCK
            self._tree.open_block(number, reader.leaves(after=first, up_to=first + BLOCK))
