"""An order as another system sends it, HL7 FHIR R4 MedicationRequest -> what of it is compared, or a refusal.

What is read, what never is, and why a message is refused stands in ORDERS.md.
"""

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from app.records.order_dosage import read_dosage, strength
from app.records.order_json import (
    WHOLE,
    Node,
    RefusedError,
    RefusedMessage,
    find_node,
    find_switch,
    find_text,
    items,
    load,
    node,
    refuse,
    text,
)

ACTIVE = "active"
# Of R4; `revoked` is of other requests, and an order is better ended by it than left as it was.
_ENDED = frozenset(
    {"on-hold", "cancelled", "completed", "entered-in-error", "stopped", "draft", "unknown", "revoked"}
)
_ORDERED = frozenset({"order", "original-order", "reflex-order", "filler-order", "instance-order"})
# Found only where the same letters are the same rule: what FHIR says may change the meaning of all.
_CHANGES_ALL = ("modifierExtension", "implicitRules")


# Lists and objects in each other; no resource comes near it, and their paths could fill the memory.
_DEEPEST = 40


@dataclass(frozen=True, kw_only=True)
class ReadOrder:
    """What a message says of one order; an order that is not active says no more than that.

    `order` is its identifier, `written_at` the message's own version. `settings` are in the words of the
    engine's contract: what is not stated is not there.
    """

    order: str
    written_at: datetime
    status: str
    patient: str = ""
    settings: Mapping[str, Any]

    @property
    def is_active(self) -> bool:
        """Whether it is to be carried out."""
        return self.status == ACTIVE

    def as_data(self) -> dict[str, Any]:
        """As it is kept."""
        return {
            "order": self.order,
            "written_at": self.written_at.isoformat(),
            "status": self.status,
            "patient": self.patient,
            "settings": dict(self.settings),
        }


def read_kept(data: Mapping[str, Any]) -> ReadOrder:
    """What `as_data` wrote."""
    return ReadOrder(**{**data, "written_at": datetime.fromisoformat(data["written_at"])})


def read_order(
    message: bytes, *, drugs: Collection[str], patient_system: str = "", latest: datetime | None = None
) -> ReadOrder | RefusedMessage:
    """What a message says; `drugs` are the library's, `patient_system` is that of the site's wristbands.

    One written after the `latest` moment is refused: nothing that comes later could take its place.
    """
    try:
        return _read(load(message), drugs, patient_system, latest)
    except RefusedError as error:
        return error.refused


def _read(message: Node, drugs: Collection[str], patient_system: str, latest: datetime | None) -> ReadOrder:
    if message.get("resourceType") != WHOLE:
        refuse(WHOLE, "not-a-medication-request")
    for path in _changing(message):
        refuse(path, "cannot-be-understood")
    status = text(message.get("status"), f"{WHOLE}.status")
    if status not in {ACTIVE, *_ENDED}:
        refuse(f"{WHOLE}.status", "unknown-status")
    order, written_at = _identifier(message), _written_at(message, latest)
    if status != ACTIVE:
        # Nothing else of it counts, so nothing else of it can keep it from ending the order.
        return ReadOrder(order=order, written_at=written_at, status=status, settings={})
    intent = message.get("intent")
    if intent is None or text(intent, f"{WHOLE}.intent") not in _ORDERED:
        refuse(f"{WHOLE}.intent", "not-an-order")
    if find_switch(message, WHOLE, "doNotPerform"):
        refuse(f"{WHOLE}.doNotPerform", "not-an-order")
    contained = {
        find_text(each, here, "id"): (each, here) for each, here in items(message, WHOLE, "contained")
    }
    patient = _patient(message, contained, patient_system)
    drug = _drug(message, contained, drugs)
    settings = {**drug, **read_dosage(message, WHOLE)}
    return ReadOrder(order=order, written_at=written_at, status=status, patient=patient, settings=settings)


def _changing(message: Node) -> Iterator[str]:
    """Where something stands that may change what all of it means."""
    left: list[tuple[object, str, int]] = [(message, WHOLE, 0)]
    while left:
        value, path, depth = left.pop()
        if depth > _DEEPEST:
            refuse(WHOLE, "wrong-type")
        if isinstance(value, dict):
            yield from (f"{path}.{key}" for key in _CHANGES_ALL if value.get(key))
            left += [(inside, f"{path}.{key}", depth + 1) for key, inside in value.items()]
        elif isinstance(value, list):
            left += [(inside, f"{path}[{place}]", depth + 1) for place, inside in enumerate(value)]


