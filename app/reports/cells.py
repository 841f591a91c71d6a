"""Text in a table that people open in a spreadsheet: never run as a formula, and never lost.

A cell that a spreadsheet could take for a formula gets an apostrophe where the formula would begin: at its
beginning, and after a line break or a sign at which some spreadsheets cut a line into cells. A text that has
an apostrophe there gets a second one, so that `read_back` restores exactly what was written.
"""

import re

from app.records.exported_columns import MARK

# OWASP, CSV Injection: these begin a formula or a command, in the full-width forms too.
_BEGINS = "=+\\-@\t\r\n\uff1d\uff0b\uff0d\uff20"
# After these a spreadsheet may see the beginning of a line or of a cell.
_CUTS = "\t\n\v\f\r\x85\u2028\u2029,;|"
# These in front of a sign do not always make it harmless.
_SKIPPED = ' "\u00a0\u200b\ufeff'

_PLACE = f"(?:\\A|(?<=[{_CUTS}]))"
_TO_GUARD = re.compile(f"{_PLACE}(?=[{_SKIPPED}]*[{_BEGINS}]|')")
_GUARD = re.compile(f"{_PLACE}'")

# In rows of cells within quotes: one that begins like a formula needs no more than a sign within its quotes.
_UNQUOTED = _SKIPPED.replace('"', "")
BEGINS_LIKE_ONE = f"([,{MARK}]\")([{_UNQUOTED}]*[{_BEGINS}]|')"
# One in which there may be more to guard: after a cut within a cell, or behind a quote, which stands twice.
HIDES_ONE = (
    f"[{_CUTS.replace(',', '')}](?:[{_SKIPPED}]*[{_BEGINS}]|')"
    f"|,(?:[{_UNQUOTED}]*[{_BEGINS}]|')"
    f'|""[{_SKIPPED}]*(?:[{_BEGINS}]|\')'
)


def guard(text: str) -> str:
    """The text of a cell that no spreadsheet takes for a formula."""
    return _TO_GUARD.sub("'", text)


def read_back(cell: str) -> str:
    """The text that `guard` was given: one apostrophe less at the beginning and after every cut."""
    return _GUARD.sub("", cell)
