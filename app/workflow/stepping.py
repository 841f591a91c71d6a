"""The safety steps: whoever did one says so, the other verifies it, and each group before the next begins."""

from dataclasses import dataclass

from app.base import Act
from app.judging.elsewhere import agreed_patient
from app.judging.identifiers import identifier_fault, is_patient
from app.judging.steps import forbids_start
from app.quantities import Dimension, Fault, Quantity, parse_quantity
from app.records import events
from app.records.kept import OTHER, PRIMING, A, B, KeptComparison
from app.records.life import Action, may_be_done
from app.records.pauses import FOR_A_CHANGE
from app.records.state import CheckState, Phase
from app.records.steps import (
    BASELINE,
    DIFFERS,
    DONE,
    NAMED,
    PATIENT,
    PRIMED_VOLUME,
    VERIFIED,
    Plan,
    Step,
)
from app.records.ward_events import LinePaused
from app.site.installation import Site
from app.storage import Transaction
from app.workflow.comparing import judge_primed_volume
from app.workflow.confirming import OWN_PART, NotConfirmed, Part, lock_part
from app.workflow.freezing import freeze_if_complete
from app.workflow.loading import Own
from app.workflow.reading import lock_reading
from app.workflow.refusals import NotFound, NotNow, NotYours
from app.workflow.step_typing import forget_step_typing


@dataclass(frozen=True, kw_only=True)
class Observed:
    """What was observed before any dose: a level of the site's scale, and two quantities as text."""

    sedation: str
    respiratory_rate: str
    spo2: str


@dataclass(frozen=True, kw_only=True)
class PrimedVolume:
    """The primed volume as text, and the round in which it was asked for."""

    volume: str
    round: int


@dataclass(frozen=True, kw_only=True)
class Given:
    """What one nurse says of the steps at once: what was done by whom, verified, observed and read.

    `done` are steps that this nurse did, `named` those that the other did; `patient` is the identifier as it
    was read at the patient.
    """

    done: tuple[str, ...] = ()
    named: tuple[str, ...] = ()
    verified: tuple[str, ...] = ()
    observed: Observed | None = None
    primed: PrimedVolume | None = None
    patient: str | None = None


@dataclass(frozen=True, kw_only=True)
class Taken:
    """All of it stands; `complete` when the steps were the last."""

    complete: bool


@dataclass(frozen=True)
class OutOfTurn:
    """A step waits: for its group, for who did it to say so, or for the readings to agree."""


@dataclass(frozen=True, kw_only=True)
class DoNotStart:
    """It stands, and what was observed is outside the protocol: no opioid is started."""


@dataclass(frozen=True, kw_only=True)
class AnotherPatient:
    """It stands that what was read at the patient is not what both had agreed on: nothing is connected."""


@dataclass(frozen=True, kw_only=True)
class Malformed:
    """A field is not written as it must be; `faults` says for each how to write it."""

    faults: dict[str, str]


def open_steps(state: CheckState) -> tuple[Step, ...]:
    """The steps that may be confirmed now."""
    if state.plan is None:
        return ()
    if state.phase is Phase.STEPS:
        due = state.plan.in_group(state.group) if not state.steps_complete else ()
        return tuple(step for step in due if not _waits_for_another(state, state.plan, step))
    return state.plan.early() if may_be_done(Action.CONFIRM_STEPS, state) else ()


def _waits_for_another(state: CheckState, plan: Plan, step: Step) -> bool:
    before = plan.find_before(step)
    if before is not None and not state.is_confirmed(before, DONE):
        return True
    # What it comes after may be said with the same press, once it is open.
    earlier = (each for each in plan.what_comes_before(step) if not state.is_confirmed(each, DONE))
    return any(_waits_for_another(state, plan, each) for each in earlier)


