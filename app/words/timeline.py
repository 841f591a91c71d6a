"""The words of an infusion's time line: what each kind of event tells there, or why it tells nothing.

A new kind of event is one row, in one of the two tables; a test demands it.
"""

from collections.abc import Callable, Mapping
from typing import Any

from app.quantities import set_off
from app.records import events
from app.records.account_events import AccountClosed, AccountLeftOpen
from app.records.answering_events import BreakCovered, BreakOver
from app.records.change_events import BedChanged, DoseLowered, PatientTaken
from app.records.ending_events import DrugRead, DrugReadApart, EndWithdrawn, InfusionEnded
from app.records.issue_events import IssueSettled, SyringeIssued
from app.records.paper_events import PaperConfirmed, PaperTranscribed
from app.records.review_events import FindingAssigned, FindingClassified, FindingCommented, FindingReviewed
from app.records.taken_back import RETURNED, WASTED
from app.records.training_events import CardSetTaken
from app.records.ward_events import (
    DrugTakenBack,
    LineLooked,
    LinePaused,
    LineResumed,
    PatientObserved,
    RunsAgainBeside,
    StartRefused,
)
from app.words.checking import code_words, outcome_words, why_words
from app.words.followed import told_words
from app.words.hurried import HURRIED
from app.words.issued import issued_words, settled_words
from app.words.names import answer_words, listed, named_within

Told = Mapping[str, Any]
"""An event's own fields; people by name, and times that were stated in words."""


def _as_followed(kind: str) -> Callable[[Told], str]:
    """As it is told beside a record, too."""
    return lambda data: told_words(kind, data)


def _help_settled(data: Told) -> str:
    return f"Help was given: {outcome_words(data['outcome']).lower()}. {data['text']}".strip()


def _set_aside(data: Told) -> str:
    return (
        f"Set aside for this once: {code_words(data['code'])}, {data['reason']}. "
        f"Prescriber: {data['prescriber'] or 'not named'}."
    )


def _observed(data: Told) -> str:
    outside = ", outside the protocol" if data["below"] else ""
    return (
        f"Before the start: sedation {data['sedation']} ({data['scale']}), respiratory rate "
        f"{data['respiratory_rate']}, SpO2 {data['spo2']}{outside}."
    )


def _stopped(data: Told) -> str:
    stated = f" Stated: {data['stopped_at']}." if data["stopped_at"] else ""
    read = f" {data['totals'].strip()}" if data["totals"].strip() else ""
    return f"{told_words(events.DeviceStopped.kind, data)}{stated}{read}"


def _without_check(data: Told) -> str:
    stated = f" Stated: {data['started_at']}." if data["started_at"] else ""
    return f"{told_words(events.StartedWithoutCheck.kind, data)}{stated}"


def _left_open(data: Told) -> str:
    if data.get("drug"):
        return "What went was not witnessed, or not received: it is the charge nurse's to settle."
    return "The account does not add up: it is the charge nurse's to close."


SHOWN: Mapping[str, Callable[[Told], str]] = {
    events.CheckOpened.kind: lambda _: "Opened.",
    CardSetTaken.kind: lambda data: f"Done on the training cards of set {data['number']}.",
    events.RoundVoided.kind: lambda data: (
        "It was put right while they read: they read anew."
        if data["outcome"]
        else "Somebody saw danger while they read: they read anew."
    ),
    events.HelpAsked.kind: lambda data: (
        f"Help was asked for: {why_words(data['why'])}. {data['text']}".strip()
    ),
    events.HelpTaken.kind: lambda data: (
        f"The request for help was taken{' over' if data['turn'] > 1 else ''}."
    ),
    events.HelpSettled.kind: _help_settled,
    events.ExceptionGranted.kind: _set_aside,
    events.BaselineObserved.kind: _observed,
    events.ClearanceLapsed.kind: _as_followed(events.ClearanceLapsed.kind),
    events.Started.kind: lambda _: "Started.",
    events.StartedWithoutCheck.kind: _without_check,
    BedChanged.kind: _as_followed(BedChanged.kind),
    PatientTaken.kind: _as_followed(PatientTaken.kind),
    DoseLowered.kind: _as_followed(DoseLowered.kind),
    BreakCovered.kind: lambda data: (
        f"A break was covered by {data['covers'] or 'a colleague'}, until {data['until']}."
    ),
    BreakOver.kind: _as_followed(BreakOver.kind),
    events.CheckDone.kind: _as_followed(events.CheckDone.kind),
    InfusionEnded.kind: _as_followed(InfusionEnded.kind),
    DrugReadApart.kind: lambda _: "Two read what was to go, and did not agree: both read once more.",
    events.LedToCheck.kind: lambda data: f"It led to a {named_within(data['check_kind'])}.",
    events.Abandoned.kind: _as_followed(events.Abandoned.kind),
    events.DeviceStopped.kind: _stopped,
    EndWithdrawn.kind: lambda _: "PCA did not end with a stop that stands here: it was for something else.",
    events.StopMisplaced.kind: lambda _: (
        "An entry that stands here was written at the wrong bed: it counts not."
    ),
    StartRefused.kind: _as_followed(StartRefused.kind),
    LinePaused.kind: _as_followed(LinePaused.kind),
    LineLooked.kind: _as_followed(LineLooked.kind),
    LineResumed.kind: _as_followed(LineResumed.kind),
    PatientObserved.kind: _as_followed(PatientObserved.kind),
    RunsAgainBeside.kind: lambda _: (
        "A stop was said to be of another bed: by the log this runs, and another too."
    ),
    DrugTakenBack.kind: lambda data: told_words(DrugTakenBack.kind, data).replace(", written anew", ""),
    **HURRIED,
    SyringeIssued.kind: issued_words,
    IssueSettled.kind: settled_words,
    PaperTranscribed.kind: lambda _: "What was checked on paper was typed in: no check by the program.",
    AccountLeftOpen.kind: _left_open,
    AccountClosed.kind: lambda data: f"The account was closed. {data['reason']}",
    PaperConfirmed.kind: lambda data: (
        f"Held beside the sheets, what was typed in is {'the same' if data['same'] else 'not the same'}."
    ),
}

