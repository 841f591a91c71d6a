"""Files and folders that commands write: whole or not at all, and by one command at a time."""

import fcntl
import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from app.cli.installation import fail


def replace_file(path: Path, content: bytes) -> None:
    """Write a file that whoever reaches it may read; one that is there is replaced whole, or stays."""
    path = path.resolve()
    if path.exists() and not path.is_file():
        # A pipe or a device: nothing takes its place.
        path.write_bytes(content)
        return
    handle, name = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
    unfinished = Path(name)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        unfinished.chmod(0o644)
        unfinished.replace(path)
    finally:
        with suppress(FileNotFoundError):
            unfinished.unlink()


@contextmanager
def hold_folder(folder: Path, says: str) -> Iterator[None]:
    """Be the only command that works in a folder; where another does, end with what is said.

    The kernel gives it up if the process dies.
    """
    descriptor = os.open(folder, os.O_RDONLY | os.O_DIRECTORY | os.O_NOFOLLOW | os.O_CLOEXEC)
    try:
        try:
            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            fail(says)
        yield
    finally:
        os.close(descriptor)
