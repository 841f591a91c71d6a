"""The state of an infusion: what its log entries, those of its checks among them, add up to.

It holds no value that was read and no word that somebody wrote, and so may stand beside a check whose two
read blind. What the settings in force are, the comparison of the check that put them in force says: known.py.
"""

# ruff: noqa: ARG001  # each of them takes the event, its entry and the sum, whichever it needs

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from datetime import datetime
from functools import singledispatch

from app.records import events
from app.records.account_events import AccountClosed, AccountLeftOpen
from app.records.answering import Cover
from app.records.answering_events import BreakCovered, BreakOver
from app.records.boluses import NO_BOLUS, Boluses, after_bolus
from app.records.change_events import DoseLowered, PatientTaken
from app.records.emergencies import NOTHING_STANDS, Emergencies, after
from app.records.ending_events import EndWithdrawn, InfusionEnded
from app.records.events import Event
from app.records.infusion_state import InfusionState, LeftOpen, Run
from app.records.kept import FIRST, SECOND, Entry
from app.records.kinds import kind_named
from app.records.on_paper import Transcription
from app.records.paper_events import PaperConfirmed, PaperTranscribed
from app.records.pauses import LineLook, Pause
from app.records.transfers import Transfer
from app.records.ward_events import LineLooked, LinePaused, LineResumed, RunsAgainBeside

__all__ = ["InfusionState", "Run", "fold_infusion", "misplaced_stops"]


@dataclass(kw_only=True)
class _Sum:
    """What has added up so far; only this module changes it."""

    runs: list[Run] = field(default_factory=list)
    in_force: str = ""
    signed: set[tuple[str, int, int]] = field(default_factory=set)
    signed_by: dict[tuple[str, int], str] = field(default_factory=dict)
    responsible: str = ""
    responsible_since: datetime | None = None
    cover: Cover | None = None
    left_open: tuple[LeftOpen, ...] = ()
    ever_checked: bool = False
    unchecked_since: datetime | None = None
    ended_at: datetime | None = None
    ended_by: set[str] = field(default_factory=set)
    led_to: str = ""
    pause: Pause | None = None
    beside: frozenset[str] = frozenset()
    transcriptions: tuple[Transcription, ...] = ()
    lowered_at: datetime | None = None
    closed_at: datetime | None = None
    emergencies: Emergencies = NOTHING_STANDS
    boluses: Boluses = NO_BOLUS
    transfer: Transfer | None = None


def fold_infusion(infusion: str, entries: Iterable[Entry]) -> InfusionState:
    """The state of one infusion, from its entries in the log's order, as far as they are given."""
    total, told = _Sum(), tuple(entries)
    misplaced = misplaced_stops(told)
    for entry in told:
        # Where it was written at the wrong bed, nothing was stopped or lost here.
        if str(entry.position) not in misplaced:
            _apply(entry.event, entry, total)
            total.emergencies = after(total.emergencies, entry)
            total.boluses = after_bolus(total.boluses, entry, in_force=total.in_force)
    return InfusionState(
        infusion=infusion,
        runs=tuple(total.runs),
        in_force=total.in_force,
        ever_checked=total.ever_checked,
        unchecked_since=total.unchecked_since,
        ended_at=total.ended_at,
        # What is over is put right by no check any more, unless it is said not to be over.
        led_to=total.led_to if total.ended_at is None else "",
        pause=total.pause,
        beside=total.beside,
        transcriptions=total.transcriptions,
        lowered_at=total.lowered_at,
        responsible=total.responsible,
        responsible_since=total.responsible_since,
        cover=total.cover,
        all_left_open=total.left_open,
        closed_at=total.closed_at,
        emergencies=total.emergencies,
        boluses=total.boluses,
        transfer=total.transfer,
    )


def misplaced_stops(entries: Iterable[Entry]) -> frozenset[str]:
    """The positions of what its author says was written at the wrong bed: a stop, or what else in a hurry."""
    return frozenset(each.event.stop for each in entries if isinstance(each.event, events.StopMisplaced))


@singledispatch
def _apply(event: Event, entry: Entry, total: _Sum) -> None:
    """Events that say nothing of an infusion's course leave it as it is."""


@_apply.register
def _signed(event: events.Signed, entry: Entry, total: _Sum) -> None:
    total.signed.add((entry.check, event.edition, event.slot))
    total.signed_by[entry.check, event.slot] = entry.by
    if all((entry.check, event.edition, slot) in total.signed for slot in (FIRST, SECOND)):
        total.ever_checked, total.unchecked_since = True, None


@_apply.register
def _done(event: events.CheckDone, entry: Entry, total: _Sum) -> None:
    kind = kind_named(event.check_kind)
    total.transfer = None
    if kind.puts_in_force:
        # What was lowered before is what two have read now.
        total.in_force, total.lowered_at = entry.check, None
    if kind.responsible is not None:
        _passes(entry, total, to=total.signed_by[entry.check, kind.responsible])


