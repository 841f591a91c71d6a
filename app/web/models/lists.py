"""The list of checks as a page shows it: where, how far, and what can be done about it; never a value."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime

from app.people import Permission, Person, may
from app.records.kinds import KINDS
from app.words.names import named_within
from app.words.screens import kind_words
from app.workflow.looking import Listed, Running, UnitList


@dataclass(frozen=True, kw_only=True)
class Line:
    """One check: `opens` is an endpoint, blank where this person only sees that it is there."""

    check: str
    place: str
    kind: str
    opened_at: datetime
    progress: str
    opens: str
    action: str
    due: "Due | None"
    may_end: bool


@dataclass(frozen=True, kw_only=True)
class Due:
    """A check that is due at a bed and that this person may open."""

    unit: str
    bed: str


@dataclass(frozen=True, kw_only=True)
class Unchecked:
    """An infusion that runs without a check."""

    infusion: str
    place: str
    reason: str
    due_at: datetime
    due: Due | None
    checks: tuple[tuple[str, str], ...]


@dataclass(frozen=True, kw_only=True)
class RunningLine:
    """An infusion that runs or waits for another check; `checks` are those that may be opened on it."""

    infusion: str
    place: str
    since: datetime
    progress: str
    due: Due | None
    due_words: str
    checks: tuple[tuple[str, str], ...]


@dataclass(frozen=True, kw_only=True)
class Offered:
    """What else this person may do."""

    check: bool
    unit: bool
    findings: bool
    shift_sheet: bool
    export: bool
    verify: bool
    accounts: bool


@dataclass(frozen=True, kw_only=True)
class ChecksPage:
    """The first page after signing in."""

    here: str
    unchecked: tuple[Unchecked, ...]
    mine: tuple[Line, ...]
    unit: tuple[Line, ...]
    running: tuple[RunningLine, ...]
    offered: Offered


def checks_page(listed: UnitList, person: Person, here: str, units: Mapping[str, str]) -> ChecksPage:
    """The page for one person at one unit; `units` names each unit."""
    offered = _offered(person)
    return ChecksPage(
        here=units.get(here, here),
        unchecked=tuple(
            Unchecked(
                infusion=each.infusion,
                place=place(units.get(here, here), each.bed),
                reason=each.reason,
                due_at=each.due_at,
                due=None if each.runs else _due_where_nothing_is_open(each.bed, listed, here, offered),
                checks=_checks_of(each.bed, listed, here, offered) if each.runs else (),
            )
            for each in listed.unchecked
        ),
        mine=tuple(_line(each, units, offered, due=_due(each, here, offered)) for each in listed.mine),
        unit=tuple(_line(each, units, offered) for each in _of_others(listed.unit)),
        running=tuple(_running(each, listed, here, units, offered=offered) for each in listed.running),
        offered=offered,
    )


def place(unit: str, bed: str) -> str:
    """Where: unit and bed, which no line break parts."""
    return f"{unit}, bed\N{NO-BREAK SPACE}{bed}"


def _of_others(lines: Iterable[Listed]) -> Iterable[Listed]:
    return (each for each in lines if not each.mine)


def _offered(person: Person) -> Offered:
    return Offered(
        check=may(person.roles, Permission.CHECK),
        unit=may(person.roles, Permission.UNIT_STATE),
        findings=may(person.roles, Permission.UNIT_FINDINGS) or may(person.roles, Permission.ALL_FINDINGS),
        shift_sheet=may(person.roles, Permission.UNIT_FINDINGS),
        export=may(person.roles, Permission.EXPORT),
        verify=may(person.roles, Permission.READ_RECORDS),
        accounts=may(person.roles, Permission.ACCOUNTS),
    )


def _due_where_nothing_is_open(bed: str, listed: UnitList, here: str, offered: Offered) -> Due | None:
    """The check that an infusion without one lacks, until it is open."""
    is_open = any(each.bed == bed and each.unit == here for each in listed.unit)
    return Due(unit=here, bed=bed) if offered.check and not is_open else None


def _checks_of(bed: str, listed: UnitList, here: str, offered: Offered) -> tuple[tuple[str, str], ...]:
    """The kinds of check that this person may open on what runs at a bed."""
    if _due_where_nothing_is_open(bed, listed, here, offered) is None:
        return ()
    return tuple((kind.name, kind.words) for kind in KINDS.values() if kind.is_running)


def _running(
    each: Running, listed: UnitList, here: str, units: Mapping[str, str], *, offered: Offered
) -> RunningLine:
    led_to = named_within(each.due) if each.due else ""
    return RunningLine(
        infusion=each.infusion,
        place=place(units.get(here, here), each.bed),
        since=each.since,
        progress=f"led to a {led_to}" if led_to else "running",
        due=_due_where_nothing_is_open(each.bed, listed, here, offered) if led_to else None,
        due_words=f"Open the {led_to}",
        checks=() if led_to else _checks_of(each.bed, listed, here, offered),
    )


def _due(line: Listed, here: str, offered: Offered) -> Due | None:
    """The check that must come before a stopped device runs again, where this person may open it."""
    return Due(unit=line.unit, bed=line.bed) if line.due and offered.check and line.unit == here else None


def _line(listed: Listed, units: Mapping[str, str], offered: Offered, *, due: Due | None = None) -> Line:
    opens, action = _action(listed, offered)
    return Line(
        check=listed.check,
        place=place(units.get(listed.unit, listed.unit), listed.bed),
        kind=kind_words(listed.kind),
        opened_at=datetime.fromisoformat(listed.opened_at),
        progress=f"ended by {listed.ended_by}" if listed.ended_by else listed.progress,
        opens=opens,
        action=action,
        due=due,
        may_end=listed.may_end and not listed.mine,
    )


def _action(listed: Listed, offered: Offered) -> tuple[str, str]:
    if listed.mine and not listed.over:
        return "comparison.page", "Go on"
    if listed.joinable and offered.check:
        return "opening.join_page", "Join as second"
    return "comparison.page", "Look"
