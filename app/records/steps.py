"""The safety steps: a versioned list, two plans, groups that open one after the other."""

from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from app.records.sources import CAN_BE_PUT_RIGHT, Source

DONE = "done"
VERIFIED = "verified"
NAMED = "named"
"""One says that the other did it, who has yet to say so."""
DIFFERS = "differs"
"""What was read at the patient is not what both had agreed on: it is not done."""

WITH_CARRIER = "with-carrier"
DEDICATED_LINE = "dedicated-line"
NEW_SETTINGS = "new-settings"
NEW_SYRINGE = "new-syringe"
TOTALS_CLEARED = "totals-cleared"
OFF_THE_PATIENT = "off-the-patient"

BASELINE = "baseline"
PRIMED_VOLUME = "primed-volume"
PATIENT = "patient"
TAKEN_BACK = "taken-back"

# When a step is asked at all, where it is not always.
REPLACED, REPLACED_PRIMED, PERHAPS_REPLACED = "replaced", "replaced-primed", "perhaps-replaced"
EARLIER_PRIMED = "earlier-primed"
OTHER_STRENGTH = "other-strength"
ANOTHER_DEVICE = "another-device"
PART_USED = "part-used"
REPEATED = "repeat-set-up"
OF_CHANGES = (OTHER_STRENGTH, ANOTHER_DEVICE, PART_USED, REPEATED)
OF_A_REPLACEMENT = (REPLACED, REPLACED_PRIMED, PERHAPS_REPLACED)


@dataclass(frozen=True, kw_only=True)
class Step:
    """One thing to do and to verify.

    `before_agreement`: may be confirmed before the readings are handed in. `again_after`: sources whose
    correction makes it due again. `figure`: the engine's figure that bears on it. `entry`: what is written.
    `before`: steps that wait for it, and are done by whoever did it. `after`: steps that come before it,
    whoever does them; those of the other plan are none. `primes`: the line holds drug after it. `pauses`:
    what ran stands from then on.
    `only_if`: asked only where a syringe was replaced, where a line had been primed from that one, where
    danger was seen and nobody has said whether it was, where an earlier check may have left a primed line,
    where a new syringe is of another strength than the one before, where another device or line is taken,
    where a part-used syringe is loaded again, or where what ran is set up anew. `unless`: asked only
    where the same is not so.
    """

    id: str
    group: int
    do: str
    verify: str
    why: str
    before_agreement: bool
    again_after: tuple[str, ...]
    figure: str
    entry: str
    before: tuple[str, ...] = ()
    after: tuple[str, ...] = ()
    primes: bool = False
    pauses: bool = False
    only_if: str = ""
    unless: str = ""

    def is_asked(self, facts: Collection[str]) -> bool:
        """Whether it is asked where this is so."""
        return self.only_if in ("", *facts) and self.unless not in facts


@dataclass(frozen=True, kw_only=True)
class Plan:
    """The steps of one plan, in order; a group may have a name."""

    name: str
    version: str
    steps: tuple[Step, ...]
    group_names: Mapping[int, str] = field(default_factory=dict)

    @property
    def groups(self) -> tuple[int, ...]:
        """The numbers of the groups, in order."""
        return tuple(dict.fromkeys(step.group for step in self.steps))

    def in_group(self, group: int) -> tuple[Step, ...]:
        """The steps of one group."""
        return tuple(step for step in self.steps if step.group == group)

    def where(self, *facts: str) -> "Plan":
        """The plan where this is so of syringe and line; without any, nothing is known of others before."""
        return replace(self, steps=tuple(each for each in self.steps if each.is_asked(facts)))

    def asks_of(self, fact: str) -> bool:
        """Whether any step is asked only where this is so."""
        return any(step.only_if == fact for step in self.steps)

    def find_before(self, step: Step) -> Step | None:
        """The step that this one waits for."""
        return next((each for each in self.steps if step.id in each.before), None)

    def what_comes_before(self, step: Step) -> tuple[Step, ...]:
        """The steps that this one comes after."""
        return tuple(each for each in self.steps if each.id in step.after)

    def undone_by(self, confirmed: Iterable[str]) -> frozenset[str]:
        """Once the wristband is read anew, neither the reading before nor what rests on it stands."""
        read = [step for step in self.steps if step.id in confirmed and step.entry == PATIENT]
        undone = {name for step in read for name in (step.id, *step.before)}
        return frozenset(undone | {step.id for step in self.steps if undone & {*step.after}})

    def early(self) -> tuple[Step, ...]:
        """The steps that may be confirmed before the readings agree."""
        return tuple(step for step in self.steps if step.before_agreement)


