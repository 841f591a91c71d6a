"""What is done for a patient in a hurry: one tap by one person saves it, details follow, nothing is refused.

What ends it again, and what is told of it afterwards, is for whoever its page is there for.
Written down twice it stands twice and does no harm: the first time begins what it leaves behind.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import partial

from app.base import Act
from app.people import Permission, may
from app.records.change_events import BedChanged, PatientTaken
from app.records.emergencies import (
    AWAY,
    AWAY_FOR,
    HARM,
    HARMS,
    KEY,
    KEYS,
    OPIOIDS,
    OTHER,
    REVERSAL,
    TOLD,
    UNKNOWN,
)
from app.records.emergency_events import (
    CameBack,
    DeviceDied,
    EvidenceKept,
    EvidenceReleased,
    HarmSuspected,
    ItchTreated,
    KeyNotFound,
    LockChanged,
    RestartDecided,
    ReversalGiven,
    ToldAfterwards,
    WentAway,
)
from app.records.events import DeviceStopped, Event, StartedWithoutCheck
from app.records.evidence import IN_OWN_WORDS, READ
from app.records.infusion import InfusionState
from app.records.kept import Entry, KeptInfusion
from app.records.pauses import OTHER as OTHER_PAUSE
from app.records.ward_events import LinePaused
from app.site.installation import Site
from app.site.loading import load_infusion
from app.storage import Reader, Transaction
from app.workflow.loading import has_page_of, roles_of
from app.workflow.queueing import hold_bed
from app.workflow.refusals import NotAllowed, NotFound
from app.workflow.stopping import hold_alive_at, stop_each


@dataclass(frozen=True, kw_only=True)
class Noted:
    """It is in the log, as the entry with this position.

    `note` is the number by which its author may say that it was another bed: of the stop with it, if any.
    `is_elsewhere`: the infusion has no page for whoever wrote it.
    """

    position: int
    note: int = 0
    is_elsewhere: bool = False


@dataclass(frozen=True)
class NothingStands:
    """There is nothing of the kind to end: somebody ended it before, or it never was."""


@dataclass(frozen=True)
class HadAPart:
    """Whoever gives free what is kept had no part in that infusion."""


@dataclass(frozen=True)
class HoldsIt:
    """Whoever gives free what is kept does not hold it: it is handed on first, and confirmed."""


@dataclass(frozen=True, kw_only=True)
class Unclear:
    """A field of what is told afterwards is not written as it must be; `faults` says for each how."""

    faults: dict[str, str]


def note_reversal(site: Site, act: Act, infusion_id: str) -> Noted | NotFound | NotAllowed:
    """A reversal agent was given for sedation or breathing: stopped, and held.

    So is what goes on beside it at that bed: nothing more is given to that patient.
    """
    return _with_stop(site, act, infusion_id, why=REVERSAL, emergency=ReversalGiven, is_shared=True)


def note_itch(site: Site, act: Act, infusion_id: str) -> Noted | NotFound | NotAllowed:
    """One was given for itch: nothing is held, and nothing stops."""
    return _noted(site, act, infusion_id, lambda _: ItchTreated())


def note_harm(site: Site, act: Act, infusion_id: str, *, what: str) -> Noted | NotFound | NotAllowed:
    """Overdose or death is suspected: stopped, and nothing is cleared or emptied from here on."""
    named = what if what in HARMS else HARMS[0]
    emergency = partial(HarmSuspected, what=named)
    return _with_stop(site, act, infusion_id, why=HARM, emergency=emergency)


def note_away(site: Site, act: Act, infusion_id: str, *, what: str) -> Noted | NotFound | NotAllowed:
    """The patient goes without PCA: disconnected and capped, device and syringe locked."""
    named = what if what in AWAY_FOR else OTHER
    emergency = partial(WentAway, what=named)
    return _with_stop(site, act, infusion_id, why=AWAY, emergency=emergency)


def note_key(site: Site, act: Act, infusion_id: str, *, what: str) -> Noted | NotFound | NotAllowed:
    """Key or code is not found: charge nurse and pharmacy are told at their next page."""
    return _noted(site, act, infusion_id, lambda _: KeyNotFound(what=what if what in KEYS else KEY))


def note_dead_device(site: Site, act: Act, infusion_id: str) -> Noted | NotFound | NotAllowed:
    """The device is dead or has no power: what runs is paused, and another device comes before it runs on."""
    with site.store.write() as tx:
        infusion = _infusion_for(tx, act, infusion_id)
        if not isinstance(infusion, KeptInfusion):
            return infusion
        state = load_infusion(tx, infusion.id)
        pause = ""
        if state.is_running and state.pause is None:
            paused = tx.append(LinePaused(why=OTHER_PAUSE), act=act, infusion=infusion.id)
            pause = str(paused.position)
        return _written(tx, act, infusion, DeviceDied(pause=pause))


def note_back(
    site: Site, act: Act, infusion_id: str, *, opioids: str
) -> Noted | NothingStands | NotFound | NotAllowed:
    """The patient is back; what was given meanwhile the order says, which is read again."""

    def back(state: InfusionState) -> Event | None:
        absence = state.emergencies.absence
        said = opioids if opioids in OPIOIDS else UNKNOWN
        return CameBack(away=str(absence.went.position), opioids=said) if absence else None

    return _ended(site, act, infusion_id, permission=Permission.CHECK, event=back)


def decide_restart(
    site: Site, act: Act, infusion_id: str, *, prescriber: str
) -> Noted | NothingStands | Unclear | NotFound | NotAllowed:
    """Write down that a prescriber decided that a held infusion may be set anew: it starts nothing."""
    if not prescriber.strip():
        return Unclear(faults={"prescriber": "Write who decided."})

    def decided(state: InfusionState) -> Event | None:
        hold = state.emergencies.hold
        return RestartDecided(hold=str(hold.first.position), prescriber=prescriber.strip()) if hold else None

    return _ended(site, act, infusion_id, permission=Permission.CHECK, event=decided)


def change_lock(site: Site, act: Act, infusion_id: str) -> Noted | NothingStands | NotFound | NotAllowed:
    """Lock, key or code was changed: the syringe need not be counted for it any more."""

    def changed(state: InfusionState) -> Event | None:
        key = state.emergencies.key
        return LockChanged(missing=str(key.missing.position)) if key else None

    return _ended(site, act, infusion_id, permission=Permission.CHANGE_LOCK, event=changed)


def release_evidence(
    site: Site, act: Act, infusion_id: str
) -> Noted | NothingStands | HadAPart | HoldsIt | NotFound | NotAllowed:
    """The site's investigator gives free what was kept: nobody who had a part in it, and not its holder."""
    with site.store.write() as tx:
        infusion = _seen_by(tx, act, infusion_id, Permission.RELEASE_EVIDENCE)
        if not isinstance(infusion, KeptInfusion):
            return infusion
        stands = load_infusion(tx, infusion.id).emergencies
        evidence = stands.evidence
        if evidence is None:
            return NothingStands()
        if act.by.person in _concerned(tx, infusion.id):
            return HadAPart()
        if act.by.person == stands.custody.holder:
            return HoldsIt()
        event = EvidenceReleased(harm=str(evidence.position))
        return Noted(position=tx.append(event, act=act, infusion=infusion.id).position)


