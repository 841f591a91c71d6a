"""The policy and the drug library of a case."""

import json
from collections.abc import Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache

from app.comparison.case import AlarmBounds, Bounds, ListedDrug, Policy
from app.comparison.documents import (
    WHOLE,
    Node,
    Quantities,
    choice,
    find_choice,
    find_integer,
    find_list,
    find_node,
    find_switch,
    get,
    node,
    refuse,
    text,
)
from app.comparison.fields import LIBRARY_MEASURES, TIME, ZERO_OR_MORE_VOLUME
from app.comparison.findings import CAUTIONS
from app.comparison.readings import Amount, folded
from app.comparison.source_values import ALARMS
from app.dosing import Counting, SetInUse
from app.records.measures import CONCENTRATION, VOLUME, WEIGHT, Measure

_POLICY_KEYS = frozenset(
    {
        "limit_counts_loading",
        "limit_counts_continuous",
        "carrier_fluids",
        "carrier_refused",
        "capnography_required",
        "pulse_oximetry_required",
        "pharmacist_required",
        "chart_patient_required",
        "smallest_volume_step",
        "prime_volume",
        "prime_tolerance",
        "dead_volume",
        "note_if_syringe_shorter_than",
        "note_if_expires_within",
        "alarm_bounds",
        "caution_from_age",
        "caution_below_weight",
        "continuous_at_risk",
        "keypad",
        "raise_to_stop",
    }
)
_ALARM_KEYS = frozenset({"lowest", "highest", "required"})
_DRUG_KEYS = frozenset({"concentrations", "limit_required", "limits"})
_CONCENTRATION_KEYS = frozenset({"is", "tolerant_only"})
_BOUND_KEYS = ("soft_low", "soft_high", "hard_low", "hard_high")
_ROW_KEYS = frozenset({"field", "for", *_BOUND_KEYS})
_FOR = ("tolerant", "not-tolerant")

ALWAYS, WITH_OXYGEN_OR_AT_RISK, NEVER = "always", "with-oxygen-or-at-risk", "never"
_CARRIER_FLUIDS = ("sodium chloride 0.9%",)
_SMALLEST_VOLUME_STEP = Fraction(1, 100)
_NOTE_IF_SHORTER_THAN = Fraction(4 * 60)
_NOTE_IF_EXPIRES_WITHIN = Fraction(8 * 60)
_AGES = range(1, 151)
# More than are in force at once in any installation, over all checks that are looked at.
_VERSIONS = 64
_LINE_SET = "line-set"


def policy(case: Node, quantities: Quantities) -> Policy:
    """The site's rules; what is absent or null has its default."""
    given = find_node(case, WHOLE, "policy", _POLICY_KEYS) or {}
    of_site = {key: value for key, value in given.items() if key not in _OF_THE_SET}
    written = _as_text(of_site)
    if written is None:
        return _with_set(_of_site(of_site, quantities), given, quantities)
    read = _published_policy(written)
    quantities.take_over(read.known)
    return _with_set(read.policy, given, quantities)


# What hangs on the set that a nurse has in hand is read with each case.
_OF_THE_SET = frozenset({"prime_volume", "dead_volume"})


def _with_set(rules: Policy, given: Node, quantities: Quantities) -> Policy:
    prime = quantities.find_value(given, "policy", "prime_volume", ZERO_OR_MORE_VOLUME)
    dead = quantities.find_value(given, "policy", "dead_volume", VOLUME)
    in_use = replace(rules.in_use, prime_volume=prime or Fraction(0), dead_volume=dead)
    tolerance = rules.prime_tolerance
    if prime is None or tolerance is None:
        return replace(rules, in_use=in_use)
    return replace(
        rules,
        in_use=in_use,
        primed_between=(prime - tolerance, prime + tolerance),
        not_set=tuple(each for each in rules.not_set if each != _LINE_SET),
    )


