"""Lists of what is open and of what runs: where, how far and since when, and nothing that was read.

What is over is read by nobody who looks at a list, however much of it there is.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime

from app.base import Act
from app.people import Permission, Role, may
from app.records.due import Due, due_things
from app.records.events import StartedWithoutCheck
from app.records.infusion import InfusionState
from app.records.kept import KeptCheck, KeptInfusion
from app.records.life import Action, may_be_done
from app.records.paper_events import PaperTranscribed
from app.records.policy import SitePolicy
from app.records.ranking import Standing, rank
from app.records.restarting import Left, left_on
from app.records.state import Phase
from app.records.visibility import bed_of, is_blind_in, standing_of, standing_of_infusion, visible_to_others
from app.site.installation import Site
from app.site.lasting import lastings
from app.site.loading import Loaded, load_check, load_infusion, rules_in_force, running_against
from app.site.observing import observe_by
from app.storage import OfChecks, OfInfusions, ReadAhead, Reader
from app.workflow.infusions import since_of
from app.workflow.loading import roles_of
from app.workflow.put_on import OutListed, out_on_unit
from app.workflow.settling import may_end
from app.workflow.transferring import TransferSeen, taken_from


@dataclass(frozen=True, kw_only=True)
class Listed:
    """One line of a list: where, how far, and nothing that was read.

    `over`: nothing more is done in it.
    """

    check: str
    unit: str
    bed: str
    kind: str
    opened_at: datetime
    standing: Standing
    progress: str
    mine: bool
    joinable: bool
    over: bool
    waits_for_help: bool
    may_end: bool
    ended_by: str


@dataclass(frozen=True, kw_only=True)
class PaperListed:
    """What a list says of what was checked on paper: who did, who typed it in and who confirmed it.

    `counts`: another person found it the same as the sheets. `waits`: what was typed in last waits for one.
    `apart`: the two sheets do not say the same. Whoever reads blind at the bed is told `counts` alone.
    """

    counts: bool
    waits: bool = False
    apart: bool = False
    checked_at: str = ""
    first: str = ""
    second: str = ""
    by: str = ""
    confirmed_by: str = ""


@dataclass(frozen=True, kw_only=True)
class RunningUnchecked:
    """An infusion that runs without a check; it tops the list until one is cleared or its end is recorded.

    `runs`: nobody has written down a stop since; `paused_at`: since when its line is paused, if it is.
    `paper` is there where what was checked on paper was typed in; `left` is what emergencies left on it.
    """

    infusion: str
    bed: str
    reason: str
    due_at: datetime
    overdue: bool
    runs: bool
    paused_at: datetime | None
    paper: PaperListed | None
    left: Left


@dataclass(frozen=True, kw_only=True)
class Running:
    """An infusion that runs, whose end is due, or that a check of it led to another.

    `since` it runs, is paused or stopped; `needs_two`: paused for so long that two look before it runs on.
    `led_to` is the kind of check that must come before it runs on. `due` is what is to be done, and by when;
    `syringe_low`: it is time to ask pharmacy for the next one. `against` is where what runs cannot run beside
    it, by unit and bed, and `left` what emergencies left on it. Whoever reads blind there is told of its
    state alone.
    """

    infusion: str
    bed: str
    since: datetime
    standing: Standing
    led_to: str
    needs_two: bool
    due: tuple[Due, ...]
    syringe_low: bool
    against: tuple[tuple[str, str], ...]
    left: Left
    observe_at: datetime | None


@dataclass(frozen=True, kw_only=True)
class Told:
    """An infusion of which something is told until somebody ends it: evidence, a key that is not found."""

    infusion: str
    unit: str
    bed: str
    left: Left


@dataclass(frozen=True, kw_only=True)
class UnitList:
    """What a unit has open, and what one person has of one's own; each ranked.

    `told` is of every unit for whoever may read records of any. `away` is what another unit took from here,
    and no two have read yet: by state alone, whoever looks.
    """

    mine: tuple[Listed, ...]
    unit: tuple[Listed, ...]
    unchecked: tuple[RunningUnchecked, ...]
    running: tuple[Running, ...]
    told: tuple[Told, ...]
    away: tuple[TransferSeen, ...]
    out: tuple[OutListed, ...]


def unit_list(site: Site, act: Act) -> UnitList:
    """The person's own checks, and the unit's open ones for whoever may see the state of every check."""
    with site.store.read_ahead() as reader:
        roles = roles_of(reader, act.by.person)
        sees_unit = may(roles, Permission.UNIT_STATE)
        theirs = _own_checks(reader, act)
        open_checks = reader.checks_that(OfChecks.OPEN, act.by.unit) if sees_unit else ()
        unchecked = reader.infusions_that(OfInfusions.UNCHECKED, act.by.unit) if sees_unit else ()
        running = _begun(reader, act, but=unchecked) if sees_unit else ()
        told = _told(reader, act, roles)
        reader.take_states((*theirs, *open_checks), [each.id for each in (*unchecked, *running, *told)])
        # The own ones stand on the unit's list too, and each is folded once.
        loaded = {each.id: load_check(reader, each, act.now) for each in {*theirs, *open_checks}}
        own, open_here = [loaded[each.id] for each in theirs], [loaded[each.id] for each in open_checks]
        reading = [each.state.check for each in own if is_blind_in(each.state)]
        blind = _blind_to((*unchecked, *running), reading)
        reads = _Reads(reader=reader, now=act.now, blind=blind)
        return UnitList(
            # Who ended a check by the own hand knows it.
            mine=_ranked(
                _listed(reader, each, act, roles) for each in own if each.state.abandoned_by != act.by.person
            ),
            unit=_ranked(_listed(reader, each, act, roles) for each in open_here),
            unchecked=_all_unchecked(reader, unchecked, blind, act.now),
            running=tuple(
                sorted(
                    reads.running(running),
                    key=lambda each: rank(each.standing, each.since, each.bed),
                )
            ),
            told=tuple(
                Told(
                    infusion=each.id,
                    unit=each.unit,
                    bed=each.bed,
                    left=left_on(
                        load_infusion(reader, each.id), rules_in_force(reader, act.now).policy, act.now
                    ),
                )
                for each in told
            ),
            away=taken_from(reader, act) if sees_unit else (),
            out=tuple(out_on_unit(reader, act.by.unit)) if sees_unit else (),
        )


def _blind_to(infusions: Iterable[KeptInfusion], reading: Iterable[KeptCheck]) -> frozenset[str]:
    """Which infusions are closed to one of the two of these checks, who read."""
    read = tuple(reading)
    beds, theirs = {bed_of(each) for each in read}, {each.infusion for each in read}
    return frozenset(each.id for each in infusions if bed_of(each) in beds or each.id in theirs)


def _told(reader: Reader, act: Act, roles: frozenset[Role]) -> tuple[KeptInfusion, ...]:
    everywhere = may(roles, Permission.READ_RECORDS)
    if not (everywhere or may(roles, Permission.UNIT_STATE)):
        return ()
    found = reader.all_infusions_that(OfInfusions.TOLD)
    return tuple(each for each in found if everywhere or each.unit == act.by.unit)


def _own_checks(reader: Reader, act: Act) -> tuple[KeptCheck, ...]:
    """The person's own checks: those that are open, and those that ended since this person signed in."""
    ended = reader.checks_of_person_ended_since(act.by.person, act.by.signed_in_at)
    return (*reader.open_checks_of_person(act.by.person), *ended)


