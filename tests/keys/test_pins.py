"""Six digits: which may be chosen, and how they are kept."""

import pytest

from app.keys import ApplicationKey, hash_pin, pin_fault, verify_pin
from app.keys.pins import NOT_SIX_DIGITS, OBVIOUS

KEY, OTHER_KEY = (ApplicationKey(content=bytes([each]) * 32) for each in (1, 2))
PIN = "739204"


OF_ANOTHER_SCRIPT = "\N{FULLWIDTH DIGIT SEVEN}39204"


@pytest.mark.parametrize("pin", ["", "12345", "1234567", "73920a", "7392 4", "739204\n", OF_ANOTHER_SCRIPT])
def test_anything_but_six_digits_is_no_pin(pin: str) -> None:
    assert pin_fault(pin) == NOT_SIX_DIGITS


@pytest.mark.parametrize(
    "pin",
    [
        *("000000", "999999", "123456", "654321", "012345", "890123", "135791", "975319"),
        *("121212", "112211", "123123", "739739", "739937", "147258", "963852", "159357"),
        # Days in the orders of day, month and year; months with a year.
        *("231158", "112358", "581123", "290200", "195811", "111958", "200703"),
    ],
)
def test_what_anybody_tries_first_is_refused(pin: str) -> None:
    assert pin_fault(pin) == OBVIOUS


@pytest.mark.parametrize("own", ["s-739204", "nurse7392", "1739204", "73-92-04"])
def test_ones_own_number_is_refused(own: str) -> None:
    assert pin_fault(PIN, own=("", own)) == OBVIOUS


def test_what_is_left_is_most_of_a_million() -> None:
    assert pin_fault(PIN, own=("n.ferrow", "S-1", "739")) is None
    sample = [f"{each:06}" for each in range(7, 1_000_000, 997)]
    assert sum(pin_fault(each) is None for each in sample) > 0.85 * len(sample)


def test_it_is_kept_like_a_secret_and_bound_to_key_and_shift_session() -> None:
    kept = hash_pin(KEY, "shift", PIN)

    assert kept.startswith("$argon2id$v=19$m=19456,t=2,p=1$")
    assert PIN not in kept
    assert hash_pin(KEY, "shift", PIN) != kept
    assert verify_pin(KEY, "shift", PIN, kept)
    assert not verify_pin(KEY, "shift", "739205", kept)
    assert not verify_pin(KEY, "other shift", PIN, kept)
    # Whoever has the database alone cannot even look whether a guess is right.
    assert not verify_pin(OTHER_KEY, "shift", PIN, kept)