def _concerned(reader: Reader, infusion_id: str) -> set[str]:
    """The nurses of its checks, who started it without one, and whoever wrote what happened or is kept."""
    checks = reader.checks_of_infusion(infusion_id)
    wrote = (StartedWithoutCheck, HarmSuspected, EvidenceKept)
    return {
        *(each.person for check in checks for each in reader.participants(check.id)),
        *(each.by for each in reader.course(infusion_id) if isinstance(each.event, wrote)),
    }


@dataclass(frozen=True, kw_only=True)
class Sealed:
    """What is said of device and syringe once they are locked and sealed.

    `read` is what both show, by the names of the fields; a blank answer leaves what was said before.
    """

    seal: str = ""
    holder: str = ""
    place: str = ""
    read: Mapping[str, str] = field(default_factory=dict)


def keep_evidence(
    site: Site, act: Act, infusion_id: str, sealed: Sealed
) -> Noted | NothingStands | NotFound | NotAllowed:
    """Write down who holds device and syringe, where, under which seal, and what they show.

    Of each answer the last one counts, and nothing is mandatory. Whoever holds them confirms it
    (`holding_evidence.py`).
    """
    own = {name: getattr(sealed, name).strip() for name in IN_OWN_WORDS}
    read = {each.name: sealed.read.get(each.name, "") for each in READ}

    def kept(state: InfusionState) -> Event | None:
        evidence = state.emergencies.evidence
        if evidence is None:
            return None
        return EvidenceKept(harm=str(evidence.position), **own, **read, to_confirm=True)

    return _ended(site, act, infusion_id, permission=Permission.CHECK, event=kept)


