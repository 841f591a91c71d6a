"""What the entries of an infusion add up to, and what follows from it alone."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from app.records.answering import Cover
from app.records.boluses import NO_BOLUS, Boluses
from app.records.emergencies import NOTHING_STANDS, Emergencies
from app.records.on_paper import Transcription, stands, waits
from app.records.pauses import Pause
from app.records.transfers import Transfer


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
    def shows_what_runs(self) -> bool:
        """Whether what runs can be read: a device that is dead shows no settings."""
        return self.is_running and self.emergencies.dead is None

    @property
    def stands(self) -> bool:
        """Whether it was started, and is looked at as what stands: it was stopped, or its device is dead."""
        return bool(self.runs) and not self.shows_what_runs and self.closed_at is None

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
