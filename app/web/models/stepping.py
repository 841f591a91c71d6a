"""The safety steps as the two meet them: the open group, whose part it is, the figure behind a step."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from app.comparison import CaseError, read_without_library
from app.comparison.old_line import held_in_line
from app.quantities import for_people, set_off, show
from app.records.kept import LETTER_OF, OTHER, A, KeptComparison
from app.records.life import Action, may_be_done
from app.records.state import CheckState, Phase
from app.records.steps import (
    BASELINE,
    DONE,
    NAMED,
    PATIENT,
    PERHAPS_REPLACED,
    PRIMED_VOLUME,
    TAKEN_BACK,
    VERIFIED,
    Step,
)
from app.records.visibility import Sight
from app.web.models.check import Head, Nurse, head_of
from app.web.models.taken_back import taken_back_shown
from app.workflow.looking import Seen
from app.workflow.stepping import open_steps

_PRIMED_AMOUNT = "primed_amount"
_OLD_LINE = "old_line"

# What leads to the page on which what was taken back is written.
_TAKEN_BACK = "Write down what was taken back"
_LEFT = "Read what is left, with a witness"
_ANEW = "Written wrongly: write it down anew"
_PERHAPS = "Another was put on: write down what was taken back"

# Where the engine's figure stands in the sentence that says why it matters.
_FIGURES: dict[str, str] = {
    "junction_bolus": "With drug past the junction, up to {} would be pushed into the patient at once.",
    _PRIMED_AMOUNT: "Priming takes {} of drug out of the syringe.",
    "carrier_delay": "From the junction to the patient the drug takes {} by continuous flow.",
}


@dataclass(frozen=True, kw_only=True)
class StepShown:
    """One step in the words of the part that looks; `entry` names what is written down with it.

    `asks` is what a tick beside it says: done (the button says by whom), or verified; blank where it waits.
    `doer` is the name of whoever did it, and `says` what the two have said that does not settle it.
    """

    id: str
    words: str
    why: str
    figure: str
    done: bool
    verified: bool
    entry: str
    written: str
    asks: str
    doer: str
    says: str
    waits: str
    ticked: bool
    can_enter: bool
    can_enter_anew: bool
    elsewhere: str

    @property
    def is_my_turn(self) -> bool:
        """Whether it waits for this nurse."""
        return bool(self.asks) or self.can_enter or bool(self.elsewhere and not self.done)


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
    """All groups, and whose part the page asks for.

    `colleague` is the name of the other of the two, once there is one; `other` may confirm here too.
    """

    head: Head
    early: bool
    nurse: Nurse
    other: Nurse | None
    colleague: str
    groups: tuple[Group, ...]
    has_figures: bool
    do_not_start: bool
    patient_differs: bool
    outside: tuple[str, ...]
    awaits_baseline: bool
    priming_round: int

    @property
    def is_my_turn(self) -> bool:
        """Whether this nurse has anything to tick or to write down here now."""
        return any(step.asks or step.can_enter for step in self._steps)

    @property
    def is_written_elsewhere(self) -> bool:
        """Whether this nurse has something to write down on a page of its own."""
        return any(step.entry == TAKEN_BACK and step.elsewhere and not step.done for step in self._steps)

    @property
    def asks_who(self) -> bool:
        """Whether somebody is to say of any step who did it."""
        return any(step.asks == DONE for step in self._steps)

    @property
    def asks_to_verify(self) -> bool:
        """Whether the other did anything that this nurse is to verify."""
        return any(step.asks == VERIFIED for step in self._steps)

    @property
    def asks_to_write(self) -> bool:
        """Whether anything is to be written down."""
        return any(step.can_enter for step in self._steps)

    @property
    def _steps(self) -> list[StepShown]:
        return [step for group in self.groups for step in group.steps]

    @property
    def begins_at(self) -> str:
        """The first step that is this nurse's turn; blank where it is better to begin at the top.

        That is while what was observed forbids to go on, and where something before it waits for the other's
        word: a page that opens in its middle looks as if much had been missed.
        """
        steps = [step for group in self.groups for step in group.steps if group.open]
        mine = next((at for at, step in enumerate(steps) if step.is_my_turn), None)
        if (
            self.do_not_start
            or self.patient_differs
            or mine is None
            or any(step.waits and not step.done for step in steps[:mine])
        ):
            return ""
        return steps[mine].id


def is_together(state: CheckState) -> bool:
    """Whether both may work on one screen at the steps."""
    return state.phase is Phase.STEPS


@dataclass(frozen=True, kw_only=True)
class _Part:
    """One nurse's part of the steps at one moment; `names` are the two by their slots."""

    state: CheckState
    slot: int
    names: Mapping[int, str]
    figures: Mapping[str, str]
    levels: Mapping[str, str]
    primed: str
    taken_back: str
    is_me: bool
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
        is_open, doer = step.id in self.now_open, self.state.find_doer(step)
        done = self.state.is_confirmed(step, DONE)
        return StepShown(
            id=step.id,
            words=step.verify if doer == OTHER[self.slot] else step.do,
            why=step.why,
            figure=self._figure(step),
            done=done,
            verified=self.state.is_confirmed(step, VERIFIED),
            entry=step.entry,
            written=self._written(step),
            asks=self._asks(step) if is_open else "",
            doer=self.names[doer] if doer else "",
            says=self._says(step),
            waits=self._waits(step),
            ticked=step.id in self.ticked,
            can_enter=is_open and self._may_enter(step),
            can_enter_anew=is_open and self._may_enter_anew(step),
            elsewhere=self._elsewhere(step) if is_open and self.is_me else "",
        )

    def _asks(self, step: Step) -> str:
        doer = self.state.find_doer(step)
        if self.state.is_confirmed(step, VERIFIED) or self._is_not_judged(step):
            return ""
        if doer is not None:
            return VERIFIED if doer == OTHER[self.slot] else ""
        if self._reader_before(step) not in (None, self.slot) or self._missing_before(step) is not None:
            return ""
        is_told = self.state.said_of(step).get(self.slot) == NAMED and not self.state.is_contradicted(step)
        return "" if step.entry or is_told else DONE

    def _missing_before(self, step: Step) -> Step | None:
        """What a step comes after that is not done, and that this nurse cannot say now."""
        earlier = self.state.plan.what_comes_before(step) if self.state.plan else ()
        missing = (each for each in earlier if not self.state.is_confirmed(each, DONE))
        return next((each for each in missing if each.id not in self.now_open or not self._asks(each)), None)

    def _reader_before(self, step: Step) -> int | None:
        """Who read the wristband that this step rests on: whoever did, does this too."""
        before = self.state.plan.find_before(step) if self.state.plan else None
        return None if before is None else self.state.find_doer(before)

    def _says(self, step: Step) -> str:
        """What was said of who did it, until it is settled by whoever it is not."""
        said, other = self.state.said_of(step), OTHER[self.slot]
        if self.state.is_contradicted(step):
            both = "You both say that you did this."
            says = both if DONE in said.values() else "Each of you says that the other did this."
            return f"{says} Settle it between you; then whoever was wrong says so here."
        if said.get(other) == NAMED and self.slot not in said:
            return f"{self.names[other]} says that {self.names[self.slot]} did this."
        return ""

    def _figure(self, step: Step) -> str:
        """Its figure; what priming takes only when the volume has been read: it tells what to expect."""
        tells = step.entry == PRIMED_VOLUME or step.figure == _PRIMED_AMOUNT
        if tells and not self.state.priming_settled:
            return ""
        return self.figures.get(step.figure, "")

    def _may_enter(self, step: Step) -> bool:
        if step.entry == PRIMED_VOLUME:
            return not self.state.priming_handed_in
        return step.entry in (BASELINE, PATIENT) and not self.state.is_confirmed(step, DONE)

    def _may_enter_anew(self, step: Step) -> bool:
        """The patient may change until the end, what ran out at priming until it is verified."""
        if step.entry == PRIMED_VOLUME:
            return bool(self.state.priming_handed_in) and not self.state.is_confirmed(step, VERIFIED)
        return step.entry in (BASELINE, PATIENT) and self.state.is_confirmed(step, DONE)

    def _elsewhere(self, step: Step) -> str:
        """The words that lead to the page on which what was taken back is written, by whoever did it."""
        if not may_be_done(Action.TAKE_BACK, self.state):
            return ""
        if step.entry == TAKEN_BACK and self.state.kind.ends:
            return "" if self.state.is_confirmed(step, DONE) else _LEFT
        if step.entry == TAKEN_BACK:
            return _ANEW if self.state.is_confirmed(step, DONE) else _TAKEN_BACK
        is_perhaps = step.only_if == PERHAPS_REPLACED and not self.state.is_confirmed(step, VERIFIED)
        return _PERHAPS if is_perhaps else ""

    def _is_not_judged(self, step: Step) -> bool:
        return step.entry == PRIMED_VOLUME and not self.state.priming_settled

    def _written(self, step: Step) -> str:
        """What was written down with a step, for whoever may see what both read."""
        written = {BASELINE: self._observed(), PRIMED_VOLUME: self.primed, TAKEN_BACK: self.taken_back}
        return written.get(step.entry, "")

    def _observed(self) -> str:
        seen = self.state.baseline
        if seen is None:
            return ""
        sedation = self.levels.get(seen.sedation, seen.sedation)
        return f"Written: sedation {sedation}; breathing {seen.respiratory_rate}; SpO2 {seen.spo2}."

    def _waits(self, step: Step) -> str:
        if self._is_not_judged(step) and self.state.priming_handed_in:
            return "Written. It is judged once your readings agree." if not is_together(self.state) else ""
        before = self.state.plan.find_before(step) if self.state.plan else None
        if before is not None and not self.state.is_confirmed(before, DONE):
            return "Waits for the wristband to be read."
        if self._reader_before(step) == OTHER[self.slot] and self.state.find_doer(step) is None:
            return f"Waits for {self.names[OTHER[self.slot]]}, who read the wristband."
        missing = self._missing_before(step)
        if missing is not None and self.state.find_doer(step) is None:
            return f"After: {missing.do}"
        is_mine = self.state.find_doer(step) == self.slot and not self.state.is_confirmed(step, VERIFIED)
        is_named = self.state.said_of(step).get(self.slot) == NAMED and not self.state.is_contradicted(step)
        other = self.names[OTHER[self.slot]]
        if is_mine:
            return f"Waits for {other} to verify it."
        return f"Waits for {other} to say so." if is_named and not self.state.find_doer(step) else ""