def tell_afterwards(
    site: Site, act: Act, infusion_id: str, *, position: int, told: Mapping[str, str]
) -> Noted | NothingStands | NotFound | NotAllowed:
    """What there was no time for: each answer may be blank, and what is written again stands beside it.

    Whoever wrote it down from another unit tells of that, and of nothing else.
    """
    with site.store.write() as tx:
        infusion = _infusion_for(tx, act, infusion_id)
        if not isinstance(infusion, KeptInfusion):
            return infusion
        of = find_entry(tx.course(infusion.id), position)
        is_here = has_page_of(infusion, act.by, roles_of(tx, act.by.person))
        if not is_here and (of is None or of.by != act.by.person):
            return NotFound()
        names = TOLD.get(type(of.event), ()) if of else ()
        said = tuple((name, told[name].strip()) for name in names if told.get(name, "").strip())
        if not said:
            return NothingStands()
        told_of = ToldAfterwards(of=str(position), told=said)
        entry = tx.append(told_of, act=act, infusion=infusion.id)
        return Noted(position=entry.position, is_elsewhere=not is_here)


def find_entry(entries: tuple[Entry, ...], position: int) -> Entry | None:
    """The entry of an infusion at a position."""
    return next((each for each in entries if each.position == position), None)


def _with_stop(
    site: Site,
    act: Act,
    infusion_id: str,
    *,
    why: str,
    emergency: Callable[..., Event],
    is_shared: bool = False,
) -> Noted | NotFound | NotAllowed:
    """The stop counts for what runs or is open beside it; what it was for is of this one, unless shared."""
    with site.store.write() as tx:
        infusion = _infusion_for(tx, act, infusion_id)
        if not isinstance(infusion, KeptInfusion):
            return infusion
        alive = hold_alive_at(tx, act, unit=infusion.unit, bed=infusion.bed, named=(infusion, None))
        counts_for = {each: check for each, check in alive.items() if _is_beside(tx, infusion, each)}
        stop = DeviceStopped(stopped_at="", why=why, totals="")
        only = "" if is_shared else infusion.id
        note = stop_each(tx, act, stop, counts_for, emergency=emergency, only=only)
        own = (each for each in tx.appended if each.infusion == infusion.id)
        return Noted(position=max(each.position for each in own), note=note)


def _is_beside(reader: Reader, infusion: KeptInfusion, other: str) -> bool:
    """Whether another may be of the same patient: what came to the bed since this one stood still is not."""
    run = load_infusion(reader, infusion.id).last_run
    if other == infusion.id or run is None or run.stopped_at is None:
        return True
    kept = reader.find_infusion(other)
    moved = [each.at for each in reader.course(other) if isinstance(each.event, BedChanged | PatientTaken)]
    return kept is not None and max([kept.opened_at, *moved]) <= run.stopped_at


def _noted(
    site: Site, act: Act, infusion_id: str, event: Callable[[InfusionState], Event]
) -> Noted | NotFound | NotAllowed:
    with site.store.write() as tx:
        infusion = _infusion_for(tx, act, infusion_id)
        if not isinstance(infusion, KeptInfusion):
            return infusion
        return _written(tx, act, infusion, event(load_infusion(tx, infusion.id)))


def _written(tx: Transaction, act: Act, infusion: KeptInfusion, event: Event) -> Noted:
    """What stands without a stop has its own number."""
    position = tx.append(event, act=act, infusion=infusion.id).position
    return Noted(position=position, note=position)


def _ended(
    site: Site,
    act: Act,
    infusion_id: str,
    *,
    permission: Permission,
    event: Callable[[InfusionState], Event | None],
) -> Noted | NothingStands | NotFound | NotAllowed:
    with site.store.write() as tx:
        infusion = _seen_by(tx, act, infusion_id, permission)
        if not isinstance(infusion, KeptInfusion):
            return infusion
        told = event(load_infusion(tx, infusion.id))
        if told is None:
            return NothingStands()
        return Noted(position=tx.append(told, act=act, infusion=infusion.id).position)


_ANYBODYS = (Permission.CHECK, Permission.UNIT_STATE)


def _infusion_for(
    tx: Transaction, act: Act, infusion_id: str, *asked: Permission
) -> KeptInfusion | NotFound | NotAllowed:
    """The infusion, held at its bed; an emergency is anybody's on any unit, for it waits for nobody."""
    infusion = tx.find_infusion(infusion_id)
    if infusion is None:
        return NotFound()
    roles = roles_of(tx, act.by.person)
    if not any(may(roles, each) for each in asked or _ANYBODYS):
        return NotAllowed()
    hold_bed(tx, infusion.unit, infusion.bed, act.now)
    return infusion


def _seen_by(
    tx: Transaction, act: Act, infusion_id: str, *asked: Permission
) -> KeptInfusion | NotFound | NotAllowed:
    """The same for whoever is shown its page."""
    found = _infusion_for(tx, act, infusion_id, *asked)
    if isinstance(found, KeptInfusion) and not has_page_of(found, act.by, roles_of(tx, act.by.person)):
        return NotFound()
    return found
