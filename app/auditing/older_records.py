"""What an older record says, beside what is stored: for each older format a frozen list of its facts.

A document is built again byte for byte only in the newest format. What both signed is held by the stored
bytes, their digest, the signatures and the log; here each fact of an older document is compared with the row
or event that it is. A list that has landed is never edited. It reads rows and events, not the fold of today.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any, TypeVar

from app.records import events
from app.records.document import Names
from app.records.kept import PRIMING, SOURCES, Entry, KeptCheck, KeptComparison, KeptReading, Participant
from app.records.rules import LIBRARY, PACKS, POLICY, STEPS, Rules

Kind = TypeVar("Kind", bound=events.Event)


@dataclass(frozen=True, kw_only=True)
class Then:
    """What was stored of a check when one edition of its record was frozen."""

    check: KeptCheck
    edition: int
    entries: tuple[Entry, ...]
    participants: tuple[Participant, ...]
    readings: tuple[KeptReading, ...]
    comparisons: tuple[KeptComparison, ...]
    names: Names
    rules: Rules

    def happened(self, kind: type[Kind]) -> list[tuple[Entry, Kind]]:
        """The entries of this kind with their events, in the log's order."""
        return [(each, each.event) for each in self.entries if isinstance(each.event, kind)]

    def compared(self, subject: str) -> list[KeptComparison]:
        """The comparisons of one subject, in the order of their rounds."""
        its = (each for each in self.comparisons if each.subject == subject)
        return sorted(its, key=lambda each: each.round)


# Where in the document, what it says there, and what is stored.
Fact = tuple[str, Any, Any]


def differing(version: int, document: Mapping[str, Any], then: Then) -> Iterator[str]:
    """Where an older document says something else than is stored."""
    yield from (where for where, said, stored in FACTS[version](document, then) if said != stored)


# Version 1: by whom something was done is said by the name alone.

_LETTERS = {1: "A", 2: "B"}
_NAMES_1 = {
    *("format", "record", "edition", "site", "zone", "check", "clinicians", "rounds", "acknowledgements"),
    *("exceptions", "help", "safety_steps", "baseline", "priming", "versions", "cautions"),
}
_EVERY_SOURCE = ("wristband", "chart", "order", "label", "device", "monitor")


def _facts_of_1(document: Mapping[str, Any], then: Then) -> Iterator[Fact]:
    """All but `cautions`, `part` and `independence`, of which there is no row and no event."""
    check, policy = then.check, then.rules.content(POLICY)
    yield "its names", set(document), _NAMES_1
    yield "format", document["format"], "countersign.record/1"
    yield "record", document["record"], check.id
    yield "edition", document["edition"], then.edition
    yield "site", document["site"], policy["site"]
    yield "zone", document["zone"], policy["zone"]
    place = {"infusion": check.infusion, "unit": then.names.unit, "bed": check.bed}
    opened = {"kind": check.kind, "opened_at": _time(check.opened_at), **place}
    yield "check", document["check"], opened
    people = [_without(each, "part") for each in document["clinicians"]]
    yield "clinicians", people, [_clinician_1(each, then) for each in then.participants]
    yield from _rounds_1(document["rounds"], then)
    yield "acknowledgements", document["acknowledgements"], _acknowledgements_1(then)
    yield "exceptions", document["exceptions"], _exceptions_1(then)
    yield "help", document["help"], _help_1(then)
    yield "safety_steps", document["safety_steps"], _steps_1(then)
    yield "baseline", document["baseline"], _baseline_1(then)
    yield "priming", document["priming"], [_priming_1(each) for each in then.compared(PRIMING)]
    named = {"policy": POLICY, "library": LIBRARY, "packs": PACKS, "safety_steps": STEPS}
    versions = {name: then.rules.content(what)["version"] for name, what in named.items()}
    yield "versions", document["versions"], versions


def _clinician_1(each: Participant, then: Then) -> dict[str, Any]:
    return {
        "letter": _LETTERS[each.slot],
        "person": each.person,
        "printed_name": then.names.people[each.person],
        "staff_number": then.names.staff_numbers[each.person],
    }


