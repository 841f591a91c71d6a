"""The words that people read for what is stored as a name or a code; the trade's own, or plain English."""

import re

from app.records.kept import FIRST

FIELDS: dict[str, str] = {
    "identifier": "Patient identifier",
    "birth_date": "Date of birth",
    "order_current": "Order is current and signed",
    "pharmacist": "Verified by a pharmacist",
    "allergy": "Allergy to this drug",
    "opioid_tolerant": "Opioid-tolerant by the site's definition",
    "other_opioids": "Other opioids charted, patches included",
    "sedatives": "Sedatives charted",
    "neuraxial_opioid": "Epidural or spinal opioid in the last 24\N{NO-BREAK SPACE}h",
    "able_to_use_button": "Patient able to use the button",
    "weight": "Weight",
    "drug": "Drug",
    "strength": "Strength is written as",
    "amount": "Amount of drug in the syringe",
    "volume": "Volume of the syringe's content",
    "concentration": "Concentration",
    "mode": "Mode",
    "demand_dose": "Demand dose",
    "lockout": "Lockout",
    "continuous_rate": "Continuous rate",
    "limit_amount": "Limit",
    "limit_window": "Limit applies to each",
    "loading_dose": "Loading dose",
    "carrier_fluid": "Carrier fluid",
    "carrier_rate": "Carrier rate",
    "syringe_size": "Syringe size",
    "pack": "Line set in use",
    "lot": "Lot",
    "use_by": "Use by",
    "code": "Code on the label",
    "capnography": "Capnography",
    "pulse_oximetry": "Pulse oximetry",
    "low_respiratory_rate": "Low respiratory rate alarm",
    "low_spo2": "Low SpO2 alarm",
    "high_etco2": "High end-tidal CO2 alarm",
    "apnea_time": "No-breath time alarm",
}

SOURCES: dict[str, str] = {
    "wristband": "Wristband",
    "chart": "Chart",
    "order": "Order",
    "label": "Label",
    "device": "Device",
    "monitor": "Monitor",
}

ANSWERS: dict[str, str] = {
    "yes": "Yes",
    "no": "No",
    "unknown": "Unknown",
    "on": "On",
    "off": "Off",
    "none": "None",
    "charted": "Charted",
    "none-charted": "None charted",
    "not-recorded": "Allergies are not recorded",
    "not-charted": "Not charted",
    "within-24-h": "Yes, within 24 h",
    "verified": "Verified",
    "not-yet": "Not yet",
    "urgent-exception": "Not yet: marked as an urgent exception",
    "demand": "Demand only",
    "continuous": "Continuous only",
    "demand-and-continuous": "Demand and continuous",
    "amount-in-volume": "Amount in a volume, such as mg in mL",
    "per-millilitre": "Per mL",
    "states-none": "The order states no concentration",
}

SEVERITIES: dict[str, str] = {
    "stop": "DO NOT START",
    "caution": "CONSIDER",
    "note": "FOR INFORMATION",
}

_FINDING_FIELDS: dict[str, str] = {
    "patient.identifier": "identifier",
    "patient.birth_date": "birth_date",
    "limit.amount": "limit_amount",
    "limit.window": "limit_window",
    "carrier.fluid": "carrier_fluid",
    "carrier.rate": "carrier_rate",
}


def field_words(name: str) -> str:
    """The label of a field."""
    return FIELDS[name]


def source_words(name: str) -> str:
    """The name of a source."""
    return SOURCES[name]


def answer_words(text: str) -> str:
    """An answer for people: a choice in words, a quantity or a name as it was typed."""
    return ANSWERS.get(text, text)


def severity_words(severity: str) -> str:
    """The heading of a finding."""
    return SEVERITIES[severity]


def finding_field_words(field: str) -> str:
    """The label of the field that a finding is about."""
    if field in ("amount_per_hour", "amount_per_4_hours"):
        return "Most in 1 h" if field == "amount_per_hour" else "Most in 4 h"
    name = _FINDING_FIELDS.get(field) or field.removeprefix("chart.").removeprefix("monitor.")
    return FIELDS[name]


_BEFORE_A_UNIT = re.compile(r"(?<=[0-9]) (?=(?:mg|mcg|mL|min|h|s|kg|mmHg|/min|%)(?![A-Za-z]))")


def unbroken(text: str) -> str:
    """A sentence in which no line break parts a number from its unit."""
    return _BEFORE_A_UNIT.sub("\N{NO-BREAK SPACE}", text)


def part_words(slot: int) -> str:
    """First or second nurse."""
    return "first nurse" if slot == FIRST else "second nurse"


_NONE: dict[str, str] = {
    "weight": "Not charted",
    "continuous_rate": "No continuous rate",
    "limit_amount": "No limit",
    "loading_dose": "No loading dose",
    "carrier_fluid": "No carrier",
    "lot": "None on the label",
    "use_by": "None on the label",
}


def none_words(field: str) -> str:
    """How *none* is said of a field: an answer of its own, never a blank."""
    return _NONE.get(field, "None set")


KINDS: dict[str, str] = {"set-up": "Set-up"}


def kind_words(kind: str) -> str:
    """What kind of check it is."""
    return KINDS[kind]


STOP_REASONS: dict[str, str] = {
    "sedation-or-breathing": "Sedation or breathing",
    "wrong-setting-or-drug": "Wrong setting or drug",
    "line-or-site": "Line or site",
    "device-alarm-or-fault": "Device alarm or fault",
    "end-of-therapy": "End of therapy",
    "other": "Other",
}

ROLES: dict[str, str] = {
    "nurse": "Nurse",
    "charge-nurse": "Charge nurse",
    "pharmacist": "Pharmacist",
    "quality": "Quality",
    "administrator": "Administrator",
}
