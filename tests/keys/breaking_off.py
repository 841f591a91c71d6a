"""What is killed while it writes its files."""

from collections.abc import Callable
from pathlib import Path

from app.keys.new_file import write_new


def broken_off_after(written: int) -> Callable[..., None]:
    """Write so many files as they are written, and be killed before the next."""
    left = written

    def write(path: Path, content: bytes, *, mode: int) -> None:
        nonlocal left
        if not left:
            raise KeyboardInterrupt
        left -= 1
        write_new(path, content, mode=mode)

    return write
