"""From two clinicians' latest readings to the engine's case (format `countersign.case/1`)."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from app.records.reading import Answers, used
from app.records.sources import NONE, STATES_NONE

FORMAT = "countersign.case/1"

_PLAIN = ("drug", "amount", "volume", "concentration", "mode", "demand_dose", "lockout", "syringe_size")
_LABEL = ("drug", "amount", "volume", "concentration", "lot", "use_by", "code", "syringe_size")


def settings(answers: Mapping[str, str]) -> dict[str, Any]:
    """SETTINGS of the contract, from an order's or a device's answers."""
    given = used(answers)
    made: dict[str, Any] = {key: given[key] for key in _PLAIN if given.get(key)}
    if given.get("strength") == STATES_NONE:
        made["concentration"] = None
    for key in ("continuous_rate", "loading_dose"):
        if given.get(key):
            made[key] = None if given[key] == NONE else given[key]
    made.update(_limit(given))
    if (given.get("carrier_fluid") or NONE) != NONE:
        rate = {"rate": given["carrier_rate"]} if given.get("carrier_rate") else {}
        made["carrier"] = {"fluid": given["carrier_fluid"], **rate}
    return made


def _limit(given: Mapping[str, str]) -> dict[str, Any]:
    if given.get("limit_amount") == NONE:
        return {"limit": None}
    parts = {"amount": given.get("limit_amount"), "window": given.get("limit_window")}
    stated = {key: text for key, text in parts.items() if text}
    return {"limit": stated} if stated else {}


def entry(clinician: str, answers: Answers, read_at: datetime) -> dict[str, Any]:
    """One clinician's entry of a case; `read_at` is when the reading was handed in."""
    wristband = answers.get("wristband", {})
    label = used(answers.get("label", {}))
    monitor = {key: text for key, text in answers.get("monitor", {}).items() if text != NONE}
    device = settings(answers.get("device", {}))
    if monitor:
        device["monitor"] = monitor
    return {
        "clinician": clinician,
        "read_at": read_at.isoformat(timespec="seconds"),
        "patient": {key: wristband[key] for key in ("identifier", "birth_date") if wristband.get(key)},
        "order": settings(answers.get("order", {})),
        "label": {key: label[key] for key in _LABEL if label.get(key, NONE) != NONE},
        "device": device,
    }


def build_case(
    *,
    entries: tuple[dict[str, Any], dict[str, Any]],
    policy: Mapping[str, Any],
    library: Mapping[str, Any],
    patient: Mapping[str, Any],
) -> dict[str, Any]:
    """The whole case, in the contract's order of keys."""
    return {
        "format": FORMAT,
        "policy": dict(policy),
        "library": dict(library),
        "patient": dict(patient),
        "entries": list(entries),
    }
