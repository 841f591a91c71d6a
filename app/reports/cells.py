"""Text in a table that people open in a spreadsheet: never run as a formula, and never lost.

A cell that a spreadsheet could take for a formula gets an apostrophe where the formula would begin: at its
beginning, and after a line break or a sign at which some spreadsheets cut a line into cells. A text that has
an apostrophe there gets a second one, so that `read_back` restores exactly what was written.
"""

import re

# OWASP, CSV Injection: these begin a formula or a command, in the full-width forms too.
_BEGINS = "=+\\-@\t\r\n\uff1d\uff0b\uff0d\uff20"
# After these a spreadsheet may see the beginning of a line or of a cell.
_CUTS = "\t\n\v\f\r\x85\u2028\u2029,;|"
# These in front of a sign do not always make it harmless.
_SKIPPED = ' "\u00a0\u200b\ufeff'

_PLACE = f"(?:\\A|(?<=[{_CUTS}]))"
_TO_GUARD = re.compile(f"{_PLACE}(?=[{_SKIPPED}]*[{_BEGINS}]|')")
_GUARD = re.compile(f"{_PLACE}'")

# In a row of cells within quotes a sign is to be guarded only behind one of these, or where the row holds a
# byte that begins one of the rest.
_BEFORE, _SIGNS = b'", ', b"=+-@'"
_REST = {sign.encode()[0] for sign in _CUTS + _BEGINS + _SKIPPED} - {*_BEFORE, *_SIGNS}


def _kind(byte: int) -> int:
    some = zip(b"<=!", (_BEFORE, _SIGNS, _REST), strict=True)
    return next((kind for kind, each in some if byte in each), 0)


_KINDS = bytes(map(_kind, range(256)))


def may_need_guard(row: bytes) -> bool:
    """Whether a cell of a row within quotes may have to be guarded: a look that is quick, not exact."""
    kinds = row.translate(_KINDS)
    return b"!" in kinds or b"<=" in kinds


def guard(text: str) -> str:
    """The text of a cell that no spreadsheet takes for a formula."""
    return _TO_GUARD.sub("'", text)


def read_back(cell: str) -> str:
    """The text that `guard` was given: one apostrophe less at the beginning and after every cut."""
    return _GUARD.sub("", cell)
