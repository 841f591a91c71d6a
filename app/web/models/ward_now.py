"""What is to be done now as a page shows it: the lines of every list, who is there, and what follows."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from hashlib import sha256

from app.people import Permission, Person, may
from app.records.due import DueThing
from app.records.ranking import Standing, rank
from app.web.models.lists import Line, ToDo, answers_for, lines_of, place
from app.web.models.stands import Stand, stands_above, stands_shown
from app.web.models.transferring import TransferShown, transfer_shown
from app.words.checking import code_words, outcome_words
from app.words.due import due_words
from app.words.names import finding_field_words
from app.words.now import DO, for_how_long
from app.workflow.listing import Listed
from app.workflow.listing_unchecked import RunningUnchecked
from app.workflow.placing_stops import StopNowhere
from app.workflow.ward_now import WardNow


@dataclass(frozen=True, kw_only=True)
class NowLine:
    """One line: where, what, since when and for how long, who, what is to be done, and the way there.

    `calls`: somebody is wanted. `act` are the words of the way there, which is `pressing` where this person
    is the one who is wanted. `account`: the infusion whose open account this person may close.
    """

    place: str
    kind: str
    standing: Standing
    progress: str
    calls: bool
    since: datetime
    stood: str
    who: str
    do: tuple[str, ...]
    to_do: tuple[ToDo, ...]
    syringe_low: bool
    observe_at: datetime | None
    stands: tuple[Stand, ...]
    against: str
    check: str
    infusion: str
    act: str
    pressing: bool
    account: str


@dataclass(frozen=True, kw_only=True)
class ToldAbove:
    """What is told until somebody ends it: evidence, a key that is not found."""

    infusion: str
    place: str
    stands: tuple[Stand, ...]


@dataclass(frozen=True, kw_only=True)
class ExceptionShown:
    """A rule that is set aside for what runs."""

    infusion: str
    place: str
    rule: str
    by: str
    since: datetime


@dataclass(frozen=True, kw_only=True)
class OutShown:
    """Syringes that were issued and not put on."""

    infusion: str
    place: str
    many: int
    since: datetime


@dataclass(frozen=True, kw_only=True)
class NowPage:
    """The page; `wanting` is how many lines want somebody, and `proposals` how many wait for this person."""

    here: str
    everywhere: bool
    sees_checks: bool
    places_stops: bool
    lines: tuple[NowLine, ...]
    wanting: int
    nowhere: tuple[StopNowhere, ...]
    told: tuple[ToldAbove, ...]
    away: tuple[TransferShown, ...]
    out: tuple[OutShown, ...]
    exceptions: tuple[ExceptionShown, ...]
    proposals: int

    @property
    def stamp(self) -> str:
        """Another as soon as anything on the page is another, and only then: it follows from nothing else."""
        return sha256(repr(self).encode()).hexdigest()[:32]


def now_page(  # what there is of each, for whom, and when
    ward: WardNow,
    nowhere: tuple[StopNowhere, ...],
    proposals: int,
    *,
    person: Person,
    here: str,
    units: Mapping[str, str],
    now: datetime,
) -> NowPage:
    """The page for one person; `units` names each unit."""
    made = _Made(ward=ward, person=person, here=here, units=units, now=now)
    listed = ward.listed
    lines = sorted(made.lines(), key=lambda each: rank(each.standing, each.since, each.place))
    return NowPage(
        here="Every unit" if ward.everywhere else units.get(here, here),
        everywhere=ward.everywhere,
        sees_checks=may(person.roles, Permission.UNIT_STATE),
        places_stops=may(person.roles, Permission.SETTLE_STOP),
        lines=tuple(lines),
        wanting=sum(each.calls for each in lines),
        nowhere=nowhere,
        told=tuple(
            ToldAbove(
                infusion=each.infusion, place=made.place(each.unit, each.bed), stands=stands_above(each.left)
            )
            for each in listed.told
        ),
        away=tuple(transfer_shown(each) for each in listed.away),
        out=tuple(
            OutShown(
                infusion=each.infusion,
                place=made.place(each.unit, each.bed),
                many=each.many,
                since=each.since,
            )
            for each in listed.out
        ),
        exceptions=tuple(
            ExceptionShown(
                infusion=each.infusion,
                place=made.place(each.unit, each.bed),
                rule=f"{code_words(each.code)}: {finding_field_words(each.field)}",
                by=ward.names.get(each.by, ""),
                since=each.since,
            )
            for each in ward.exceptions
        ),
        proposals=proposals,
    )


_SINCE_IT_RUNS = frozenset({Standing.TWO_RUN, Standing.OVERDUE, Standing.CHECK_DUE, Standing.SYRINGE_LOW})


@dataclass(frozen=True, kw_only=True)
class _Made:
    """The lines of one page, for one person."""

    ward: WardNow
    person: Person
    here: str
    units: Mapping[str, str]
    now: datetime

    def place(self, unit: str, bed: str) -> str:
        return self.shortened(place(self.units.get(unit, unit), bed))

    def shortened(self, where: str) -> str:
        """Without the unit, where the page is of no other than the one that stands above it."""
        own = f"{self.units.get(self.here, self.here)}, "
        if self.ward.everywhere or not where.startswith(own):
            return where
        return where.removeprefix(own).capitalize()

    def lines(self) -> Iterator[NowLine]:
        """All of them, in no order."""
        listed = self.ward.listed
        accounts = {each.infusion: each for each in self.ward.accounts}
        for line in lines_of(listed, self.units, names=self.ward.names):
            yield self._line(line, account=accounts.pop(line.infusion, None) is not None)
        for unchecked in listed.unchecked:
            yield self._unchecked(unchecked, account=accounts.pop(unchecked.infusion, None) is not None)
        for each in accounts.values():
            where = self.place(each.unit, each.bed)
            left = self._plain(each.infusion, where, Standing.ACCOUNT_OPEN, each.since)
            yield replace(left, account=each.infusion)

    def _line(self, line: Line, *, account: bool) -> NowLine:
        act, pressing = self._act(line)
        return NowLine(
            place=self.shortened(line.place),
            kind=line.kind,
            standing=line.standing,
            progress=line.progress,
            calls=line.calls or account or any(each.overdue for each in line.to_do),
            since=line.stands_since,
            stood=self._stood(line.stands_since, line.standing),
            who=line.who,
            do=tuple(self._do(line)),
            to_do=line.to_do,
            syringe_low=line.syringe_low and line.standing is not Standing.SYRINGE_LOW,
            observe_at=line.observe_at,
            stands=line.stands,
            against=line.against,
            check=line.check,
            infusion=line.infusion,
            act=act,
            pressing=pressing,
            account=line.infusion if account else "",
        )

    def _do(self, line: Line) -> Iterator[str]:
        check = self._listed(line)
        if check is not None and check.outcome:
            yield f"{outcome_words(check.outcome)}: both read again."
        if line.waits_for_help:
            yield "Nobody has taken it yet: a third person does."
        elif line.helper:
            yield f"{line.helper} has taken it."
        elif line.infusion in self._kept():
            yield "Kept as it is: nothing is started, cleared or emptied."
        elif line.needs_two and not line.stands:
            yield "Paused for longer than one nurse may let it run on from: two look first."
        elif line.standing in DO and not line.stands:
            yield DO[line.standing]

    def _kept(self) -> frozenset[str]:
        """The infusions of which everything is kept as it is, until the site's investigator gives it free."""
        told = (each for each in self.ward.listed.told if each.left.stands.evidence is not None)
        return frozenset(each.infusion for each in told)

    def _act(self, line: Line) -> tuple[str, bool]:
        """The words of the way there, and whether this person is the one who is wanted."""
        check = self._listed(line)
        helps = may(self.person.roles, Permission.TAKE_ESCALATION)
        if check is None:
            return "Show", False
        if check.helper == self.person.id:
            return "Settle it", True
        if check.waits_for_help and helps and not check.mine:
            return "Take the request", True
        return ("Go on", True) if check.mine else ("Show", False)

    def _listed(self, line: Line) -> Listed | None:
        """The check of a line, if it is of one."""
        found = (each for each in self.ward.listed.unit if line.check and each.check == line.check)
        return next(found, None)

    def _unchecked(self, each: RunningUnchecked, *, account: bool) -> NowLine:
        line = self._plain(each.infusion, self.place(each.unit, each.bed), each.standing, each.since)
        return replace(
            line,
            who=answers_for(each.responsible, "", self.ward.names),
            to_do=(ToDo(words=due_words(DueThing.BLIND_CHECK), by=each.due_at, overdue=each.overdue),),
            stands=stands_shown(each.left),
            account=each.infusion if account else "",
        )

    def _plain(self, infusion: str, where: str, standing: Standing, since: datetime) -> NowLine:
        """An infusion of which no more is said."""
        return NowLine(
            place=where,
            kind="Infusion",
            standing=standing,
            progress=standing.value,
            calls=True,
            since=since,
            stood=self._stood(since, standing),
            who="",
            do=(),
            to_do=(),
            syringe_low=False,
            observe_at=None,
            stands=(),
            against="",
            check="",
            infusion=infusion,
            act="Show",
            pressing=False,
            account="",
        )

    def _stood(self, since: datetime, standing: Standing) -> str:
        """For how long; what is low or overdue has not been so for as long as it runs."""
        runs = "has run for" if standing in _SINCE_IT_RUNS else "for"
        return f"{runs} {for_how_long(self.now - since)}"
