"""What can happen to a check, in the past tense; no event here holds a value that was read from a source."""

from dataclasses import dataclass
from typing import ClassVar


@dataclass(frozen=True, kw_only=True)
class Event:
    """The base of all events; `kind` is its stored name. A check with one that `ends_a_check` is not open."""

    kind: ClassVar[str]
    ends_a_check: ClassVar[bool] = False


@dataclass(frozen=True, kw_only=True)
class CheckOpened(Event):
    """A check was opened; `rereadings_before` is of one given up, `course` says of which infusion it is.

    `line_primed`: the one before it at the bed was given up, and may have left a line that was primed.
    """

    kind: ClassVar[str] = "check-opened"
    check_kind: str
    unit: str
    bed: str
    rereadings_before: int
    course: str = ""
    line_primed: bool = False


@dataclass(frozen=True, kw_only=True)
class Joined(Event):
    """A clinician took a slot: 1, the first nurse, is who opened the check, 2 the second."""

    kind: ClassVar[str] = "joined"
    slot: int


@dataclass(frozen=True, kw_only=True)
class HandedIn(Event):
    """A clinician handed in one reading; `method` opened the session. The salted commitment tells nothing."""

    kind: ClassVar[str] = "handed-in"
    subject: str
    round: int
    slot: int
    commitment: str
    method: str = "secret"


@dataclass(frozen=True, kw_only=True)
class RoundVoided(Event):
    """Someone saw danger in some sources (none named: any): the round is not blind. No blame is recorded.

    `outcome`: nobody saw danger, it settled a request for help; these begin anew, `touched` was put right.
    """

    kind: ClassVar[str] = "round-voided"
    round: int
    why: str
    sources: tuple[str, ...] = ()
    touched: tuple[str, ...] = ()
    outcome: str = ""


@dataclass(frozen=True, kw_only=True)
class Compared(Event):
    """The engine compared a round; what it found is in the comparison, not here."""

    kind: ClassVar[str] = "compared"
    subject: str
    round: int


@dataclass(frozen=True, kw_only=True)
class NextReadingOpened(Event):
    """The two read again: `scope` maps a source to its fields, an empty tuple meaning the whole source.

    `outcome` is that of the request for help which had them read again; blank where one of the two had.
    """

    kind: ClassVar[str] = "next-reading-opened"
    round: int
    scope: tuple[tuple[str, tuple[str, ...]], ...]
    touched: tuple[str, ...]
    why: str
    outcome: str = ""


@dataclass(frozen=True, kw_only=True)
class CautionAcknowledged(Event):
    """One clinician acknowledged one caution, with a reason from the rule's own list."""

    kind: ClassVar[str] = "caution-acknowledged"
    slot: int
    finding: str
    reason: str
    named: str
    text: str


@dataclass(frozen=True, kw_only=True)
class StepsConfirmed(Event):
    """One of the two says of steps: done by me, verified, or done by the other (named); the last counts."""

    kind: ClassVar[str] = "steps-confirmed"
    slot: int
    group: int
    part: str
    steps: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class BaselineObserved(Event):
    """Sedation, respiratory rate and SpO2 before any dose; `below` says the protocol forbids a start."""

    kind: ClassVar[str] = "baseline-observed"
    slot: int
    scale: str
    sedation: str
    respiratory_rate: str
    spo2: str
    below: bool


@dataclass(frozen=True, kw_only=True)
class RecordFrozen(Event):
    """The last step was confirmed and the canonical record stands; later editions follow a lapse."""

    kind: ClassVar[str] = "record-frozen"
    edition: int
    digest: str


@dataclass(frozen=True, kw_only=True)
class Signed(Event):
    """A clinician signed the frozen record; `signature`: its JWS by digest, `beside`: a code or passkey."""

    kind: ClassVar[str] = "signed"
    edition: int
    slot: int
    digest: str
    meaning: str
    kid: str = ""
    signature: str = ""
    beside: str = ""


@dataclass(frozen=True, kw_only=True)
class RecordIssued(Event):
    """The PDF made from the frozen record was stored."""

    kind: ClassVar[str] = "record-issued"
    edition: int
    pdf_digest: str


@dataclass(frozen=True, kw_only=True)
class WhatFollowedIssued(Event):
    """What followed an edition of the record was told to its end, sealed and stored; nobody signs it."""

    kind: ClassVar[str] = "what-followed-issued"
    edition: int
    document_digest: str
    pdf_digest: str


@dataclass(frozen=True, kw_only=True)
class LastLookTaken(Event):
    """Immediately before starting, a clinician looked again at the device beside the agreed values."""

    kind: ClassVar[str] = "last-look-taken"
    edition: int
    slot: int
    same: bool


@dataclass(frozen=True, kw_only=True)
class ClearanceLapsed(Event):
    """Clearance ended: by time, a last look that differed, a start without the check, or a transfer."""

    TIME: ClassVar[str] = "time"
    LAST_LOOK_DIFFERS: ClassVar[str] = "last-look-differs"
    HAD_TO_START: ClassVar[str] = "had-to-start"
    PATIENT_TAKEN: ClassVar[str] = "patient-taken"

    kind: ClassVar[str] = "clearance-lapsed"
    why: str


@dataclass(frozen=True, kw_only=True)
class Started(Event):
    """The infusion was started, or runs on, after both last looks of a check of this kind."""

    kind: ClassVar[str] = "started"
    ends_a_check: ClassVar[bool] = True
    check_kind: str = "set-up"


