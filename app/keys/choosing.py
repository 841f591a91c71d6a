"""Whether a new secret may be chosen: long enough, and not made of what attackers try first.

After NIST SP 800-63B-4: at least 15 characters, no rules about kinds of characters, a blocklist, and the
reason is said.
"""

import json
import re
import unicodedata
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from itertools import combinations

SHORTEST = 15
# A bound on the work of checking; NIST asks for at least 64.
LONGEST = 256

# Fewer signs than this beside what is expected add nothing.
_TOO_FEW = 4
# A passphrase of three common words drawn at random is not common any more.
_COMMON_PIECES_AT_MOST = 2

# What anyone would try here before all else.
_EXPECTED_HERE = (
    "countersign", "hospital", "clinic", "station", "ward", "nurse", "doctor", "pharmacist", "pharmacy",
    "password", "passphrase", "passwort", "secret", "welcome", "letmein", "changeme", "default", "admin",
    "patient", "morphine", "hydromorphone", "fentanyl", "sufentanil", "syringe", "infusion", "medication",
    "spring", "summer", "autumn", "winter",
    "monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday",
    "january", "february", "march", "april", "june", "july", "august", "september", "october", "november",
    "december",
)  # fmt: skip

_ROWS = (
    "1234567890",
    "qwertyuiop",
    "qwertzuiop",
    "azertyuiop",
    "asdfghjkl",
    "yxcvbnm",
    "zxcvbnm",
    "abcdefghijklmnopqrstuvwxyz",
)
_YEAR = re.compile(r"(19|20)[0-9]{2}")
_SAME_SIGN = re.compile(r"(.)\1{2,}")
_WHOLE_REPEATED = re.compile(r"(.+?)\1+", re.DOTALL)
_LOOKS_LIKE = str.maketrans(
    {"@": "a", "4": "a", "3": "e", "1": "i", "!": "i", "0": "o", "$": "s", "5": "s", "7": "t"}
)


@dataclass(frozen=True, kw_only=True)
class SecretFault:
    """Why a secret may not be chosen: a code, and a sentence for the person."""

    code: str
    says: str


TOO_SHORT = SecretFault(
    code="secret-too-short",
    says=f"Use at least {SHORTEST} characters. Several unrelated words are easy to remember.",
)
TOO_LONG = SecretFault(code="secret-too-long", says=f"Use at most {LONGEST} characters.")
REPEATED = SecretFault(
    code="secret-repeated",
    says="This repeats one short piece, which is no harder to guess than the piece. Use different words.",
)
COMMON = SecretFault(
    code="secret-common",
    says="This is made of words, names, dates or keys in a row that are tried first. Add unrelated words.",
)


def secret_fault(secret: str, *, login: str, printed_name: str) -> SecretFault | None:
    """Why this person may not choose the secret, or None; the secret itself is not repeated in the answer."""
    given = unicodedata.normalize("NFKC", secret)
    if len(given) < SHORTEST:
        return TOO_SHORT
    if len(given) > LONGEST:
        return TOO_LONG
    own = _own_words(login, printed_name)
    for form in _forms(given):
        if (repeated := _WHOLE_REPEATED.fullmatch(form)) and len(repeated[1]) < SHORTEST:
            return REPEATED
        if _is_common(form, own):
            return COMMON
    return None


def _forms(secret: str) -> Iterator[str]:
    """The secret without case, spaces and punctuation, and again with look-alike signs read as letters."""
    folded = secret.casefold()
    # Years go first: read as letters they would no longer be seen.
    for form in (folded, _YEAR.sub(" ", folded).translate(_LOOKS_LIKE)):
        yield _plain(form)


def _plain(form: str) -> str:
    return "".join(sign for sign in form if sign.isalnum())


def _own_words(login: str, printed_name: str) -> tuple[str, ...]:
    parts = re.split(r"[^\w]+", f"{login} {printed_name}".casefold())
    return tuple(part for part in parts if len(part) > 2)  # noqa: PLR2004  # initials are in everything


@cache
def _blocklist() -> tuple[frozenset[str], frozenset[str]]:
    """Common pieces, and whole common secrets; shipped with the program, so that it asks nobody."""
    data = json.loads(files("app.keys").joinpath("blocklist.json").read_text(encoding="utf-8"))
    return frozenset(data["pieces"]), frozenset(map(_plain, data["whole"]))


def _is_common(form: str, own: tuple[str, ...]) -> bool:
    pieces, whole = _blocklist()
    if form in whole:
        return True
    rest = _without(form, sorted((*own, *_EXPECTED_HERE), key=len, reverse=True))
    rest = _without_runs(_YEAR.sub(" ", rest))
    found = sorted(piece for piece in pieces if piece in rest)
    choices = [(), *combinations(found, 1), *combinations(found, _COMMON_PIECES_AT_MOST)]
    return any(_signs_left(rest, choice) < _TOO_FEW for choice in choices)


def _signs_left(rest: str, pieces: Iterable[str]) -> int:
    return len(_without(rest, sorted(pieces, key=len, reverse=True)).replace(" ", ""))


def _without(text: str, pieces: Iterable[str]) -> str:
    """The text with each piece replaced by a gap, so that what stood on both sides does not grow together."""
    for piece in pieces:
        text = text.replace(piece, " ")
    return text


def _without_runs(text: str) -> str:
    """Without a sign three times or more, and without four keys or more in a row, forwards or backwards."""
    text = _SAME_SIGN.sub(" ", text)
    for row in (*_ROWS, *(each[::-1] for each in _ROWS)):
        for length in range(len(row), 3, -1):
            text = _without(text, (row[start : start + length] for start in range(len(row) - length + 1)))
    return text
