"""Bytes from anywhere: what cannot be read is a value, and never a crash."""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from typing import TypeVar

Read = TypeVar("Read")


@dataclass(frozen=True, kw_only=True)
class Damaged:
    """It could not be read; what was raised is kept for whoever knows it."""

    error: Exception

    @property
    def kind(self) -> str:
        """The kind of the fault alone: its message may hold a value."""
        return type(self.error).__name__

    @property
    def says(self) -> str:
        """Why it is no answer, without a value."""
        return f"It cannot be read ({self.kind})."


def read_or_damaged(read: Callable[[], Read]) -> Read | Damaged:
    """What was read, or that it is damaged."""
    (found,) = until_damaged(lambda: (read(),))
    return found


def until_damaged(read: Callable[[], Iterable[Read]]) -> Iterator[Read | Damaged]:
    """What was read one after the other and, where the rest is damaged, that as the last.

    The one place where everything that a parser may raise is caught. A damaged file makes the libraries that
    read PDF, certificates, JSON and rows fail in ways that they do not promise (`zlib.error`, a decimal
    number's `InvalidOperation`, `AssertionError`), and a list of them would be whole only until their next
    version. Whoever asks has an answer for each of them: it does not hold.
    """
    try:
        yield from read()
    except Exception as error:  # noqa: BLE001  # as just said
        # Without its traceback, which would hold on to whatever was being read, open cursors too.
        yield Damaged(error=error.with_traceback(None))
