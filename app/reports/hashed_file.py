"""A file that is written once, with the digest of what was written."""

import hashlib
import os
from collections.abc import Callable
from pathlib import Path
from types import TracebackType
from typing import Self

from app.reports.manifest import Part

# Told how many rows or lines are written by now.
Tell = Callable[[int], None]


class HashedFile:
    """A new file that only its owner reads; once closed it is on the disk, and tells what it is."""

    def __init__(self, folder: Path, name: str) -> None:
        """Named as it stands beneath the folder of the export."""
        self.name, self.rows, self.size = name, 0, 0
        path = folder / name
        path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        self._file = os.fdopen(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb")
        self._digest = hashlib.sha256()

    @property
    def closed(self) -> bool:
        """Whether nothing more is written; what writes Arrow into it asks."""
        return self._file.closed

    def write(self, content: bytes) -> int:
        """Add some bytes."""
        self._digest.update(content)
        written = self._file.write(content)
        self.size += written
        return written

    def flush(self) -> None:
        """Nothing need be seen before it is closed."""

    def close(self) -> None:
        """Safe on the disk from here on."""
        if not self._file.closed:
            self._file.flush()
            os.fsync(self._file.fileno())
            self._file.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    @property
    def part(self) -> Part:
        """What the manifest says of it."""
        return Part(name=self.name, rows=self.rows, size=self.size, sha256=self._digest.hexdigest())
