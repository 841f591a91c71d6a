from collections.abc import Iterator

from app.base.damage import Damaged, read_or_damaged, until_damaged


class _OfALibraryError(Exception):
    """A fault that nobody has heard of."""


def _half() -> Iterator[int]:
    yield 1
    yield 2
    raise _OfALibraryError("a value of a patient")


def test_what_can_be_read_is_read() -> None:
    assert read_or_damaged(lambda: 7) == 7
    assert list(until_damaged(lambda: (1, 2))) == [1, 2]


def test_whatever_is_raised_is_a_value_that_repeats_nothing() -> None:
    *read, last = until_damaged(_half)
    assert read == [1, 2]
    assert isinstance(last, Damaged)
    assert (last.kind, last.says) == ("_OfALibraryError", "It cannot be read (_OfALibraryError).")
    assert isinstance(last.error, _OfALibraryError)
    assert isinstance(read_or_damaged(lambda: 1 // 0), Damaged)