_ON_ITS_PAGE = "part of one check, on whose page it stands"
_OF_A_RECORD = "what becomes of a record stands with the record"
NOT_SHOWN: Mapping[str, str] = {
    events.Joined.kind: "the two of a check are named with what became of it",
    events.HandedIn.kind: "when one of the two handed in is told to nobody while they read",
    events.Compared.kind: _ON_ITS_PAGE,
    events.NextReadingOpened.kind: _ON_ITS_PAGE,
    events.CautionAcknowledged.kind: _ON_ITS_PAGE,
    events.StepsConfirmed.kind: _ON_ITS_PAGE,
    events.LastLookTaken.kind: _ON_ITS_PAGE,
    DrugRead.kind: "what the one read is told to nobody until a witness has read it too",
    events.Signed.kind: "with the second the check is cleared, or done, and that is told",
    **dict.fromkeys(
        (each.kind for each in (FindingReviewed, FindingAssigned, FindingCommented, FindingClassified)),
        "what is done afterwards with a finding stands on the finding's own page",
    ),
    events.RecordFrozen.kind: _OF_A_RECORD,
    events.RecordIssued.kind: _OF_A_RECORD,
    events.WhatFollowedIssued.kind: _OF_A_RECORD,
}


def shown_words(kind: str, data: Told) -> str:
    """What an event tells on the time line; blank where it tells nothing. One in neither table is a bug."""
    return "" if kind in NOT_SHOWN else SHOWN[kind](data)


# What an event put into the account ------------------------------------------------------------------------


def _issued(data: Told) -> str:
    strength = data.get("concentration") or data["amount"]
    return f"Syringe {data['syringe']}: {set_off(strength)}, {data['volume']}."


def _totals(data: Told) -> str:
    shown = data.get("totals") or {}
    parts = [
        *(set_off(shown[name]) for name in ("amount", "volume") if name in shown),
        *(f"{shown[name]:,} {words}" for name, words in _COUNTS if name in shown),
    ]
    return f"totals {listed(parts)}" if parts else ""


_COUNTS = (("presses", "presses"), ("doses", "doses given"))


def _read(data: Told) -> str:
    left = f"{data['left']} left" if "left" in data else ""
    read = ", ".join(filter(None, (_totals(data), left)))
    return f"Read: {read}." if read else ""


def _removed(data: Told) -> str:
    read = _read(data)
    return f"The syringe was taken off. {read}".strip()


def _anew(words: str) -> Callable[[Told], str]:
    return lambda data: f"{words} {_read(data)} Now: {_totals({'totals': data['after']})}."


def _settings(data: Told) -> str:
    given = data.get("limit") or []
    limits = given if isinstance(given, list) else [given]
    parts = [
        answer_words(data["mode"]).lower(),
        *(
            f"{words} {set_off(data[name])}"
            for name, words in (
                ("demand_dose", "each demand"),
                ("lockout", "lockout"),
                ("continuous_rate", "continuous part"),
            )
            if name in data
        ),
        *(f"limit {set_off(each['amount'])} in {each['window']}" for each in limits),
        *(() if limits else ("no limit",)),
    ]
    return f"Settings in force: {', '.join(parts)}."


OF_THE_ACCOUNT: Mapping[str, Callable[[Told], str]] = {
    "issued": _issued,
    "loaded": lambda data: f"Syringe {data['syringe']} is on the device.",
    "primed": lambda data: f"Primed, off the patient: {data['volume']}.",
    "settings": _settings,
    "read": _read,
    "bolus": lambda data: f"{'Loading dose' if data['loading'] else 'Bolus'}: {set_off(data['amount'])}.",
    "cleared": _anew("The totals were cleared."),
    "device": _anew("Another device or line, or this one set up again."),
    "removed": _removed,
}
# The event itself says so.
TOLD_BY_THE_EVENT = frozenset({"started", "paused", WASTED, RETURNED, "kept", "end"})


def account_words(data: Told) -> str:
    """What an entry of the account tells beside its event; blank where the event says it."""
    return "" if data["kind"] in TOLD_BY_THE_EVENT else OF_THE_ACCOUNT[data["kind"]](data)
