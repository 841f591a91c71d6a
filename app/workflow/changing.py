"""Check or change what was started: what may be opened on it, and what one nurse does at once."""

from dataclasses import dataclass
from datetime import datetime

from app.base import Act
from app.records.change_events import BedChanged, DoseLowered
from app.records.course import Bar, find_bar
from app.records.infusion import InfusionState
from app.records.kept import KeptInfusion
from app.records.kinds import KINDS, Kind, Opens
from app.records.visibility import bed_of
from app.site.beds import beds_in
from app.site.installation import Site
from app.site.loading import load_infusion, rules_in_force, unit_name
from app.storage import Reader, Transaction
from app.workflow.loading import infusion_for, protected_for
from app.workflow.queueing import hold_bed
from app.workflow.refusals import NoSuchBed, NotAllowed, NotFound, NotOnShift

LOWERED = ("sedation", "breathing", "other")
"""Why a dose is lowered; whatever else is given counts as the last."""


@dataclass(frozen=True, kw_only=True)
class ChangeSeen:
    """What may be checked or changed of an infusion: no value is in it.

    `barred` says of each kind that is opened on an infusion what stands against it, if anything does;
    `dead` is there where its device is dead, and stands against all that are not among them.
    `open_check` is one that is open at the bed, whoever's. `due_at`: until when two check what was lowered.
    Whoever is not on shift there is told neither where it is nor any of these: to them it `is_elsewhere`.
    """

    infusion: str
    unit: str
    bed: str
    barred: tuple[tuple[Kind, Bar | None], ...]
    dead: Bar | None
    led_to: str
    open_check: str
    due_at: datetime | None
    is_elsewhere: bool = False


@dataclass(frozen=True, kw_only=True)
class Lowered:
    """It stands, and two check it until then."""

    due_at: datetime


@dataclass(frozen=True)
class HasEnded:
    """It never started, or has ended: nothing of it is given."""


@dataclass(frozen=True, kw_only=True)
class BedKept:
    """It is at this bed now."""

    bed: str


@dataclass(frozen=True)
class SameBed:
    """It is there already."""


@dataclass(frozen=True, kw_only=True)
class Occupied:
    """Another infusion runs or is checked at that bed."""

    bed: str


@dataclass(frozen=True)
class CheckIsOpen:
    """A check of it is open at the bed that it would leave."""


_DEAD = (Bar.DEAD, Bar.DEAD_ANEW)
# Where nothing was taken from another unit, nothing stands, or all shows nothing, a check is not even named.
_NOT_NAMED = (Bar.NOT_TAKEN, Bar.RUNS, *_DEAD)


def see_change(site: Site, act: Act, infusion_id: str) -> ChangeSeen | NotFound | NotAllowed:
    """What may be changed of an infusion that was started; elsewhere that a dose is lowered, and no more."""
    with site.store.read() as reader:
        infusion = protected_for(reader, act, infusion_id)
        if not isinstance(infusion, KeptInfusion):
            return infusion
        state, policy = load_infusion(reader, infusion.id), rules_in_force(reader, act.now).policy
        if not state.may_run:
            return NotFound()
        if not isinstance(infusion_for(reader, act, infusion_id), KeptInfusion):
            return _elsewhere(infusion)
        barred = tuple(
            (kind, find_bar(kind, state, passes_on=policy.passes_on, now=act.now))
            for kind in KINDS.values()
            if kind.opens is not Opens.BED
        )
        return ChangeSeen(
            infusion=infusion.id,
            unit=unit_name(reader, infusion.unit),
            bed=infusion.bed,
            barred=tuple((kind, bar) for kind, bar in barred if bar not in _NOT_NAMED),
            dead=next((bar for _, bar in barred if bar in _DEAD), None),
            led_to=state.led_to,
            open_check=next((each.id for each in reader.open_checks_at(infusion.unit, infusion.bed)), ""),
            due_at=_due_at(reader, act, state),
        )


def _elsewhere(infusion: KeptInfusion) -> ChangeSeen:
    return ChangeSeen(
        infusion=infusion.id,
        unit="",
        bed="",
        barred=(),
        dead=None,
        led_to="",
        open_check="",
        due_at=None,
        is_elsewhere=True,
    )


def note_lowered(
    site: Site, act: Act, infusion_id: str, *, why: str
) -> Lowered | HasEnded | NotFound | NotAllowed:
    """Write down that a dose was lowered for safety; one person is enough, as for a stop.

    Any reason will do. Where the log has a stop it is written all the same: that may be of another bed.
    """
    with site.store.write() as tx:
        infusion = protected_for(tx, act, infusion_id)
        if not isinstance(infusion, KeptInfusion):
            return infusion
        hold_bed(tx, infusion.unit, infusion.bed, act.now)
        if not load_infusion(tx, infusion.id).may_run:
            return HasEnded()
        tx.append(DoseLowered(why=why if why in LOWERED else LOWERED[-1]), act=act, infusion=infusion.id)
        due_at = _due_at(tx, act, load_infusion(tx, infusion.id))
        assert due_at is not None  # noqa: S101  # it was lowered
        return Lowered(due_at=due_at)


def change_bed(
    site: Site, act: Act, infusion_id: str, *, bed: str
) -> BedKept | SameBed | Occupied | CheckIsOpen | NoSuchBed | HasEnded | NotFound | NotAllowed | NotOnShift:
    """Write down that an infusion is at another bed of its unit now: no check is needed for it."""
    with site.store.write() as tx:
        infusion = infusion_for(tx, act, infusion_id)
        if not isinstance(infusion, KeptInfusion):
            return infusion
        beds = beds_in(tx, infusion.unit)
        named = beds.find(bed)
        if named is None:
            return NoSuchBed(beds=beds.known)
        # Always in the same order: two that change places wait for each other, and never for good.
        for each in sorted({infusion.bed, named}):
            hold_bed(tx, infusion.unit, each, act.now)
        return _refused_bed(tx, infusion, named) or _keep_bed(tx, act, infusion, named)


def _refused_bed(
    reader: Reader, infusion: KeptInfusion, bed: str
) -> SameBed | Occupied | CheckIsOpen | HasEnded | None:
    state = load_infusion(reader, infusion.id)
    if state.last_run is None or state.ended_at is not None:
        return HasEnded()
    if bed == infusion.bed:
        return SameBed()
    if reader.open_checks_at(infusion.unit, infusion.bed):
        return CheckIsOpen()
    return Occupied(bed=bed) if is_occupied(reader, infusion.unit, bed) else None


def is_occupied(reader: Reader, unit: str, bed: str) -> bool:
    """Whether an infusion is at a bed, and not only found there still, or a check is open there."""
    alive = (bed_of(each) == (unit, bed) for each in reader.alive_at(unit, bed))
    return bool(reader.open_checks_at(unit, bed)) or any(alive)


def _keep_bed(tx: Transaction, act: Act, infusion: KeptInfusion, bed: str) -> BedKept:
    tx.append(BedChanged(unit=infusion.unit, bed=bed, before=infusion.bed), act=act, infusion=infusion.id)
    return BedKept(bed=bed)


def _due_at(reader: Reader, act: Act, state: InfusionState) -> datetime | None:
    if state.lowered_at is None:
        return None
    return state.lowered_at + rules_in_force(reader, act.now).policy.lowered_check_due
