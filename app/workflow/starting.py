"""Last look and start; what had to start without a check."""

from dataclasses import dataclass

from app.base import Act
from app.people import Permission, may
from app.records import events
from app.records.course import Course
from app.records.kept import FIRST, SECOND
from app.records.life import Action
from app.records.misplaced_starts import counting_starts
from app.records.restarting import HeldBack
from app.records.ward_events import StartRefused
from app.site.beds import beds_in
from app.site.flat_rows import keep_end
from app.site.installation import Site
from app.site.loading import Loaded, load_infusion, lock_and_load
from app.storage import Reader, Transaction
from app.workflow.comparing import compare_before_its_end
from app.workflow.confirming import OWN_PART, NotConfirmed, Part, lock_part
from app.workflow.elsewhere import RunsElsewhere, refuse_start
from app.workflow.loading import Own, lock_own, roles_of
from app.workflow.opening import fresh_infusion, place_at
from app.workflow.put_on import note_put_on
from app.workflow.queueing import hold_bed
from app.workflow.refusals import Incomplete, NoSuchBed, NoSuchUnit, NotAllowed, NotFound, NotNow, NotYours
from app.workflow.settling import end_for_a_start


@dataclass(frozen=True, kw_only=True)
class Looked:
    """The last look is in the log; `both` when each has looked and seen the agreed values."""

    both: bool


@dataclass(frozen=True)
class NotTheSame:
    """A last look differed: clearance has ended, and both read the device again."""


@dataclass(frozen=True)
class StartNoted:
    """The infusion is running."""


def take_last_look(
    site: Site, act: Act, check_id: str, *, same: bool, part: Part = OWN_PART
) -> Looked | NotTheSame | RunsElsewhere | HeldBack | NotFound | NotYours | NotNow | NotConfirmed:
    """Immediately before starting: the device beside the agreed values, a look and one tap."""
    with site.store.write() as tx:
        own = lock_part(tx, act, check_id, Action.LAST_LOOK, part=part)
        if not isinstance(own, Own):
            return own
        state, slot = own.state, own.slot
        what = StartRefused.LAST_LOOK
        refused = refuse_start(tx, own.act, own.loaded, slot=slot, what=what) if same else None
        if refused is not None:
            return refused
        if slot not in state.last_looks or not same:
            looked = events.LastLookTaken(edition=state.edition, slot=slot, same=same)
            tx.append(looked, act=own.act, check=check_id)
        if not same:
            tx.append(
                events.ClearanceLapsed(why=events.ClearanceLapsed.LAST_LOOK_DIFFERS),
                act=own.act,
                check=check_id,
            )
            return NotTheSame()
        return Looked(both={FIRST, SECOND} <= {*state.last_looks, slot})


def start_infusion(
    site: Site, act: Act, check_id: str
) -> StartNoted | Incomplete | RunsElsewhere | HeldBack | NotFound | NotYours | NotNow:
    """Note that the infusion was started, after both last looks and before clearance lapses.

    Of two checks of one patient exactly one starts; who is refused has stopped the device again, or has not
    begun.
    """
    with site.store.write() as tx:
        own = lock_own(tx, act, check_id, Action.START)
        if not isinstance(own, Own):
            return own
        state = own.state
        if not {FIRST, SECOND} <= state.last_looks:
            return Incomplete(fields=("last-look",))
        refused = refuse_start(tx, own.act, own.loaded, slot=own.slot, what=StartRefused.START)
        if refused is not None:
            return refused
        note_put_on(tx, act, own.loaded)
        tx.append(
            events.Started(check_kind=state.kind.name),
            act=act,
            check=check_id,
            infusion=state.check.infusion,
        )
        keep_end(site, tx, own.loaded)
    return StartNoted()


