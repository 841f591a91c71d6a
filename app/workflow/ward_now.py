"""What is to be done now: a charge nurse sees the own unit, who reads records of any unit sees each.

The rows are those of every other list. Whoever may not see the state of checks is told of no open one. A page
of it asks every two seconds whether it still shows what is: what it showed one person is remembered for that
person alone, as long as nothing has happened and for some seconds, since what is due follows from the clock.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from app.base import Act
from app.people import Permission, Person, Role, may
from app.records.course_kinds import PUT_IN_FORCE
from app.records.events import ExceptionGranted
from app.records.kept import Entry, KeptInfusion
from app.records.visibility import bed_of
from app.site.installation import Site
from app.site.loading import load_infusion
from app.storage import OfInfusions, ReadAhead
from app.workflow.listing import UnitList, list_of, people_in
from app.workflow.loading import roles_of
from app.workflow.sessions import actor_of
from app.workflow.signing_in import live_session


@dataclass(frozen=True, kw_only=True)
class InForce:
    """A rule that was set aside for what runs: until settings are put in force anew, or the infusion ends."""

    infusion: str
    unit: str
    bed: str
    code: str
    field: str
    by: str
    since: datetime


@dataclass(frozen=True, kw_only=True)
class AccountOpen:
    """An account that was left open, for whoever may close it: where and since when, no figure."""

    infusion: str
    unit: str
    bed: str
    since: datetime


@dataclass(frozen=True, kw_only=True)
class WardNow:
    """All of it; `names` has who stands in it, and `everywhere` says whether it is of each unit.

    `position` is that of the log's last entry before any of it was read.
    """

    listed: UnitList
    accounts: tuple[AccountOpen, ...]
    exceptions: tuple[InForce, ...]
    names: Mapping[str, str]
    everywhere: bool
    position: int


# So much later may a page be told that something is overdue, has lapsed or runs low.
A_WHILE = timedelta(seconds=15)
_BEGAN = datetime(1970, 1, 1, tzinfo=UTC)


def ward_now(site: Site, act: Act) -> WardNow:
    """What this person may know of, on the unit of the shift or on each; no value that was read."""
    with site.store.read_ahead() as reader:
        roles = roles_of(reader, act.by.person)
        everywhere = may(roles, Permission.READ_RECORDS)
        units = frozenset(each.id for each in reader.units()) if everywhere else {act.by.unit}
        left = _left_open(reader, roles, units)
        listed = list_of(reader, act, roles, units, besides=[each.id for each in left])
        exceptions = tuple(_in_force(reader, listed))
        people = people_in(listed) | {each.by for each in exceptions}
        return WardNow(
            listed=listed,
            accounts=tuple(_accounts(reader, left, listed)),
            exceptions=exceptions,
            names={who: each.printed_name for who, each in reader.people_with(people).items()},
            everywhere=everywhere,
            position=reader.head(),
        )


@dataclass(frozen=True, kw_only=True)
class Watcher:
    """Whose page asks by itself whether it still shows what is.

    `shown` is the stamp of what this person's page would show; blank where that is to be worked out.
    """

    person: Person
    act: Act
    shown: str


def find_watcher(site: Site, now: datetime, *, token: str, device: str, idle: timedelta) -> Watcher | None:
    """Whoever is signed in there; asking does not say that anybody is."""
    with site.store.read() as reader:
        session = live_session(reader, now, token=token, idle=idle)
        if session is None or session.device != device:
            return None
        person = reader.find_person(session.person)
        if person is None or not person.active:
            return None
        act = Act(now=now, by=actor_of(session), new_id=str)
        kept = reader.worked_out(_whose(person, act))
        shown = kept.stamp if kept is not None and kept.held(reader.head(), now) else ""
    return Watcher(person=person, act=act, shown=shown)


@dataclass(frozen=True, kw_only=True)
class _Shown:
    """What a page showed one person, at a position of the log and in a moment that lasts a while."""

    stamp: str
    position: int
    while_: int

    def held(self, position: int, now: datetime) -> bool:
        return (self.position, self.while_) == (position, _while_of(now))


def keep_shown(site: Site, act: Act, person: Person, *, stamp: str, position: int) -> None:
    """Remember the stamp of what this person was shown, or would have been."""
    with site.store.read() as reader:
        shown = _Shown(stamp=stamp, position=position, while_=_while_of(act.now))
        reader.keep_worked_out(_whose(person, act), shown)


def _whose(person: Person, act: Act) -> object:
    """A page is of one person with these roles, on the unit of the shift."""
    return "now", person.id, person.roles, act.by.unit


def _while_of(now: datetime) -> int:
    return (now - _BEGAN) // A_WHILE


def _left_open(reader: ReadAhead, roles: frozenset[Role], units: Iterable[str]) -> tuple[KeptInfusion, ...]:
    if not may(roles, Permission.CLOSE_ACCOUNT):
        return ()
    found = reader.all_infusions_that(OfInfusions.ACCOUNT_OPEN)
    return tuple(each for each in found if each.unit in set(units))


def _accounts(reader: ReadAhead, left: Iterable[KeptInfusion], listed: UnitList) -> Iterable[AccountOpen]:
    """None at a bed where that person reads."""
    for each in left:
        state = load_infusion(reader, each.id)
        if (
            state.left_open is not None
            and each.id not in listed.blind
            and bed_of(each) not in listed.blind_at
        ):
            yield AccountOpen(infusion=each.id, unit=each.unit, bed=each.bed, since=state.left_open.at)


def _in_force(reader: ReadAhead, listed: UnitList) -> Iterable[InForce]:
    """Of what runs and is not closed to whoever looks; asked for all of it at once."""
    seen = {each.infusion: each for each in listed.running if each.infusion not in listed.blind}
    checks = {check: each for each in seen for check in _that_count(reader, each)}
    granted: dict[tuple[str, str, str], Entry] = {}
    for entry in reader.granted_in(checks):
        event = entry.event
        assert isinstance(event, ExceptionGranted)  # noqa: S101  # nothing else was asked for
        granted[checks[entry.check], event.code, event.field] = entry
    for (infusion, code, field), entry in granted.items():
        where = seen[infusion]
        yield InForce(
            infusion=infusion,
            unit=where.unit,
            bed=where.bed,
            code=code,
            field=field,
            by=entry.by,
            since=entry.at,
        )


def _that_count(reader: ReadAhead, infusion: str) -> tuple[str, ...]:
    """The check that put in force what is, and those since in which two looked at it again."""
    state = load_infusion(reader, infusion)
    if not state.is_running:
        return ()
    over = [each.check for each in reader.course(infusion) if each.event.kind in PUT_IN_FORCE]
    return tuple(over[over.index(state.in_force) :]) if state.in_force in over else ()
