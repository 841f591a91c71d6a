"""Whether both clinicians read the wristband, and whether it is the right patient's."""

from app.comparison.case import Case
from app.comparison.findings import SEVERITIES, Finding, Origin
from app.comparison.shown_readings import shown_readings
from app.comparison.wording import by_whom, nurse
from app.records.fields import fields_judged_by
from app.records.sources import JudgedBy

_WORDS = {each.name: each.words for _, each in fields_judged_by(JudgedBy.WRISTBAND)}


def wristband_findings(case: Case) -> list[Finding]:
    """At most one finding each for identifier and birth date."""
    known = {"identifier": case.patient.identifier, "birth_date": case.patient.birth_date}
    found = (_missing(case, key) or _different(case, key, known[key]) for key in _WORDS)
    return [finding for finding in found if finding is not None]


def _missing(case: Case, key: str) -> Finding | None:
    by = [nurse(clinician) for clinician, entry in case.by_clinician().items() if key not in entry.wristband]
    if not by:
        return None
    says = (
        f"On the wristband {_WORDS[key]} was not read by {by_whom(by)}. Make sure who the patient is first."
    )
    return _finding(case, "reading-missing", key, says)


def _different(case: Case, key: str, known: str | None) -> Finding | None:
    first, second = (entry.wristband[key].strip() for entry in case.entries)
    if first != second:
        says = (
            f"The two nurses read {_WORDS[key]} on the wristband differently: {first} and {second}. "
            "Make sure who the patient is before anything else."
        )
        return _finding(case, "patient-differs", key, says)
    if known is not None and known.strip() != first:
        says = (
            f"The wristband does not belong to this infusion's patient: {_WORDS[key]} reads {first}, and "
            f"the infusion was set up for {known.strip()}. Make sure who the patient is before anything else."
        )
        return _finding(case, "patient-differs", key, says)
    return None


def _finding(case: Case, code: str, key: str, says: str) -> Finding:
    field = f"patient.{key}"
    return Finding(
        code=code,
        severity=SEVERITIES[code],
        field=field,
        readings=shown_readings(case, field),
        says=says,
        origin=Origin.READING if code == "reading-missing" else None,
    )