def note_start_despite_check(
    site: Site, act: Act, check_id: str, *, reason: str
) -> StartNoted | NotFound | NotAllowed:
    """The infusion of a check had to start before it was ready: the check ends, a blind one is due.

    It is refused in no phase, and asks for no place: the check says where. Of an infusion that was closed
    nothing is in hand any more: what started there since is another.
    """
    compare_before_its_end(site, check_id, act.now)
    with site.store.write() as tx:
        check = tx.find_check(check_id)
        if check is None:
            return NotFound()
        if not may(roles_of(tx, act.by.person), Permission.CHECK):
            return NotAllowed()
        hold_bed(tx, check.unit, check.bed, act.now)
        loaded = lock_and_load(tx, check_id, act.now)
        assert loaded is not None  # noqa: S101  # found a moment ago
        infusion, instead_of = loaded.infusion.infusion, check_id
        if loaded.infusion.closed_at is not None:
            infusion, instead_of = _infusion_at(tx, act, check.unit, check.bed), ""
        told = events.StartedWithoutCheck(reason=reason, started_at="", instead_of=instead_of)
        _had_to_start(site, tx, act, infusion=infusion, loaded=loaded, told=told)
    return StartNoted()


def note_start_without_check(
    site: Site, act: Act, *, unit: str, bed: str, reason: str, started_at: str
) -> StartNoted | Incomplete | NoSuchUnit | NoSuchBed:
    """An infusion had to start when no check could be had in time: running without a check, never cleared.

    A check that is open at the bed ends with it, as where it had to start from that. Sent once more it adds
    nothing.
    """
    if not reason.strip():
        return Incomplete(fields=("reason",))
    for check in _open_at(site, unit, bed):
        compare_before_its_end(site, check, act.now)
    with site.store.write() as tx:
        if tx.find_unit(unit) is None:
            return NoSuchUnit()
        hold_bed(tx, unit, bed, act.now)
        beds = beds_in(tx, unit)
        named = beds.find(bed)
        if named is None:
            return NoSuchBed(beds=beds.known)
        loaded = _gives_way(tx, act, unit, named)
        infusion = loaded.infusion.infusion if loaded else _infusion_at(tx, act, unit, named)
        instead_of = loaded.state.check.id if loaded else ""
        told = events.StartedWithoutCheck(reason=reason, started_at=started_at, instead_of=instead_of)
        _had_to_start(site, tx, act, infusion=infusion, loaded=loaded, told=told)
    return StartNoted()


def _open_at(site: Site, unit: str, bed: str) -> list[str]:
    """The check that is open at a bed, however that is written."""
    with site.store.read() as reader:
        named = beds_in(reader, unit).find(bed)
        return [each.id for each in reader.open_checks_at(unit, named)] if named else []


def _gives_way(tx: Transaction, act: Act, unit: str, bed: str) -> Loaded | None:
    """The check that is open at a bed, unless it is of what has ended: another patient may follow."""
    is_open = next(iter(tx.open_checks_at(unit, bed)), None)
    loaded = lock_and_load(tx, is_open.id, act.now) if is_open else None
    return loaded if loaded is not None and loaded.infusion.ended_at is None else None


def _had_to_start(
    site: Site,
    tx: Transaction,
    act: Act,
    *,
    infusion: str,
    loaded: Loaded | None,
    told: events.StartedWithoutCheck,
) -> None:
    """Once, and the check that was open ends."""
    is_over = loaded is None or loaded.state.has_ended
    if is_over and _says_so(tx, act, infusion, told):
        return
    tx.append(told, act=act, infusion=infusion)
    if loaded is not None:
        end_for_a_start(site, tx, act, loaded)


def _says_so(reader: Reader, act: Act, infusion: str, told: events.StartedWithoutCheck) -> bool:
    """Whether the same person has written the same of a run that goes on, and nothing has come since."""
    state = load_infusion(reader, infusion)
    if not (state.is_unchecked and state.is_running) or state.pause is not None or state.waits:
        return False
    last = counting_starts(reader.course(infusion))[-1]
    return (last.by, last.event) == (act.by.person, told)


def _infusion_at(tx: Transaction, act: Act, unit: str, bed: str) -> str:
    """Which it is that had to start at a bed: the bed's own, where no other must begin there.

    By the log it may run: a second one beside it would hide what that holds, and what was left on it.
    """
    before = place_at(tx, act, unit, bed)
    if before.course is Course.STARTED:
        return tx.infusions_at(unit, bed)[0].id
    return (before.infusion or fresh_infusion(tx, act, unit, bed)).id
