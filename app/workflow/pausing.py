"""Pause the line of an infusion that runs, and let it run on: one nurse, or after the site's time two."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from app.base import Act
from app.judging.steps import breathes_too_slowly, is_too_sedated
from app.quantities import Dimension, Fault, parse_quantity
from app.records.events import DeviceStopped
from app.records.infusion import InfusionState
from app.records.kept import KeptInfusion
from app.records.pauses import BLOCKED, LET_OUT, NO_PRESSURE, OTHER, REASONS, Pause
from app.records.policy import SitePolicy
from app.records.ranking import Standing
from app.records.visibility import is_closed_to, standing_of
from app.records.ward_events import LineLooked, LinePaused, LineResumed
from app.site.installation import Site
from app.site.loading import load_check, load_infusion, rules_in_force
from app.storage import Reader, Transaction
from app.workflow.infusions import InfusionSeen, see_infusion
from app.workflow.loading import infusion_for, protected_for, roles_of, viewer_of
from app.workflow.queueing import hold_bed
from app.workflow.refusals import NotAllowed, NotFound, NotOnShift, ReadsBlind
from app.workflow.stopping import hold_alive_at, stop_each


@dataclass(frozen=True, kw_only=True)
class Look:
    """What a nurse says of line, patient and device; `same`: it shows what is in force. Each may be left out.

    `pause` and `in_force` are what the page showed: what has changed since is looked at anew.
    """

    pause: int
    in_force: str
    pressure: str
    sedation: str
    respiratory_rate: str
    same: bool | None


@dataclass(frozen=True)
class Paused:
    """The pause is in the log."""


@dataclass(frozen=True, kw_only=True)
class AlreadyPaused:
    """The line is paused already: by whom and since when."""

    by: str
    at: datetime


@dataclass(frozen=True)
class PausedWhereStopped:
    """The pause is in the log, and by the log it was stopped before: it counts if that was another bed."""


@dataclass(frozen=True)
class NotRunning:
    """The infusion does not run: it was stopped, has ended, or never started."""


@dataclass(frozen=True)
class NotPaused:
    """The line runs, or this pause has ended: a colleague let it run on."""


@dataclass(frozen=True)
class NothingInForce:
    """No two nurses have checked what is set: there is nothing to hold the device against."""


@dataclass(frozen=True)
class CheckComesFirst:
    """A check found what must be put right, something is being changed, or a dose was lowered."""


@dataclass(frozen=True)
class ShownIsPast:
    """What the page showed is no longer in force."""


@dataclass(frozen=True, kw_only=True)
class Unanswered:
    """Something was left out, or stands against running on; `faults` says for each field what."""

    faults: dict[str, str]


@dataclass(frozen=True)
class Resumed:
    """The line runs on."""


@dataclass(frozen=True)
class SecondLookWanted:
    """The look stands; the pause was longer than the site's time, and so a second nurse looks too."""


@dataclass(frozen=True, kw_only=True)
class BecameStop:
    """It is not resumed, and counts as a stop: outside the protocol, or the device shows something else."""

    note: int
    outside: tuple[str, ...]


CannotResume = NotRunning | NotPaused | NothingInForce | CheckComesFirst | ReadsBlind


@dataclass(frozen=True, kw_only=True)
class PauseSeen:
    """An infusion with its pause, for whoever may end it; `refused` is why this person cannot now."""

    seen: InfusionSeen
    pause: Pause | None
    policy: SitePolicy
    needs_two: bool
    looked: bool
    colleague: str
    by: str
    refused: CannotResume | None


def pause_line(
    site: Site, act: Act, infusion_id: str, *, why: str
) -> Paused | PausedWhereStopped | AlreadyPaused | NotRunning | NotFound | NotAllowed:
    """Write down that the line is paused; one person is enough, as for a stop, and any reason will do."""
    with site.store.write() as tx:
        infusion = protected_for(tx, act, infusion_id)
        if not isinstance(infusion, KeptInfusion):
            return infusion
        hold_bed(tx, infusion.unit, infusion.bed, act.now)
        state = load_infusion(tx, infusion.id)
        if state.pause is not None:
            return AlreadyPaused(by=_name(tx, state.pause.by), at=state.pause.at)
        if not state.may_run:
            return NotRunning()
        tx.append(LinePaused(why=why if why in REASONS else OTHER), act=act, infusion=infusion.id)
    return Paused() if state.is_running else PausedWhereStopped()


def see_pause(site: Site, act: Act, infusion_id: str) -> PauseSeen | NotFound:
    """The infusion and its pause; a look at what is in force is written down as any look is."""
    seen = see_infusion(site, act, infusion_id)
    if isinstance(seen, NotFound):
        return seen
    with site.store.read() as reader:
        infusion = reader.find_infusion(infusion_id)
        assert infusion is not None  # noqa: S101  # seen a moment ago
        state, policy = load_infusion(reader, infusion_id), rules_in_force(reader, act.now).policy
        pause = state.pause
        looks = pause.fresh_looks(act.now, policy.clearance) if pause else ()
        others = [each.by for each in looks if each.by != act.by.person]
        return PauseSeen(
            seen=seen,
            pause=pause,
            policy=policy,
            needs_two=pause is not None and pause.needs_two(act.now, policy.pause),
            looked=any(each.by == act.by.person for each in looks),
            colleague=_name(reader, others[0]) if others else "",
            by=_name(reader, pause.by) if pause else "",
            refused=_refused(reader, act, infusion, state),
        )


