"""Findings as a comparison keeps them: from the engine's, or a stop of our own; and what each is called."""

from collections.abc import Iterable, Mapping
from dataclasses import replace

from app.comparison import Finding
from app.dosing import number_json
from app.records.canonical import canonical, digest
from app.records.followup import Found, Severity


def kept(finding: Finding) -> Found:
    """A finding of the engine's or of the chart's as it is kept."""
    factor, clinician = number_json(finding.factor), finding.clinician or ""
    about = {"code": finding.code, "field": finding.field, "clinician": clinician, "says": finding.says}
    return Found(
        key=finding_key(readings=finding.readings, **about),
        severity=finding.severity.value,
        readings=dict(finding.readings),
        slip=finding.slip or "",
        factor=factor["shown"] if factor else "",
        origin=finding.origin.value if finding.origin else "",
        group=finding.group.value if finding.group else "",
        reasons=finding.reasons,
        fields=finding.fields,
        **about,
    )


def stop(*, code: str, field: str, readings: Mapping[str, str | None], says: str, origin: str) -> Found:
    """A stop of our own, named like every other."""
    severity = Severity.STOP
    return _own(severity, code=code, field=field, readings=readings, says=says, origin=origin)


def caution(*, code: str, field: str, readings: Mapping[str, str | None], says: str) -> Found:
    """A caution of our own about the patient."""
    severity, group = Severity.CAUTION, "patient"
    return _own(severity, code=code, field=field, readings=readings, says=says, origin="", group=group)


def _own(  # what a finding is
    severity: Severity,
    *,
    code: str,
    field: str,
    readings: Mapping[str, str | None],
    says: str,
    origin: str,
    group: str = "",
) -> Found:
    return Found(
        key=finding_key(code=code, field=field, clinician="", readings=readings, says=says),
        code=code,
        severity=severity.value,
        field=field,
        clinician="",
        readings=dict(readings),
        says=says,
        slip="",
        factor="",
        origin=origin,
        group=group,
    )


def finding_key(
    *, code: str, field: str, clinician: str, readings: Mapping[str, str | None], says: str
) -> str:
    """A name for a finding that stays the same exactly as long as what it is about stays the same.

    What it says belongs to it: the consequence in dose may grow while the field's own readings stand, and
    what was acknowledged or set aside was the smaller one.
    """
    about = {"code": code, "field": field, "clinician": clinician, "readings": dict(readings), "says": says}
    return digest(canonical(about))[:16]


def salted(findings: Iterable[Found], salt: str) -> tuple[Found, ...]:
    """The findings under names that tell nothing where they stand without the comparison, as in the log.

    Plausible readings are few enough to try them all against a digest. Comparisons from before have no salt,
    and the names in them stand.
    """
    if not salt:
        return tuple(findings)
    return tuple(replace(each, key=digest(f"{salt} {each.key}".encode())[:16]) for each in findings)