def _ranked(lines: Iterable[Listed]) -> tuple[Listed, ...]:
    return tuple(sorted(lines, key=lambda each: rank(each.standing, each.opened_at, each.bed)))


def _begun(reader: Reader, act: Act, *, but: Iterable[KeptInfusion]) -> tuple[KeptInfusion, ...]:
    """The infusions of a unit that run, wait for another check or whose end is due, but for some."""
    unit = act.by.unit
    found = {each.id: each for each in reader.infusions_that(OfInfusions.GOES_ON, unit)}
    found |= {each.id: each for each in reader.infusions_that(OfInfusions.END_IS_DUE, unit)}
    known = {each.id for each in but}
    return tuple(each for each in found.values() if each.id not in known)


@dataclass(frozen=True, kw_only=True)
class _Reads:
    """What a list is made from, for whoever looks: the infusions in `blind` are closed to this person."""

    reader: ReadAhead
    now: datetime
    blind: frozenset[str]

    def running(self, infusions: tuple[KeptInfusion, ...]) -> Iterator[Running]:
        """A line for each of these infusions."""
        policy = rules_in_force(self.reader, self.now).policy
        seen = [each for each in infusions if each.id not in self.blind]
        closed = {each.id for each in self.reader.open_checks()}
        lasts = lastings(self.reader, [each.id for each in seen], policy, closed=closed)
        for each in infusions:
            lasting = lasts.get(each.id)
            yield self._running(each, policy, is_low=lasting is not None and lasting.is_low(self.now))

    def _running(self, infusion: KeptInfusion, policy: SitePolicy, *, is_low: bool) -> Running:
        state = load_infusion(self.reader, infusion.id)
        against = running_against(self.reader, state)
        is_low = is_low and state.is_running
        by = self._reminder(state, policy)
        due = () if infusion.id in self.blind else due_things(state, policy, self.now, observe_by=by)
        return Running(
            infusion=infusion.id,
            bed=infusion.bed,
            since=since_of(state),
            standing=standing_of_infusion(
                state,
                two_run=bool(against),
                overdue=any(each.overdue for each in due),
                syringe_low=is_low,
                # After the site's time a set-up at the bed no longer belongs to one that was stopped.
                left_off=self.now - since_of(state) > policy.passes_on,
            ),
            led_to=state.led_to,
            needs_two=state.pause is not None and state.pause.needs_two(self.now, policy.pause),
            due=due,
            syringe_low=is_low,
            against=tuple((each.unit, each.bed) for each in against),
            left=left_on(state, policy, self.now),
            # Once it is overdue it stands among what is due.
            observe_at=by if by and by >= self.now else None,
        )

    def _reminder(self, state: InfusionState, policy: SitePolicy) -> datetime | None:
        """By when the patient is observed, where lists remind of it: not where the chart does."""
        if state.infusion in self.blind:
            return None
        return observe_by(self.reader, state, policy.observations, self.now)


