"""The state of a check: what its stored events and comparisons add up to, and nothing else."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from enum import StrEnum

from app.records.asked_help import Help
from app.records.followup import REREADINGS_BEFORE_HELP, Found, Severity
from app.records.kept import FIRST, OTHER, SECOND, KeptCheck
from app.records.kinds import Kind, kind_named
from app.records.reading import Scope
from app.records.steps import DIFFERS, DONE, PRIMED_VOLUME, VERIFIED, Plan, Step
from app.records.stop_notes import StopNote
from app.records.taken_back import TakenBack


class Phase(StrEnum):
    """The named states of a check; the life of a check in the guide is drawn from these."""

    OPENED = "opened"
    READING = "reading"
    BOTH_HANDED_IN = "both handed in"
    DISPUTED = "disputed"
    ESCALATED = "escalated"
    AGREED = "agreed"
    STEPS = "safety steps"
    SIGNING = "signing"
    CLEARED = "cleared"
    LAPSED = "lapsed"
    STARTED = "started"
    DONE = "done"
    LED = "led to another check"
    ABANDONED = "abandoned"


ENDED = frozenset({Phase.ABANDONED, Phase.STARTED, Phase.DONE, Phase.LED})
BLIND = frozenset({Phase.OPENED, Phase.READING, Phase.BOTH_HANDED_IN})

# By so much may clocks of two machines of a site be apart; beyond it nobody knows how much time is left.
A_CLOCK_APART = timedelta(minutes=1)


@dataclass(frozen=True, kw_only=True)
class HandIn:
    """When and where one clinician handed in one round."""

    slot: int
    at: datetime
    session: str
    device: str
    signed_in_at: datetime
    method: str


@dataclass(frozen=True, kw_only=True)
class Acknowledgement:
    """One clinician's answer to one caution."""

    slot: int
    finding: str
    reason: str
    named: str
    text: str
    at: datetime


@dataclass(frozen=True, kw_only=True)
class Exemption:
    """A rule set aside, by whom and why."""

    finding: str
    code: str
    field: str
    reason: str
    prescriber: str
    by: str
    at: datetime


@dataclass(frozen=True, kw_only=True)
class Confirmation:
    """What one of the two says of one step: `part` is done, verified, or named (the other did it)."""

    step: str
    part: str
    slot: int
    by: str
    at: datetime


@dataclass(frozen=True, kw_only=True)
class Signing:
    """One signature, as the log knows it."""

    slot: int
    by: str
    at: datetime
    digest: str
    meaning: str


@dataclass(frozen=True, kw_only=True)
class Baseline:
    """What was observed before any dose."""

    scale: str
    sedation: str
    respiratory_rate: str
    spo2: str
    below: bool
    by: str
    at: datetime
    position: int


VOIDED = "danger was seen"
"""Why a round was voided, where nobody wrote more."""
PUT_RIGHT_MEANWHILE = "put right while it was read"
"""Why a round was voided in which nobody saw danger: who helped had settled it."""


@dataclass(frozen=True, kw_only=True)
class Round:
    """One pair of blind readings: what was asked, who handed in, and what became of it.

    `opened_by` and `why` are of whoever had it read again, and `outcome` that of the request for help, where
    that was who helped. `danger_in`: the sources that whoever saw danger has named, or that were put right
    meanwhile; none named means that it may be any. `recount`: both counted together, not blind.
    """

    number: int
    scope: Scope
    touched: tuple[str, ...]
    opened_at: datetime
    opened_by: str = ""
    why: str = ""
    outcome: str = ""
    handed_in: Mapping[int, HandIn] = field(default_factory=dict)
    compared_at: datetime | None = None
    voided: str = ""
    danger_in: tuple[str, ...] = ()
    recount: bool = False
    findings: tuple[Found, ...] = ()

    def puts_aside(self, source: str) -> bool:
        """Whether danger in this round has this source read anew by both."""
        return bool(self.voided) and (not self.danger_in or source in self.danger_in)


