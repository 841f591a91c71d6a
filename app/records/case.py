"""From two clinicians' latest readings to the engine's case (format `countersign.case/1`)."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from app.records.field_table import STATES_NONE
from app.records.fields import FIELDS
from app.records.formats import CASE
from app.records.known import Known
from app.records.reading import Answers, used
from app.records.sources import NONE, JudgedBy, Source

_OF_THE_ENGINE = {JudgedBy.ENGINE, JudgedBy.WRISTBAND}
# To the engine a source that says none of these does not give them.
_LEFT_OUT = JudgedBy.NONE_IS_AN_ANSWER


def settings(answers: Mapping[str, str]) -> dict[str, Any]:
    """SETTINGS of the contract, from an order's or a device's answers."""
    made = _given(Source.DEVICE, answers)
    if answers.get("strength") == STATES_NONE:
        made["concentration"] = None
    if "fluid" not in made.get("carrier", {}):
        # A rate without a fluid is no carrier yet.
        made.pop("carrier", None)
    return made


def _given(source: Source, answers: Mapping[str, str]) -> dict[str, Any]:
    """What the engine is told of one source, each field in the place that its name in findings says."""
    counts, made = used(answers), dict[str, Any]()
    for field in FIELDS[source]:
        text = counts.get(field.name)
        if not text or _OF_THE_ENGINE.isdisjoint(field.judged_by) or field.name == "strength":
            continue
        key, _, inside = field.finding.partition(".")
        if text != NONE:
            _put(made, key, inside, text)
        elif _LEFT_OUT not in field.judged_by:
            made[key] = None
    return made


def _put(made: dict[str, Any], key: str, inside: str, text: str) -> None:
    if inside:
        made.setdefault(key, {})[inside] = text
    else:
        made[key] = text


def entry(clinician: str, answers: Answers, read_at: datetime) -> dict[str, Any]:
    """One clinician's entry of a case; `read_at` is when the reading was handed in."""
    return {
        "clinician": clinician,
        "read_at": read_at.isoformat(timespec="seconds"),
        "patient": {},
        **_given(Source.WRISTBAND, answers.get("wristband", {})),
        "order": settings(answers.get("order", {})),
        "label": _given(Source.LABEL, answers.get("label", {})),
        # The contract has the monitor among the device's settings.
        "device": {
            **settings(answers.get("device", {})),
            **_given(Source.MONITOR, answers.get("monitor", {})),
        },
    }


def build_case(
    *,
    entries: tuple[dict[str, Any], dict[str, Any]],
    policy: Mapping[str, Any],
    library: Mapping[str, Any],
    patient: Mapping[str, Any],
    known: Known,
) -> dict[str, Any]:
    """The whole case, in the contract's order of keys; what the infusion does not know is not there.

    `patient` is what both read alike of the patient in the chart.
    """
    told = {"order_of_record": known.order_of_record, "previous": known.previous}
    return {
        "format": CASE.newest,
        "policy": dict(policy),
        "library": dict(library),
        "patient": {**known.patient, **patient},
        **{key: dict(content) for key, content in told.items() if content},
        "entries": list(entries),
    }