def take_steps(
    site: Site, act: Act, check_id: str, given: Given, *, part: Part = OWN_PART
) -> (
    Taken | DoNotStart | AnotherPatient | Malformed | OutOfTurn | NotFound | NotYours | NotNow | NotConfirmed
):
    """Take what one nurse says of the steps, all of it or nothing.

    Whoever writes the baseline observed it, whoever writes the primed volume read it, and whoever reads the
    patient's wristband before connecting connects: the other verifies. The volume is judged beside what both
    read, as soon as that is compared.
    """
    with site.store.write() as tx:
        own = lock_part(tx, act, check_id, Action.CONFIRM_STEPS, part=part)
        if not isinstance(own, Own):
            return own
        if not open_steps(own.state):
            return NotNow(phase=own.state.phase)
        if given == Given() or not _is_in_turn(own, given):
            return OutOfTurn()
        wrong = _wrong(own, given)
        if wrong is not None:
            return wrong
        is_below = given.observed is not None and _observe(tx, own, given.observed)
        for part_of_step, names in ((DONE, given.done), (NAMED, given.named), (VERIFIED, given.verified)):
            _confirm(tx, own, part_of_step, names)
        is_another = given.patient is not None and not _hold_to_agreed(tx, own, given.patient)
        is_read = given.primed is not None and _is_asked(own, given.primed)
        compared = _read_volume(tx, site, own, given.primed.volume) if given.primed and is_read else ()
        if given.observed is not None or given.primed is not None:
            # What was typed stands now, whoever's part it was.
            forget_step_typing(tx, own.state, own.act.by.person)
        complete = freeze_if_complete(tx, own.loaded.after(tx.appended, compared), act=own.act)
        if is_another:
            return AnotherPatient()
        return DoNotStart() if is_below else Taken(complete=complete)


def _is_in_turn(own: Own, given: Given) -> bool:
    """Whether each step that is meant is open, and what is said of it can be said now."""
    now_open = {step.id: step for step in open_steps(own.state)}
    entries = {step.entry for step in now_open.values()}
    return (
        all(name in now_open for name in (*given.done, *given.named, *given.verified))
        and all(_may_tell(own, now_open[name], DONE) for name in given.done)
        and all(_may_tell(own, now_open[name], NAMED) for name in given.named)
        and all(_may_verify(own, now_open[name]) for name in given.verified)
        and not {*given.done} & {*given.named}
        and (given.observed is None or BASELINE in entries)
        and (given.primed is None or PRIMED_VOLUME in entries)
        and (given.patient is None or PATIENT in entries)
    )


def _may_tell(own: Own, step: Step, part: str) -> bool:
    """Who did a step is not told anew once it is verified; making an entry says that one made it."""
    if step.entry or (part == NAMED and OTHER[own.slot] not in own.state.people):
        return False
    return own.state.said_of(step).get(own.slot) == part or not own.state.is_confirmed(step, VERIFIED)


def _may_verify(own: Own, step: Step) -> bool:
    """Verifying waits for the other, who did it."""
    is_judged = step.entry != PRIMED_VOLUME or own.state.priming_settled
    return is_judged and own.state.find_doer(step) == OTHER[own.slot]


def _is_asked(own: Own, primed: PrimedVolume) -> bool:
    """Whether this reading is still wanted: a request that comes again belongs to no later round."""
    return primed.round == own.state.priming_round


def _wrong(own: Own, given: Given) -> Malformed | None:
    """What is wrong with what was written, if anything."""
    faults: dict[str, str] = {}
    if given.observed is not None:
        if given.observed.sedation not in {key for key, _ in own.loaded.policy.baseline.levels}:
            faults["sedation"] = "Choose the level."
        faults |= _faults(
            respiratory_rate=parse_quantity(given.observed.respiratory_rate, Dimension.FREQUENCY),
            spo2=parse_quantity(given.observed.spo2, Dimension.PERCENT),
        )
    if given.primed is not None:
        faults |= _faults(volume=parse_quantity(given.primed.volume, Dimension.VOLUME, zero_allowed=True))
    if given.patient is not None:
        fault = identifier_fault(given.patient, by_its_end=False)
        faults |= {"patient": fault.says} if fault else {}
    if not _connects_who_read(own, given):
        faults["step"] = _WHO_CONNECTS
    missing = _comes_first(own, given)
    if missing is not None:
        faults["step"] = f"This comes first, or with it: {missing.do}"
    return Malformed(faults=faults) if faults else None


_WHO_CONNECTS = (
    "Whoever connects reads the wristband: read it anew, or say that your colleague connected, who read it."
)


