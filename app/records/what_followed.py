"""What followed a record: a document beside it, of what happened from its freezing to the end of its story.

It is no edition: it supersedes nothing, changes nothing that was signed, and nobody signs it. Each event in
it says its position in the log, so that each can be held against its entry there.
"""

import json
from collections.abc import Iterable, Mapping
from datetime import datetime, timedelta
from enum import StrEnum
from typing import Any

from app.records import events
from app.records.answering_events import BreakCovered, BreakOver
from app.records.boluses import OF_BOLUSES
from app.records.change_events import BedChanged, DoseLowered, PatientTaken
from app.records.document import Names
from app.records.emergencies import TELLING
from app.records.ending_events import EndWithdrawn
from app.records.event_kinds import KINDS
from app.records.formats import WHAT_FOLLOWED
from app.records.infusion import InfusionState
from app.records.kept import A, Entry, FrozenRecord, KeptCheck
from app.records.paper_events import PaperConfirmed, PaperTranscribed
from app.records.state import CheckState
from app.records.ward_events import (
    DrugTakenBack,
    LineLooked,
    LinePaused,
    LineResumed,
    PatientObserved,
    StartRefused,
)
from app.records.written import as_data

# After this nobody comes back to a clearance that lapsed, or to a stopped device; common practice, no source.
LEFT_FOR = timedelta(hours=12)
# So long whoever wrote down the end may still say that it was another bed, and who wrote down what was taken
# back may put it right; the same.
TO_CORRECT = timedelta(hours=1)

SAYS = (
    "This is not the record and no edition of it: it supersedes nothing and changes nothing that was signed.",
    "The site sealed it, and nobody signed it.",
    "It tells, once, what the log has from the freezing of the record to the end of its story.",
    "What was written down later stands in the log alone.",
)


class Ending(StrEnum):
    """How the story of one edition of a record ended."""

    SUPERSEDED = "superseded"
    ABANDONED = "abandoned"
    LED = "led"
    LAPSED = "lapsed"
    STARTED_ANEW = "started-anew"
    STOPPED = "stopped"
    ENDED = "ended"


# What is told of what happened to the check itself; of its infusion, whichever check it was written at.
_OF_THE_CHECK = (
    events.RecordFrozen,
    events.Signed,
    events.RecordIssued,
    events.LastLookTaken,
    events.ClearanceLapsed,
    events.NextReadingOpened,
    events.LedToCheck,
    events.Abandoned,
    StartRefused,
    DrugTakenBack,
)
_OF_THE_INFUSION: tuple[type[events.Event], ...] = (
    events.Started,
    events.StartedWithoutCheck,
    events.CheckDone,
    events.DeviceStopped,
    events.StopMisplaced,
    EndWithdrawn,
    LinePaused,
    LineLooked,
    LineResumed,
    PatientObserved,
    *(KINDS[each] for each in (*TELLING, *OF_BOLUSES)),
    PaperTranscribed,
    PaperConfirmed,
    DoseLowered,
    BedChanged,
    PatientTaken,
    BreakCovered,
    BreakOver,
)


def find_ending(state: CheckState, infusion: InfusionState, *, edition: int) -> Ending | None:
    """How the story of an edition ended; None while it goes on, and while an end may still be put right."""
    if state.edition != edition or not state.frozen_digest:
        return Ending.SUPERSEDED
    if state.abandoned_at is not None:
        may_change = bool(state.taken_back) and state.now - state.abandoned_at < TO_CORRECT
        return None if may_change else Ending.ABANDONED
    if state.led_to:
        return Ending.LED
    in_force_since = state.started_at or state.done_at
    if in_force_since is not None:
        return _ending_of_what_ran(infusion, since=in_force_since, now=state.now)
    left_alone = state.cleared_at is not None and state.now - state.cleared_at >= LEFT_FOR
    return Ending.LAPSED if left_alone and state.lapse else None


def _ending_of_what_ran(infusion: InfusionState, *, since: datetime, now: datetime) -> Ending | None:
    if any(run.since > since for run in infusion.runs):
        return Ending.STARTED_ANEW
    if infusion.ended_at is not None:
        return Ending.ENDED if now - infusion.ended_at >= TO_CORRECT else None
    stopped_at = infusion.last_run.stopped_at if infusion.last_run else None
    return Ending.STOPPED if stopped_at is not None and now - stopped_at >= LEFT_FOR else None


