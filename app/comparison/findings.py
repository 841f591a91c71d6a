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
    "carrier-rate-differs": Severity.CAUTION,
    "syringe-size-differs": Severity.STOP,
    "patient-differs": Severity.STOP,
    "primed-volume-differs": Severity.STOP,
    "order-not-current": Severity.STOP,
    "order-not-verified": Severity.STOP,
    "verified-as-urgent-exception": Severity.CAUTION,
    "allergy-charted": Severity.STOP,
    "intolerance-reviewed": Severity.CAUTION,
    "allergy-not-recorded": Severity.CAUTION,
    "cannot-use-button": Severity.STOP,
    "neuraxial-opioid-running": Severity.STOP,
    "patient-at-risk": Severity.CAUTION,
    "risk-read-differently": Severity.NOTE,
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
    "strength-for-tolerant-only": Severity.STOP,
    "concentration-unordered": Severity.CAUTION,
    "limit-required": Severity.CAUTION,
    "continuous-in-patient-at-risk": Severity.STOP,
    "continuous-opioid-naive": Severity.CAUTION,
    "carrier-not-allowed": Severity.STOP,
    "carrier-not-listed": Severity.CAUTION,
    "monitoring-off": Severity.STOP,
    "alarm-outside-bounds": Severity.STOP,
    "alarm-not-set": Severity.STOP,
    "label-expired": Severity.STOP,
    "expires-soon": Severity.NOTE,
    "primed-volume-below-set": Severity.STOP,
    "primed-volume-above-set": Severity.CAUTION,
    "dose-below-step": Severity.CAUTION,
    "syringe-short": Severity.NOTE,
    "limit-is-passed": Severity.CAUTION,
    "volume-differs": Severity.NOTE,
    "notation-differs": Severity.NOTE,
}

CAUTIONS = tuple(code for code, severity in SEVERITIES.items() if severity is Severity.CAUTION)
"""What a site can raise to a stop."""


class Group(StrEnum):
    """Which cautions people settle together."""

    PATIENT = "patient"
    DOSE = "dose"
    LIMIT = "limit"
    SUPPLY = "supply"


_GROUPS: Mapping[str, Group] = {
    "intolerance-reviewed": Group.PATIENT,
    "allergy-not-recorded": Group.PATIENT,
    "patient-at-risk": Group.PATIENT,
    "continuous-in-patient-at-risk": Group.PATIENT,
    "continuous-opioid-naive": Group.PATIENT,
    "verified-as-urgent-exception": Group.SUPPLY,
    "concentration-unordered": Group.SUPPLY,
    "carrier-not-listed": Group.SUPPLY,
    "primed-volume-above-set": Group.SUPPLY,
    "limit-required": Group.LIMIT,
    "limit-is-passed": Group.LIMIT,
}
_COMPUTED = frozenset({"amount_per_hour", "amount_per_4_hours", "first_hour_with_loading"})


def group_of(code: str, field: str, severity: Severity) -> Group | None:
    """The group of a caution; stops and notes have none."""
    if severity is not Severity.CAUTION:
        return None
    return _GROUPS.get(code, Group.LIMIT if field in _COMPUTED else Group.DOSE)


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
    reasons: tuple[str, ...] = ()
    """Why the patient is at risk, of the findings that say so."""
    fields: tuple[str, ...] = ()
    """The risk answers that were read differently."""

    @property
    def group(self) -> Group | None:
        """The group of cautions that this one is settled with."""
        return group_of(self.code, self.field, self.severity)

    def as_json(self) -> dict[str, Any]:
        """As the contract writes it."""
        found: dict[str, Any] = {
            "code": self.code,
            "severity": self.severity.value,
            "group": None if self.group is None else self.group.value,
            "field": self.field,
            "readings": dict(self.readings),
            "origin": None if self.origin is None else self.origin.value,
            "slip": self.slip,
            "factor": number_json(self.factor),
            "says": self.says,
        }
        if self.clinician is not None:
            found["clinician"] = self.clinician
        if self.reasons:
            found["reasons"] = list(self.reasons)
        if self.fields:
            found["fields"] = list(self.fields)
        return found


_SEVERITY_PLACES = {severity: place for place, severity in enumerate(Severity)}
_CODE_PLACES = {code: place for place, code in enumerate(SEVERITIES)}


def place_of(finding: Finding) -> tuple[int, int, int]:
    """The sorting key: the worst first, then as the tables of codes and of fields stand.

    No two findings share it: what A and B both show of one code and field is one finding.
    """
    return (_SEVERITY_PLACES[finding.severity], _CODE_PLACES[finding.code], FIELD_ORDER[finding.field])