def _rounds_1(rounds: Iterable[Mapping[str, Any]], then: Then) -> Iterator[Fact]:
    again = {event.round: (entry, event) for entry, event in then.happened(events.NextReadingOpened)}
    voided = {event.round: event.why or "danger was seen" for _, event in then.happened(events.RoundVoided)}
    compared = {each.round: each for each in then.compared(SOURCES)}
    began = sorted({1, *again, *(number + 1 for number in voided)})
    yield "rounds", [each["round"] for each in rounds], began
    # The first is of every source; one after a voided round is of what that was of.
    asked: dict[str, Any] = {"scope": {source: [] for source in _EVERY_SOURCE}, "touched": []}
    for each in rounds:
        number = each["round"]
        stored: dict[str, Any] = {"round": number, "voided": voided.get(number, "")}
        if number in again:
            entry, event = again[number]
            scope = {source: list(fields) for source, fields in event.scope}
            asked = {"scope": scope, "touched": list(event.touched)}
            if event.touched:
                stored["put_right"] = {**_by_1(entry, then), "why": event.why}
        if number in compared:
            stored |= _compared_1(compared[number], then)
        yield f"rounds[{number}]", _without(each, "independence"), {**stored, **asked}


def _compared_1(kept: KeptComparison, then: Then) -> dict[str, Any]:
    its = (each for each in then.readings if (each.subject, each.round) == (SOURCES, kept.round))
    return {
        "handed_in": {
            _LETTERS[each.slot]: {
                "at": _time(each.handed_in_at),
                "signed_in_at": _time(each.signed_in_at),
                "session": each.session,
                "device": each.device,
            }
            for each in its
        },
        "compared_at": _time(kept.at),
        "readings": kept.opened["answers"],
        "case": kept.opened["case"],
        "versions": kept.opened["versions"],
        "comparison": kept.told,
    }


def _acknowledgements_1(then: Then) -> list[dict[str, Any]]:
    return [
        {
            "clinician": _LETTERS[event.slot],
            "finding": event.finding,
            "reason": event.reason,
            "named": event.named,
            "text": event.text,
            "at": _time(entry.at),
        }
        for entry, event in then.happened(events.CautionAcknowledged)
    ]


def _exceptions_1(then: Then) -> list[dict[str, Any]]:
    return [
        {
            "finding": event.finding,
            "code": event.code,
            "field": event.field,
            "reason": event.reason,
            "prescriber": event.prescriber,
            **_by_1(entry, then),
        }
        for entry, event in then.happened(events.ExceptionGranted)
    ]


def _help_1(then: Then) -> list[dict[str, Any]]:
    taken = {event.help: _name(entry.by, then) for entry, event in then.happened(events.HelpTaken)}
    settled = {event.help: event for _, event in then.happened(events.HelpSettled)}
    return [
        {
            "why": event.why,
            "text": event.text,
            "taken_by": taken.get(event.help, ""),
            "outcome": settled[event.help].outcome if event.help in settled else "",
            "settled": settled[event.help].text if event.help in settled else "",
        }
        for _, event in then.happened(events.HelpAsked)
    ]


def _steps_1(then: Then) -> dict[str, Any]:
    content = then.rules.content(STEPS)
    plan = then.compared(SOURCES)[-1].told["plan"]
    shown = ("id", "group", "do", "verify")
    # Of a step that was confirmed again the last time counts.
    confirmed: dict[str, dict[str, Any]] = {}
    for entry, event in then.happened(events.StepsConfirmed):
        for step in event.steps:
            parts = confirmed.setdefault(step, {})
            parts[event.part] = {"clinician": _LETTERS[event.slot], "at": _time(entry.at)}
    return {
        "plan": plan,
        "version": content["version"],
        "steps": [
            {
                **{name: each[name] for name in shown},
                "entry": each.get("entry", ""),
                **confirmed.get(each["id"], {}),
            }
            for each in content["steps"]
            # One that is only asked after a syringe was replaced stands where it was done.
            if plan in each["plans"] and (each["id"] in confirmed or not each.get("only_if"))
        ],
    }


def _baseline_1(then: Then) -> dict[str, Any] | None:
    seen = then.happened(events.BaselineObserved)
    if not seen:
        return None
    entry, event = seen[-1]
    observed = {name: getattr(event, name) for name in ("scale", "sedation", "respiratory_rate", "spo2")}
    return {**observed, **_by_1(entry, then)}


def _priming_1(each: KeptComparison) -> dict[str, Any]:
    return {
        "judged": each.round,
        **{name: each.opened[name] for name in ("reading", "by", "volume", "against")},
        **{name: each.told[name] for name in ("within", "findings", "primed_drug")},
    }


def _by_1(entry: Entry, then: Then) -> dict[str, str]:
    return {"by": _name(entry.by, then), "at": _time(entry.at)}


def _name(person: str, then: Then) -> str:
    return then.names.people.get(person, person)


def _without(said: Mapping[str, Any], name: str) -> dict[str, Any]:
    return {key: value for key, value in said.items() if key != name}


def _time(at: datetime) -> str:
    return at.isoformat(timespec="seconds")


FACTS: Mapping[int, Callable[[Mapping[str, Any], Then], Iterator[Fact]]] = {1: _facts_of_1}
