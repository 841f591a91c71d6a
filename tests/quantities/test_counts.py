"""A count is a whole number in digits alone, as a device shows it."""

import pytest

from app.quantities import Fault, parse_count


@pytest.mark.parametrize(("text", "count"), [("0", 0), ("12", 12), ("999999", 999_999)])
def test_a_count_is_read(text: str, count: int) -> None:
    assert parse_count(text) == count


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("1.5", "not-a-number"),
        ("12.0", "trailing-zero"),
        ("012", "leading-zero"),
        ("-1", "not-a-number"),
        ("1 2", "not-a-number"),
        ("ten", "not-a-number"),
        ("1000000", "out-of-range"),
        ("1" * 50, "too-many-digits"),
    ],
)
def test_what_is_no_count_is_refused(text: str, code: str) -> None:
    read = parse_count(text)

    assert isinstance(read, Fault)
    assert read.code == code, read
    assert read.says


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("1.5", "This is a count: a whole number. Look at the device and read it again."),
        ("1000000", "No device counts as far. Look at it and read it again."),
    ],
)
def test_whoever_read_it_is_told_what_to_do(text: str, says: str) -> None:
    assert getattr(parse_count(text), "says", "") == says