def _all_unchecked(
    reader: Reader, infusions: Iterable[KeptInfusion], blind: frozenset[str], now: datetime
) -> tuple[RunningUnchecked, ...]:
    found = [(each, load_infusion(reader, each.id)) for each in infusions]
    concerned = {
        who for _, state in found for each in state.transcriptions for who in (each.by, each.answered_by)
    }
    people = reader.people_with(concerned) if concerned else {}
    names = {who: person.printed_name for who, person in people.items()}
    return tuple(
        _unchecked(reader, each, state, blind=each.id in blind, names=names, now=now) for each, state in found
    )


def _paper(
    reader: Reader, state: InfusionState, names: Mapping[str, str], *, blind: bool
) -> PaperListed | None:
    if not state.transcriptions:
        return None
    counts, waits = state.on_paper, state.waits_on_paper
    shown = counts or waits
    if blind or shown is None:
        return PaperListed(counts=counts is not None)
    events = {each.position: each.event for each in reader.course(state.infusion)}
    event = events[shown.position]
    assert isinstance(event, PaperTranscribed)  # noqa: S101  # what the state is folded from
    return PaperListed(
        counts=counts is not None,
        waits=waits is not None,
        apart=bool(event.differing),
        checked_at=event.checked_at,
        first=event.first,
        second=event.second,
        by=names.get(shown.by, ""),
        confirmed_by=names.get(shown.answered_by, ""),
    )


def _unchecked(
    reader: Reader,
    infusion: KeptInfusion,
    state: InfusionState,
    *,
    blind: bool,
    names: Mapping[str, str],
    now: datetime,
) -> RunningUnchecked:
    policy = rules_in_force(reader, infusion.opened_at).policy
    due_at = state.check_due_at(policy.check_due, on_paper=policy.paper_check_due)
    assert due_at is not None  # noqa: S101  # the list asked the same question
    reasons = (
        each.event.reason
        for each in reader.course(infusion.id)
        if isinstance(each.event, StartedWithoutCheck)
    )
    return RunningUnchecked(
        infusion=infusion.id,
        bed=infusion.bed,
        # What somebody wrote may hold a value: it is closed to whoever reads blind at this bed.
        reason="" if blind else next(reasons),
        due_at=due_at,
        overdue=now > due_at,
        runs=state.is_running,
        paused_at=state.pause.at if state.pause else None,
        paper=_paper(reader, state, names, blind=blind),
        left=left_on(state, policy, now),
    )


def open_checks(site: Site, act: Act) -> tuple[Listed, ...]:
    """What is open wherever this person may know of it: on the unit of the shift, or on each unit."""
    with site.store.read() as reader:
        roles = roles_of(reader, act.by.person)
        if not may(roles, Permission.UNIT_STATE):
            return ()
        everywhere = may(roles, Permission.READ_RECORDS)
        named = [unit.id for unit in reader.units()] if everywhere else [act.by.unit]
        found = [
            load_check(reader, check, act.now)
            for unit in named
            for check in reader.checks_that(OfChecks.OPEN, unit)
        ]
        return _ranked(_listed(reader, each, act, roles) for each in found)


def _name(reader: Reader, person_id: str) -> str:
    person = reader.find_person(person_id)
    return person.printed_name if person else ""


def _listed(reader: Reader, loaded: Loaded, act: Act, roles: frozenset[Role]) -> Listed:
    state = loaded.state
    mine = state.slot_of(act.by.person) is not None
    return Listed(
        check=state.check.id,
        unit=state.check.unit,
        bed=state.check.bed,
        kind=state.check.kind,
        opened_at=state.check.opened_at,
        standing=standing_of(state, loaded.infusion),
        progress=visible_to_others(state, loaded.infusion),
        mine=mine,
        joinable=state.phase is Phase.OPENED and not mine,
        over=state.has_ended,
        waits_for_help=state.open_help is not None and not state.open_help.taken_by,
        may_end=may_be_done(Action.ABANDON, state) and may_end(state, act.by, roles),
        ended_by=_name(reader, state.abandoned_by) if state.abandoned_by else "",
    )
