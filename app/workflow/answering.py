"""Who answers for what runs: what is mine to hand over, and a colleague who covers a break of mine."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from app.base import Act
from app.people import Permission, may
from app.records.answering_events import BreakCovered, BreakOver
from app.records.beds import counted
from app.records.infusion import InfusionState
from app.records.kept import KeptInfusion
from app.records.ranking import Standing
from app.records.visibility import standing_of_infusion
from app.site.installation import Site
from app.site.loading import load_infusion, rules_in_force, unit_name
from app.storage import OfInfusions, Reader
from app.workflow.loading import roles_of
from app.workflow.queueing import one_at_a_time
from app.workflow.refusals import NotAllowed
from app.workflow.sessions import ABSOLUTE_LIFE


@dataclass(frozen=True, kw_only=True)
class Mine:
    """One infusion that a person answers for, by state alone; `open_check` is one at its bed, whoever's."""

    infusion: str
    bed: str
    standing: Standing
    runs: bool
    open_check: str
    open_kind: str


@dataclass(frozen=True, kw_only=True)
class Covering:
    """A break that a colleague covers: where, for whom, by whom and until when."""

    infusion: str
    bed: str
    whose: str
    by: str
    until: datetime
    overdue: bool


@dataclass(frozen=True, kw_only=True)
class MyInfusions:
    """What a person answers for on the unit of the shift, bed by bed, and what of it is covered.

    `covered` is of this person's break, `covering` of colleagues' whom this person covers. `colleagues` may
    be asked to cover, by id, until then.
    """

    unit: str
    mine: tuple[Mine, ...]
    covered: tuple[Covering, ...]
    covering: tuple[Covering, ...]
    colleagues: dict[str, str]
    until: datetime


@dataclass(frozen=True, kw_only=True)
class Covered:
    """A colleague covers all that this person answers for, until then."""

    until: datetime


@dataclass(frozen=True)
class NothingToCover:
    """Whoever goes answers for nothing here that is not covered already."""


@dataclass(frozen=True)
class NoColleague:
    """Nobody was named who may check, is on shift on this unit and on no break."""


@dataclass(frozen=True, kw_only=True)
class CoversAnother:
    """Whoever goes covers a break herself, of whom `whose` says: that one's patients would be left alone."""

    whose: str


@dataclass(frozen=True)
class Back:
    """The break is over: this person looks after it again."""


@dataclass(frozen=True)
class NotOnBreak:
    """Nothing of this person's is covered: the break is over already, or another has taken over."""


_Answered = tuple[KeptInfusion, InfusionState]


def my_infusions(site: Site, act: Act) -> MyInfusions:
    """What this person answers for; whether the person may ask is declared on the route."""
    with site.store.read() as reader:
        here = _here(reader, act)
        people = reader.people_with(
            {
                who
                for _, state in here
                for who in (state.responsible, state.cover.covers if state.cover else "")
            }
        )
        names = {who: person.printed_name for who, person in people.items()}
        breaks = [(_covering(each, names, act.now), each[1]) for each in here if each[1].cover is not None]
        me = act.by.person
        return MyInfusions(
            unit=unit_name(reader, act.by.unit),
            mine=tuple(_mine(reader, *each) for each in here if each[1].responsible == me),
            covered=tuple(told for told, state in breaks if state.responsible == me),
            covering=tuple(told for told, state in breaks if state.cover and state.cover.covers == me),
            colleagues=_colleagues(reader, act, here),
            until=act.now + rules_in_force(reader, act.now).policy.break_cover,
        )