def _identifier(message: Node) -> str:
    known = [
        (text(each.get("system"), f"{here}.system"), text(each.get("value"), f"{here}.value"))
        for each, here in items(message, WHOLE, "identifier")
    ]
    if len(known) > 1:
        refuse(f"{WHOLE}.identifier", "order-not-known-by-one")
    if known:
        return "|".join(known[0])
    return find_text(message, WHOLE, "id") or refuse(f"{WHOLE}.identifier", "order-not-known-by-one")


def _written_at(message: Node, latest: datetime | None) -> datetime:
    """The version of an order is when it was written last: messages may come in another order."""
    path = f"{WHOLE}.meta.lastUpdated"
    said = text(node(message.get("meta"), f"{WHOLE}.meta").get("lastUpdated"), path)
    try:
        at = datetime.fromisoformat(said)
    except ValueError:
        refuse(path, "bad-time")
    if at.tzinfo is None:
        refuse(path, "bad-time")
    return refuse(path, "ahead-of-clock") if latest and at > latest else at


_Contained = Mapping[str, tuple[Node, str]]


def _referred(reference: Node, path: str, kind: str, contained: _Contained) -> tuple[Node, str] | None:
    """The resource of a kind that is referred to, with its path; None where nothing is referred to."""
    said = find_text(reference, path, "reference")
    if not said:
        return None
    found = contained.get(said.removeprefix("#")) if said.startswith("#") else None
    if found is None or found[0].get("resourceType") != kind:
        refuse(f"{path}.reference", "not-contained")
    return found


def _patient(message: Node, contained: _Contained, system: str) -> str:
    path = f"{WHOLE}.subject"
    subject = node(message.get("subject"), path)
    own = find_node(subject, path, "identifier")
    given = [] if own is None else [(own, f"{path}.identifier")]
    # Where the identifier itself stands there, what is referred to may be elsewhere.
    referred = None if given else _referred(subject, path, "Patient", contained)
    if referred is not None:
        given = items(*referred, "identifier")
    known = {
        text(each.get("value"), f"{here}.value")
        for each, here in given
        if each.get("use") != "old" and (not system or each.get("system") == system)
    }
    if len(known) != 1 or any(each.startswith("*") for each in known):
        refuse(path, "patient-not-known-by-one")
    return known.pop()


def _drug(message: Node, contained: _Contained, drugs: Collection[str]) -> dict[str, str]:
    """The drug by its name in the library, and the concentration where a contained Medication states one."""
    path = WHOLE
    concept, at = find_node(message, path, "medicationCodeableConcept"), f"{path}.medicationCodeableConcept"
    if concept is not None:
        return {"drug": _one_drug([*_named(concept, at, drugs)], at)}
    at = f"{path}.medicationReference"
    reference = node(message.get("medicationReference"), at)
    referred = _referred(reference, at, "Medication", contained)
    if referred is None:
        refuse(at, "not-contained")
    medication, at = referred
    code = find_node(medication, at, "code")
    names = [] if code is None else [*_named(code, f"{at}.code", drugs)]
    strengths = []
    for each, here in items(medication, at, "ingredient"):
        item = find_node(each, here, "itemCodeableConcept")
        named = [] if item is None else [*_named(item, f"{here}.itemCodeableConcept", drugs)]
        if not named and find_switch(each, here, "isActive"):
            refuse(here, "several-drugs")
        if named and "strength" in each:
            strengths.append(strength(each["strength"], f"{here}.strength"))
        names += named
    drug = _one_drug(names, at)
    if len(strengths) > 1:
        refuse(at, "several-drugs")
    return {"drug": drug, **({"concentration": strengths[0]} if strengths else {})}


def _named(concept: Node, path: str, drugs: Collection[str]) -> Iterator[str]:
    """The drugs of the library that a CodeableConcept names, by its text or by the display of a code."""
    known = {each.strip().casefold(): each for each in drugs}
    said = [find_text(concept, path, "text")]
    said += [find_text(each, here, "display") for each, here in items(concept, path, "coding")]
    yield from (known[each.casefold()] for each in said if each.casefold() in known)


def _one_drug(names: list[str], path: str) -> str:
    if len(set(names)) > 1:
        refuse(path, "several-drugs")
    return names[0] if names else refuse(path, "unknown-drug")
