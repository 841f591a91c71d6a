"""The policy and the drug library of a case."""

from collections.abc import Mapping
from fractions import Fraction

from app.comparison.case import Bounds, ListedDrug, Policy
from app.comparison.documents import (
    WHOLE,
    Node,
    Quantities,
    find_list,
    find_node,
    find_switch,
    get,
    node,
    refuse,
    text,
)
from app.comparison.fields import LIBRARY_MEASURES, TIME, ZERO_OR_MORE_VOLUME
from app.comparison.readings import folded
from app.dosing import Counting, SetInUse
from app.records.measures import CONCENTRATION, VOLUME

_POLICY_KEYS = frozenset(
    {
        "limit_counts_loading",
        "limit_counts_continuous",
        "carrier_fluids",
        "capnography_required",
        "pulse_oximetry_required",
        "smallest_volume_step",
        "prime_volume",
        "dead_volume",
        "note_if_syringe_shorter_than",
    }
)
_DRUG_KEYS = frozenset({"concentrations", "limit_required", "limits"})
_BOUND_KEYS = ("soft_low", "soft_high", "hard_low", "hard_high")
_ROW_KEYS = frozenset({"field", *_BOUND_KEYS})

_CARRIER_FLUIDS = ("sodium chloride 0.9%",)
_SMALLEST_VOLUME_STEP = Fraction(1, 100)
_NOTE_IF_SHORTER_THAN = Fraction(4 * 60)


def policy(case: Node, quantities: Quantities) -> Policy:
    """The site's rules; what is absent or null has its default."""
    rules = find_node(case, WHOLE, "policy", _POLICY_KEYS) or {}
    counting = Counting(
        loading=_switch(rules, "limit_counts_loading"),
        continuous=_switch(rules, "limit_counts_continuous"),
    )
    fluids = find_list(rules, "policy", "carrier_fluids")
    carrier_fluids = [text(fluid, path) for fluid, path in fluids] if fluids is not None else _CARRIER_FLUIDS
    required = {
        "monitor.capnography": _switch(rules, "capnography_required"),
        "monitor.pulse_oximetry": _switch(rules, "pulse_oximetry_required"),
    }
    step = quantities.find_value(rules, "policy", "smallest_volume_step", VOLUME)
    prime_volume = quantities.find_value(rules, "policy", "prime_volume", ZERO_OR_MORE_VOLUME)
    dead_volume = quantities.find_value(rules, "policy", "dead_volume", VOLUME)
    shorter_than = quantities.find_value(rules, "policy", "note_if_syringe_shorter_than", TIME)
    return Policy(
        in_use=SetInUse(prime_volume=prime_volume or Fraction(0), dead_volume=dead_volume, counting=counting),
        carrier_fluids={folded(fluid): fluid for fluid in carrier_fluids},
        required_monitors=tuple(monitor for monitor, is_required in required.items() if is_required),
        smallest_volume_step=step or _SMALLEST_VOLUME_STEP,
        note_if_syringe_shorter_than=shorter_than or _NOTE_IF_SHORTER_THAN,
    )


def _switch(rules: Node, key: str) -> bool:
    """A rule that is on unless it is switched off."""
    return find_switch(rules, "policy", key) is not False


def library(case: Node, quantities: Quantities) -> Mapping[str, ListedDrug] | None:
    """The drug library by the compared form of each name; None where there is none."""
    drugs = find_node(case, WHOLE, "library", None)
    if drugs is None:
        return None
    listed: dict[str, ListedDrug] = {}
    for name in drugs:
        drug = find_node(drugs, "library", name, _DRUG_KEYS) or {}
        listed.setdefault(folded(name), _drug(drug, f"library.{name}", quantities))
    return listed


def _drug(drug: Node, path: str, quantities: Quantities) -> ListedDrug:
    concentrations = [
        quantities.get(value, here, CONCENTRATION)
        for value, here in find_list(drug, path, "concentrations") or ()
    ]
    limit_required = find_switch(drug, path, "limit_required") or False
    rows = find_list(drug, path, "limits") or ()
    return ListedDrug(
        concentrations={reading.value: reading.typed for reading in concentrations},
        limit_required=limit_required,
        bounds=tuple(_bounds(row, here, quantities) for row, here in rows),
    )


def _bounds(given: object, path: str, quantities: Quantities) -> Bounds:
    row = node(given, path, _ROW_KEYS)
    field = text(get(row, path, "field"), f"{path}.field")
    measure = LIBRARY_MEASURES.get(field)
    if measure is None:
        refuse(f"{path}.field", "unknown-value", f"This must be {' or '.join(LIBRARY_MEASURES)}.")
    bounds = {key: quantities.find_value(row, path, key, measure) for key in _BOUND_KEYS}
    return Bounds(field=field, **bounds)
