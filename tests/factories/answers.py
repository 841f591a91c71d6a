"""What a nurse reads: a complete set of answers that agrees with itself; a test names only what it is about.

The syringe is a usual one of 6 mg in 30 mL, so that a demand of 0.2 mg is 1 mL (common practice, no source).
Patient and lot are invented; so is the answer to a field that is not named here.
"""

from collections.abc import Callable, Mapping

from app.cli.invented import completed
from app.records.reading import Answers
from app.records.sources import Source

Changes = Mapping[str, str | None]

AWAKE = "0: awake (site sedation scale 0 to 3)"
HARD_TO_WAKE = "3: hard or impossible to wake (site sedation scale 0 to 3)"
_PATIENT = {"identifier": "DM-40417", "birth_date": "1961-04-09"}
_SETTINGS = {
    "drug": "HYDROmorphone",
    "strength": "amount-in-volume",
    "amount": "6 mg",
    "volume": "30 mL",
    "mode": "demand",
    "demand_dose": "0.2 mg",
    "lockout": "10 min",
    "limit_amount": "2 mg",
    "limit_window": "4 h",
    "loading_dose": "none",
    "carrier_fluid": "sodium chloride 0.9%",
    "carrier_rate": "10 mL/h",
}

_SAID: Answers = {
    "wristband": _PATIENT,
    "chart": {
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
        "weight": "82 kg",
    },
    "order": {**_PATIENT, **_SETTINGS},
    "label": {
        "identifier": "DM-40417",
        "drug": "HYDROmorphone",
        "strength": "amount-in-volume",
        "amount": "6 mg",
        "volume": "30 mL",
        "lot": "LOT-7",
        "use_by": "2031-12-31",
        "syringe_size": "30 mL",
        # Asked where a syringe is changed, and kept nowhere else.
        "comes_as": "new",
    },
    "device": {**_SETTINGS, "syringe_size": "30 mL", "pack": "set-150-y"},
    "monitor": {
        "capnography": "on",
        "pulse_oximetry": "on",
        "low_respiratory_rate": "8 /min",
        "low_spo2": "90 %",
        "high_etco2": "60 mmHg",
        "apnea_time": "30 s",
    },
    # Nothing given yet, and the line set of 2.3 mL primed.
    "totals": {
        "total_amount": "0 mg",
        "total_volume": "none",
        "presses": "0",
        "doses": "0",
        "left": "27.7 mL",
    },
    "bedside": {"sedation": AWAKE, "respiratory_rate": "14 /min"},
}

_AGREED: Answers = {source: completed(Source(source), said) for source, said in _SAID.items()}


def as_read(given: Mapping[str, str]) -> Callable[[object], dict[str, str] | str]:
    """What was written in one source, whatever the desk asks for."""
    return lambda _desk: dict(given)


def answers(**changes: Changes) -> Answers:
    """Every source read alike; `device={"lockout": "6 min"}` reads a field otherwise, None leaves it out."""
    return changed(_AGREED, **changes)


def of_patient(identifier: str, read: Answers) -> Answers:
    """A reading of which every source that names the patient names this one."""
    named = {"identifier": identifier}
    return changed(read, **{source: named for source, said in read.items() if "identifier" in said})


def changed(before: Answers, **changes: Changes) -> Answers:
    """A reading with other answers in some sources."""
    made = {source: dict(given) for source, given in before.items()}
    for source, fields in changes.items():
        kept = made.setdefault(Source(source).value, {})
        for name, text in fields.items():
            kept.pop(name, None)
            if text is not None:
                kept[name] = text
    return made


SHORT = answers(totals={"left": "9 mL"})
"""The device says that it gave nothing, and 18.7 mL of the syringe are gone."""