def _of_site(given: Node, quantities: Quantities) -> Policy:
    rules = _Rules(given, quantities)
    counting = Counting(
        loading=rules.is_on("limit_counts_loading"),
        continuous=rules.is_on("limit_counts_continuous"),
    )
    listed, refused = rules.find_texts("carrier_fluids"), rules.find_texts("carrier_refused")
    capnography = rules.find_choice("capnography_required", (ALWAYS, WITH_OXYGEN_OR_AT_RISK, NEVER))
    pulse_oximetry_required = rules.is_on("pulse_oximetry_required")
    pharmacist_required = rules.is_on("pharmacist_required")
    chart_patient_required = rules.is_on("chart_patient_required", default=False)
    step = quantities.find_value(given, "policy", "smallest_volume_step", VOLUME)
    prime_tolerance = quantities.find_value(given, "policy", "prime_tolerance", ZERO_OR_MORE_VOLUME)
    shorter_than = quantities.find_value(given, "policy", "note_if_syringe_shorter_than", TIME)
    expires_within = quantities.find_value(given, "policy", "note_if_expires_within", TIME)
    alarm_bounds = rules.alarm_bounds()
    from_age = find_integer(given, "policy", "caution_from_age", _AGES)
    below_weight = quantities.find_value(given, "policy", "caution_below_weight", WEIGHT)
    at_risk = rules.find_choice("continuous_at_risk", ("stop", "caution"))
    keypad = rules.find_choice("keypad", ("789-on-top", "123-on-top"))
    raise_to_stop = rules.raise_to_stop()
    judged = {
        "alarm-bounds": any(
            each.required or each.lowest is not None or each.highest is not None
            for each in alarm_bounds.values()
        ),
        _LINE_SET: False,
        "age": from_age is not None,
        "weight": below_weight is not None,
    }
    return Policy(
        in_use=SetInUse(prime_volume=Fraction(0), dead_volume=None, counting=counting),
        carrier_fluids={folded(fluid): fluid for fluid in (_CARRIER_FLUIDS if listed is None else listed)},
        carrier_refused=frozenset(folded(fluid) for fluid in refused or ()),
        capnography_required=capnography or WITH_OXYGEN_OR_AT_RISK,
        pulse_oximetry_required=pulse_oximetry_required,
        pharmacist_required=pharmacist_required,
        chart_patient_required=chart_patient_required,
        smallest_volume_step=step or _SMALLEST_VOLUME_STEP,
        prime_tolerance=prime_tolerance,
        primed_between=None,
        note_if_syringe_shorter_than=shorter_than or _NOTE_IF_SHORTER_THAN,
        note_if_expires_within=expires_within or _NOTE_IF_EXPIRES_WITHIN,
        alarm_bounds=alarm_bounds,
        caution_from_age=from_age,
        caution_below_weight=below_weight,
        caution_at_risk=at_risk == "caution",
        one_two_three_on_top=keypad == "123-on-top",
        raise_to_stop=raise_to_stop,
        not_set=tuple(what for what, is_judged in judged.items() if not is_judged),
    )


class _Rules:
    """The policy, while it is read."""

    def __init__(self, given: Node, quantities: Quantities) -> None:
        self.given = given
        self.quantities = quantities

    def is_on(self, key: str, *, default: bool = True) -> bool:
        """A rule that is on or off where nobody says otherwise."""
        value = find_switch(self.given, "policy", key)
        return default if value is None else value

    def find_texts(self, key: str) -> list[str] | None:
        """A list of texts, or absent or null."""
        values = find_list(self.given, "policy", key)
        return None if values is None else [text(value, path) for value, path in values]

    def find_choice(self, key: str, choices: tuple[str, ...]) -> str | None:
        """One of a few texts, or absent or null."""
        return find_choice(self.given, "policy", key, choices)

    def alarm_bounds(self) -> dict[str, AlarmBounds]:
        """The bounds of each alarm that has any."""
        alarms = find_node(self.given, "policy", "alarm_bounds", frozenset(ALARMS)) or {}
        path = "policy.alarm_bounds"
        return {
            alarm: self._bounds_of_alarm(alarms, path, alarm)
            for alarm in ALARMS
            if alarms.get(alarm) is not None
        }

    def _bounds_of_alarm(self, alarms: Node, path: str, alarm: str) -> AlarmBounds:
        given = find_node(alarms, path, alarm, _ALARM_KEYS) or {}
        here = f"{path}.{alarm}"
        lowest, highest = (
            self.quantities.find(given, here, key, ALARMS[alarm]) for key in ("lowest", "highest")
        )
        return AlarmBounds(
            lowest=lowest, highest=highest, required=find_switch(given, here, "required") or False
        )

    def raise_to_stop(self) -> frozenset[str]:
        """The codes of cautions that are stops here."""
        codes = find_list(self.given, "policy", "raise_to_stop") or ()
        return frozenset(choice(code, path, CAUTIONS) for code, path in codes)


