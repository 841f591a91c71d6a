"""JSON, or the objects that it stands for -> a case, or the first thing that is wrong with it."""

from collections.abc import Mapping

from app.comparison.case import Case, CaseError, Entry, Patient
from app.comparison.documents import (
    WHOLE,
    Node,
    Quantities,
    RefusedError,
    find_day,
    find_moment_at,
    find_node,
    find_switch,
    find_text,
    get,
    load,
    node,
    refuse,
    text,
)
from app.comparison.moments import Moment
from app.comparison.policy_reader import library, policy
from app.comparison.readings import NO_READINGS, Readings, folded
from app.comparison.source_reader import (
    ORDER,
    ORDER_OF_RECORD,
    PREVIOUS,
    Demands,
    label,
    of_device,
    settings,
)
from app.records.formats import CASE
from app.records.measures import WEIGHT

_CASE_KEYS = frozenset({"format", "policy", "library", "patient", "order_of_record", "previous", "entries"})
_PATIENT_KEYS = frozenset({"identifier", "birth_date", "weight", "opioid_naive"})
_WRISTBAND_KEYS = frozenset({"identifier", "birth_date"})
_ENTRY_KEYS = frozenset({"clinician", "read_at", "patient", "order", "label", "device"})
_CLINICIANS = 2


def read_case(given: object) -> Case | CaseError:
    """The case that a JSON text (str or bytes), or the object that it stands for, describes."""
    try:
        return _case(load(given) if isinstance(given, str | bytes) else given)
    except RefusedError as refused:
        return refused.error


def read_without_library(case: Mapping[str, object]) -> Case | CaseError:
    """The same of a compared case, where what the library lists has no say in what is asked of it."""
    return read_case({**case, "library": None})


def _case(given: object) -> Case:
    """Reads the parts in the order in which CONTRACT.md names them."""
    case = node(given, WHOLE, _CASE_KEYS)
    quantities = Quantities()
    if text(get(case, WHOLE, "format"), "format") != CASE.newest:
        refuse("format", "unknown-format", f"Only {CASE.newest} can be read.")
    site_policy = policy(case, quantities)
    drug_library = library(case, quantities)
    patient = _patient(case, quantities)
    order_of_record = _optional_settings(case, "order_of_record", quantities, ORDER_OF_RECORD)
    previous = _optional_settings(case, "previous", quantities, PREVIOUS)
    first, second = _two_entries(get(case, WHOLE, "entries"))
    device_demands = of_device(site_policy.required_monitors)
    first_entry = _entry(first, "entries[0]", quantities, device_demands, other=None)
    second_entry = _entry(second, "entries[1]", quantities, device_demands, other=first_entry.clinician)
    return Case(
        policy=site_policy,
        library=drug_library,
        patient=patient,
        order_of_record=order_of_record,
        previous=previous,
        entries=(first_entry, second_entry),
    )


def _patient(case: Node, quantities: Quantities) -> Patient:
    known = find_node(case, WHOLE, "patient", _PATIENT_KEYS)
    if known is None:
        return Patient()
    identifier = find_text(known, "patient", "identifier")
    birth_date = find_day(known, "patient", "birth_date")
    weight = quantities.find_value(known, "patient", "weight", WEIGHT)
    opioid_naive = find_switch(known, "patient", "opioid_naive")
    return Patient(identifier=identifier, birth_date=birth_date, weight=weight, opioid_naive=opioid_naive)


def _optional_settings(case: Node, key: str, quantities: Quantities, demands: Demands) -> Readings:
    given = case.get(key)
    return NO_READINGS if given is None else settings(given, key, quantities, demands)


def _two_entries(given: object) -> tuple[object, object]:
    if not isinstance(given, list):
        refuse("entries", "wrong-type", "A list is expected here.")
    if len(given) != _CLINICIANS:
        refuse("entries", "wrong-count", "Exactly two clinicians read.")
    return given[0], given[1]


def _entry(
    given: object, path: str, quantities: Quantities, device_demands: Demands, *, other: str | None
) -> Entry:
    entry = node(given, path, _ENTRY_KEYS)
    clinician = text(get(entry, path, "clinician"), f"{path}.clinician")
    if other is not None and folded(clinician) == folded(other):
        refuse(f"{path}.clinician", "same-clinician", "Two different clinicians must read.")
    read_at = _read_at(entry, path)
    wristband = _wristband(entry, path)
    order = settings(get(entry, path, "order"), f"{path}.order", quantities, ORDER)
    syringe_label = label(get(entry, path, "label"), f"{path}.label", quantities)
    device = settings(get(entry, path, "device"), f"{path}.device", quantities, device_demands)
    return Entry(
        clinician=clinician,
        read_at=read_at,
        wristband=wristband,
        order=order,
        label=syringe_label,
        device=device,
    )


def _read_at(entry: Node, path: str) -> Moment | None:
    found = find_moment_at(entry, path, "read_at")
    if found is None:
        return None
    if found[1].instant is None:
        refuse(f"{path}.read_at", "bad-time", "Write a time as YYYY-MM-DDThh:mm+hh:mm.")
    return found[1]


def _wristband(entry: Node, path: str) -> Mapping[str, str]:
    """What was read from the wristband, by key; what was not read is not there."""
    wristband = find_node(entry, path, "patient", _WRISTBAND_KEYS)
    if wristband is None:
        return {}
    identifier = find_text(wristband, f"{path}.patient", "identifier")
    birth_date = find_day(wristband, f"{path}.patient", "birth_date")
    found = {"identifier": identifier, "birth_date": birth_date}
    return {key: value for key, value in found.items() if value is not None}
