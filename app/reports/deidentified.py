"""The exported table where nobody may be known, by the rules of EXPORT.md, column by column."""

import hmac
from collections.abc import Mapping
from dataclasses import dataclass, field

from app.records.exported_columns import Bared, Exported
from app.records.policy import KEPT, PSEUDONYM

# No patient's days are moved by more: the year stays about the same, and no day is what it was.
_DAYS = 364
_DIGITS = 16
# What several columns name alike.
_AS: Mapping[str, str] = dict.fromkeys(("nurse_a", "nurse_b", "pseudonym_a", "pseudonym_b", "by"), "person")


@dataclass(frozen=True, kw_only=True)
class Deidentifier:
    """The keyed pseudonyms and shifts of one installation; `units` and `beds` are what its policy says."""

    key: bytes = field(repr=False)
    units: str
    beds: str

    def pseudonym(self, name: str, of: str) -> str:
        """What stands in a column in each de-identified export of this installation, and in no other."""
        what = _AS.get(name, name)
        return hmac.digest(self.key, f"{what}\0{of}".encode(), "sha256").hex()[:_DIGITS] if of else ""

    def days(self, of: str) -> int:
        """By how many days everything of a patient is moved: back, by one at least."""
        digest = hmac.digest(self.key, f"days\0{of}".encode(), "sha256")
        return 1 + int.from_bytes(digest[:8]) % _DAYS

    def how(self, column: Exported) -> Bared:
        """What becomes of a column."""
        by_policy = {Bared.AS_UNITS: self.units, Bared.AS_BEDS: self.beds}.get(column.bared)
        if by_policy is None:
            return column.bared
        return {KEPT: Bared.KEPT, PSEUDONYM: Bared.PSEUDONYM}.get(by_policy, Bared.LEFT_OUT)