def steps_page(seen: Seen, slot: int, *, ticked: Iterable[str] = ()) -> StepsPage:
    """The page for one nurse's part."""
    state, head = seen.loaded.state, head_of(seen)
    part = _Part(
        state=state,
        slot=slot,
        names={each: _name(head, each) or state.kind.part(each) for each in LETTER_OF},
        figures=figures_of(seen),
        levels=dict(seen.loaded.policy.baseline.levels),
        primed=primed_of(seen),
        taken_back=_taken_back_of(seen),
        is_me=slot == seen.slot,
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
        colleague=others[0].name if others else "",
        groups=tuple(each for each in groups if each.steps),
        has_figures=bool(part.figures),
        do_not_start=state.baseline is not None and state.baseline.below,
        patient_differs=state.patient_differs,
        outside=seen.loaded.policy.baseline.outside,
        awaits_baseline=state.stopped,
        priming_round=state.priming_round,
    )


def _name(head: Head, slot: int) -> str:
    return next((nurse.name for nurse in head.nurses if nurse.slot == slot), "")


def primed_of(seen: Seen) -> str:
    """The last primed volume and what the engine says of it; nothing before everything may be seen."""
    judged = seen.loaded.last_priming
    if seen.sight is not Sight.EVERYTHING or judged is None:
        return ""
    drug = judged.told["primed_drug"]
    taken = f", with {for_people(drug)} of drug" if drug else ""
    said = " ".join(each["says"] for each in judged.told["findings"])
    return f"Written: {set_off(judged.opened['volume'])} ran out{taken}. {said}".strip()


def _taken_back_of(seen: Seen) -> str:
    """What was taken back and stands; nobody is handed any of it before everything may be seen."""
    shown = taken_back_shown(seen.loaded.state.taken_back, seen.names)
    return " ".join(each.words for each in shown if each.stands)


def figures_of(seen: Seen) -> Mapping[str, str]:
    """The engine's figures in their sentences; none before everything may be seen."""
    if seen.sight is not Sight.EVERYTHING:
        return {}
    kept, before = seen.loaded.last_comparison, seen.loaded.before_replacement
    device: Mapping[str, Any] = kept.told["math"][A]["device"] if kept else {}
    made = {
        name: sentence.format(for_people(device[name]))
        for name, sentence in _FIGURES.items()
        if device.get(name) is not None
    }
    held = None if before is None else _held_in_line(before)
    return {**made, _OLD_LINE: held} if held else made


def _held_in_line(before: KeptComparison) -> str:
    """What the line still holds of the syringe from which it was primed; blank where nobody can say."""
    case = read_without_library(before.opened["case"])
    held = None if isinstance(case, CaseError) else held_in_line(case)
    if held is None:
        return ""
    drug, mass = held
    return f"The primed line still holds {show(mass)} of the old {drug}."
