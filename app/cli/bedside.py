"""People at a bedside by the program's own acts: whatever is refused ends the story, with what was said."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import timedelta
from typing import Any, TypeVar

from app.base import Act, Actor
from app.cli.demo_site import Demonstration, Demonstrator
from app.cli.invented import completed
from app.cli.walk import Say, WalkFailed
from app.comparison.reasons import reasons_for
from app.keys import new_id
from app.people import Role
from app.records.followup import Severity
from app.records.infusion import InfusionState
from app.records.kept import FIRST, SECOND, A
from app.records.kinds import Kind
from app.records.reading import Answers, sources_in
from app.records.sources import Source
from app.records.state import CheckState, Phase
from app.records.steps import BASELINE, DONE, PATIENT, PRIMED_VOLUME, TAKEN_BACK, VERIFIED
from app.site.loading import Loaded, load, load_infusion
from app.workflow import (
    comparing,
    opening,
    reading,
    recounting,
    settling,
    signing,
    starting,
    stepping,
    taking_back,
)
from app.workflow.sessions import SignedIn
from app.workflow.signing_in import sign_in

_A_MOMENT = timedelta(seconds=15)
_Came = TypeVar("_Came")


@dataclass(kw_only=True)
class Bedside:
    """One infusion, the check at hand and its two; `kept` are the checks that were signed, in order."""

    running: Demonstration
    infusion: str
    say: Say
    check: str = ""
    both: tuple[str, str] = ("", "")
    kept: list[str] = field(default_factory=list)
    _actors: dict[str, Actor] = field(default_factory=dict)

    # -- who and when

    def comes(self, login: str, unit: str = "") -> None:
        """Somebody begins a shift, on the own unit unless another is named."""
        who = self.running.person(login)
        begun = self.came_to(
            SignedIn,
            sign_in(
                self.running.site,
                self.running.clock(),
                login=who.login,
                secret=who.secret,
                device=f"tablet of {login}",
                unit=unit or who.unit,
            ),
        )
        self._actors[login] = begun.actor
        self.tell(login, "signs in for the shift")

    def act(self, login: str) -> Act:
        """A moment later this person acts."""
        self.running.clock.behind -= _A_MOMENT
        return Act(now=self.running.clock(), by=self._actors[login], new_id=new_id)

    def roles(self, login: str) -> frozenset[Role]:
        """What this person is."""
        return frozenset(Role(each) for each in self.running.person(login).roles)

    def tell(self, login: str, words: str) -> None:
        """Print what somebody does."""
        self.say(f"{self.running.person(login).printed_name:<16} {words}")

    def came_to(self, wanted: type[_Came], said: object) -> _Came:
        """What an act came to; anything else was refused."""
        if not isinstance(said, wanted):
            raise WalkFailed(f"wanted {wanted.__name__}, and it was said: {said}")
        return said

    # -- what is stored

    def loaded(self) -> Loaded:
        """The check at hand with what it is judged by."""
        with self.running.site.store.read() as reader:
            found = load(reader, self.check, self.running.clock())
        assert found is not None  # noqa: S101  # it was opened
        return found

    @property
    def state(self) -> CheckState:
        """What the check at hand adds up to."""
        return self.loaded().state

    @property
    def course(self) -> InfusionState:
        """What the infusion adds up to."""
        with self.running.site.store.read() as reader:
            return load_infusion(reader, self.infusion)

    # -- a check

    def opens(self, kind: Kind, one: str, other: str) -> None:
        """The one opens a check of the infusion, the other joins it."""
        site = self.running.site
        opened = opening.open_on_infusion(site, self.act(one), kind, self.infusion)
        self.check, self.both = self.came_to(opening.Opened, opened).check, (one, other)
        self.came_to(opening.Joined, opening.join_check(site, self.act(other), self.check))
        self.tell(one, f"opens: {kind.words}")
        self.tell(other, "joins")
        plan = self.state.plan
        pauses = tuple(each.id for each in plan.steps if each.pauses) if plan else ()
        if pauses:
            self._takes(one, stepping.Given(done=pauses))
            self.tell(one, "makes the device stand before anything of it is changed")

    def read(self, answers: Answers) -> None:
        """Each reads alone what is asked, and hands in; then the site compares."""
        for login in self.both:
            self._reads(login, answers)
            self.tell(login, "has read alone, and hands in")
        self._compares()

    def _reads(self, login: str, answers: Answers) -> None:
        site = self.running.site
        desk = self.came_to(reading.Desk, reading.open_desk(site, self.act(login), self.check))
        for source in sources_in(desk.round.scope):
            read = completed(source, answers[source.value], desk.state.kind.also_reads)
            saved = reading.save_draft(
                site,
                self.act(login),
                self.check,
                source=source,
                page=desk.page,
                read=_as_written(read),
            )
            self.came_to(reading.Saved, saved)
        self.came_to(reading.HandedIn, reading.hand_in(site, self.act(login), self.check))

    def _compares(self) -> None:
        if self.state.phase is Phase.BOTH_HANDED_IN:
            comparing.compare_round(self.running.site, self.check, self.running.clock())

    def finds(self, *codes: str) -> None:
        """The comparison must say this, and no other stop."""
        stops = [each for each in self.state.findings if each.severity == Severity.STOP]
        found = {each.code for each in stops}
        if found != set(codes):
            raise WalkFailed(f"found {sorted(found)} where {sorted(codes)} was to be found")
        for each in stops:
            self.say(f"{'':<16} {each.says}")

    def puts_right(self, login: str, source: Source) -> None:
        """Somebody has put a source right: both read all of it again."""
        said = settling.read_again(
            self.running.site, self.act(login), self.check, touched=(source.value,), why=""
        )
        self.came_to(settling.NextReading, said)
        self.tell(login, f"has put the {source.value} right: both read all of it again")

    def counts_together(self, answers: Answers) -> None:
        """Both count once more together what does not add up."""
        one, _ = self.both
        said = recounting.recount(self.running.site, self.act(one), self.check)
        self.came_to(recounting.Recounting, said)
        self.tell(one, "counts it once more, together with the other")
        self.read(answers)

    def considers(self, named: str) -> None:
        """Both say why it may go on, of whatever is to be considered."""
        for slot, login in zip((FIRST, SECOND), self.both, strict=True):
            cautions = self.state.unacknowledged(slot)
            for each in cautions:
                offered = [reason.key for reason in reasons_for(each.code)]
                said = settling.acknowledge(
                    self.running.site,
                    self.act(login),
                    self.check,
                    findings=(each.key,),
                    reasons=("prescriber-asked" if "prescriber-asked" in offered else offered[0],),
                    named=named,
                    text="",
                )
                self.came_to(settling.Acknowledged, said)
            if cautions:
                self.tell(login, "says why it may go on, of all that is to be considered")

    # -- steps, signatures, start

    def takes_steps(self, written: Mapping[str, Any]) -> None:
        """The first does, the second verifies each group, until nothing is left to confirm."""
        while self.state.phase is Phase.STEPS:
            self._takes_group(written)
        self.tell(self.both[0], "has done the safety steps")
        self.tell(self.both[1], "has verified each of them")

    def _takes_group(self, written: Mapping[str, Any]) -> None:
        state = self.state
        assert state.plan is not None  # noqa: S101  # it has steps
        due = [each for each in state.plan.in_group(state.group) if not state.is_confirmed(each, VERIFIED)]
        plain = tuple(each.id for each in due if not each.entry and not state.is_confirmed(each, DONE))
        one, other = self.both
        for each in due:
            self._writes(each.entry, written)
        if plain:
            self._takes(one, stepping.Given(done=plain))
        self._takes(other, stepping.Given(verified=tuple(each.id for each in due)))

    def _writes(self, entry: str, written: Mapping[str, Any]) -> None:
        one, _ = self.both
        match entry:
            case str() if entry == BASELINE:
                self._takes(one, stepping.Given(observed=stepping.Observed(**written["baseline"])))
            case str() if entry == PRIMED_VOLUME:
                primed = stepping.PrimedVolume(
                    volume=written["primed_volume"], round=self.state.priming_round
                )
                self._takes(one, stepping.Given(primed=primed))
            case str() if entry == PATIENT:
                self._takes(one, stepping.Given(patient=self._patient()))
            case str() if entry == TAKEN_BACK:
                for each in written["remainders"]:
                    self.wastes(one, written["witness"], each)
            case _:
                pass

    def _patient(self) -> str:
        kept = self.loaded().last_comparison
        assert kept is not None  # noqa: S101  # both have read
        return str(kept.opened["answers"][A][Source.WRISTBAND]["identifier"])

    def _takes(self, login: str, given: stepping.Given) -> None:
        self.came_to(
            stepping.Taken, stepping.take_steps(self.running.site, self.act(login), self.check, given)
        )

    def wastes(self, login: str, witness: str, told: Mapping[str, str]) -> None:
        """One reads what is left, at the same screen a witness reads it alone, and it is gone."""
        site, seen_by = self.running.site, self.running.person(witness)
        volumes = {"syringe": told["volume"]}
        last = max((each.position for each in self.state.taken_back), default=0)
        given = taking_back.GivenBack(way="wasted", lot=told["lot"], stated_at="", volumes=volumes, last=last)
        said = taking_back.take_back(site, self.act(login), self.check, given)
        self.came_to(taking_back.FirstKept, said)
        self.came_to(
            taking_back.Written,
            taking_back.witness(
                site, self.act(login), self.check, volumes, login=seen_by.login, secret=seen_by.secret
            ),
        )
        self.tell(login, f"wastes {told['volume']} of lot {told['lot']}")
        self.tell(witness, "has read the volume alone, and sees it go")

    def signs(self) -> None:
        """Both sign, each with id and secret."""
        for login in reversed(self.both):
            who = self.running.person(login)
            self.came_to(signing.Signed, self._signs(login, who))
            self.tell(login, "signs with id and secret")
        self.kept.append(self.check)

    def _signs(self, login: str, who: Demonstrator) -> object:
        return signing.sign_record(
            self.running.site,
            self.act(login),
            self.check,
            login=who.login,
            secret=who.secret,
            digest=self.state.frozen_digest,
        )

    def starts(self) -> None:
        """Both take a last look, and it runs."""
        for login in self.both:
            said = starting.take_last_look(self.running.site, self.act(login), self.check, same=True)
            self.came_to(starting.Looked, said)
        one, _ = self.both
        self.came_to(
            starting.StartNoted, starting.start_infusion(self.running.site, self.act(one), self.check)
        )
        self.tell(one, "starts it, after both took a last look at the device")


def _as_written(answers: dict[str, str]) -> Callable[[reading.Desk], dict[str, str] | str]:
    return lambda _desk: dict(answers)
