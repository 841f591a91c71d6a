"""Six digits that open a shift session again: which may be chosen, and how they are kept.

There are only a million, so they are no secret by themselves: they count together with the screen at which
id and secret were given, for one shift, and for five tries. They are hashed under the application key: who
copies the database alone cannot try them all.
"""

import hashlib
import hmac
import re
from collections.abc import Iterable
from datetime import date
from itertools import pairwise

from app.keys.choosing import SecretFault
from app.keys.hashing import hash_secret, verify_secret
from app.keys.sealing import ApplicationKey

PIN_LENGTH = 6
_PURPOSE = "countersign pin"
# Fewer different digits are seen over a shoulder, or on a screen that fingers left marks on.
_DIFFERENT_AT_LEAST = 3
# Columns of the keypad, corner to corner.
_ON_THE_KEYPAD = ("147258", "147369", "258369", "159357", "357159", "123654", "123789", "456123", "789456")
# Pieces of one's own numbers that are shorter are in everything.
_OWN_AT_LEAST = 4
# Any year of two digits; a leap year, so that the 29th of February is a date.
_LEAP_YEAR = 2000

NOT_SIX_DIGITS = SecretFault(code="pin-not-six-digits", says="Six digits, nothing else.")
OBVIOUS = SecretFault(
    code="pin-obvious",
    says="These six are tried first: a row or a pattern, a date, or your own number. Choose others.",
)


def pin_fault(pin: str, *, own: Iterable[str] = ()) -> SecretFault | None:
    """Why these digits may not be chosen, or None; `own` are ids and numbers that a colleague knows."""
    if not (len(pin) == PIN_LENGTH and pin.isascii() and pin.isdigit()):
        return NOT_SIX_DIGITS
    if _is_pattern(pin) or _is_date(pin) or any(_shares(pin, each) for each in own):
        return OBVIOUS
    return None


def _is_pattern(pin: str) -> bool:
    """The same step each time, few digits, one piece twice, there and back, or a way over the keys."""
    steps = {(int(after) - int(before)) % 10 for before, after in pairwise(pin)}
    return (
        len(steps) == 1
        or len(set(pin)) < _DIFFERENT_AT_LEAST
        or pin[:3] == pin[3:]
        or pin[:3] == pin[:2:-1]
        or pin in _ON_THE_KEYPAD
        or pin[::-1] in _ON_THE_KEYPAD
    )


def _is_date(pin: str) -> bool:
    """A day in any order, or a month with the whole of a year."""
    one, two, three = pin[:2], pin[2:4], pin[4:]
    days = ((one, two), (two, one), (two, three), (three, two))
    whole_year = re.fullmatch(r"(19|20)..(0[1-9]|1[0-2])|(0[1-9]|1[0-2])(19|20)..", pin)
    return whole_year is not None or any(_is_day(int(month), int(day)) for day, month in days)


def _is_day(month: int, day: int) -> bool:
    try:
        date(_LEAP_YEAR, month, day)
    except ValueError:
        return False
    return True


def _shares(pin: str, own: str) -> bool:
    digits = "".join(sign for sign in own if sign.isdigit())
    return len(digits) >= _OWN_AT_LEAST and (digits in pin or pin in digits)


def hash_pin(key: ApplicationKey, shift_session: str, pin: str) -> str:
    """What is kept: hashed like a secret, and worth nothing without the key or for another shift session."""
    return hash_secret(_keyed(key, shift_session, pin))


def verify_pin(key: ApplicationKey, shift_session: str, pin: str, pin_hash: str) -> bool:
    """Whether these are the digits of this shift session."""
    return verify_secret(pin_hash, _keyed(key, shift_session, pin))


def _keyed(key: ApplicationKey, shift_session: str, pin: str) -> str:
    return hmac.new(
        key.for_purpose(_PURPOSE), f"{shift_session} {pin}".encode("utf-8", "surrogatepass"), hashlib.sha256
    ).hexdigest()
