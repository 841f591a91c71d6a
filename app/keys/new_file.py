"""Writing a file that was not there, safe on the disk before anything is said about it."""

import os
from pathlib import Path


def write_new(path: Path, content: bytes, *, mode: int) -> None:
    """A new file with these rights from its first moment on; never over an old one (FileExistsError).

    Where the disk is full or fails nothing of it is left.
    """
    with os.fdopen(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, mode), "wb") as file:
        try:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        except OSError:
            path.unlink()
            raise
