"""What must not stand where people read: another word for a thing that has one, and codes of the program.

The words are those of `DEVELOPERS.md`, "Words".
"""

import re
from collections.abc import Iterator

from app.words.checking import ABANDON_REASONS, CODES
from app.words.names import ANSWERS, STOP_REASONS

# The word that must not be read, and what is said in its place.
_INSTEAD = {
    r"pumps?": "device",
    r"discrepanc(?:y|ies)": "finding",
    r"(?:your|their|this|user|new|nurse's) accounts?": "login",
    r"clear(?:ed|ance) (?:record|check|to start)s?": "ready to start, signed",
    r"(?:the )?clearance": "ready to start",
    r"no-breath": "apnea",
    r"set anew": "reprogrammed",
    r"look again": "refresh",
    r"(?:first|second|third) reading": "reading 1",
    r"verify a record": "examine a record",
    r"verified by a pharmacist": "reviewed by a pharmacist",
    r"round [0-9]+": "reading",
    r"escalat(?:e|ed|ion)": "asked for help",
    r"hard stop": "hard limit",
    r"infusion set": "line set",
    r"this (?:tablet|workstation)": "this screen",
    r"on another device": "on another screen",
}
_WORDS = re.compile(rf"\b(?:{'|'.join(_INSTEAD)})\b", re.IGNORECASE)

# A code that is the trade's own word for it.
_WORD_TOO = {"part-used"}
_CODED = {
    each for table in (CODES, ANSWERS, STOP_REASONS, ABANDON_REASONS) for each in table if "-" in each
} - _WORD_TOO
_CODES = re.compile(rf"(?<![\w-])(?:LG-\w+|set-[0-9]+-\w+|{'|'.join(sorted(_CODED))})(?![\w-])")


def unwanted(text: str) -> Iterator[str]:
    """Each word and each code in a text that should not be there, and where it stands."""
    for pattern in (_WORDS, _CODES):
        for found in pattern.finditer(text):
            yield f"{found[0]}: {text[max(0, found.start() - 40) : found.end() + 20]!r}"
