"""The safety steps as the two meet them: the open group, whose part it is, the figure behind a step."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from app.quantities import for_people
from app.records.kept import FIRST, A
from app.records.state import CheckState, Phase
from app.records.steps import BASELINE, DONE, PRIMED_VOLUME, VERIFIED, Step
from app.records.visibility import Sight
from app.web.models.check import Head, Nurse, head_of
from app.workflow.looking import Seen
from app.workflow.stepping import open_steps

_PRIMED_AMOUNT = "primed_amount"

# Where the engine's figure stands in the sentence that says why it matters.
_FIGURES: dict[str, str] = {
    "junction_bolus": "With drug past the junction, up to {} would be pushed into the patient at once.",
    _PRIMED_AMOUNT: "Priming takes {} of drug out of the syringe.",
    "carrier_delay": "From the junction to the patient the drug takes {} by continuous flow.",
}


@dataclass(frozen=True, kw_only=True)
class StepShown:
    """One step in the words of the part that looks; `entry` names what is written down with it."""

    id: str
    words: str
    why: str
    figure: str
    done: bool
    verified: bool
    entry: str
    written: str
    waits: str
    can_tick: bool
    ticked: bool
    can_enter: bool
    can_enter_anew: bool

    @property
    def is_my_turn(self) -> bool:
        """Whether it waits for this nurse."""
        return self.can_tick or self.can_enter


@dataclass(frozen=True, kw_only=True)
class Group:
    """The steps that belong together."""

    number: int
    name: str
    open: bool
    finished: bool
    steps: tuple[StepShown, ...]


@dataclass(frozen=True, kw_only=True)
class StepsPage:
    """All groups, and whose part the page asks for."""

    head: Head
    early: bool
    nurse: Nurse
    other: Nurse | None
    groups: tuple[Group, ...]
    has_figures: bool
    do_not_start: bool
    outside: tuple[str, ...]
    awaits_baseline: bool
    priming_round: int

    @property
    def is_my_turn(self) -> bool:
        """Whether this nurse has anything to tick or to write down now."""
        return any(step.is_my_turn for group in self.groups for step in group.steps)

    @property
    def begins_at(self) -> str:
        """The first step that is this nurse's turn; blank where it is better to begin at the top.

        That is while what was observed forbids to go on, and where something before it waits for the other:
        a page that opens in its middle looks as if much had been missed.
        """
        steps = [step for group in self.groups for step in group.steps if group.open]
        mine = next((at for at, step in enumerate(steps) if step.is_my_turn), None)
        if self.do_not_start or mine is None or any(step.waits for step in steps[:mine]):
            return ""
        return steps[mine].id


def is_together(state: CheckState) -> bool:
    """Whether both may work on one screen at the steps."""
    return state.phase is Phase.STEPS


@dataclass(frozen=True, kw_only=True)
class _Part:
    """One nurse's part of the steps at one moment."""

    state: CheckState
    slot: int
    first: str
    figures: Mapping[str, str]
    levels: Mapping[str, str]
    ticked: frozenset[str]
    now_open: frozenset[str]

    def group(self, number: int, steps: Iterable[Step]) -> Group:
        """One group; before the readings agree only its early steps are there."""
        early = not is_together(self.state)
        wanted = [step for step in steps if not early or step.id in self.now_open]
        return Group(
            number=number,
            name=self.state.plan.group_names.get(number, "") if self.state.plan else "",
            open=any(step.id in self.now_open for step in wanted),
            finished=all(self.state.is_confirmed(step, VERIFIED) for step in wanted),
            steps=tuple(self._step(step) for step in wanted),
        )

    def _step(self, step: Step) -> StepShown:
        done = self.state.is_confirmed(step, DONE)
        verified = self.state.is_confirmed(step, VERIFIED)
        mine = not done and not step.entry if self.slot == FIRST else done and not verified
        is_open = step.id in self.now_open
        return StepShown(
            id=step.id,
            words=step.do if self.slot == FIRST else step.verify,
            why=step.why,
            figure=self._figure(step),
            done=done,
            verified=verified,
            entry=step.entry,
            written=self._written() if step.entry == BASELINE else "",
            waits=self._waits(step),
            can_tick=is_open and mine and step.entry != PRIMED_VOLUME,
            ticked=step.id in self.ticked,
            can_enter=is_open and self._may_enter(step),
            can_enter_anew=is_open and done and step.entry == BASELINE and self.slot == FIRST,
        )

    def _figure(self, step: Step) -> str:
        """Its figure; what priming takes only when both have read the volume: it tells what to expect."""
        tells = step.entry == PRIMED_VOLUME or step.figure == _PRIMED_AMOUNT
        if tells and not self.state.priming_settled:
            return ""
        return self.figures.get(step.figure, "")

    def _may_enter(self, step: Step) -> bool:
        if step.entry == PRIMED_VOLUME:
            return not self.state.priming_settled and self.slot not in self.state.priming_handed_in
        return step.entry == BASELINE and self.slot == FIRST and not self.state.is_confirmed(step, DONE)

    def _written(self) -> str:
        seen = self.state.baseline
        if seen is None:
            return ""
        sedation = self.levels.get(seen.sedation, seen.sedation)
        return f"Written: sedation {sedation}; breathing {seen.respiratory_rate}; SpO2 {seen.spo2}."

    def _waits(self, step: Step) -> str:
        if step.entry == PRIMED_VOLUME:
            return self._waits_for_volume()
        waits = self.slot != FIRST and not self.state.is_confirmed(step, DONE)
        if not waits:
            return ""
        return f"Waits for {self.first}." if self.first else "Waits for the first nurse."

    def _waits_for_volume(self) -> str:
        if self.state.priming_settled:
            return "Both readings agree."
        if self.slot in self.state.priming_handed_in:
            return "Handed in. Waits for the other nurse's reading."
        if self.state.priming_round > 1 and not self.state.priming_handed_in:
            return "Each reads it again, without sight of the other's reading."
        return ""


def steps_page(seen: Seen, slot: int, *, ticked: Iterable[str] = ()) -> StepsPage:
    """The page for one nurse's part."""
    state, head = seen.loaded.state, head_of(seen)
    part = _Part(
        state=state,
        slot=slot,
        first=next((each.name for each in head.nurses if each.slot == FIRST), ""),
        figures=figures_of(seen),
        levels=dict(seen.loaded.policy.baseline.levels),
        ticked=frozenset(ticked),
        now_open=frozenset(step.id for step in open_steps(state)),
    )
    plan = state.plan
    groups = [part.group(number, plan.in_group(number)) for number in plan.groups] if plan else []
    others = [each for each in head.nurses if each.slot != slot]
    return StepsPage(
        head=head,
        early=not is_together(state),
        nurse=head.nurse(slot),
        other=others[0] if others and is_together(state) else None,
        groups=tuple(each for each in groups if each.steps),
        has_figures=bool(part.figures),
        do_not_start=state.baseline is not None and state.baseline.below,
        outside=seen.loaded.policy.baseline.outside,
        awaits_baseline=state.stopped,
        priming_round=state.priming_round,
    )


def figures_of(seen: Seen) -> Mapping[str, str]:
    """The engine's figures in their sentences; none before everything may be seen."""
    if seen.sight is not Sight.EVERYTHING:
        return {}
    kept = seen.loaded.last_comparison
    device: Mapping[str, Any] = kept.told["math"][A]["device"] if kept else {}
    return {
        name: sentence.format(for_people(device[name]))
        for name, sentence in _FIGURES.items()
        if device.get(name) is not None
    }
