"""Lists of what is open and of what runs: where, how far and since when, and nothing that was read.

What is over is read by nobody who looks at a list, however much of it there is.
"""

from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime

from app.base import Act
from app.people import Permission, Role, may
from app.records.due import Due, due_things
from app.records.infusion import InfusionState
from app.records.kept import KeptCheck, KeptInfusion
from app.records.life import Action, may_be_done
from app.records.observing import Protocol
from app.records.ranking import Standing, rank
from app.records.restarting import Left, left_on
from app.records.rules import Rules
from app.records.state import BLIND, CheckState, Phase
from app.records.visibility import bed_of, is_blind_in, standing_of, standing_of_infusion, visible_to_others
from app.site.installation import Site
from app.site.lasting import lastings
from app.site.loading import Loaded, checks_in, load_check, load_infusion, rules_in_force, running_against
from app.site.observing import observe_by
from app.storage import OfChecks, OfInfusions, ReadAhead, Reader
from app.workflow.infusions import since_of
from app.workflow.listing_unchecked import RunningUnchecked, all_unchecked
from app.workflow.loading import roles_of
from app.workflow.put_on import OutListed, out_of_infusions
from app.workflow.settling import may_end
from app.workflow.transferring import TransferSeen, taken_from


@dataclass(frozen=True, kw_only=True)
class Listed:
    """One line of a list: where, how far, since when, and nothing that was read.

    `people` are those who have joined, the first nurse before the second; `helper` took their request for
    help, and `outcome` is how one was settled, for as long as they read again because of it. `over`: nothing
    more is done in it.
    """

    check: str
    unit: str
    bed: str
    kind: str
    opened_at: datetime
    standing: Standing
    stands_since: datetime
    people: tuple[str, ...]
    helper: str
    outcome: str
    progress: str
    mine: bool
    joinable: bool
    over: bool
    waits_for_help: bool
    may_end: bool
    ended_by: str