def _connects_who_read(own: Own, given: Given) -> bool:
    """Whether each step that rests on the wristband is said to be done by whoever read it."""
    plan, other = own.state.plan, OTHER[own.slot]
    told = [*((name, own.slot) for name in given.done), *((name, other) for name in given.named)]
    if plan is None:
        return True
    rests_on = {step.id: plan.find_before(step) for step in plan.steps}
    return all(
        (before := rests_on[name]) is None or own.state.find_doer(before) == slot for name, slot in told
    )


def _comes_first(own: Own, given: Given) -> Step | None:
    """What a step comes after that is said to be done, and is neither done nor said now."""
    plan, told = own.state.plan, {*given.done, *given.named}
    if plan is None:
        return None
    first = (each for step in plan.steps if step.id in told for each in plan.what_comes_before(step))
    return next(
        (each for each in first if each.id not in told and not own.state.is_confirmed(each, DONE)), None
    )


def _faults(**read: Quantity | Fault) -> dict[str, str]:
    return {name: each.says for name, each in read.items() if isinstance(each, Fault)}


def _confirm(tx: Transaction, own: Own, part: str, names: tuple[str, ...]) -> None:
    """Keep what is new of what is said of steps."""
    now_open = {step.id: step for step in open_steps(own.state)}
    fresh = tuple(name for name in names if own.state.said_of(now_open[name]).get(own.slot) != part)
    if fresh:
        event = events.StepsConfirmed(slot=own.slot, group=now_open[fresh[0]].group, part=part, steps=fresh)
        tx.append(event, act=own.act, check=own.state.check.id)
    if part != VERIFIED and any(now_open[name].pauses for name in fresh):
        _pause(tx, own)


def _pause(tx: Transaction, own: Own) -> None:
    """What ran stands: whoever gives the check up has to let it run on as after any pause."""
    infusion = own.loaded.infusion
    if infusion.is_running and infusion.pause is None:
        tx.append(LinePaused(why=FOR_A_CHANGE), act=own.act, infusion=infusion.infusion)


def _observe(tx: Transaction, own: Own, observed: Observed) -> bool:
    """Keep what was observed, and the step as done if the protocol allows a start; whether it forbids one."""
    is_below = forbids_start(own.loaded.policy.baseline, **vars(observed))
    check = own.state.check
    tx.append(
        events.BaselineObserved(
            slot=own.slot,
            scale=own.loaded.policy.baseline.scale,
            sedation=observed.sedation,
            respiratory_rate=observed.respiratory_rate,
            spo2=observed.spo2,
            below=is_below,
        ),
        act=own.act,
        check=check.id,
    )
    if not is_below:
        (step,) = (each for each in open_steps(own.state) if each.entry == BASELINE)
        done = events.StepsConfirmed(slot=own.slot, group=step.group, part=DONE, steps=(step.id,))
        tx.append(done, act=own.act, check=check.id)
    return is_below


def _hold_to_agreed(tx: Transaction, own: Own, patient: str) -> bool:
    """Keep whether this is the patient whom both agreed on, and never what was read."""
    kept, state = own.loaded.last_comparison, own.state
    assert kept is not None  # noqa: S101  # what is connected was compared
    read = kept.opened["answers"]
    part = DONE if is_patient(patient, agreed_patient(read[A], read[B])) else DIFFERS
    (step,) = (each for each in open_steps(state) if each.entry == PATIENT)
    if part == DIFFERS or state.said_of(step).get(own.slot) != part:
        event = events.StepsConfirmed(slot=own.slot, group=step.group, part=part, steps=(step.id,))
        tx.append(event, act=own.act, check=state.check.id)
    return part == DONE


def _read_volume(tx: Transaction, site: Site, own: Own, volume: str) -> tuple[KeptComparison, ...]:
    """Keep a reading of the primed volume, sealed; it is judged now, or with what is still read blind."""
    state = own.state
    lock_reading(
        site,
        tx,
        own.act,
        state,
        subject=PRIMING,
        number=state.priming_round,
        slot=own.slot,
        answers={"priming": {"volume": volume}},
    )
    (step,) = (each for each in open_steps(state) if each.entry == PRIMED_VOLUME)
    done = events.StepsConfirmed(slot=own.slot, group=step.group, part=DONE, steps=(step.id,))
    tx.append(done, act=own.act, check=state.check.id)
    return judge_primed_volume(site, tx, own.loaded.after(tx.appended), own.act.now)
