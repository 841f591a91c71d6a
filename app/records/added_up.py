"""What the entries of a check have added up to so far, and what of it no longer stands."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime

from app.records.asked_help import Help
from app.records.followup import Found
from app.records.kinds import Kind
from app.records.state import (
    Acknowledgement,
    Baseline,
    Confirmation,
    Exemption,
    Round,
    Signing,
)
from app.records.steps import BASELINE, PERHAPS_REPLACED, PRIMED_VOLUME, Plan, Step
from app.records.stop_notes import StopNote
from app.records.taken_back import TakenBack


@dataclass(frozen=True, kw_only=True)
class Results:
    """What the comparisons found: findings by round, and whether each judgement of a primed volume held.

    `other_syringe`: entries that tell of another syringe, of which nobody had said so.
    """

    findings: Mapping[int, tuple[Found, ...]]
    priming: Mapping[int, bool]
    other_syringe: frozenset[int] = frozenset()


@dataclass(kw_only=True)
class Sum:
    """What has added up so far; only the fold changes it.

    But for kind, results and misplaced stops these are the fields of `CheckState` that entries decide.
    """

    kind: Kind
    results: Results
    misplaced: frozenset[str]
    plan: Plan | None
    course: str = ""
    people: dict[int, str] = field(default_factory=dict)
    joined_at: dict[int, datetime] = field(default_factory=dict)
    rounds: tuple[Round, ...] = ()
    rereadings: int = 0
    acknowledgements: tuple[Acknowledgement, ...] = ()
    exemptions: tuple[Exemption, ...] = ()
    help: tuple[Help, ...] = ()
    confirmations: tuple[Confirmation, ...] = ()
    differed: tuple[Confirmation, ...] = ()
    baseline: Baseline | None = None
    baselines: tuple[Baseline, ...] = ()
    taken_back: tuple[TakenBack, ...] = ()
    priming_round: int = 1
    priming_handed_in: frozenset[int] = frozenset()
    priming_settled: bool = False
    priming_judged: int = 0
    edition: int = 0
    frozen_digest: str = ""
    signatures: dict[int, Signing] = field(default_factory=dict)
    last_looks: frozenset[int] = frozenset()
    cleared_at: datetime | None = None
    lapse: str = ""
    issued: frozenset[int] = frozenset()
    started_at: datetime | None = None
    done_at: datetime | None = None
    led_to: str = ""
    stop_notes: tuple[StopNote, ...] = ()
    abandoned: str = ""
    abandoned_by: str = ""
    abandoned_at: datetime | None = None
    last_position: int = 0
    shared_position: int = 0

    def drop_edition(self) -> None:
        """What was frozen, signed or cleared until now is history; a new edition follows."""
        self.frozen_digest, self.cleared_at, self.lapse = "", None, ""
        self.signatures, self.last_looks = {}, frozenset()

    def drop_after(self, *touched: str) -> None:
        """What was done with these sources is due again."""
        due_again = {step.id for step in self._steps() if {*touched} & {*step.again_after}}
        if any(step.id in due_again and step.entry == PRIMED_VOLUME for step in self._steps()):
            self.drop_primed_volume()
        self._drop(due_again)

    def drop_same_syringe(self) -> None:
        """That the syringe is the same was said of the danger before."""
        self._drop({step.id for step in self._steps() if step.only_if == PERHAPS_REPLACED})

    def drop_baseline(self) -> None:
        """The patient is to be observed anew: what was verified was the observation before."""
        self.baseline = None
        self.drop_entry(BASELINE)

    def drop_primed_volume(self) -> None:
        """The volume is to be read anew: what was verified was the volume before."""
        self.priming_handed_in, self.priming_settled = frozenset(), False
        self.drop_entry(PRIMED_VOLUME)

    def drop_entry(self, entry: str) -> None:
        """Nothing that was said of the step stands that writes this down."""
        self._drop({step.id for step in self._steps() if step.entry == entry})

    def _steps(self) -> tuple[Step, ...]:
        return self.plan.steps if self.plan else ()

    def _drop(self, steps: set[str]) -> None:
        self.confirmations = tuple(each for each in self.confirmations if each.step not in steps)
