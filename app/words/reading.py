"""The words of the reading pages: where to look, and what a field means.

No number stands in any of them: an example would tell the reader what to expect.
"""

from app.records.sources import BOTH, CONTINUOUS, DEMAND, Source

GUIDES: dict[Source, str] = {
    Source.WRISTBAND: "At the patient: read the band on the wrist. Ask a patient who can answer.",
    Source.CHART: "In the patient's chart: read it now, not from memory and not from a colleague.",
    Source.ORDER: "From the signed order that is current now.",
    Source.LABEL: "From the syringe in the hand. Read what the label says, not what was ordered.",
    Source.DEVICE: "From the device's own screens at the bedside. Read what is set, not what was ordered.",
    Source.MONITOR: "Read at the patient: what is connected, switched on and set now.",
}

SCAN_HINTS: dict[Source, str] = {
    Source.LABEL: "Scan or paste the code: it fills in lot, use by and code. No scanner: write them below.",
    Source.WRISTBAND: "Scan or paste the code: it fills in the identifier. No scanner: write it below.",
}

# Asked only when another answer of the same source is one of these; `none` is that answer's own box.
_HAS_AMOUNT = ("strength", ("", "amount-in-volume"))
_HAS_DEMAND = ("mode", ("", DEMAND, BOTH))
ONLY_WHEN: dict[str, tuple[str, tuple[str, ...]]] = {
    "amount": _HAS_AMOUNT,
    "volume": _HAS_AMOUNT,
    "concentration": ("strength", ("", "per-millilitre")),
    "demand_dose": _HAS_DEMAND,
    "lockout": _HAS_DEMAND,
    "continuous_rate": ("mode", ("", CONTINUOUS, BOTH)),
    "limit_window": ("limit_amount", ("value",)),
    "carrier_rate": ("carrier_fluid", ("value",)),
}

_HINTS: dict[str, str] = {
    "identifier": "Exactly as printed.",
    "birth_date": "Year-month-day: YYYY-MM-DD.",
    "order_current": "Signed, not stopped, not replaced by a newer one.",
    "other_opioids": "By any route.",
    "neuraxial_opioid": "",
    "strength": "Choose how it is written; then only those fields are asked.",
    "amount": "Only when it is written as an amount in a volume.",
    "volume": "Only when it is written as an amount in a volume.",
    "concentration": "Only when it is written per mL.",
    "demand_dose": "Only when the mode has demand doses.",
    "lockout": "Only when the mode has demand doses.",
    "continuous_rate": "Only when the mode has a continuous part.",
    "limit_amount": "The most that may be given in a stretch of time.",
    "limit_window": "Only when there is a limit.",
    "carrier_rate": "Only when a carrier runs.",
    "use_by": "YYYY-MM-DD; where the label has a time of day, add it after a space.",
    "code": "Only if the label has one. It may be left blank.",
    "syringe_size": "As printed on the barrel.",
    "pack": "The tubing between syringe and patient.",
    "apnea_time": "Apnoea: how long without a breath until it alarms.",
}

_OWN_HINTS: dict[tuple[Source, str], str] = {
    (Source.DEVICE, "syringe_size"): "As the device has it set.",
    (Source.DEVICE, "carrier_fluid"): "What runs beside it, often from a device of its own.",
    (Source.ORDER, "strength"): "Choose how the order writes it; then only those fields are asked.",
}


def field_hint(source: Source, name: str) -> str:
    """What helps to read a field; blank where its label says it all."""
    return _OWN_HINTS.get((source, name)) or _HINTS.get(name, "")
