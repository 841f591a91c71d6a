"""What an account finds, in the order in which people should see it; each code's severity."""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from app.comparison import Severity
from app.quantities import Dimension


class StageName(StrEnum):
    """Up to the last count in use, and after it in the hand."""

    IN_USE = "in_use"
    IN_HAND = "in_hand"


# The codes of CONTRACT.md, "A finding", in the order of its table.
SEVERITIES: Mapping[str, Severity] = {
    "time-disorder": Severity.STOP,
    "reading-missing": Severity.STOP,
    "strength-set-differs": Severity.STOP,
    "totals-went-back": Severity.STOP,
    "totals-not-attributed": Severity.STOP,
    "presses-below-doses": Severity.STOP,
    "doses-above-possible": Severity.STOP,
    "totals-above-possible": Severity.STOP,
    "totals-above-predicted": Severity.STOP,
    "left-rose": Severity.STOP,
    "left-below-predicted": Severity.STOP,
    "left-above-predicted": Severity.STOP,
    "more-than-left": Severity.STOP,
    "unexplained": Severity.STOP,
    "not-witnessed": Severity.STOP,
    "not-received": Severity.STOP,
    "totals-below-predicted": Severity.CAUTION,
    "doses-below-boluses": Severity.CAUTION,
    "presses-far-above-doses": Severity.CAUTION,
    "in-hand": Severity.CAUTION,
    "ask-pharmacy": Severity.CAUTION,
    "series-not-from-zero": Severity.NOTE,
}


@dataclass(frozen=True, kw_only=True, slots=True)
class Difference:
    """A difference in mL, or in mg where masses are judged."""

    value: Fraction
    dimension: Dimension = Dimension.VOLUME


@dataclass(frozen=True, kw_only=True, slots=True)
class AccountFinding:
    """One thing that does not add up; `syringe` by the compared form of its name."""

    code: str
    says: str
    entry: int | None = None
    syringe: str | None = None
    stage: StageName | None = None
    difference: Difference | None = None
    factor: Fraction | None = None

    @property
    def severity(self) -> Severity:
        """How much it weighs."""
        return SEVERITIES[self.code]


_CODE_PLACES = {code: place for place, code in enumerate(SEVERITIES)}


def place_of(finding: AccountFinding, order_of_issue: Mapping[str, int]) -> tuple[int, ...]:
    """The sorting key: by the table, by entry, by syringe (none last in both), in use before in hand."""
    return (
        _CODE_PLACES[finding.code],
        finding.entry is None,
        finding.entry or 0,
        len(order_of_issue) if finding.syringe is None else order_of_issue[finding.syringe],
        finding.stage is StageName.IN_HAND,
    )
