"""The exported table where nobody may be known, by the rules of EXPORT.md, column by column."""

import hmac
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import pyarrow as pa
from pyarrow import compute

from app.records.exported_columns import COLUMNS, Bared, Exported
from app.records.policy import KEPT, PSEUDONYM

# No patient's days are moved by more: the year stays about the same, and no day is what it was.
_DAYS = 364
_DIGITS = 16
_DAY = 86_400_000_000


@dataclass(frozen=True, kw_only=True)
class Deidentifier:
    """The keyed pseudonyms and shifts of one installation; `units` and `beds` are what its policy says."""

    key: bytes = field(repr=False)
    units: str
    beds: str

    def pseudonym(self, what: str, of: str) -> str:
        """What something is called in every de-identified export of this installation, and in no other."""
        return hmac.digest(self.key, f"{what}\0{of}".encode(), "sha256").hex()[:_DIGITS] if of else ""

    def days(self, of: str) -> int:
        """By how many days everything of a patient is moved: back, by one at least."""
        digest = hmac.digest(self.key, f"days\0{of}".encode(), "sha256")
        return 1 + int.from_bytes(digest[:8]) % _DAYS

    def bare(self, batch: pa.RecordBatch) -> pa.RecordBatch:
        """A batch in which nobody is known."""
        shift = self._shift(batch)
        columns = [self._column(each, batch[each.name], shift) for each in COLUMNS]
        return pa.RecordBatch.from_arrays(columns, schema=batch.schema)

    def _column(self, column: Exported, values: "pa.Array[Any]", shift: "pa.Array[Any]") -> "pa.Array[Any]":
        match self.how(column):
            case Bared.KEPT:
                return values
            case Bared.SHIFTED:
                moved: pa.Array[Any] = compute.subtract(values.cast(pa.int64()), shift).cast(values.type)
                return moved
            case Bared.PSEUDONYM:
                return self._pseudonyms(_AS.get(column.name, column.name), values)
            case _:
                nothing: pa.Array[Any] = pa.nulls(len(values), values.type)
                return nothing

    def how(self, column: Exported) -> Bared:
        """What becomes of a column."""
        by_policy = {Bared.AS_UNITS: self.units, Bared.AS_BEDS: self.beds}.get(column.bared)
        if by_policy is None:
            return column.bared
        return {KEPT: Bared.KEPT, PSEUDONYM: Bared.PSEUDONYM}.get(by_policy, Bared.LEFT_OUT)

    def _pseudonyms(self, what: str, values: "pa.Array[Any]") -> "pa.Array[Any]":
        coded = values.dictionary_encode()
        named = [self.pseudonym(what, str(each)) for each in coded.dictionary.to_pylist()]
        return pa.array(named, pa.string()).take(coded.indices)

    def _shift(self, batch: pa.RecordBatch) -> "pa.Array[Any]":
        """By the patient, or by the infusion where no wristband was read."""
        patient = batch["patient"]
        whose = compute.if_else(compute.not_equal(patient, pa.scalar("")), patient, batch["infusion"])
        coded = compute.fill_null(whose, "").dictionary_encode()
        moved = [self.days(str(each)) * _DAY for each in coded.dictionary.to_pylist()]
        return pa.array(moved, pa.int64()).take(coded.indices)


# What is the same in several columns is called alike.
_AS: Mapping[str, str] = {"nurse_a": "person", "nurse_b": "person", "by": "person"}
