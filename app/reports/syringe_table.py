"""What did not add up by syringe, with its people, as a table that no spreadsheet takes for a formula."""

import csv
import io
from collections.abc import Iterable, Mapping

from app.reports.cells import guard

COLUMNS: Mapping[str, str] = {
    "row": "syringe (one each) or person (one for each part that somebody had in something)",
    "infusion": "the infusion's id",
    "unit": "the unit",
    "bed": "the bed at its last check",
    "ended_at": "when the last check with an account ended (UTC)",
    "syringe": "of a syringe: its number in the account",
    "left": "what was left in it, as it was counted last",
    "difference": "what is gone and not explained; plus is more gone, minus less",
    "difference_amount": "the same as an amount of drug",
    "at": "of a person: when (UTC)",
    "what": "what was done: read at a check of this kind, issued, loaded, wasted and so on",
    "number": "the number, lot or seal that was written with it",
    "volume": "the volume that was written with it",
    "part": "which part the person had in it",
    "name": "printed name, or as it was written where there is no login",
    "staff_number": "staff number; blank where there is no login",
}


def write_syringe_table(rows: Iterable[Mapping[str, str]]) -> bytes:
    """RFC 4180 in UTF-8, every value quoted and guarded."""
    place = io.StringIO()
    writer = csv.DictWriter(place, COLUMNS, restval="", quoting=csv.QUOTE_ALL, lineterminator="\r\n")
    writer.writeheader()
    writer.writerows({name: guard(text) for name, text in row.items()} for row in rows)
    return place.getvalue().encode()
