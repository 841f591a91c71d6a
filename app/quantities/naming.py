"""A name or a number as somebody typed it: in any script, in one form, and nothing that cannot be seen."""

import unicodedata

from app.base.seen import find_unseen
from app.quantities.faults import Fault

LONGEST_NAME = 80
LONGEST_NUMBER = 40


def read_name(text: str) -> str | Fault:
    """The name in the composed form of Unicode (NFC), one space between its words; blank when nothing was."""
    return _read(text, "name", longest=LONGEST_NAME, is_name=True)


def read_printed_number(text: str) -> str | Fault:
    """The number of a paper or a device, of letters and digits, in the same form."""
    number = _read(text, "number", longest=LONGEST_NUMBER)
    if isinstance(number, Fault) or not number or any(each.isalnum() for each in number):
        return number
    return Fault(code="no-number", says="A number has letters or digits. Leave it blank where there is none.")


def _read(text: str, what: str, *, longest: int, is_name: bool = False) -> str | Fault:
    read = " ".join(unicodedata.normalize("NFC", text).split())
    if len(read) > longest:
        return Fault(code="too-long", says=f"Write at most {longest} signs of the {what}.")
    if find_unseen(read, is_name=is_name) is not None:
        return Fault(
            code="unprintable", says=f"This holds a sign that cannot be seen. Type the {what} by hand."
        )
    return read
