"""The log as a Merkle tree (RFC 6962, section 2.1; hashed alike in RFC 9162): its roots, and proofs.

A leaf is the canonical bytes of a log entry. Indexes begin at 0 as in the RFC; the entry at position 1 of
the log has index 0. Who holds a root can be shown with about log2(n) hashes that an entry is in the log.
"""

import hashlib
from collections.abc import Iterable, Iterator, Sequence

HASH_BYTES = 32
# The roots over so many entries each can be kept: with them and the entries behind the last the tree goes on.
BLOCK_HEIGHT = 7
BLOCK = 1 << BLOCK_HEIGHT

EMPTY_ROOT = hashlib.sha256(b"").digest()


def leaf_hash(entry: bytes) -> bytes:
    """SHA-256(0x00 || entry): no entry can be made that hashes like a node."""
    return hashlib.sha256(b"\x00" + entry).digest()


def node_hash(left: bytes, right: bytes) -> bytes:
    """SHA-256(0x01 || left || right)."""
    return hashlib.sha256(b"\x01" + left + right).digest()


class Tree:
    """All full subtrees of a growing log: an entry costs about two hashes, a root or proof about log2(n).

    It needs 64 bytes an entry, and can be thrown away: everything in it follows from the log. One that begins
    with the roots of `blocks` knows what is below them only of those that were opened.
    """

    def __init__(self, entries: Iterable[bytes] = (), *, blocks: Iterable[bytes] = ()) -> None:
        # The hashes of the full subtrees of 1, 2, 4, ... leaves, side by side.
        self._levels: list[bytearray] = [bytearray() for _ in range(BLOCK_HEIGHT + 1)]
        for each in blocks:
            self._add(each, BLOCK_HEIGHT)
        self._left_out = len(self._levels[BLOCK_HEIGHT]) // HASH_BYTES * BLOCK
        self._opened: dict[int, Tree] = {}
        self.extend(entries)

    @property
    def size(self) -> int:
        """How many entries it holds."""
        return self._left_out + len(self._levels[0]) // HASH_BYTES

    def extend(self, entries: Iterable[bytes]) -> None:
        """Add the next entries of the log."""
        for entry in entries:
            self._add(leaf_hash(entry), 0)

    def blocks(self, size: int) -> tuple[bytes, ...]:
        """The root over each full block of the first `size` entries."""
        held = self._levels[BLOCK_HEIGHT]
        return tuple(
            bytes(held[place * HASH_BYTES : (place + 1) * HASH_BYTES]) for place in range(size // BLOCK)
        )

    def is_closed(self, index: int) -> bool:
        """Whether nothing is known of an entry but the root of its block."""
        return index < self._left_out and index // BLOCK not in self._opened

    def open_block(self, number: int, entries: Iterable[bytes]) -> None:
        """Know what is below the root of a block."""
        self._opened[number] = Tree(entries)

    def root(self, size: int) -> bytes:
        """The root over the first `size` entries; ValueError when there are fewer."""
        if not 0 <= size <= self.size:
            raise ValueError("the tree is not that large")
        return self._subtree(0, size) if size else EMPTY_ROOT

    def inclusion(self, index: int, size: int) -> tuple[bytes, ...]:
        """The audit path of an entry in the tree of the first `size` entries (RFC 6962, 2.1.1)."""
        if not 0 <= index < size <= self.size:
            raise ValueError("the tree is not that large")
        return tuple(self._path(index, 0, size))

    def _add(self, hashed: bytes, height: int) -> None:
        self._levels[height] += hashed
        while len(self._levels[height]) % (2 * HASH_BYTES) == 0:
            pair = self._levels[height][-2 * HASH_BYTES :]
            height += 1
            if height == len(self._levels):
                self._levels.append(bytearray())
            self._levels[height] += node_hash(bytes(pair[:HASH_BYTES]), bytes(pair[HASH_BYTES:]))

    def _subtree(self, start: int, end: int) -> bytes:
        """The root over entries start to end; a full subtree's is at hand."""
        leaves = end - start
        if leaves & (leaves - 1) == 0:
            return self._full(start, leaves.bit_length() - 1)
        middle = start + _split(leaves)
        return node_hash(self._subtree(start, middle), self._subtree(middle, end))

    def _full(self, start: int, height: int) -> bytes:
        if height < BLOCK_HEIGHT:
            if start < self._left_out:
                block = self._opened[start // BLOCK]
                return block._full(start % BLOCK, height)  # noqa: SLF001  # of the same kind
            start -= self._left_out
        place = (start >> height) * HASH_BYTES
        return bytes(self._levels[height][place : place + HASH_BYTES])

    def _path(self, index: int, start: int, end: int) -> Iterator[bytes]:
        if end - start == 1:
            return
        middle = start + _split(end - start)
        if index < middle:
            yield from self._path(index, start, middle)
            yield self._subtree(middle, end)
        else:
            yield from self._path(index, middle, end)
            yield self._subtree(start, middle)


def is_included(*, leaf: bytes, index: int, size: int, path: Sequence[bytes], root: bytes) -> bool:
    """Whether the path leads from an entry's leaf hash to the root (RFC 9162, 2.1.3.2)."""
    if not 0 <= index < size:
        return False
    here, last, hashed = index, size - 1, leaf
    for step in path:
        if last == 0:
            return False
        if here % 2 or here == last:
            hashed = node_hash(step, hashed)
            while here % 2 == 0 and here:
                here, last = here >> 1, last >> 1
        else:
            hashed = node_hash(hashed, step)
        here, last = here >> 1, last >> 1
    return last == 0 and hashed == root


def _split(leaves: int) -> int:
    """The largest power of two that is smaller than the number of leaves, which is at least 2."""
    return 1 << ((leaves - 1).bit_length() - 1)
