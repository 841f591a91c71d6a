"""What is told of an emergency and of a bolus given by staff: on the time line, and beside a record."""

from collections.abc import Callable, Mapping
from typing import Any

from app.records.bolus_events import BolusLooked, StaffBolusGiven
from app.records.emergency_events import (
    CameBack,
    DeviceDied,
    EvidenceKept,
    EvidenceReceived,
    EvidenceReleased,
    HarmSuspected,
    ItchTreated,
    KeyNotFound,
    LockChanged,
    RestartDecided,
    ReversalGiven,
    SealDiffered,
    ToldAfterwards,
    WentAway,
)
from app.records.evidence import READ
from app.records.sources import NONE
from app.words.emergencies import AWAY_FOR, HARMS, KEYS, OPIOIDS, SEALED, TOLD

Told = Mapping[str, Any]
SEALED_AS_EVIDENCE = "Locked and sealed as evidence."


def sealed_words(data: Told) -> tuple[tuple[str, str], ...]:
    """What was said of device and syringe once they were sealed, each with its label."""
    own = ((label, data.get(name, "")) for name, label in SEALED.items())
    said = ((each, data.get(each.name, "")) for each in READ)
    read = ((each.label, each.none if text == NONE else text) for each, text in said)
    return tuple((label, text) for label, text in (*own, *read) if text)


def within(words: Mapping[str, str], code: str) -> str:
    """The words of a code within a sentence; what is written in capitals stays so."""
    said = words.get(code, code)
    return said if said.isupper() else said.lower()


def seal_read(data: Told) -> tuple[tuple[str, str], ...]:
    """The number that somebody read on a seal, with its label."""
    return (("Number on the seal, as it was read", data["seal"]),) if data["seal"] else ()


def _said(pairs: tuple[tuple[str, str], ...]) -> str:
    return "".join(f" {label}: {text}." for label, text in pairs)


def _looked(data: Told) -> str:
    when = "At the peak of a bolus given by staff" if data["bolus"] else "Before a bolus given by staff"
    seen = (
        f"sedation {data['sedation'] or 'not said'} ({data['scale']}), "
        f"respiratory rate {data['respiratory_rate'] or 'not said'}"
    )
    return f"{when}: {seen}{'' if data['within'] else ', outside the protocol'}."


def _told(data: Told) -> str:
    pairs = tuple((TOLD.get(name, name), text) for name, text in data["told"])
    return f"Told afterwards of entry {data['of']}.{_said(pairs)}"


HURRIED: Mapping[str, Callable[[Told], str]] = {
    ReversalGiven.kind: lambda _: "A reversal agent was given for sedation or breathing.",
    ItchTreated.kind: lambda _: "A reversal agent was given for itch.",
    RestartDecided.kind: lambda data: f"A prescriber decided that PCA goes on: {data['prescriber']}.",
    HarmSuspected.kind: lambda data: f"{HARMS.get(data['what'], 'Harm')}.",
    EvidenceKept.kind: lambda data: f"{SEALED_AS_EVIDENCE}{_said(sealed_words(data))}",
    EvidenceReceived.kind: lambda data: f"Held as evidence, as the holder confirmed.{_said(seal_read(data))}",
    SealDiffered.kind: lambda data: (
        "Another number was read on the seal than was written: nobody has taken it over."
        f"{_said(seal_read(data))}"
    ),
    EvidenceReleased.kind: lambda _: "What was kept was given free by the site's investigator.",
    WentAway.kind: lambda data: f"Away without PCA: {within(AWAY_FOR, data['what'])}.",
    CameBack.kind: lambda data: (
        f"The patient is back. Opioids meanwhile: {within(OPIOIDS, data['opioids'])}."
    ),
    KeyNotFound.kind: lambda data: f"{KEYS.get(data['what'], 'Something')} was not found.",
    LockChanged.kind: lambda _: "Lock, key or code was changed.",
    DeviceDied.kind: lambda _: "Device dead, or power lost.",
    ToldAfterwards.kind: _told,
    BolusLooked.kind: _looked,
    StaffBolusGiven.kind: lambda _: "A bolus was given by staff.",
}
