"""Cases for the tests: one in which nothing is found, changed where a test is about something."""

import copy
import re
from collections.abc import Mapping
from typing import Any

from app.comparison import CaseError, Result, evaluate, read_case

ABSENT = object()
"""As a change: take the key out."""

_SETTINGS = {
    "drug": "morphine",
    "amount": "50 mg",
    "volume": "50 mL",
    "mode": "demand",
    "demand_dose": "1 mg",
    "lockout": "10 min",
    "continuous_rate": None,
    "limit": None,
    "loading_dose": None,
}
_MONITOR = {"capnography": "on", "pulse_oximetry": "on"}
_PATIENT = {"identifier": "INVENTED-0417", "birth_date": "1961-04-09"}
_LABEL = {
    "patient": {"identifier": "INVENTED-0417"},
    "drug": "morphine",
    "amount": "50 mg",
    "volume": "50 mL",
    "use_by": None,
    "syringe_size": "60 mL",
}
_CHART = {
    "order_current": "yes",
    "pharmacist": "verified",
    "allergy": "none-to-this-drug",
    "opioid_tolerant": "no",
    "other_opioids": "none",
    "sedatives": "none",
    "neuraxial_opioid": "none",
    "able_to_use_button": "yes",
    "sleep_apnea": "none-charted",
    "lung_disease": "none-charted",
    "kidney_or_liver_disease": "none-charted",
    "supplemental_oxygen": "none",
    "weight": "74 kg",
}


def _entry(clinician: str) -> dict[str, Any]:
    return {
        "clinician": clinician,
        "read_at": "2031-05-02T14:10:00+02:00",
        "patient": dict(_PATIENT),
        "chart": dict(_CHART),
        "order": {"patient": dict(_PATIENT), **_SETTINGS},
        "label": copy.deepcopy(_LABEL),
        "device": {**_SETTINGS, "monitor": dict(_MONITOR), "syringe_size": "60 mL"},
    }


def case_with(changes: Mapping[str, object] | None = None) -> dict[str, Any]:
    """A case in which nothing is found, with changes such as `AB.device.lockout` or `policy.dead_volume`.

    A and B are the two entries, AB is both; `settings` is order and device, `all` is these and the label.
    """
    case: dict[str, Any] = {"format": "countersign.case/2", "entries": [_entry("first"), _entry("second")]}
    for path, value in (changes or {}).items():
        for keys in _places(path):
            _put(case, keys, value)
    return case


def _places(path: str) -> list[list[str]]:
    head, _, rest = path.partition(".")
    if head not in {"A", "B", "AB"}:
        return [path.split(".")]
    source, _, inside = rest.partition(".")
    sources = {"settings": ("order", "device"), "all": ("order", "label", "device")}.get(source, (source,))
    places = {"A": "0", "B": "1"}
    return [
        ["entries", places[clinician], each, *(inside.split(".") if inside else ())]
        for clinician in head
        for each in sources
    ]


def _put(case: dict[str, Any], keys: list[str], value: object) -> None:
    here: Any = case
    for key in keys[:-1]:
        here = here[int(key)] if isinstance(here, list) else here.setdefault(key, {})
    if value is ABSENT:
        here.pop(keys[-1], None)
    else:
        here[keys[-1]] = copy.deepcopy(value)


def result_of(changes: Mapping[str, object] | None = None) -> Result:
    """The result of such a case."""
    case = read_case(case_with(changes))
    assert not isinstance(case, CaseError), case
    return evaluate(case)


def error_of(changes: Mapping[str, object]) -> tuple[str, str]:
    """Path and code of the error that such a case is refused with."""
    refused = read_case(case_with(changes))
    assert isinstance(refused, CaseError), "the case was read"
    return refused.path, refused.code


def found(result: Result) -> list[str]:
    """The findings in short, as `stop device-differs lockout`; with A or B where only that one shows it."""
    return [
        " ".join(filter(None, (finding.severity, finding.code, finding.field, finding.clinician)))
        for finding in result.findings
    ]


def put_at(case: dict[str, Any], path: str, value: object) -> dict[str, Any]:
    """A copy of a case with a value at a path such as `entries[0].order.limit`; ABSENT takes the key out."""
    changed = copy.deepcopy(case)
    keys = [key for key in re.split(r"[.\[\]]+", path) if key]
    _put(changed, keys, value)
    return changed