def cover_break(
    site: Site, act: Act, *, covers: str
) -> Covered | NothingToCover | NoColleague | CoversAnother | NotAllowed:
    """Name who covers a break: all that this person answers for here, for the site's time at most."""
    with site.store.write() as tx:
        if not may(roles_of(tx, act.by.person), Permission.CHECK):
            return NotAllowed()
        # Of two who would cover each other, the second sees what the first has said.
        one_at_a_time(tx, f"breaks on {act.by.unit}", act.now)
        here = _here(tx, act)
        others = [state for _, state in here if state.cover and state.cover.covers == act.by.person]
        if others:
            return CoversAnother(whose=_name(tx, others[0].responsible))
        if covers not in _colleagues(tx, act, here):
            return NoColleague()
        # While it goes on it is not made longer: longer is a handoff.
        mine = [each for each, state in here if state.responsible == act.by.person and state.cover is None]
        if not mine:
            return NothingToCover()
        until = act.now + rules_in_force(tx, act.now).policy.break_cover
        event = BreakCovered(covers=covers, until=until.isoformat(timespec="seconds"))
        for each in mine:
            tx.append(event, act=act, infusion=each.id)
    return Covered(until=until)


def come_back(site: Site, act: Act) -> Back | NotOnBreak | NotAllowed:
    """The break is over, of all that is covered."""
    with site.store.write() as tx:
        if not may(roles_of(tx, act.by.person), Permission.CHECK):
            return NotAllowed()
        one_at_a_time(tx, f"breaks on {act.by.unit}", act.now)
        covered = [(each, state.cover) for each, state in _of_mine(tx, act) if state.cover is not None]
        for each, cover in covered:
            tx.append(BreakOver(cover=str(cover.position)), act=act, infusion=each.id)
    return Back() if covered else NotOnBreak()


def _here(reader: Reader, act: Act) -> list[_Answered]:
    """What runs, or was started and has not ended, on the unit of the shift, bed by bed."""
    asked = (OfInfusions.GOES_ON, OfInfusions.END_IS_DUE)
    some = {each.id: each for one in asked for each in reader.infusions_that(one, act.by.unit)}
    inorder = sorted(some.values(), key=lambda each: counted(each.bed))
    return [(each, load_infusion(reader, each.id)) for each in inorder]


def _of_mine(reader: Reader, act: Act) -> Iterable[_Answered]:
    return (each for each in _here(reader, act) if each[1].responsible == act.by.person)


def _mine(reader: Reader, infusion: KeptInfusion, state: InfusionState) -> Mine:
    is_open = next(iter(reader.open_checks_at(infusion.unit, infusion.bed)), None)
    return Mine(
        infusion=infusion.id,
        bed=infusion.bed,
        standing=standing_of_infusion(state),
        runs=state.shows_what_runs,
        open_check=is_open.id if is_open else "",
        open_kind=is_open.kind if is_open else "",
    )


def _covering(of: _Answered, names: dict[str, str], now: datetime) -> Covering:
    infusion, state = of
    assert state.cover is not None  # noqa: S101  # it was asked
    return Covering(
        infusion=infusion.id,
        bed=infusion.bed,
        whose=names.get(state.responsible, ""),
        by=names.get(state.cover.covers, ""),
        until=state.cover.until,
        overdue=state.cover.is_overdue(now),
    )


def _colleagues(reader: Reader, act: Act, here: Iterable[_Answered]) -> dict[str, str]:
    """Who may cover here: whoever may check, is on shift on the unit, and on no break herself.

    Where somebody has not signed in for as long as a shift lasts, the unit is the own one.
    """
    on_break = {state.responsible for _, state in here if state.cover is not None}
    people = [
        each
        for each in reader.people()
        if each.active and each.key_confirmed and may(each.roles, Permission.CHECK)
    ]
    shifts = reader.shifts_of([each.id for each in people], since=act.now - ABSOLUTE_LIFE)
    return {
        each.id: each.printed_name
        for each in sorted(people, key=lambda each: each.printed_name)
        if each.id not in {act.by.person, *on_break} and shifts.get(each.id, each.unit) == act.by.unit
    }


def _name(reader: Reader, person_id: str) -> str:
    person = reader.find_person(person_id)
    return person.printed_name if person else ""