@dataclass(frozen=True, kw_only=True)
class CheckDone(Event):
    """Both have signed, and that was the end: nothing is started by it; `counted`: what is left was read."""

    kind: ClassVar[str] = "check-done"
    ends_a_check: ClassVar[bool] = True
    check_kind: str
    counted: bool = False


@dataclass(frozen=True, kw_only=True)
class LedToCheck(Event):
    """What it found, or what was changed, is put right in another kind; `round`: the totals that count."""

    kind: ClassVar[str] = "led-to-check"
    ends_a_check: ClassVar[bool] = True
    check_kind: str
    round: int = 0


@dataclass(frozen=True, kw_only=True)
class Abandoned(Event):
    """The check ended before clearance, or after it lapsed; the entry says by whom."""

    kind: ClassVar[str] = "abandoned"
    ends_a_check: ClassVar[bool] = True
    reason: str
    text: str


@dataclass(frozen=True, kw_only=True)
class HelpAsked(Event):
    """A clinician asked for help, or the rules did."""

    kind: ClassVar[str] = "help-asked"
    help: str
    why: str
    text: str


@dataclass(frozen=True, kw_only=True)
class HelpTaken(Event):
    """A third person took the request; from the second turn on, took it over from whoever had it."""

    kind: ClassVar[str] = "help-taken"
    help: str
    turn: int


@dataclass(frozen=True, kw_only=True)
class HelpSettled(Event):
    """The third person said how it was settled: `outcome` is a row of the table of outcomes."""

    kind: ClassVar[str] = "help-settled"
    help: str
    outcome: str
    text: str


@dataclass(frozen=True, kw_only=True)
class ExceptionGranted(Event):
    """One rule set aside for one infusion, one field, one value, one time."""

    kind: ClassVar[str] = "exception-granted"
    finding: str
    code: str
    field: str
    reason: str
    prescriber: str


END_OF_THERAPY = "end-of-therapy"  # why a device was stopped, when that was the end of the infusion


@dataclass(frozen=True, kw_only=True)
class DeviceStopped(Event):
    """Someone stopped the device; nothing is mandatory, so that saving it never waits.

    It stands with each infusion it counts for, and after the first `note` is the position of that. `unit` and
    `bed` are of one where nothing was known. `author` wrote it, where another said since where it belongs.
    """

    kind: ClassVar[str] = "device-stopped"
    stopped_at: str
    why: str
    totals: str
    note: str = ""
    unit: str = ""
    bed: str = ""
    author: str = ""


@dataclass(frozen=True, kw_only=True)
class StopMisplaced(Event):
    """Its author says of the entry at this position, mostly a stop, that it was written at the wrong bed."""

    kind: ClassVar[str] = "stop-misplaced"
    stop: str


@dataclass(frozen=True, kw_only=True)
class StartedWithoutCheck(Event):
    """An infusion had to start when no check could be had in time, `instead_of` this one; never cleared."""

    kind: ClassVar[str] = "started-without-check"
    reason: str
    started_at: str
    instead_of: str = ""


@dataclass(frozen=True, kw_only=True)
class AccountChanged(Event):
    """An account was made or changed; no secret, and no code, is part of it."""

    kind: ClassVar[str] = "account-changed"
    person: str
    what: str


@dataclass(frozen=True, kw_only=True)
class PersonNamed(Event):
    """What a person is called in records from here on; the log's first word on it holds before it too."""

    kind: ClassVar[str] = "person-named"
    person: str
    printed_name: str
    staff_number: str


@dataclass(frozen=True, kw_only=True)
class UnitNamed(Event):
    """What a unit is called in records from here on; the log's first word on it holds before it too."""

    kind: ClassVar[str] = "unit-named"
    unit: str
    name: str


@dataclass(frozen=True, kw_only=True)
class SecurityNoted(Event):
    """Sign-in, sign-out, a shift taken elsewhere, a throttled or failed sign-in or signing."""

    kind: ClassVar[str] = "security-noted"
    person: str
    what: str


@dataclass(frozen=True, kw_only=True)
class ResetRead(Event):
    """A person has read that a code was given for a login in use: their own, or of their unit."""

    kind: ClassVar[str] = "reset-read"
    code: str


@dataclass(frozen=True, kw_only=True)
class PersonalKeyMade(Event):
    """A key was made with a code of `issuer`, attested by the installation; a demo has no `made_on`."""

    kind: ClassVar[str] = "personal-key-made"
    person: str
    kid: str
    algorithm: str
    public: str
    issuer: str
    made_on: str
    attestation: str


@dataclass(frozen=True, kw_only=True)
class KeysFounded(Event):
    """Two people begin to confirm keys, at the host; from the second time on all before them were lost."""

    kind: ClassVar[str] = "keys-founded"
    number: int
    first_kid: str
    second_kid: str


@dataclass(frozen=True, kw_only=True)
class PersonalKeyConfirmed(Event):
    """A colleague met the person face to face and signed the statement with a key of their own."""

    kind: ClassVar[str] = "personal-key-confirmed"
    kid: str
    confirmed_by: str
    confirmer_kid: str
    statement: str
    signature: str
    attestation: str


@dataclass(frozen=True, kw_only=True)
class PersonalKeyRetired(Event):
    """A key signs nothing any more; what it signed before stays signed."""

    kind: ClassVar[str] = "personal-key-retired"
    kid: str
    why: str