def library(case: Node, quantities: Quantities) -> Mapping[str, ListedDrug] | None:
    """The drug library by the compared form of each name; None where there is none."""
    drugs = find_node(case, WHOLE, "library", None)
    if drugs is None:
        return None
    written = _as_text(drugs)
    if written is None:
        return _listed(drugs, quantities)
    read = _published_library(written)
    quantities.take_over(read.known)
    return read.listed


def _as_text(rules: Node) -> str | None:
    """All that published rules say; None of what is no JSON: whoever reads it says what is wrong with it."""
    try:
        return json.dumps(rules)
    except (RecursionError, TypeError, ValueError):
        return None


_Known = Mapping[tuple[Measure, str], Amount]


@dataclass(frozen=True, kw_only=True, slots=True)
class _Policy:
    policy: Policy
    known: _Known


@dataclass(frozen=True, kw_only=True, slots=True)
class _Library:
    listed: Mapping[str, ListedDrug]
    known: _Known


# Told apart by all that they say. A site publishes few, and each case is judged by one of each: read each
# time, they took longer than all that the two had read. Nothing that anybody types stands in them.
@lru_cache(maxsize=_VERSIONS)
def _published_policy(written: str) -> _Policy:
    quantities = Quantities()
    return _Policy(policy=_of_site(json.loads(written), quantities), known=quantities.known)


@lru_cache(maxsize=_VERSIONS)
def _published_library(written: str) -> _Library:
    quantities = Quantities()
    return _Library(listed=_listed(json.loads(written), quantities), known=quantities.known)


def _listed(drugs: Node, quantities: Quantities) -> Mapping[str, ListedDrug]:
    listed: dict[str, ListedDrug] = {}
    for name in drugs:
        drug = find_node(drugs, "library", name, _DRUG_KEYS) or {}
        listed.setdefault(folded(name), _drug(drug, f"library.{name}", quantities))
    return listed


def _drug(drug: Node, path: str, quantities: Quantities) -> ListedDrug:
    listed = [
        _concentration(value, here, quantities)
        for value, here in find_list(drug, path, "concentrations") or ()
    ]
    limit_required = find_switch(drug, path, "limit_required") or False
    rows = find_list(drug, path, "limits") or ()
    return ListedDrug(
        concentrations={reading.value: reading.typed for reading, _ in listed},
        tolerant_only=frozenset(reading.value for reading, only in listed if only),
        limit_required=limit_required,
        bounds=tuple(_bounds(row, here, quantities) for row, here in rows),
    )


def _concentration(value: object, path: str, quantities: Quantities) -> tuple[Amount, bool]:
    """A listed concentration, and whether it is for tolerant patients only."""
    if isinstance(value, str):
        return quantities.get(value, path, CONCENTRATION), False
    row = node(value, path, _CONCENTRATION_KEYS)
    reading = quantities.get(get(row, path, "is"), f"{path}.is", CONCENTRATION)
    return reading, find_switch(row, path, "tolerant_only") or False


def _bounds(given: object, path: str, quantities: Quantities) -> Bounds:
    row = node(given, path, _ROW_KEYS)
    field = text(get(row, path, "field"), f"{path}.field")
    measure = LIBRARY_MEASURES.get(field)
    if measure is None:
        refuse(f"{path}.field", "unknown-value", f"This must be {' or '.join(LIBRARY_MEASURES)}.")
    whom = find_choice(row, path, "for", _FOR)
    bounds = {key: quantities.find_value(row, path, key, measure) for key in _BOUND_KEYS}
    return Bounds(field=field, tolerant=None if whom is None else whom == "tolerant", **bounds)