@dataclass(frozen=True, kw_only=True)
class CheckState:
    """Everything that the events of one check add up to at one moment."""

    check: KeptCheck
    course: str
    now: datetime
    clearance: timedelta
    plan: Plan | None
    people: Mapping[int, str]
    joined_at: Mapping[int, datetime]
    rounds: tuple[Round, ...]
    rereadings: int
    acknowledgements: tuple[Acknowledgement, ...]
    exemptions: tuple[Exemption, ...]
    help: tuple[Help, ...]
    confirmations: tuple[Confirmation, ...]
    differed: tuple[Confirmation, ...]
    baseline: Baseline | None
    baselines: tuple[Baseline, ...]
    taken_back: tuple[TakenBack, ...]
    priming_round: int
    priming_handed_in: frozenset[int]
    priming_settled: bool
    priming_judged: int
    edition: int
    frozen_digest: str
    signatures: Mapping[int, Signing]
    last_looks: frozenset[int]
    cleared_at: datetime | None
    lapse: str
    issued: frozenset[int]
    started_at: datetime | None
    done_at: datetime | None
    led_to: str
    stop_notes: tuple[StopNote, ...]
    abandoned: str
    abandoned_by: str
    abandoned_at: datetime | None
    last_position: int
    shared_position: int

    @property
    def kind(self) -> Kind:
        """What kind of check it is."""
        return kind_named(self.check.kind)

    @property
    def current(self) -> Round | None:
        """The round that is read or was read last."""
        return self.rounds[-1] if self.rounds else None

    @property
    def findings(self) -> tuple[Found, ...]:
        """The findings of the current round, once it has been compared."""
        return self.current.findings if self.current else ()

    @property
    def open_stops(self) -> tuple[Found, ...]:
        """The stops that no exception has set aside."""
        exempt = {each.finding for each in self.exemptions}
        return tuple(found for found in self.findings if found.is_open(exempt))

    @property
    def must_read_again(self) -> bool:
        """Whether readings differ or are missing, or the patient differs: then only field and source show."""
        return any(found.reads_apart for found in self.open_stops)

    @property
    def has_recounted(self) -> bool:
        """Whether both have counted together, and that was compared."""
        return any(each.recount and each.compared_at for each in self.rounds)

    @property
    def recount_due(self) -> bool:
        """Whether the two count together once more what does not add up; they do so once."""
        return not self.has_recounted and any(found.is_recounted for found in self.findings)

    @property
    def open_account(self) -> tuple[Found, ...]:
        """The stops of the account that stand: both sign that it is open, and a third person closes it."""
        return tuple(found for found in self.findings if found.is_of_account)

    @property
    def cautions(self) -> tuple[Found, ...]:
        """The cautions of the current round, worst first."""
        return tuple(found for found in self.findings if found.severity == Severity.CAUTION)

    def unacknowledged(self, slot: int) -> tuple[Found, ...]:
        """The cautions that this clinician has not acknowledged."""
        done = {each.finding for each in self.acknowledgements if each.slot == slot}
        return tuple(found for found in self.cautions if found.key not in done)

    @property
    def open_help(self) -> Help | None:
        """The request for help that is not settled, if any; a check that was given up waits for nobody."""
        if self.abandoned or self.led_to:
            return None
        return next((each for each in self.help if not each.outcome), None)

    @property
    def helpers(self) -> frozenset[str]:
        """Whoever took a request of this check, also those from whom another took it over."""
        return frozenset(who for each in self.help for who in each.takers)

    @property
    def needs_help(self) -> bool:
        """Whether the two have read again as often as they may alone."""
        return self.must_read_again and self.rereadings >= REREADINGS_BEFORE_HELP

    def slot_of(self, person: str) -> int | None:
        """The slot this person holds, if any."""
        return next((slot for slot, who in self.people.items() if who == person), None)

    def said_of(self, step: Step) -> dict[int, str]:
        """What each of the two says of a step, by slot."""
        return {each.slot: each.part for each in self.confirmations if each.step == step.id}

    def is_contradicted(self, step: Step) -> bool:
        """Whether the two say different things about who did a step: both did, or each the other."""
        said = [(slot, part) for slot, part in self.said_of(step).items() if part != DIFFERS]
        return len({slot if part == DONE else OTHER[slot] for slot, part in said}) > 1

    @property
    def patient_differs(self) -> bool:
        """Whether what was read at the patient last is not what both had agreed on."""
        return any(each.part == DIFFERS for each in self.confirmations)

    def find_doer(self, step: Step) -> int | None:
        """The slot of whoever did a step: that one says so, and not the other too."""
        claims = [slot for slot, part in self.said_of(step).items() if part == DONE]
        return claims[0] if len(claims) == 1 else None

    def is_confirmed(self, step: Step, part: str) -> bool:
        """Whether the step's part (done, verified) stands; a primed volume also must have been judged."""
        if step.entry == PRIMED_VOLUME and not self.priming_settled:
            return False
        doer = self.find_doer(step)
        return doer is not None and (part == DONE or self.said_of(step).get(OTHER[doer]) == VERIFIED)

    @property
    def group(self) -> int:
        """The first group with a step not yet verified; one past the last when all are."""
        if self.plan is None:
            return 1
        for number in self.plan.groups:
            if not all(self.is_confirmed(step, VERIFIED) for step in self.plan.in_group(number)):
                return number
        return self.plan.groups[-1] + 1

    @property
    def steps_complete(self) -> bool:
        """Whether every step of every group is verified; of a kind without any, none is missing."""
        if self.plan is None:
            return not self.kind.plans
        return self.group > self.plan.groups[-1]

    @property
    def is_to_be_frozen(self) -> bool:
        """Whether everything that the record holds stands, and no record of it does.

        Where there are no steps, a request for help that is open may still change what stands.
        """
        if self.phase is Phase.STEPS:
            return self.steps_complete
        return self.phase is Phase.SIGNING and not self.frozen_digest and self.open_help is None

    @property
    def stopped(self) -> bool:
        """Whether the device was stopped for the patient, and no baseline since lets it start again.

        While the two read it makes no difference for what it was stopped, so that nobody can tell.
        """
        since = max((each.position for each in self.baselines if not each.below), default=0)
        stands = [each for each in self.stop_notes if each.position > since and not each.misplaced]
        return any(each.for_the_patient or self.phase in BLIND for each in stands)

    @property
    def told_position(self) -> int:
        """The position of the last entry of which a page of one of its two may say that something happened.

        Until both have handed in that is nothing of the other but joining, a stop at the bed and danger.
        """
        return self.shared_position if self.phase in (Phase.OPENED, Phase.READING) else self.last_position

    @property
    def cleared(self) -> bool:
        """Whether both have signed the frozen record and nothing has ended the clearance."""
        return self.cleared_at is not None and not self.lapse

    @property
    def has_ended(self) -> bool:
        """Whether nothing more is done in this check; a stop may still be written down."""
        return self.phase in ENDED

    @property
    def phase(self) -> Phase:
        """The one named state of this check now."""
        if self.abandoned:
            return Phase.ABANDONED
        if self.led_to:
            return Phase.LED
        if self.done_at is not None:
            return Phase.DONE
        if self.started_at is not None:
            return Phase.STARTED
        if self.cleared_at is not None:
            return self._after_clearance(self.cleared_at)
        return self._before_clearance()

    @property
    def has_run_out(self) -> bool:
        """Whether the clearance lapses by time, and no entry says so yet."""
        return self.phase is Phase.LAPSED and not self.lapse

    def _after_clearance(self, cleared_at: datetime) -> Phase:
        in_time = -A_CLOCK_APART <= self.now - cleared_at <= self.clearance
        return Phase.CLEARED if in_time and not self.lapse else Phase.LAPSED

    def _before_clearance(self) -> Phase:
        current = self.current
        if current is None or not {FIRST, SECOND} <= set(self.people):
            return Phase.OPENED
        if current.compared_at is None:
            both = {FIRST, SECOND} <= set(current.handed_in)
            return Phase.BOTH_HANDED_IN if both else Phase.READING
        if self.open_stops:
            return Phase.ESCALATED if self.open_help else Phase.DISPUTED
        if self.recount_due or self.unacknowledged(FIRST) or self.unacknowledged(SECOND):
            return Phase.AGREED
        return Phase.SIGNING if self.frozen_digest or not self.kind.plans else Phase.STEPS
