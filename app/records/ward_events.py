"""What happens to beds and lines, and stands against a start there; no value that was read is in it."""

from dataclasses import dataclass
from typing import ClassVar

from app.records.events import Event


@dataclass(frozen=True, kw_only=True)
class BedAdded(Event):
    """A unit has this bed from here on, written as it is shown."""

    kind: ClassVar[str] = "bed-added"
    unit: str
    bed: str


@dataclass(frozen=True, kw_only=True)
class BedRetired(Event):
    """A unit has this bed no longer; what happened at it stands."""

    kind: ClassVar[str] = "bed-retired"
    unit: str
    bed: str


@dataclass(frozen=True, kw_only=True)
class StopSettled(Event):
    """Whoever is in charge said where a stop was that counted for nothing; `stop` is its entry's position.

    Without a bed: nowhere, nothing of the unit was stopped.
    """

    kind: ClassVar[str] = "stop-settled"
    stop: str
    unit: str
    bed: str


@dataclass(frozen=True, kw_only=True)
class RunsAgainBeside(Event):
    """Once a stop was said to be of another bed: this infusion and another (`beside`) both run, by the log.

    They are one patient's, or at one bed; never whose.
    """

    kind: ClassVar[str] = "runs-again-beside"
    beside: str


@dataclass(frozen=True, kw_only=True)
class StartRefused(Event):
    """What would have led to a start was refused: PCA ran already for the patient or at the bed; never where.

    `what` is one of the acts below.
    """

    SIGNATURE: ClassVar[str] = "second-signature"
    LAST_LOOK: ClassVar[str] = "last-look"
    START: ClassVar[str] = "start"

    kind: ClassVar[str] = "start-refused"
    edition: int
    slot: int
    what: str


@dataclass(frozen=True, kw_only=True)
class LinePaused(Event):
    """One nurse paused the line, the device not opened and its settings untouched; `why` is a code."""

    kind: ClassVar[str] = "line-paused"
    why: str


@dataclass(frozen=True, kw_only=True)
class LineLooked(Event):
    """Before the line runs on: what one nurse saw of line, patient and device; `pause` is its position.

    `within` is whether the protocol lets it run on, `same` whether the device shows what is in force.
    """

    kind: ClassVar[str] = "line-looked"
    pause: str
    pressure: str
    scale: str
    sedation: str
    respiratory_rate: str
    within: bool
    same: bool


@dataclass(frozen=True, kw_only=True)
class LineResumed(Event):
    """The line runs on, after one look within the site's time, or one by each of two; `pause` likewise."""

    kind: ClassVar[str] = "line-resumed"
    pause: str


@dataclass(frozen=True, kw_only=True)
class PatientObserved(Event):
    """A nurse observed the patient just now; what was observed stands in the chart."""

    kind: ClassVar[str] = "patient-observed"


@dataclass(frozen=True, kw_only=True)
class DrugTakenBack(Event):
    """What was left of a syringe that was replaced, or what the line held of it, is off the patient.

    Written as the account writes what is wasted or returned (`way`): `syringe` is its name in the account, or
    names the reading in which its label was read last; `volume` is what the witness read, as it was typed,
    `exact` the same in mL, `first` what whoever wrote it read before; `received` whether a pharmacist took
    what was returned. `round` is the reading before which the syringe was replaced. Without a witness the
    first counts; `not_witnessed` says why what is written counts as seen by nobody else.
    `is_told_apart`: two had said of that syringe which it is, so that its label alone makes it no other.
    """

    # Why: nobody came, or came too late or at another screen, or the two did not agree.
    NOBODY: ClassVar[str] = "nobody"
    LATE: ClassVar[str] = "late"
    ELSEWHERE: ClassVar[str] = "elsewhere"
    APART: ClassVar[str] = "apart"

    kind: ClassVar[str] = "drug-taken-back"
    slot: int
    round: int
    way: str
    syringe: str
    held_in: str
    volume: str
    exact: str
    lot: str
    stated_at: str
    witness: str
    received: bool
    first: str
    not_witnessed: str
    is_told_apart: bool = False

    @property
    def label_round(self) -> int | None:
        """The reading in which the label of the syringe was read last; None of one that the account names."""
        reading, _, number = self.syringe.rpartition(" ")
        return int(number) if reading else None