@dataclass(frozen=True, kw_only=True)
class Running:
    """An infusion that runs, whose end is due, or that a check of it led to another.

    `since` it runs, is paused or stopped; `is_paused`: its line is, and `needs_two`: for so long that two
    look before it runs on.
    `led_to` is the kind of check that must come before it runs on. `due` is what is to be done, and by when;
    `syringe_low`: it is time to ask pharmacy for the next one. `against` is where what runs cannot run beside
    it, by unit and bed, and `left` what emergencies left on it. `responsible` answers for it, and
    `covered_by` looks after it meanwhile. Whoever reads blind there is told of its
    state alone.
    """

    infusion: str
    unit: str
    bed: str
    since: datetime
    standing: Standing
    responsible: str
    covered_by: str
    led_to: str
    is_paused: bool
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
    and no two have read yet: by state alone, whoever looks. `blind` are the infusions, and `blind_at` the
    beds, that are closed to this person, who reads there.
    """

    mine: tuple[Listed, ...]
    unit: tuple[Listed, ...]
    unchecked: tuple[RunningUnchecked, ...]
    running: tuple[Running, ...]
    told: tuple[Told, ...]
    away: tuple[TransferSeen, ...]
    out: tuple[OutListed, ...]
    blind: frozenset[str]
    blind_at: frozenset[tuple[str, str]]


def unit_list(site: Site, act: Act) -> UnitList:
    """The person's own checks, and the unit's open ones for whoever may see the state of every check."""
    with site.store.read_ahead() as reader:
        roles = roles_of(reader, act.by.person)
        units = (act.by.unit,) if may(roles, Permission.UNIT_STATE) else ()
        return list_of(reader, act, roles, units, ended=True)


def list_of(
    reader: ReadAhead,
    act: Act,
    roles: frozenset[Role],
    units: Collection[str],
    *,
    ended: bool = False,
    besides: Iterable[str] = (),
) -> UnitList:
    """What some units have open and what runs there, and the person's own, with those that `ended` or not.

    It asks as much of the database for one unit as for all. `besides` are infusions to have at hand.
    """
    theirs = _own_checks(reader, act) if ended else reader.open_checks_of_person(act.by.person)
    sees_checks = may(roles, Permission.UNIT_STATE)
    seen = units if sees_checks else ()
    open_checks = tuple(each for unit in seen for each in reader.checks_that(OfChecks.OPEN, unit))
    unchecked = _those(reader, OfInfusions.UNCHECKED, units)
    running = _begun(reader, units, but=unchecked)
    told = _told(reader, act, roles)
    out = _those(reader, OfInfusions.ISSUED, units)
    away = reader.all_infusions_that(OfInfusions.TAKEN) if act.by.unit in units else ()
    infusions = {*besides, *(each.id for each in (*unchecked, *running, *told, *out, *away))}
    reader.take_states((*theirs, *open_checks), infusions)
    # The own ones stand on the unit's list too, and each is folded once.
    loaded = {each.id: load_check(reader, each, act.now) for each in {*theirs, *open_checks}}
    own, open_here = [loaded[each.id] for each in theirs], [loaded[each.id] for each in open_checks]
    reading = [each.state.check for each in own if is_blind_in(each.state)]
    blind = _blind_to((*unchecked, *running), reading)
    reads = _Reads(reader=reader, now=act.now, blind=blind)
    rules = rules_in_force(reader, act.now)
    return UnitList(
        # Who ended a check by the own hand knows it.
        mine=_ranked(
            _listed(reader, each, act, roles) for each in own if each.state.abandoned_by != act.by.person
        ),
        unit=_ranked(_listed(reader, each, act, roles) for each in open_here),
        unchecked=all_unchecked(reader, unchecked, blind, act.now, by=act.by.person),
        running=tuple(
            sorted(reads.running(running), key=lambda each: rank(each.standing, each.since, each.bed))
        ),
        told=tuple(
            Told(
                infusion=each.id,
                unit=each.unit,
                bed=each.bed,
                left=left_on(load_infusion(reader, each.id), rules, act.now),
            )
            for each in told
        ),
        away=taken_from(reader, act) if away else (),
        out=tuple(out_of_infusions(reader, out)),
        blind=blind,
        blind_at=frozenset(bed_of(each) for each in reading),
    )


def people_in(listed: UnitList) -> frozenset[str]:
    """Everybody who has joined, helps, answers for something or covers a break."""
    checks = {who for each in listed.unit for who in (*each.people, each.helper)}
    runs = {who for each in listed.running for who in (each.responsible, each.covered_by)}
    return frozenset({*checks, *runs, *(each.responsible for each in listed.unchecked)} - {""})


def _those(reader: Reader, asked: OfInfusions, units: Collection[str]) -> tuple[KeptInfusion, ...]:
    if not units:
        return ()
    return tuple(each for each in reader.all_infusions_that(asked) if each.unit in units)


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


def _begun(
    reader: Reader, units: Collection[str], *, but: Iterable[KeptInfusion]
) -> tuple[KeptInfusion, ...]:
    """The infusions of units that run, wait for another check or whose end is due, but for some."""
    found = {each.id: each for each in _those(reader, OfInfusions.GOES_ON, units)}
    found |= {each.id: each for each in _those(reader, OfInfusions.END_IS_DUE, units)}
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
        rules = rules_in_force(self.reader, self.now)
        seen = [each for each in infusions if each.id not in self.blind]
        closed = {each.id for each in self.reader.open_checks()}
        lasts = lastings(self.reader, [each.id for each in seen], rules.policy, closed=closed)
        if rules.observations.reminds:
            courses = [self.reader.course(each.id) for each in seen]
            self.reader.take_comparisons([check for course in courses for check in checks_in(course)])
        for each in infusions:
            lasting = lasts.get(each.id)
            yield self._running(each, rules, is_low=lasting is not None and lasting.is_low(self.now))

    def _running(self, infusion: KeptInfusion, rules: Rules, *, is_low: bool) -> Running:
        state, policy = load_infusion(self.reader, infusion.id), rules.policy
        against = running_against(self.reader, state)
        is_low = is_low and state.is_running
        by = self._reminder(state, rules.observations)
        due = () if infusion.id in self.blind else due_things(state, policy, self.now, observe_by=by)
        return Running(
            infusion=infusion.id,
            unit=infusion.unit,
            bed=infusion.bed,
            responsible=state.responsible,
            covered_by=state.cover.covers if state.cover else "",
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
            is_paused=state.pause is not None,
            needs_two=state.pause is not None and state.pause.needs_two(self.now, policy.pause),
            due=due,
            syringe_low=is_low,
            against=tuple((each.unit, each.bed) for each in against),
            left=left_on(state, rules, self.now),
            # Once it is overdue it stands among what is due.
            observe_at=by if by and by >= self.now else None,
        )

    def _reminder(self, state: InfusionState, protocol: Protocol) -> datetime | None:
        """By when the patient is observed, where lists remind of it: not where the chart does."""
        if state.infusion in self.blind:
            return None
        return observe_by(self.reader, state, protocol, self.now)


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
        stands_since=_stands_since(state),
        people=tuple(state.people[slot] for slot in sorted(state.people)),
        helper=state.open_help.taken_by if state.open_help else "",
        outcome=state.current.outcome if state.current and state.phase in BLIND else "",
        progress=visible_to_others(state, loaded.infusion),
        mine=mine,
        joinable=state.phase is Phase.OPENED and not mine,
        over=state.has_ended,
        waits_for_help=state.open_help is not None and not state.open_help.taken_by,
        may_end=may_be_done(Action.ABANDON, state) and may_end(state, act.by, roles),
        ended_by=_name(reader, state.abandoned_by) if state.abandoned_by else "",
    )


def _stands_since(state: CheckState) -> datetime:
    """Since when somebody is waited for: a third person, or a start; else since it was opened."""
    if state.open_help is not None:
        return state.open_help.asked_at
    return state.cleared_at or state.check.opened_at
