"""The safety steps: the first does and tells, the second verifies each group before the next begins."""

from dataclasses import dataclass

from app.base import Act
from app.quantities import Dimension, Fault, Quantity, parse_quantity
from app.records import events
from app.records.canonical import canonical
from app.records.kept import FIRST, PRIMING, SECOND, KeptComparison, KeptReading
from app.records.life import Action, may_be_done
from app.records.state import CheckState, Phase
from app.records.steps import BASELINE, DONE, PRIMED_VOLUME, VERIFIED, Step
from app.storage import Transaction
from app.workflow.freezing import freeze_if_complete
from app.workflow.loading import Loaded, Own, lock_own
from app.workflow.reading import lock_reading, open_reading
from app.workflow.refusals import Incomplete, NotFound, NotNow, NotYours
from app.workflow.site import Site


@dataclass(frozen=True, kw_only=True)
class Confirmed:
    """The steps are confirmed; `complete` when they were the last."""

    complete: bool


@dataclass(frozen=True)
class OutOfTurn:
    """The step waits: for its group, for the other to do it first, or for the readings to agree."""


@dataclass(frozen=True, kw_only=True)
class DoNotStart:
    """What was observed is outside the protocol: no opioid is started."""


@dataclass(frozen=True, kw_only=True)
class Malformed:
    """A field is not written as a quantity; `faults` says for each how to write it."""

    faults: dict[str, Fault]


@dataclass(frozen=True, kw_only=True)
class VolumeRead:
    """The primed volume is handed in; `settled` None while the other's is waited for."""

    settled: bool | None


def open_steps(state: CheckState) -> tuple[Step, ...]:
    """The steps that may be confirmed now."""
    if state.plan is None:
        return ()
    if state.phase is Phase.STEPS:
        return state.plan.in_group(state.group) if not state.steps_complete else ()
    return state.plan.early() if may_be_done(Action.CONFIRM_STEPS, state.phase) else ()


def confirm_steps(
    site: Site, act: Act, check_id: str, *, steps: tuple[str, ...]
) -> Confirmed | OutOfTurn | NotFound | NotYours | NotNow:
    """Confirm steps, in one's own part: slot 1 does, slot 2 verifies what is done."""
    with site.store.write() as tx:
        own = lock_own(tx, act, check_id, Action.CONFIRM_STEPS)
        if not isinstance(own, Own):
            return own
        state, slot = own.state, own.slot
        now_open = {step.id: step for step in open_steps(state)}
        if not now_open:
            return NotNow(phase=state.phase)
        part = DONE if slot == FIRST else VERIFIED
        if not steps or not all(name in now_open and _may(state, now_open[name], part) for name in steps):
            return OutOfTurn()
        fresh = tuple(name for name in steps if not state.is_confirmed(now_open[name], part))
        if fresh:
            group = now_open[fresh[0]].group
            event = events.StepsConfirmed(slot=slot, group=group, part=part, steps=fresh)
            tx.append(event, act=act, check=check_id, infusion=state.check.infusion)
        return Confirmed(complete=freeze_if_complete(tx, act, check_id))


def _may(state: CheckState, step: Step, part: str) -> bool:
    """Verifying waits for doing; a step that asks for an entry is done by making it."""
    if part == VERIFIED:
        return step.entry != PRIMED_VOLUME and state.is_confirmed(step, DONE)
    return not step.entry


def observe_baseline(
    site: Site, act: Act, check_id: str, *, sedation: str, respiratory_rate: str, spo2: str
) -> Confirmed | DoNotStart | Malformed | OutOfTurn | NotFound | NotYours | NotNow | Incomplete:
    """Write down sedation, respiratory rate and SpO2 before any dose, by the first nurse."""
    with site.store.write() as tx:
        own = lock_own(tx, act, check_id, Action.CONFIRM_STEPS)
        if not isinstance(own, Own):
            return own
        state, slot = own.state, own.slot
        step = next((each for each in open_steps(state) if each.entry == BASELINE), None)
        if step is None:
            return NotNow(phase=state.phase)
        if slot != FIRST:
            return OutOfTurn()
        read = _baseline(own.loaded, sedation, respiratory_rate, spo2)
        if not isinstance(read, bool):
            return read
        event = events.BaselineObserved(
            slot=FIRST,
            scale=own.loaded.policy.baseline.scale,
            sedation=sedation,
            respiratory_rate=respiratory_rate,
            spo2=spo2,
            below=read,
        )
        tx.append(event, act=act, check=check_id)
        if not read:
            done = events.StepsConfirmed(slot=FIRST, group=step.group, part=DONE, steps=(step.id,))
            tx.append(done, act=act, check=check_id)
        return DoNotStart() if read else Confirmed(complete=False)


