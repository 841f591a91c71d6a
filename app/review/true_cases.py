"""What really stands at an invented bed: order, label, device and patient, agreeing with each other.

An error is then made in one of them, and each reader reads what stands there, or what they expect to. In the
words of the engine's contract, so that it judges what they read as it judges any check.
"""

from collections.abc import Mapping
from copy import deepcopy
from dataclasses import dataclass
from typing import Any

from app.records.formats import CASE
from app.review.draws import Draws

Sources = dict[str, Any]
"""What stands in each source, by the key that it has in an entry of a case."""

_READ_AT = "2031-05-02T14:10:00+02:00"
_PATIENT = {"identifier": "INVENTED-0417", "birth_date": "1961-04-09"}
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
_MONITOR = {
    "capnography": "on",
    "pulse_oximetry": "on",
    "low_respiratory_rate": "8 /min",
    "low_spo2": "90 %",
    "high_etco2": "60 mmHg",
    "apnea_time": "30 s",
}


@dataclass(frozen=True, kw_only=True)
class Ordered:
    """One usual order for a patient who has had no opioids; `other` is another strength of the drug."""

    drug: str
    amount: str
    other: str
    demand_dose: str
    lockout: str
    limit: str
    loading_dose: str


# Within what several handbooks have in common (Grass 2005 and Miller, from memory; the Family-medicine
# notebook's PCA page; one hospital's adult order guide): invented orders, never for a patient.
ORDERS = (
    Ordered(
        drug="morphine",
        amount="50 mg",
        other="250 mg",
        demand_dose="1 mg",
        lockout="8 min",
        limit="28 mg",
        loading_dose="2 mg",
    ),
    Ordered(
        drug="morphine",
        amount="50 mg",
        other="250 mg",
        demand_dose="1.5 mg",
        lockout="12 min",
        limit="25 mg",
        loading_dose="3 mg",
    ),
    Ordered(
        drug="HYDROmorphone",
        amount="10 mg",
        other="50 mg",
        demand_dose="0.2 mg",
        lockout="10 min",
        limit="4 mg",
        loading_dose="0.4 mg",
    ),
    Ordered(
        drug="fentaNYL",
        amount="500 mcg",
        other="2500 mcg",
        demand_dose="15 mcg",
        lockout="6 min",
        limit="375 mcg",
        loading_dose="25 mcg",
    ),
)


def draw_ordered(draws: Draws) -> Ordered:
    """One of the orders."""
    return draws.one_of(ORDERS)


def true_sources(ordered: Ordered) -> Sources:
    """Everything as it is ordered."""
    settings = {
        "drug": ordered.drug,
        "amount": ordered.amount,
        "volume": "50 mL",
        "mode": "demand",
        "demand_dose": ordered.demand_dose,
        "lockout": ordered.lockout,
        "continuous_rate": None,
        "limit": {"amount": ordered.limit, "window": "4 h"},
        "loading_dose": ordered.loading_dose,
    }
    label = {
        "patient": {"identifier": _PATIENT["identifier"]},
        "drug": ordered.drug,
        "amount": ordered.amount,
        "volume": "50 mL",
        "use_by": "2031-05-09",
        "syringe_size": "60 mL",
    }
    # Each a copy of its own: an error in one source is in no other.
    return {
        "patient": dict(_PATIENT),
        "chart": dict(_CHART),
        "order": {"patient": dict(_PATIENT), **deepcopy(settings)},
        "label": label,
        "device": {**deepcopy(settings), "monitor": dict(_MONITOR), "syringe_size": "60 mL"},
    }


@dataclass(frozen=True, kw_only=True)
class Against:
    """What a site's engine judges by: its policy and its drug library, in the words of the contract."""

    policy: Mapping[str, Any]
    library: Mapping[str, Any]


def case_of(first: Sources, second: Sources, against: Against) -> dict[str, Any]:
    """The case of two readers, each of whom read so."""
    entries = [
        {"clinician": name, "read_at": _READ_AT, **read} for name, read in (("A", first), ("B", second))
    ]
    return {
        "format": CASE.newest,
        "policy": dict(against.policy),
        "library": dict(against.library),
        "entries": entries,
    }
