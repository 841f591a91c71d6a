"""Findings as a comparison keeps them; a test names only what it is about."""

from collections.abc import Mapping
from dataclasses import replace

from app.comparison.findings import SEVERITIES
from app.judging.findings import finding_key
from app.records.followup import Found


def a_finding(
    code: str,
    field: str = "demand_dose",
    readings: Mapping[str, str | None] | None = None,
    says: str = "",
) -> Found:
    """One finding of the contract's table, with the severity that stands there."""
    about = {"A.order": "1 mg", "A.device": "1 mg"} if readings is None else dict(readings)
    return Found(
        key=finding_key(code=code, field=field, clinician="", readings=about, says=says),
        code=code,
        severity=SEVERITIES[code].value,
        field=field,
        clinician="",
        readings=about,
        says=says,
        slip="",
        factor="",
        origin="",
    )


DIFFER = a_finding(
    "readings-differ",
    readings={"A.order": "1 mg", "B.order": "1 mg", "A.device": "1 mg", "B.device": "10 mg"},
)
DEVICE_WRONG = a_finding(
    "device-differs",
    readings={"A.order": "1 mg", "B.order": "1 mg", "A.device": "10 mg", "B.device": "10 mg"},
)
RULE = a_finding("above-hard-limit", readings={"A.device": "4 mg", "B.device": "4 mg"})
CAUTION = a_finding("above-soft-limit", readings={"A.device": "2.5 mg", "B.device": "2.5 mg"})
# Less is left than predicted: about the patient; and what counting once more does not settle.
SHORT = replace(
    DIFFER,
    key="short",
    code="account-left-below-predicted",
    field="totals.left",
    readings={},
    about="patient",
)
NOT_WITNESSED = replace(SHORT, key="not-witnessed", code="account-not-witnessed", about="account")
NOTE = a_finding("syringe-short", field="volume")