def _baseline(
    loaded: Loaded, sedation: str, respiratory_rate: str, spo2: str
) -> bool | Malformed | Incomplete:
    """Whether the protocol forbids a start, or what is wrong with what was written."""
    rule = loaded.policy.baseline
    if sedation not in {key for key, _ in rule.levels}:
        return Incomplete(fields=("sedation",))
    rate = parse_quantity(respiratory_rate, Dimension.FREQUENCY)
    saturation = parse_quantity(spo2, Dimension.PERCENT)
    faults = {
        name: read
        for name, read in (("respiratory_rate", rate), ("spo2", saturation))
        if isinstance(read, Fault)
    }
    if isinstance(rate, Fault) or isinstance(saturation, Fault):
        return Malformed(faults=faults)
    lowest_rate = _published(rule.lowest_respiratory_rate, Dimension.FREQUENCY)
    lowest_spo2 = _published(rule.lowest_spo2, Dimension.PERCENT)
    return (
        sedation not in rule.may_start_at
        or rate.value < lowest_rate.value
        or saturation.value < lowest_spo2.value
    )


def _published(text: str, dimension: Dimension) -> Quantity:
    """A quantity of the published policy, which was checked when it was published."""
    read = parse_quantity(text, dimension)
    assert isinstance(read, Quantity)  # noqa: S101
    return read


def read_primed_volume(
    site: Site, act: Act, check_id: str, *, volume: str
) -> VolumeRead | Malformed | OutOfTurn | NotFound | NotYours | NotNow:
    """Hand in the primed volume, without sight of the other's; compared when both are in."""
    with site.store.write() as tx:
        own = lock_own(tx, act, check_id, Action.CONFIRM_STEPS)
        if not isinstance(own, Own):
            return own
        state, slot = own.state, own.slot
        if not any(step.entry == PRIMED_VOLUME for step in open_steps(state)):
            return NotNow(phase=state.phase)
        if slot in state.priming_handed_in or state.priming_settled:
            return OutOfTurn()
        read = parse_quantity(volume, Dimension.VOLUME, zero_allowed=True)
        if isinstance(read, Fault):
            return Malformed(faults={"volume": read})
        answers = {"priming": {"volume": volume}}
        lock_reading(
            site, tx, act, state, subject=PRIMING, number=state.priming_round, slot=slot, answers=answers
        )
        if len(state.priming_handed_in) == 0:
            return VolumeRead(settled=None)
        return VolumeRead(settled=_compare_priming(tx, site, act, own.loaded))


def _compare_priming(tx: Transaction, site: Site, act: Act, loaded: Loaded) -> bool:
    state = loaded.state
    volumes = {}
    for slot in (FIRST, SECOND):
        kept = tx.find_reading(state.check.id, PRIMING, state.priming_round, slot)
        assert isinstance(kept, KeptReading)  # noqa: S101  # both have handed in
        volumes[slot] = open_reading(site, kept)["priming"]["volume"]
    within = within_tolerance(volumes[FIRST], volumes[SECOND], loaded.policy.priming_tolerance)
    tx.add_comparison(
        KeptComparison(
            check=state.check.id,
            subject=PRIMING,
            round=state.priming_round,
            at=act.now,
            engine="",
            case=canonical({"A": volumes[FIRST], "B": volumes[SECOND]}),
            result=canonical({"within": within, "tolerance": loaded.policy.priming_tolerance}),
        )
    )
    tx.append(
        events.Compared(subject=PRIMING, round=state.priming_round),
        at=act.now,
        check=state.check.id,
        infusion=state.check.infusion,
    )
    freeze_if_complete(tx, act, state.check.id)
    return within


def within_tolerance(first: str, second: str, tolerance: str) -> bool:
    """Whether two volumes lie no further apart than the site's tolerance, exactly."""
    one, other, apart = (
        parse_quantity(text, Dimension.VOLUME, zero_allowed=True) for text in (first, second, tolerance)
    )
    assert isinstance(one, Quantity)  # noqa: S101  # each was checked when it was handed in or published
    assert isinstance(other, Quantity)  # noqa: S101
    assert isinstance(apart, Quantity)  # noqa: S101
    return abs(one.value - other.value) <= apart.value