def plan_from(content: Mapping[str, Any], name: str) -> Plan:
    """The plan of that name from the published list of steps."""
    return Plan(
        name=name,
        version=content["version"],
        steps=tuple(
            Step(
                id=each["id"],
                group=each["group"],
                do=each["do"],
                verify=each["verify"],
                why=each.get("why", ""),
                before_agreement=each.get("before_agreement", False),
                again_after=tuple(each.get("again_after", ())),
                figure=each.get("figure", ""),
                entry=each.get("entry", ""),
                before=tuple(each.get("before", ())),
                after=tuple(each.get("after", ())),
                primes=each.get("primes", False),
                pauses=each.get("pauses", False),
                only_if=each.get("only_if", ""),
                unless=each.get("unless", ""),
            )
            for each in content["steps"]
            if name in each["plans"]
        ),
        group_names={int(number): words for number, words in content.get("groups", {}).items()},
    )


def plan_faults(
    plan: Plan,
    entries: Iterable[str] = (),
    *,
    put_right: Iterable[Source] = CAN_BE_PUT_RIGHT,
    of_remainder: bool = False,
) -> Iterator[str]:
    """Why checks could not be brought to their end with this plan, in plain words.

    `entries` are what its steps write down beside a tick: each is needed once, and no other is known.
    `put_right` are the sources that such checks read and that can be put right. `of_remainder`: what is taken
    back is what was left at the end, and always asked.
    """
    ids = [step.id for step in plan.steps]
    if not ids:
        yield "there are no steps"
        return
    yield from (f"the step {each} stands twice" for each in sorted(set(ids)) if ids.count(each) > 1)
    if list(plan.groups) != sorted(plan.groups):
        yield "the groups are not in order"
    yield from (
        f"the step {step.id} may be confirmed early and is not in the first group"
        for step in plan.early()
        if step.group != plan.groups[0]
    )
    yield from _entry_faults(plan, tuple(entries))
    yield from (
        f"the step {step.id} comes after no step that stands before it"
        for place, step in enumerate(plan.steps)
        if step.after and not {*step.after} & {each.id for each in plan.steps[:place]}
    )
    # A source that is put right after the record was frozen must make a step due: confirming it freezes anew.
    touched = {source for step in plan.steps for source in step.again_after}
    yield from (
        f"no step is due again after {source.value}" for source in put_right if source.value not in touched
    )
    if not of_remainder:
        yield from (
            f"the step {step.id} is asked where no syringe was replaced"
            for step in plan.steps
            if step.entry == TAKEN_BACK and step.only_if != REPLACED
        )


def _entry_faults(plan: Plan, entries: tuple[str, ...]) -> Iterator[str]:
    written = [step.entry for step in plan.steps if step.entry]
    yield from (f"no step writes down the {each}" for each in entries if each not in written)
    yield from (f"more than one step writes down the {each}" for each in entries if written.count(each) > 1)
    yield from (
        f"the step {step.id} writes down {step.entry}, of which nothing is known"
        for step in plan.steps
        if step.entry and step.entry not in entries
    )
    yield from (
        f"the step {step.id} is asked only if {fact}, of which nothing is known"
        for step in plan.steps
        for fact in (step.only_if, step.unless)
        if fact not in ("", *OF_A_REPLACEMENT, EARLIER_PRIMED, *OF_CHANGES)
    )
    yield from (
        fault for step in plan.steps if step.entry == PATIENT for fault in _patient_faults(plan, step)
    )


def _patient_faults(plan: Plan, step: Step) -> Iterator[str]:
    """Who the patient is, is asked once it is agreed, and before anything is connected."""
    places = [place for place, each in enumerate(plan.steps) if each.id in step.before]
    if not places or min(places) < plan.steps.index(step):
        yield f"the step {step.id} comes before no step that waits for it"
    if step.before_agreement:
        yield f"the step {step.id} may be confirmed early, when no patient is agreed on"


def plan_name(order_answers: Mapping[str, str]) -> str:
    """Which plan the agreed order asks for: a carrier that is ordered, or a line of its own."""
    fluid = order_answers.get("carrier_fluid", "none")
    return DEDICATED_LINE if fluid == "none" else WITH_CARRIER
