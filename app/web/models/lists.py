"""The lists as pages show them: where, how far, since when, and what can be done about it; never a value."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime

from app.people import LOOKS_AT_RULES, Permission, Person, may
from app.records.due import Due as DueOfInfusion
from app.records.due import DueThing
from app.records.kept import SECOND
from app.records.kinds import KINDS, Kind, Opens, kind_named
from app.records.ranking import Standing, rank
from app.records.restarting import BROUGHT_BY, Left
from app.records.visibility import infusion_words
from app.web.models.stands import TOLD_ABOVE, Stand, stands_shown
from app.words.due import due_words
from app.words.names import named_within
from app.words.screens import kind_words
from app.workflow.listing import Listed, Running, UnitList
from app.workflow.listing_unchecked import PaperListed, RunningUnchecked


@dataclass(frozen=True, kw_only=True)
class Line:
    """A check, or an infusion that was started (`infusion`, whose checks may be opened here).

    `opens` is the endpoint of its page. `due` is the check that must come before it runs on. `may_change`:
    something of it may be changed. `to_do` says what is due, and by when. `against` says where what runs
    cannot run beside it, and `stands` is what an emergency left. `who` is there, or answers for it, and
    `helper` took the request; where lists name people. `stands_since`: somebody is waited for since then.
    """

    check: str
    infusion: str
    place: str
    kind: str
    since: datetime
    standing: Standing
    progress: str
    waits_for_help: bool
    opens: str
    action: str
    due: "Due | None"
    due_words: str
    line: "LineAct | None"
    needs_two: bool
    checks: tuple[tuple[str, str], ...]
    may_end: bool
    may_change: bool = False
    to_do: "tuple[ToDo, ...]" = ()
    syringe_low: bool = False
    against: str = ""
    stands: tuple[Stand, ...] = ()
    observe_at: datetime | None = None
    who: str = ""
    stands_since: datetime
    helper: str = ""
    mine: bool = False

    @property
    def calls(self) -> bool:
        """Whether somebody is wanted there, where all else goes its way."""
        return self.standing not in _GOES_ITS_WAY


_RUNS = frozenset(
    {
        Standing.RUNNING,
        Standing.PAUSED,
        Standing.TWO_RUN,
        Standing.OVERDUE,
        Standing.CHECK_DUE,
        Standing.SYRINGE_LOW,
    }
)
_GOES_ITS_WAY = frozenset(
    {Standing.IN_PROGRESS, Standing.RUNNING, Standing.STARTED, Standing.DONE, Standing.ABANDONED}
)


@dataclass(frozen=True, kw_only=True)
class ToDo:
    """What is due, in words, by when, and whether that has passed."""

    words: str
    by: datetime
    overdue: bool


def to_do(due: Iterable[DueOfInfusion]) -> tuple[ToDo, ...]:
    """What is due of an infusion, as it is said."""
    return tuple(ToDo(words=due_words(each.what), by=each.at, overdue=each.overdue) for each in due)


@dataclass(frozen=True, kw_only=True)
class Due:
    """A check that is due at a bed and that this person may open."""

    unit: str
    bed: str


@dataclass(frozen=True, kw_only=True)
class LineAct:
    """What may be done about the line of what runs: pause it, or let it run on."""

    opens: str
    words: str


@dataclass(frozen=True, kw_only=True)
class Unchecked:
    """An infusion that runs without a check; `paper` is there where it was checked on paper.

    `own_start` is the entry of whoever looks that says so, while it may be said to be of another bed.
    """

    infusion: str
    place: str
    reason: str
    due_at: datetime
    overdue: bool
    paper: PaperListed | None
    may_type: bool
    paused_at: datetime | None
    may_pause: bool
    due: Due | None
    checks: tuple[tuple[str, str], ...]
    stands: tuple[Stand, ...]
    own_start: int


@dataclass(frozen=True, kw_only=True)
class Offered:
    """What else this person may do."""

    check: bool
    unit: bool
    findings: bool
    classify: bool
    syringes: bool
    shift_sheet: bool
    export: bool
    samples: bool
    train: bool
    verify: bool
    accounts: bool
    beds: bool
    rules: bool
    places_stops: bool


# On paper.
NOTHING_OFFERED = Offered(**dict.fromkeys(Offered.__dataclass_fields__, False))


@dataclass(frozen=True, kw_only=True)
class ChecksPage:
    """The first page after signing in."""

    here: str
    unchecked: tuple[Unchecked, ...]
    mine: tuple[Line, ...]
    unit: tuple[Line, ...]
    offered: Offered


def checks_page(listed: UnitList, person: Person, here: str, units: Mapping[str, str]) -> ChecksPage:
    """The page for one person at one unit; `units` names each unit."""
    offered = _offered(person)
    return ChecksPage(
        here=units.get(here, here),
        unchecked=tuple(
            Unchecked(
                infusion=each.infusion,
                place=place(units.get(each.unit, each.unit), each.bed),
                reason=each.reason,
                due_at=each.due_at,
                overdue=each.overdue,
                paper=each.paper,
                may_type=offered.check,
                paused_at=each.paused_at,
                may_pause=offered.check and each.runs and each.paused_at is None,
                due=None
                if each.runs or _is_kept(each.left)
                else _due_where_nothing_is_open(each, listed, offered),
                checks=_OF_WHAT_NOBODY_CHECKED
                if each.runs and _due_where_nothing_is_open(each, listed, offered)
                else (),
                stands=_of_a_start(each.left),
                own_start=each.own_start if offered.check else 0,
            )
            for each in listed.unchecked
        ),
        mine=tuple(_line(each, units, offered, {}) for each in listed.mine),
        unit=lines_of(listed, units, offered, mine=False),
        offered=offered,
    )


def place(unit: str, bed: str) -> str:
    """Where: unit and bed, which no line break parts."""
    return f"{unit}, bed\N{NO-BREAK SPACE}{bed}"


def lines_of(
    listed: UnitList,
    units: Mapping[str, str],
    offered: Offered = NOTHING_OFFERED,
    *,
    mine: bool = True,
    names: Mapping[str, str] | None = None,
) -> tuple[Line, ...]:
    """What is open and what runs in the one ranking, without the person's own unless wanted.

    It says who is there where `names` are given.
    """
    known = names or {}
    lines = (
        *(_line(each, units, offered, known) for each in listed.unit if mine or not each.mine),
        *(_begun(each, listed, units, known, offered=offered) for each in listed.running),
    )
    return tuple(sorted(lines, key=lambda each: rank(each.standing, each.since, each.place)))


def _offered(person: Person) -> Offered:
    return Offered(
        check=may(person.roles, Permission.CHECK),
        unit=may(person.roles, Permission.UNIT_STATE),
        findings=may(person.roles, Permission.UNIT_FINDINGS) or may(person.roles, Permission.ALL_FINDINGS),
        classify=may(person.roles, Permission.CLASSIFY_FINDINGS),
        syringes=may(person.roles, Permission.SYRINGES),
        shift_sheet=may(person.roles, Permission.UNIT_FINDINGS),
        export=may(person.roles, Permission.EXPORT),
        samples=may(person.roles, Permission.SAMPLE),
        train=may(person.roles, Permission.TRAIN),
        verify=may(person.roles, Permission.READ_RECORDS),
        accounts=may(person.roles, Permission.ACCOUNTS),
        beds=may(person.roles, Permission.BEDS),
        rules=any(may(person.roles, each) for each in LOOKS_AT_RULES),
        places_stops=may(person.roles, Permission.SETTLE_STOP),
    )


def _due_where_nothing_is_open(
    begun: Running | RunningUnchecked, listed: UnitList, offered: Offered
) -> Due | None:
    """The check that an infusion lacks, until it is open."""
    is_open = any(each.bed == begun.bed and each.unit == begun.unit for each in listed.unit)
    return Due(unit=begun.unit, bed=begun.bed) if offered.check and not is_open else None


def _offered_kinds(kinds: Iterable[Kind]) -> tuple[tuple[str, str], ...]:
    return tuple((kind.name, kind.words) for kind in kinds)


# What is opened straight from a line; all else from the page of what is checked or changed.
_OF_WHAT_RUNS = _offered_kinds(
    kind for kind in KINDS.values() if kind.opens is Opens.RUNNING and kind.responsible is not None
)
# Its name alone would read as if the patient were sent away.
_OF_WHAT_WAS_TAKEN = tuple(
    (kind.name, f"Open the {named_within(kind.name)} check")
    for kind in KINDS.values()
    if kind.opens is Opens.TAKEN
)
_HANDED_OVER_STANDING = _offered_kinds(kind for kind in KINDS.values() if kind.opens is Opens.STANDING)
_OF_WHAT_STANDS = (*_HANDED_OVER_STANDING, *_offered_kinds(kind for kind in KINDS.values() if kind.ends))
_OF_WHAT_NOBODY_CHECKED = _offered_kinds(
    kind for kind in KINDS.values() if kind.opens is Opens.RUNNING and not kind.is_held_beside
)


def _led_to(each: Running) -> Kind | None:
    """The kind of check that is opened on the infusion itself, where an earlier one, or more, led to such."""
    wants = each.left.wants
    kind = BROUGHT_BY[wants] if wants else kind_named(each.led_to) if each.led_to else None
    return kind if kind is not None and kind.opens is not Opens.BED else None


def _begun(
    each: Running, listed: UnitList, units: Mapping[str, str], names: Mapping[str, str], *, offered: Offered
) -> Line:
    runs, led_to = each.standing in _RUNS and each.left.stands.dead is None, _led_to(each)
    goes = runs or each.left.runs_all_the_same or (each.standing is Standing.LED and each.left.runs)
    may_open = _due_where_nothing_is_open(each, listed, offered)
    is_kept = _is_kept(each.left)
    is_over = each.standing is Standing.ACCOUNT_OPEN
    checks: tuple[tuple[str, str], ...] = ()
    if may_open is not None:
        checks = _OF_WHAT_RUNS if goes else _OF_WHAT_STANDS
        if runs and any(due.what is DueThing.TRANSFER for due in each.due):
            checks = (*_OF_WHAT_WAS_TAKEN, *checks)
        if led_to is not None and not is_kept:
            comes_first = (led_to.name, f"Open the {named_within(led_to.name)}")
            checks = (comes_first, *(_OF_WHAT_RUNS if each.left.runs else _HANDED_OVER_STANDING))
    return Line(
        check="",
        infusion=each.infusion,
        place=place(units.get(each.unit, each.unit), each.bed),
        who=answers_for(each.responsible, each.covered_by, names),
        stands_since=each.since,
        kind="Infusion",
        since=each.since,
        standing=each.standing,
        progress=infusion_words(each.standing, each.led_to),
        waits_for_help=False,
        opens="infusions.page",
        action="Show",
        due=None if runs or is_over or is_kept or led_to is not None else may_open,
        due_words=_due_words(each),
        line=_line_act(each, listed) if goes and offered.check else None,
        needs_two=each.needs_two,
        checks=checks,
        may_end=False,
        may_change=may_open is not None and led_to is None and not is_over,
        to_do=to_do(each.due),
        syringe_low=each.syringe_low,
        against=", ".join(place(units.get(unit, unit), bed) for unit, bed in each.against),
        stands=_of_a_start(each.left),
        observe_at=each.observe_at,
    )


def _is_kept(left: Left) -> bool:
    """Whether no check may be opened before a prescriber decides, an investigator releases or one is back."""
    hold, absence = left.stands.hold, left.stands.absence
    is_away = absence is not None and absence.back is None
    return left.stands.evidence is not None or is_away or (hold is not None and hold.decided is None)


def _due_words(each: Running) -> str:
    if each.left.wants is not None:
        return f"Open the {named_within(BROUGHT_BY[each.left.wants].name)}"
    return f"Open the {named_within(each.led_to)}" if each.led_to else "Open the next check"


def _of_a_start(left: Left) -> tuple[Stand, ...]:
    """What stands against a start; what else stands is told above the lists."""
    return tuple(each for each in stands_shown(left) if each.key not in TOLD_ABOVE)


def _line_act(each: Running, listed: UnitList) -> LineAct | None:
    if each.standing is Standing.PAUSED:
        # Until what is being changed was checked, it does not run on.
        if any(each.bed == line.bed and each.unit == line.unit and _changes(line) for line in listed.unit):
            return None
        return LineAct(opens="pausing.resume_now_page", words="Let the line run on")
    # Where a check comes first, what is paused stays so.
    return None if each.is_paused else LineAct(opens="pausing.pause_page", words="Pause the line")


def _changes(line: Listed) -> bool:
    return kind_named(line.kind).changes and not line.over


def answers_for(responsible: str, covered_by: str, names: Mapping[str, str]) -> str:
    """Who answers for an infusion, and who covers a break of hers."""
    said = [f"{names[responsible]} answers for it"] if responsible in names else []
    if covered_by in names:
        said.append(f"{names[covered_by]} covers a break")
    return "; ".join(said)


def _line(listed: Listed, units: Mapping[str, str], offered: Offered, names: Mapping[str, str]) -> Line:
    opens, action = _action(listed, offered)
    return Line(
        check=listed.check,
        infusion="",
        place=place(units.get(listed.unit, listed.unit), listed.bed),
        kind=kind_words(listed.kind),
        since=listed.opened_at,
        who=", ".join(names[each] for each in listed.people if each in names),
        helper=names.get(listed.helper, ""),
        stands_since=listed.stands_since,
        mine=listed.mine,
        standing=listed.standing,
        progress=f"given up by {listed.ended_by}" if listed.ended_by else listed.progress,
        waits_for_help=listed.waits_for_help,
        opens=opens,
        action=action,
        due=None,
        due_words="",
        line=None,
        needs_two=False,
        checks=(),
        may_end=listed.may_end and not listed.mine,
    )


def _action(listed: Listed, offered: Offered) -> tuple[str, str]:
    if listed.mine and not listed.over:
        return "comparison.page", "Go on"
    if listed.joinable and offered.check:
        part = kind_named(listed.kind).part(SECOND).removesuffix(" nurse")
        return "opening.join_page", f"Join as {part}"
    return "comparison.page", "Show"
