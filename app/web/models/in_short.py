"""What a signer has in sight beside the place to sign: the patient, what the device gave, and is to give."""

from collections.abc import Iterator

from app.records.fields import ROWS, field_of
from app.records.kind import Kind
from app.records.sources import Source
from app.web.models.readings import Row

_IN_SHORT = tuple(
    row.label
    for row in ROWS
    if row.last_look or Source.WRISTBAND in row.sources or row.sources == (Source.TOTALS,)
)
# Beside the new label it would be read as what the new syringe holds.
_OF_BEFORE = {field_of(Source.TOTALS, "left").label: "Left in the syringe that was on"}


def in_short(rows: tuple[Row, ...], kind: Kind) -> Iterator[tuple[str, str]]:
    """The agreed value of each such field; what was not asked is left out."""
    by_label = {row.label: row for row in rows}
    before = _OF_BEFORE if kind.puts_one_on else {}
    for label in _IN_SHORT:
        if label in by_label:
            texts = [line.value.text for line in by_label[label].lines if line.value]
            yield before.get(label, label), " / ".join(dict.fromkeys(texts))