def told_of(entries: Iterable[Entry], frozen: FrozenRecord) -> tuple[Entry, ...]:
    """What tells what followed, from the freezing on, of the entries of check and infusion."""
    told: list[Entry] = []
    for each in entries:
        of_edition = not isinstance(each.event, events.RecordFrozen) or each.event.edition == frozen.edition
        of_check = each.check == frozen.check and isinstance(each.event, _OF_THE_CHECK) and of_edition
        of_infusion = isinstance(each.event, _OF_THE_INFUSION) or (
            isinstance(each.event, DrugTakenBack) and not each.check
        )
        if (told and (of_check or of_infusion)) or (of_check and isinstance(each.event, events.RecordFrozen)):
            told.append(each)
    return tuple(told)


def build_what_followed(
    check: KeptCheck,
    frozen: FrozenRecord,
    told: Iterable[Entry],
    ending: Ending,
    *,
    until: int,
    names: Names,
    says: Iterable[str] = SAYS,
) -> dict[str, Any]:
    """What followed one edition of a record, up to an entry of the log; `says` are no facts."""
    record, entries = frozen.told, tuple(told)
    return {
        "format": WHAT_FOLLOWED.newest,
        "record": frozen.check,
        "edition": frozen.edition,
        "follows": frozen.digest,
        "site": record["site"],
        "zone": record["zone"],
        "invented": record.get("invented", False),
        "check": {
            "kind": check.kind,
            "infusion": check.infusion,
            "unit": names.unit,
            "unit_id": check.unit,
            "bed": check.bed,
        },
        "patient": patient_in(record),
        "log": {"from": entries[0].position, "until": until},
        "ended": {"how": ending.value},
        "entries": [{**as_told(each), "by": _name(each, names), **_witness(each, names)} for each in entries],
        "says": list(says),
    }


def who_did(entry: Entry) -> str:
    """Whose act it was: whoever is in charge may have said since to which bed somebody's stop belongs."""
    return (isinstance(entry.event, events.DeviceStopped) and entry.event.author) or entry.by


def _name(entry: Entry, names: Names) -> str:
    person = who_did(entry)
    return names.people.get(person, person)


def _witness(entry: Entry, names: Names) -> dict[str, str]:
    if not isinstance(entry.event, DrugTakenBack):
        return {}
    return {"witness": names.people.get(entry.event.witness, entry.event.witness)}


def as_told(entry: Entry) -> dict[str, Any]:
    """What the document says of one entry, but for the name of whoever it was.

    As it stands in the log: an earlier version may have written it without a field that its kind has since.
    """
    written = json.loads(entry.canonical)["data"] if entry.canonical else _as_json(as_data(entry.event))
    return {
        "position": entry.position,
        "at": _time(entry.at),
        "person": entry.by,
        "check": entry.check,
        "kind": entry.event.kind,
        "data": written,
    }


def as_read(written: Mapping[str, Any]) -> dict[str, Any]:
    """The same of an entry as it is written in the log."""
    return {
        "position": written["position"],
        "at": _time(datetime.fromisoformat(written["at"])),
        "person": written["by"],
        "check": written["check"],
        "kind": written["kind"],
        "data": written["data"],
    }


def _as_json(value: Any) -> Any:  # noqa: ANN401  # any JSON value
    """As it is read back: JSON has no tuples."""
    if isinstance(value, Mapping):
        return {name: _as_json(each) for name, each in value.items()}
    return [_as_json(each) for each in value] if isinstance(value, tuple) else value


def patient_in(record: Mapping[str, Any]) -> dict[str, str]:
    """Whose record it is, as both read it at the wristband, or as the infusion knew before."""
    compared = [each for each in record["rounds"] if "comparison" in each]
    last = compared[-1]
    read = last["readings"][A].get("wristband") or last["case"].get("patient") or {}
    return {name: read.get(name, "") for name in ("identifier", "birth_date")}


def _time(at: datetime) -> str:
    return at.isoformat(timespec="seconds")
