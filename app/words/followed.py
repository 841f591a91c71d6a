"""The words of what followed a record: how its story ended, and what each entry of the log tells of it."""

from collections.abc import Callable, Mapping
from typing import Any

from app.records import events
from app.records.answering_events import BreakCovered, BreakOver
from app.records.change_events import BedChanged, DoseLowered, PatientTaken
from app.records.ending_events import EndWithdrawn, InfusionEnded
from app.records.paper_events import PaperConfirmed, PaperTranscribed
from app.records.ward_events import (
    DrugTakenBack,
    LineLooked,
    LinePaused,
    LineResumed,
    PatientObserved,
    StartRefused,
)
from app.records.what_followed import Ending
from app.words.checking import abandon_words, outcome_words, put_right_words
from app.words.hurried import HURRIED
from app.words.names import LOWERED_REASONS, STOP_REASONS, listed, named_within, pause_words
from app.words.taken_back import taken_back_words

ENDINGS: dict[Ending, str] = {
    Ending.SUPERSEDED: "This edition of the record no longer counts.",
    Ending.ABANDONED: "The check was given up after its record was frozen.",
    Ending.LED: "The check led to another one.",
    Ending.LAPSED: "Not started: ready to start lapsed.",
    Ending.STARTED_ANEW: "The infusion was started anew: another record stands for what runs.",
    Ending.STOPPED: "The device was stopped, and not started again.",
    Ending.ENDED: "The infusion has ended.",
}

Told = Mapping[str, Any]

_LAPSES = {
    events.ClearanceLapsed.TIME: "the site's time for starting had run out",
    events.ClearanceLapsed.LAST_LOOK_DIFFERS: "a last look differed",
    events.ClearanceLapsed.HAD_TO_START: "the infusion had to start without it",
    events.ClearanceLapsed.PATIENT_TAKEN: "the patient was taken to another unit",
}


def _frozen(_: Told) -> str:
    return "The record was frozen."


def _looked(data: Told) -> str:
    shown = "what was agreed" if data["same"] else "something else than was agreed"
    return f"Last look: the device shows {shown}."


def _lapsed(data: Told) -> str:
    return f"No longer ready to start: {_LAPSES.get(data['why'], 'it was given up')}."


def _read_again(data: Told) -> str:
    right = listed([put_right_words(each) for each in data["touched"]]) if data["touched"] else ""
    if data["outcome"]:
        right = outcome_words(data["outcome"])
    return f"{right or 'Nothing was put right'}: the two read again. {data['why']}".strip()


def _abandoned(data: Told) -> str:
    return f"The check was given up: {abandon_words(data['reason'])}. {data['text']}".strip()


def _stopped(data: Told) -> str:
    why = STOP_REASONS.get(data["why"], "")
    return f"The device was stopped{f': {why}' if why else ''}."


def _line_looked(data: Told) -> str:
    shown = "what is in force" if data["same"] else "something else than is in force"
    seen = f"sedation {data['sedation']} ({data['scale']}), respiratory rate {data['respiratory_rate']}"
    outside = "" if data["within"] else ", outside the protocol"
    return f"Looked before the line ran on: {seen}{outside}; the device shows {shown}."


_REFUSED = {
    StartRefused.SIGNATURE: "The second signature",
    StartRefused.LAST_LOOK: "A last look",
    StartRefused.START: "The start",
}


def _refused(data: Told) -> str:
    return f"{_REFUSED[data['what']]} was refused: PCA ran already for this patient, or at this bed."


def _taken_back(data: Told) -> str:
    """`witness` is a name by now, and `stated_at` in words."""
    words = taken_back_words(data, witness=data["witness"], stated=data["stated_at"], stands=True)
    return f"Drug taken back, written anew: {words}"


def _transcribed(data: Told) -> str:
    again = f", in the place of entry {data['corrects']}" if data["corrects"] else ""
    differing = any(second for *_, second in data["rows"])
    apart = " The two sheets do not say the same everywhere." if differing else ""
    checked = f"{data['first']} and {data['second']}, {data['checked_at']}"
    return f"What was checked on paper by {checked} was typed in{again}: no check by the program.{apart}"


def _confirmed(data: Told) -> str:
    said = "the same" if data["same"] else "not the same"
    return f"Held beside the sheets, what was typed in as entry {data['transcription']} is {said}."


_SAID: dict[str, Callable[[Told], str]] = {
    events.RecordFrozen.kind: _frozen,
    events.Signed.kind: lambda _: "Signed.",
    events.RecordIssued.kind: lambda _: "The record's PDF was made and sealed.",
    events.LastLookTaken.kind: _looked,
    events.ClearanceLapsed.kind: _lapsed,
    events.Started.kind: lambda data: f"Started, after a {named_within(data['check_kind'])}.",
    events.StartedWithoutCheck.kind: lambda data: f"Started without a check. {data['reason']}".strip(),
    events.CheckDone.kind: lambda data: f"Both have signed: the {named_within(data['check_kind'])} is done.",
    InfusionEnded.kind: lambda _: "Both have signed: PCA has ended, and its account is closed.",
    events.LedToCheck.kind: lambda data: f"The check led to a {named_within(data['check_kind'])}.",
    events.NextReadingOpened.kind: _read_again,
    events.Abandoned.kind: _abandoned,
    StartRefused.kind: _refused,
    events.DeviceStopped.kind: _stopped,
    DrugTakenBack.kind: _taken_back,
    LinePaused.kind: lambda data: f"The line was paused: {pause_words(data['why'])}.",
    LineLooked.kind: _line_looked,
    LineResumed.kind: lambda _: "The line ran on.",
    PatientObserved.kind: lambda _: "The patient was observed; what was seen stands in the chart.",
    BedChanged.kind: lambda data: f"Moved from bed {data['before']} to bed {data['bed']}.",
    PatientTaken.kind: lambda data: (
        f"A nurse of another unit took the patient, from bed {data['before']} to bed {data['bed']} there."
    ),
    DoseLowered.kind: lambda data: (
        f"A dose was lowered for safety: {LOWERED_REASONS.get(data['why'], data['why'])}."
    ),
    BreakCovered.kind: lambda _: "A colleague covered a break.",
    BreakOver.kind: lambda _: "The break was over.",
    **HURRIED,
    PaperTranscribed.kind: _transcribed,
    PaperConfirmed.kind: _confirmed,
    EndWithdrawn.kind: lambda data: (
        f"PCA did not end with the stop that is entry {data['stop']}, its author says."
    ),
    events.StopMisplaced.kind: lambda data: (
        f"Entry {data['stop']} was written at the wrong bed, its author says."
    ),
}


def told_words(kind: str, data: Told) -> str:
    """What an entry of the log tells, in a sentence; a kind that is not told is a bug."""
    return _SAID[kind](data)
