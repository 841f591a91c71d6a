"""The kinds of event that make the course of an infusion: what is read of the log to fold it."""

from app.records import events
from app.records.account_events import AccountClosed, AccountLeftOpen
from app.records.answering_events import BreakCovered, BreakOver
from app.records.boluses import OF_BOLUSES
from app.records.change_events import BedChanged, DoseLowered, PatientTaken
from app.records.emergencies import TELLING
from app.records.ending_events import DrugRead, DrugReadApart, EndWithdrawn, InfusionEnded
from app.records.issue_events import IssueSettled, SyringeIssued
from app.records.paper_events import PaperConfirmed, PaperTranscribed
from app.records.ward_events import (
    DrugTakenBack,
    LineLooked,
    LinePaused,
    LineResumed,
    PatientObserved,
    RunsAgainBeside,
)

STARTS = (events.Started.kind, events.StartedWithoutCheck.kind)
# With these a check puts settings in force.
PUT_IN_FORCE = (events.Started.kind, events.CheckDone.kind)
# With these two have read what was taken from another unit.
CHECKED_BY_TWO = (*PUT_IN_FORCE, InfusionEnded.kind)
COURSE = (
    *STARTS,
    events.DeviceStopped.kind,
    events.StopMisplaced.kind,
    events.Signed.kind,
    events.CheckDone.kind,
    InfusionEnded.kind,
    EndWithdrawn.kind,
    events.LedToCheck.kind,
    LinePaused.kind,
    LineLooked.kind,
    LineResumed.kind,
    PatientObserved.kind,
    RunsAgainBeside.kind,
    PaperTranscribed.kind,
    PaperConfirmed.kind,
    DoseLowered.kind,
    BedChanged.kind,
    PatientTaken.kind,
    BreakCovered.kind,
    BreakOver.kind,
    # What of a syringe was taken back belongs to the account.
    DrugRead.kind,
    DrugReadApart.kind,
    DrugTakenBack.kind,
    AccountLeftOpen.kind,
    AccountClosed.kind,
    SyringeIssued.kind,
    IssueSettled.kind,
    *TELLING,
    *OF_BOLUSES,
)