def resume_line(
    site: Site, act: Act, infusion_id: str, *, look: Look
) -> (
    Resumed
    | SecondLookWanted
    | BecameStop
    | Unanswered
    | ShownIsPast
    | CannotResume
    | NotFound
    | NotAllowed
    | NotOnShift
):
    """Let the line run on after a look at line, patient and device; what stands against it is a stop."""
    with site.store.write() as tx:
        infusion = infusion_for(tx, act, infusion_id)
        if not isinstance(infusion, KeptInfusion):
            return infusion
        # With every check that a stop would touch: the look may become one.
        counts_for = hold_alive_at(tx, act, unit=infusion.unit, bed=infusion.bed, named=(infusion, None))
        state = load_infusion(tx, infusion.id)
        refused = _refused(tx, act, infusion, state)
        if refused is not None:
            return refused
        assert state.pause is not None  # noqa: S101  # not refused
        if look.pause != state.pause.position:
            return NotPaused()
        if look.in_force != state.in_force:
            return ShownIsPast()
        policy = rules_in_force(tx, act.now).policy
        faults = _faults(look, state.pause, policy)
        # A stop waits for no other answer.
        if faults and not _is_outside(look, policy, faults) and look.same is not False:
            return Unanswered(faults=faults)
        line = _Line(
            infusion=infusion, pause=state.pause, policy=policy, faults=faults, counts_for=counts_for
        )
        return _looked(tx, act, line, look)


@dataclass(frozen=True, kw_only=True)
class _Line:
    """The line that somebody looked at, what of the look is at fault, and what a stop would count for."""

    infusion: KeptInfusion
    pause: Pause
    policy: SitePolicy
    faults: Mapping[str, str]
    counts_for: Mapping[str, str]


def _looked(tx: Transaction, act: Act, line: _Line, look: Look) -> Resumed | SecondLookWanted | BecameStop:
    baseline, pause = line.policy.baseline, line.pause
    within = not _is_outside(look, line.policy, line.faults)
    looked = LineLooked(
        pause=str(pause.position),
        pressure=look.pressure,
        scale=baseline.scale,
        sedation=look.sedation,
        # What is no rate may be anything, and stays with whoever typed it.
        respiratory_rate="" if "respiratory_rate" in line.faults else look.respiratory_rate,
        within=within,
        same=bool(look.same),
    )
    tx.append(looked, act=act, infusion=line.infusion.id)
    if not within or not look.same:
        stop = DeviceStopped(
            stopped_at=pause.at.isoformat(timespec="minutes"),
            why=_OTHER_SETTINGS if within else _OUTSIDE,
            totals="",
        )
        note = stop_each(tx, act, stop, line.counts_for)
        return BecameStop(note=note, outside=() if within else baseline.outside)
    others = {each.by for each in pause.fresh_looks(act.now, line.policy.clearance)} - {act.by.person}
    if pause.needs_two(act.now, line.policy.pause) and not others:
        return SecondLookWanted()
    tx.append(LineResumed(pause=str(pause.position)), act=act, infusion=line.infusion.id)
    return Resumed()


# Why such a stop was, among the reasons of any other.
_OUTSIDE, _OTHER_SETTINGS = "sedation-or-breathing", "wrong-setting-or-drug"


def _refused(reader: Reader, act: Act, infusion: KeptInfusion, state: InfusionState) -> CannotResume | None:
    """Why this person cannot let the line run on, if so; whatever it is, the line stays paused."""
    if not state.is_running:
        return NotRunning()
    if state.pause is None:
        return NotPaused()
    # Of a dose that was lowered since, what is in force is the higher one.
    is_lowered = state.lowered_at is not None
    if state.led_to or state.waits or is_lowered or _is_checked_first(reader, act, infusion):
        return CheckComesFirst()
    if not state.in_force:
        return NothingInForce()
    viewer = viewer_of(reader, act.by, roles_of(reader, act.by.person), act.now)
    return ReadsBlind() if is_closed_to(infusion, viewer) else None


def _is_checked_first(reader: Reader, act: Act, infusion: KeptInfusion) -> bool:
    """Whether a check that is open found something wrong with what runs, or changes something of it."""
    loaded = (
        load_check(reader, each, act.now) for each in reader.open_checks_at(infusion.unit, infusion.bed)
    )
    return any(
        each.state.kind.changes or standing_of(each.state, each.infusion) is Standing.ACT_NOW
        for each in loaded
    )


def _is_outside(look: Look, policy: SitePolicy, faults: Mapping[str, str]) -> bool:
    """Whether the protocol forbids to let it run on, by as much as was observed."""
    rule = policy.baseline
    too_sedated = "sedation" not in faults and is_too_sedated(rule, look.sedation)
    return too_sedated or (
        "respiratory_rate" not in faults and breathes_too_slowly(rule, look.respiratory_rate)
    )


def _faults(look: Look, pause: Pause, policy: SitePolicy) -> dict[str, str]:
    """What was left out or stands against running on, by field; nothing where all is as it must be."""
    faults = {}
    if look.pressure not in {LET_OUT, NO_PRESSURE}:
        faults["pressure"] = "Let the pressure out first, with the line off the patient."
    elif look.pressure == NO_PRESSURE and pause.why in BLOCKED:
        faults["pressure"] = "The line was blocked: let the pressure out, with the line off the patient."
    if look.sedation not in {key for key, _ in policy.baseline.levels}:
        faults["sedation"] = "Choose the level."
    rate = parse_quantity(look.respiratory_rate, Dimension.FREQUENCY, zero_allowed=True)
    if not look.respiratory_rate:
        faults["respiratory_rate"] = "Write the rate."
    elif isinstance(rate, Fault):
        faults["respiratory_rate"] = rate.says
    if look.same is None:
        faults["same"] = "Look at the device, then say which it is."
    return faults


def _name(reader: Reader, person_id: str) -> str:
    person = reader.find_person(person_id)
    return person.printed_name if person else ""
