"""What a comparison finds: one disagreement or danger each, in the order in which people should see them."""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from typing import Any

from app.comparison.fields import FIELD_ORDER
from app.dosing import number_json
from app.records.followup import Severity


class Origin(StrEnum):
    """Where a disagreement arose, as far as the readings tell."""

    READING = "reading"
    ORDER = "order"
    SUPPLY = "supply"
    PROGRAMMING = "programming"


# The codes of CONTRACT.md, "A finding", in the order of its table.
SEVERITIES: Mapping[str, Severity] = {
    "reading-missing": Severity.STOP,
    "readings-differ": Severity.STOP,
    "order-differs-from-record": Severity.STOP,
    "label-differs": Severity.STOP,
    "device-differs": Severity.STOP,
    "patient-differs": Severity.STOP,
    "mode-conflict": Severity.STOP,
    "concentration-inconsistent": Severity.STOP,
    "limit-below-dose": Severity.STOP,
    "limit-below-continuous": Severity.STOP,
    "limit-blocks-demands": Severity.STOP,
    "above-hard-limit": Severity.STOP,
    "below-hard-limit": Severity.STOP,
    "above-soft-limit": Severity.CAUTION,
    "below-soft-limit": Severity.CAUTION,
    "drug-not-in-library": Severity.STOP,
    "concentration-not-in-library": Severity.STOP,
    "concentration-unordered": Severity.CAUTION,
    "limit-required": Severity.CAUTION,
    "continuous-opioid-naive": Severity.CAUTION,
    "carrier-not-allowed": Severity.STOP,
    "monitoring-off": Severity.STOP,
    "label-expired": Severity.STOP,
    "dose-below-step": Severity.CAUTION,
    "syringe-short": Severity.NOTE,
    "limit-is-passed": Severity.CAUTION,
    "limit-cuts-in": Severity.NOTE,
    "limit-never-refuses": Severity.NOTE,
    "notation-differs": Severity.NOTE,
}


@dataclass(frozen=True, kw_only=True, slots=True)
class Finding:
    """One disagreement or danger; `clinician` is A or B where only that one's readings show it."""

    code: str
    severity: Severity
    field: str
    readings: Mapping[str, str | None]
    says: str
    origin: Origin | None = None
    slip: str | None = None
    factor: Fraction | None = None
    clinician: str | None = None

    def as_json(self) -> dict[str, Any]:
        """As the contract writes it."""
        found: dict[str, Any] = {
            "code": self.code,
            "severity": self.severity.value,
            "field": self.field,
            "readings": dict(self.readings),
            "origin": None if self.origin is None else self.origin.value,
            "slip": self.slip,
            "factor": number_json(self.factor),
            "says": self.says,
        }
        if self.clinician is not None:
            found["clinician"] = self.clinician
        return found


_SEVERITY_PLACES = {severity: place for place, severity in enumerate(Severity)}
_CODE_PLACES = {code: place for place, code in enumerate(SEVERITIES)}


def place_of(finding: Finding) -> tuple[int, int, int]:
    """The sorting key: the worst first, then as the tables of codes and of fields stand.

    No two findings share it: what A and B both show of one code and field is one finding.
    """
    return (_SEVERITY_PLACES[finding.severity], _CODE_PLACES[finding.code], FIELD_ORDER[finding.field])