@_apply.register
def _ended(event: InfusionEnded, entry: Entry, total: _Sum) -> None:
    # What was in force stays: the check of the end reads no settings.
    _stands(entry, total)
    total.ended_at = total.ended_at or entry.at
    total.closed_at, total.led_to, total.transfer = entry.at, "", None


@_apply.register
def _started(event: events.Started, entry: Entry, total: _Sum) -> None:
    total.in_force, total.transfer = entry.check, None
    _run(entry, total, check=entry.check)


@_apply.register
def _started_without_check(event: events.StartedWithoutCheck, entry: Entry, total: _Sum) -> None:
    if total.unchecked_since is None or total.runs[-1].stopped_at is not None:
        total.transcriptions = ()  # no sheet is of a run after a stop
    total.unchecked_since = total.unchecked_since or entry.at
    _run(entry, total, check="")


@_apply.register
def _led(event: events.LedToCheck, entry: Entry, total: _Sum) -> None:
    total.led_to = event.check_kind


def _run(entry: Entry, total: _Sum, *, check: str) -> None:
    total.runs.append(Run(since=entry.at, check=check))
    total.ended_at, total.closed_at, total.led_to = None, None, ""
    total.ended_by.clear()
    total.pause, total.lowered_at = None, None
    _passes(entry, total, to=entry.by)


def _passes(entry: Entry, total: _Sum, *, to: str) -> None:
    """Another answers for it from here on; no break of whoever did before is covered any more."""
    total.responsible, total.responsible_since, total.cover = to, entry.at, None


@_apply.register
def _taken(event: PatientTaken, entry: Entry, total: _Sum) -> None:
    total.transfer = Transfer(
        at=entry.at,
        by=entry.by,
        sender=total.responsible,
        before_unit=event.before_unit,
        before=event.before,
    )
    _passes(entry, total, to=entry.by)


@_apply.register
def _covered(event: BreakCovered, entry: Entry, total: _Sum) -> None:
    until = datetime.fromisoformat(event.until)
    total.cover = Cover(position=entry.position, since=entry.at, covers=event.covers, until=until)


@_apply.register
def _back(event: BreakOver, entry: Entry, total: _Sum) -> None:
    if total.cover is not None and event.cover == str(total.cover.position):
        total.cover = None


@_apply.register
def _lowered(event: DoseLowered, entry: Entry, total: _Sum) -> None:
    # Lowered again, it is checked no later for that.
    total.lowered_at = total.lowered_at or entry.at


@_apply.register
def _stopped(event: events.DeviceStopped, entry: Entry, total: _Sum) -> None:
    _stands(entry, total)
    if event.why == events.END_OF_THERAPY:
        total.ended_at = entry.at
        total.ended_by.add(str(entry.position))


@_apply.register
def _not_over(event: EndWithdrawn, entry: Entry, total: _Sum) -> None:
    total.ended_by.discard(event.stop)
    if not total.ended_by and total.closed_at is None:
        total.ended_at = None


def _stands(entry: Entry, total: _Sum) -> None:
    if total.runs and total.runs[-1].stopped_at is None:
        total.runs[-1] = replace(total.runs[-1], stopped_at=entry.at)
        total.pause, total.beside = None, frozenset()


@_apply.register
def _runs_again(event: RunsAgainBeside, entry: Entry, total: _Sum) -> None:
    total.beside |= {event.beside}


@_apply.register
def _paused(event: LinePaused, entry: Entry, total: _Sum) -> None:
    if total.runs and total.runs[-1].stopped_at is None and total.pause is None:
        total.pause = Pause(position=entry.position, at=entry.at, by=entry.by, why=event.why)


@_apply.register
def _looked(event: LineLooked, entry: Entry, total: _Sum) -> None:
    if total.pause is not None and event.pause == str(total.pause.position) and event.within and event.same:
        look = LineLook(by=entry.by, at=entry.at)
        total.pause = replace(total.pause, looks=(*total.pause.looks, look))


@_apply.register
def _resumed(event: LineResumed, entry: Entry, total: _Sum) -> None:
    if total.pause is not None and event.pause == str(total.pause.position):
        total.pause = None


@_apply.register
def _transcribed(event: PaperTranscribed, entry: Entry, total: _Sum) -> None:
    typed = Transcription(position=entry.position, at=entry.at, by=entry.by, session=entry.session)
    total.transcriptions = (*total.transcriptions, typed)


@_apply.register
def _confirmed(event: PaperConfirmed, entry: Entry, total: _Sum) -> None:
    total.transcriptions = tuple(
        replace(each, answered_by=entry.by, answered_at=entry.at, same=event.same)
        if event.transcription == str(each.position) and each.may_be_answered(entry.by, entry.session)
        else each
        for each in total.transcriptions
    )


@_apply.register
def _left_open(event: AccountLeftOpen, entry: Entry, total: _Sum) -> None:
    left = LeftOpen(position=entry.position, at=entry.at, check=entry.check, drug=event.drug)
    total.left_open = (*total.left_open, left)


@_apply.register
def _closed(event: AccountClosed, entry: Entry, total: _Sum) -> None:
    total.left_open = ()
