"""The state of an infusion: what its log entries, those of its checks among them, add up to.

It holds no value that was read and no word that somebody wrote, and so may stand beside a check whose two
read blind. What the settings in force are, the comparison of the check that put them in force says: known.py.
"""

# ruff: noqa: ARG001  # each of them takes the event, its entry and the sum, whichever it needs

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
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
from app.records.kept import FIRST, SECOND, Entry
from app.records.kinds import kind_named
from app.records.on_paper import Transcription, stands, waits
from app.records.paper_events import PaperConfirmed, PaperTranscribed
from app.records.pauses import LineLook, Pause
from app.records.transfers import Transfer
from app.records.ward_events import LineLooked, LinePaused, LineResumed, RunsAgainBeside


@dataclass(frozen=True, kw_only=True)
class Run:
    """One time that the infusion ran; `check` cleared the start, and is empty where none did."""

    since: datetime
    check: str
    stopped_at: datetime | None = None


@dataclass(frozen=True, kw_only=True)
class LeftOpen:
    """An account that was left open; where nobody saw drug go, `drug` is the position of what says so."""

    position: int
    at: datetime
    check: str
    drug: str = ""


@dataclass(frozen=True, kw_only=True)
class InfusionState:
    """Everything that the entries of one infusion add up to.

    `in_force` is the check that put settings in force: the last that was cleared and started, or that was
    done while it ran; empty while there is none. `ever_checked`: both signed a check of it, and
    `unchecked_since` is when it was started without one, while both have signed none since. `led_to`: the
    kind of check that must come before it starts again, since an earlier one found what it did not put right.
    `ended_at`: therapy was ended, by a stop for good or by the check of its end; `closed_at`: that check is
    done, and the account closed.
    `pause` is of the run that goes on, while its line is paused; `beside` are other infusions that ran beside
    this run when a stop was said to be of another bed. `transcriptions` are of sheets of paper on which two
    nurses checked it while the program was down. `lowered_at`: since then it gives less than was checked, for
    safety, and no check has put that in force. `responsible` answers for it: whoever started it last, or took
    it over since; `cover` is of a break of hers that goes on. `all_left_open`: its account does not add up,
    or nobody saw drug go, and nobody has closed it. `emergencies` are what such left behind.
    `transfer`: it was taken from another unit, and no two have checked it since.
    """

    infusion: str
    runs: tuple[Run, ...]
    in_force: str
    ever_checked: bool
    unchecked_since: datetime | None
    ended_at: datetime | None
    led_to: str
    pause: Pause | None
    beside: frozenset[str] = frozenset()
    transcriptions: tuple[Transcription, ...] = ()
    lowered_at: datetime | None = None
    responsible: str = ""
    responsible_since: datetime | None = None
    cover: Cover | None = None
    all_left_open: tuple[LeftOpen, ...] = ()
    closed_at: datetime | None = None
    emergencies: Emergencies = NOTHING_STANDS
    boluses: Boluses = NO_BOLUS
    transfer: Transfer | None = None

    @property
    def left_open(self) -> LeftOpen | None:
        """Since when its account is open, and why first."""
        return self.all_left_open[0] if self.all_left_open else None

    @property
    def last_run(self) -> Run | None:
        """The run that goes on, or that was stopped last."""
        return self.runs[-1] if self.runs else None

    @property
    def is_running(self) -> bool:
        """Whether it was started, and nobody has since written down a stop."""
        return self.last_run is not None and self.last_run.stopped_at is None

    @property
    def may_run(self) -> bool:
        """Whether it was started, and no two have closed it: a stop in the log may be of another bed."""
        return bool(self.runs) and self.closed_at is None

    @property
    def is_stopped(self) -> bool:
        """Whether it was stopped after its last start, and not for good."""
        return self.last_run is not None and not self.is_running and self.ended_at is None

    @property
    def end_is_due(self) -> bool:
        """Whether it was started and runs no more, and no two have signed its end."""
        return bool(self.runs) and not self.is_running and self.closed_at is None

    @property
    def goes_on(self) -> bool:
        """Whether it runs, or waits for the check that an earlier one or an emergency led to."""
        return self.is_running or ((bool(self.led_to) or self.waits) and self.ended_at is None)

    @property
    def waits(self) -> bool:
        """Whether it was started, and after an emergency something must come before it is started again."""
        return bool(self.runs) and self.emergencies.waits and self.ended_at is None

    @property
    def is_unchecked(self) -> bool:
        """Whether it was started without a check, both signed none since, and no end is written down.

        A stop alone changes nothing: the device may run again at any time, and nobody has checked it.
        """
        return self.unchecked_since is not None and self.ended_at is None

    @property
    def on_paper(self) -> Transcription | None:
        """What was typed in of the sheets on which it was checked, where no two nurses have checked it since.

        It is no check: what is due without one stays due.
        """
        return stands(self.transcriptions) if self.is_unchecked else None

    @property
    def waits_on_paper(self) -> Transcription | None:
        """What was typed in of such sheets, and another person has yet to hold beside them."""
        return waits(self.transcriptions) if self.is_unchecked else None

    @property
    def is_held_back(self) -> bool:
        """Whether an emergency stands against a start, until something else has been done or it has ended."""
        return self.waits or self.emergencies.evidence is not None

    def check_due_at(self, check_due: timedelta, *, on_paper: timedelta) -> datetime | None:
        """Until when a blind check is due, which an infusion that runs without one lacks.

        Where it was checked on paper, that counts from when the sheets were typed in first: typing them in
        anew puts nothing off.
        """
        if self.unchecked_since is None or not self.is_unchecked:
            return None
        return self.transcriptions[0].at + on_paper if self.on_paper else self.unchecked_since + check_due

    def was_stopped(self, check: str) -> bool:
        """Whether the run that this check cleared was stopped."""
        return any(run.check == check and run.stopped_at is not None for run in self.runs)


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
            total.boluses = after_bolus(total.boluses, entry)
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
