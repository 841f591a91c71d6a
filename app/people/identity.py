"""One person, one identity: how ids and staff numbers are written, and when two of them are the same.

What is kept is folded before it is compared: nobody becomes a second person by another case, width, space,
hyphen, accent or invisible sign, or by a letter of another alphabet that looks alike on a screen.
"""

import unicodedata
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from app.base.seen import find_unseen

PLAIN_HYPHEN = "-"

# Letters, by Unicode, that nobody sees; signs that nobody sees are left out with all other signs.
_INVISIBLE = frozenset("\N{HANGUL CHOSEONG FILLER}\N{HANGUL JUNGSEONG FILLER}\N{HANGUL FILLER}")
# Small Cyrillic and Greek letters that look, small or as capitals, like a Latin one: a whole id can be
# written with them, so that forbidding to mix alphabets is not enough.
_LOOKS_LIKE = str.maketrans(
    "авекмнорстухіјѕһӏԁԛԝ" + "αβεζηικμνορςστυχ" + "ı",  # noqa: RUF001  # that they look alike is the point
    "abekmhopctyxijshldqw" + "abezhikmnopsstyx" + "i",
)


@dataclass(frozen=True, kw_only=True)
class NotPlain:
    """Why nobody's id or staff number is written so, in words for whoever typed it."""

    says: str


def folded(text: str) -> str:
    """The letters and digits alone, in the one form in which identities are compared."""
    small = unicodedata.normalize("NFKC", unicodedata.normalize("NFKC", text).casefold())
    bare = (each for each in unicodedata.normalize("NFKD", small) if _counts(each))
    return unicodedata.normalize("NFC", "".join(bare).translate(_LOOKS_LIKE))


def _counts(sign: str) -> bool:
    """Letters, digits and vowel signs; an accent, which stands over a letter, does not."""
    category = unicodedata.category(sign)
    is_mark = category in ("Mn", "Mc") and not unicodedata.combining(sign) and not _is_selector(sign)
    return (category[0] in "LN" or is_mark) and sign not in _INVISIBLE


def _is_selector(sign: str) -> bool:
    """Marks that choose how the sign before them is drawn, and the joiner that nobody sees."""
    name = unicodedata.name(sign, "")
    return "VARIATION SELECTOR" in name or "GRAPHEME JOINER" in name or "INHERENT" in name


def find_login_fault(login: str) -> NotPlain | None:
    """Why this is no id to sign in with; a full stop may stand in one."""
    return _find_fault(
        login, between=f"{PLAIN_HYPHEN}.", allowed="letters, digits, plain hyphens and full stops"
    )


def find_staff_number_fault(staff_number: str) -> NotPlain | None:
    """Why this is no staff number."""
    return _find_fault(staff_number, between=PLAIN_HYPHEN, allowed="letters, digits and plain hyphens")


def find_name_fault(name: str) -> NotPlain | None:
    """Why no printed name is written so."""
    other = find_unseen(name, is_name=True)
    return None if other is None else NotPlain(says=f"Write what can be printed: {_named(other)} cannot.")


def _find_fault(text: str, *, between: str, allowed: str) -> NotPlain | None:
    other = next((each for each in text if not _is_plain(each) and each not in between), None)
    if other is not None:
        return NotPlain(says=f"Write {allowed} only: {_named(other)} is none of them.")
    if not folded(text):
        return NotPlain(says="Write at least one letter or digit.")
    scripts = dict.fromkeys(_scripts(text))
    if len(scripts) > 1:
        return NotPlain(says=f"Write letters of one alphabet only: here {_listed(scripts)} are mixed.")
    return None


def _is_plain(sign: str) -> bool:
    """A letter in its usual width, a vowel sign or a digit 0 to 9."""
    if sign.isascii():
        return sign.isalnum()
    is_usual = unicodedata.normalize("NFKC", sign) == sign
    return is_usual and _counts(sign) and unicodedata.category(sign)[0] != "N"


def _scripts(text: str) -> Iterator[str]:
    """The alphabets of the letters; Unicode names each letter by its alphabet first."""
    for each in text:
        if unicodedata.category(each)[0] in "LM":
            yield unicodedata.name(each, "unknown").split()[0].capitalize()


def _named(sign: str) -> str:
    """The sign as a person can find it: one that is not seen by its name."""
    name = unicodedata.name(sign, f"U+{ord(sign):04X}").lower()
    return f"“{sign}” ({name})" if sign.isprintable() and not sign.isspace() else f"a {name}"


def _listed(scripts: Iterable[str]) -> str:
    return " and ".join(scripts)


def is_same_name(one: str, other: str) -> bool:
    """Whether two printed names are the same to whoever reads them."""
    return folded(one) == folded(other)
