"""Two nurses who bring a check to a stage through the served pages; each sits at a browser of their own."""

from collections.abc import Mapping
from dataclasses import dataclass
from http import HTTPStatus
from pathlib import Path
from types import MappingProxyType

from app.base import Act
from app.records.kept import A
from app.records.reading import Answers, sources_in
from app.records.state import CheckState, Phase
from app.records.steps import DONE, PATIENT, PRIMED_VOLUME, TAKEN_BACK, VERIFIED, Step
from app.site.loading import load
from app.workflow import reading
from app.workflow.comparing import compare_round
from app.workflow.signing_in import find_seen
from tests.factories.answers import answers, as_read
from tests.story.script import Read, perform
from tests.story.stages import Stage, Stages, leave, sit_down
from tests.support.browser import Browser, Page
from tests.support.copies import copy_file
from tests.support.world import START, World

DONE_BUTTON, VERIFIED_BUTTON = "I did", "verified what is ticked"
BED = "12"
LOGINS = FIRST_NURSE, SECOND_NURSE = "n.ferrow", "t.osmund"


_ANSWERS: dict[Read, tuple[Answers, Answers]] = {
    Read.ALIKE: (answers(), answers()),
    Read.APART: (answers(), answers(device={"demand_dose": "2 mg"})),
    Read.SET_OTHERWISE: (answers(device={"demand_dose": "2 mg"}),) * 2,
    Read.TO_CONSIDER: (answers(chart={"sedatives": "charted"}),) * 2,
}


_TAKEN_BACK = {"in_syringe": "27.7", "in_line": "2.3", "way": "wasted", "lot": "LK-2207"}


@dataclass(kw_only=True)
class Pair:
    """Two browsers and one check; at a stage that was walked to before, the two go on from a copy of it."""

    world: World
    first: Browser
    second: Browser
    check: str = ""
    bed: str = BED
    logins: tuple[str, str] = LOGINS

    @property
    def both(self) -> tuple[Browser, Browser]:
        """The two browsers."""
        return self.first, self.second

    @property
    def state(self) -> CheckState:
        """The check's state as it is stored."""
        with self.world.site.store.read() as reader:
            loaded = load(reader, self.check, self.world.clock.now)
        assert loaded is not None
        return loaded.state

    def phase(self) -> Phase:
        """The check's phase now; asked anew each time."""
        return self.state.phase

    def page(self, browser: Browser, tail: str = "") -> Page:
        """Open the check, or one of its pages."""
        return browser.get(f"/check/{self.check}{tail}")

    def opens(self) -> None:
        """Both sign in, and the first opens."""
        for browser, login in zip(self.both, self.logins, strict=True):
            self.world.sign_in(browser, login)
        self.check = self.world.open_check(self.first, self.bed)

    def joins(self) -> None:
        """The second joins."""
        self.world.join(self.second, self.check)

    def both_hand_in(self, read: Read) -> None:
        """Each reads what comes to this."""
        for browser, given in zip(self.both, _ANSWERS[read], strict=True):
            self.hand_in(browser, given)

    def compares(self) -> None:
        """The site compares."""
        compare_round(self.world.site, self.check, self.world.clock.now)

    def read(self, first: Answers, second: Answers | None = None) -> None:
        """Both read what is asked for, and hand in, by the acts behind the pages of the reading."""
        for browser, read in ((self.first, first), (self.second, first if second is None else second)):
            self.hand_in(browser, read)
        self.compares()

    def hand_in(self, browser: Browser, read: Answers) -> None:
        """One of the two reads what is asked for, and hands in."""
        self.draft(browser, read)
        handed_in = reading.hand_in(self.world.site, self.act(browser), self.check)
        assert isinstance(handed_in, reading.HandedIn), handed_in

    def draft(self, browser: Browser, read: Answers) -> None:
        """One of the two writes down what is asked for, and does not hand it in."""
        site, act = self.world.site, self.act(browser)
        desk = reading.open_desk(site, act, self.check)
        assert isinstance(desk, reading.Desk), desk
        for source in sources_in(desk.round.scope):
            given = as_read(read.get(source.value, {}))
            kept = reading.save_draft(site, act, self.check, source=source, read=given, page=desk.page)
            assert isinstance(kept, reading.Saved), kept

    def sees_danger(self, *sources: str) -> None:
        """The second sees danger in some sources, and says so."""
        self.page(self.second, "/danger")
        self.second.press("Say it", source=sources)

    def act(self, browser: Browser) -> Act:
        """An act of whoever is signed in at a browser."""
        settings = self.world.settings
        cookie = browser.client.get_cookie(settings.session_cookie, domain="localhost")
        assert cookie is not None
        now = self.world.clock.now
        seen = find_seen(self.world.site, now, token=cookie.value, idle=settings.idle)
        assert seen is not None
        return Act(now=now, by=seen.actor, new_id=lambda: next(self.world.ids))

    def read_again(self, first: Answers, second: Answers | None = None) -> None:
        """The first opens the next reading, and both read what is asked for."""
        self.page(self.first)
        self.first.press("Read these again")
        self.read(first, second)

    def put_right(self, source: str, now: Answers) -> None:
        """The first says that a source was put right, and both read it again."""
        self.page(self.first)
        form, _ = self.first.page.form_with("read all of it again")
        held = [(name, value) for name, value in form.held if name != "touched"]
        self.first.post(form.action, [*held, ("touched", source)])
        self.read(now)

    def consider(self) -> None:
        """Both answer every group of cautions: somebody was asked, or all that is offered holds."""
        for browser in self.both:
            while True:
                page = self.page(browser)
                if "I have considered" not in page.text:
                    break
                form, _ = page.form_with("I have considered")
                asked = [each for each in form.choices["reason"] if each == "prescriber-asked"]
                reasons = asked or form.choices["reason"]
                browser.press("I have considered", reason=reasons, named="Dr Asked")

    def observe(self, *, sedation: str = "0", rate: str = "16", spo2: str = "98") -> Page:
        """The first writes down what was observed before any dose."""
        self.page(self.first, "/steps")
        return self.first.press(DONE_BUTTON, sedation=sedation, respiratory_rate=rate, spo2=spo2)

    def prime(self, volume: str = "2.3") -> Page:
        """The first reads the primed volume."""
        self.page(self.first, "/steps")
        return self.first.press("what is ticked", volume=volume)

    def tick(self, browser: Browser, words: str) -> Page:
        """Say of whatever there is that this nurse did it, or verified it."""
        page = self.page(browser, "/steps")
        form, _ = page.form_with(words)
        part = DONE if words == DONE_BUTTON else VERIFIED
        given = {part: form.choices[part]} if part in form.choices else {}
        is_to_be_read = part == DONE and "patient" in form.names and not self._is_read
        return browser.press(words, **given, **({"patient": self.patient} if is_to_be_read else {}))

    @property
    def patient(self) -> str:
        """The patient whom both have agreed on."""
        with self.world.site.store.read() as reader:
            loaded = load(reader, self.check, self.world.clock.now)
        assert loaded is not None
        assert loaded.last_comparison is not None
        return str(loaded.last_comparison.opened["answers"][A]["wristband"]["identifier"])

    @property
    def _steps(self) -> tuple[Step, ...]:
        plan = self.state.plan
        return plan.steps if plan else ()

    @property
    def _is_read(self) -> bool:
        state = self.state
        return any(state.is_confirmed(step, DONE) for step in self._steps if step.entry == PATIENT)

    def take_back(
        self, *, witness: str = "i.bexley", given: Mapping[str, str] = MappingProxyType({})
    ) -> Page:
        """The first reads what is taken back, and a colleague reads the same."""
        told = {**_TAKEN_BACK, "login": witness, "secret": self.world.secrets[witness], **given}
        page = self.read_drug(given=given)
        return page if page.status != HTTPStatus.OK else self.witness_drug(told)

    def read_drug(self, *, given: Mapping[str, str] = MappingProxyType({})) -> Page:
        """The first reads what is taken back."""
        self.page(self.first, "/taken-back?anew=1")
        return self.first.press("Now the witness reads", **self._of_form({**_TAKEN_BACK, **given}))

    def witness_drug(self, told: Mapping[str, str]) -> Page:
        """At the screen of the first a colleague reads it too."""
        return self.first.press("I saw it", **self._of_form(told))

    def _of_form(self, told: Mapping[str, str]) -> dict[str, str]:
        """What the page at hand asks for."""
        return {name: text for name, text in told.items() if f'name="{name}"' in self.first.page.body}

    def take_steps(self) -> None:
        """All steps of all groups."""
        self.observe()
        if any(step.entry == TAKEN_BACK and not self.state.said_of(step) for step in self._steps):
            self.take_back()
        if any(step.entry == PRIMED_VOLUME for step in self._steps):
            self.prime()
        while not self.state.steps_complete:
            self.tick(self.first, DONE_BUTTON)
            self.tick(self.second, VERIFIED_BUTTON)

    def sign(self) -> None:
        """Both sign, each at the own browser."""
        for browser, login in zip(self.both, self.logins, strict=True):
            self.page(browser, "/sign")
            browser.press("Sign this record", login=login, secret=self.world.secrets[login])

    def look(self) -> None:
        """Both take the last look."""
        for browser in self.both:
            self.page(browser, "/start")
            browser.press("The device shows exactly this")

    def start(self) -> Page:
        """The infusion runs."""
        self.page(self.first, "/start")
        return self.first.press("Started")

    def sees_it_differ(self) -> None:
        """The second takes the last look, and the device shows something else."""
        self.page(self.second, "/start")
        self.second.press("It differs")

    def asks_for_help(self) -> None:
        """The first asks a third person to look."""
        self.page(self.first, "/help")
        self.first.press("Ask for help", why="readings")

    def re_checks(self) -> None:
        """The first opens a re-check of what runs, and the second joins."""
        self.changes("re-check")

    def changes(self, words: str) -> None:
        """The first opens a check of what runs, and the second joins."""
        self.first.get("/")
        self.first.follow("Check or change")
        self.first.press(f"Open {'an' if words.startswith('e') else 'a'} {words}")
        self.check = self.first.page.path.split("/")[2]
        self.world.join(self.second, self.check)

    def hands_over(self) -> None:
        """The first opens a handoff of what runs, and the second joins."""
        self.first.get("/")
        self.first.press("Handoff")
        form, _ = self.first.page.form_with("Make another code")
        self.check = form.action.split("/")[2]
        self.world.join(self.second, self.check)

    def is_taken(self, bed: str = "3") -> None:
        """The second takes the patient to the recovery room; the first opens that check, the second joins."""
        self.second = self.world.at(self.logins[1], "recovery")
        self.second.get("/take")
        self.second.press("I take this patient", unit="ward-4-east", before=self.bed, bed=bed)
        self.first.get("/")
        self.first.press("Open the transfer check")
        form, _ = self.first.page.form_with("Make another code")
        self.check = form.action.split("/")[2]
        self.world.join(self.second, self.check)

    def ends(self) -> None:
        """The first opens the check of the end of what runs, and the second joins."""
        self.changes("end of PCA")

    def leads_on(self) -> None:
        """The first says that it leads to another check."""
        self.page(self.first)
        self.first.press("This check leads to a settings change")

    def abandons(self) -> None:
        """The first ends the check."""
        form, _ = self.page(self.first, "/abandon").form_with("Give this check up")
        self.first.press("Give this check up", reason=form.choices["reason"][0])

    def confirms_all(self) -> None:
        """All steps of all groups."""
        self.take_steps()

    def both_sign(self) -> None:
        """Both sign."""
        self.sign()

    def both_look(self) -> None:
        """Both take the last look."""
        self.look()

    def starts(self) -> None:
        """The infusion runs."""
        self.start()

    def at_stage(self, phase: Phase) -> "Pair":
        """The first time by walking to it through the pages, from then on as a copy."""
        stages, database = self._may_be_kept()
        if stages is None or database is None:
            perform(self, phase)
        elif phase in stages.kept:
            self._go_on_from(stages.kept[phase], database)
        else:
            perform(self, phase)
            stages.kept[phase] = self._kept(stages.folder / f"{phase.name}.sqlite3", database)
        return self

    def _may_be_kept(self) -> tuple[Stages | None, Path | None]:
        """Only the usual two at the usual bed, with whom nothing has begun."""
        is_usual = (self.logins, self.bed) == (LOGINS, BED)
        if is_usual and self.world.untouched and self.world.clock.now == START:
            return self.world.stages, self.world.database
        return None, None

    def _go_on_from(self, stage: Stage, database: Path) -> None:
        copy_file(stage.database, database)
        self.world.clock.now, self.check = stage.now, stage.check
        self.first, self.second = (sit_down(self.world.browser(), seat) for seat in stage.seats)

    def _kept(self, file: Path, database: Path) -> Stage:
        copy_file(database, file)
        names = self.world.settings
        one, other = (leave(each, names.session_cookie, names.device_cookie) for each in self.both)
        return Stage(database=file, now=self.world.clock.now, check=self.check, seats=(one, other))


def pair_of(world: World, *, bed: str = BED, logins: tuple[str, str] = LOGINS) -> Pair:
    """Two nurses who have done nothing yet."""
    return Pair(world=world, first=world.browser(), second=world.browser(), bed=bed, logins=logins)


def joined(world: World) -> Pair:
    """Two nurses have joined; the opener is the first nurse."""
    return pair_of(world).at_stage(Phase.READING)


def compared(world: World, first: Answers | None = None, second: Answers | None = None) -> Pair:
    """Both have handed in; where nothing is named, two readings that agree with everything."""
    if first is None and second is None:
        return at_steps(world)
    pair = joined(world)
    pair.read(answers() if first is None else first, second)
    return pair


def at_steps(world: World) -> Pair:
    """Everything agrees, and nothing was to be considered."""
    return pair_of(world).at_stage(Phase.STEPS)


def at_signing(world: World) -> Pair:
    """Every step is verified."""
    return pair_of(world).at_stage(Phase.SIGNING)


def cleared(world: World) -> Pair:
    """Both have signed."""
    return pair_of(world).at_stage(Phase.CLEARED)


def started(world: World) -> Pair:
    """The infusion runs."""
    return pair_of(world).at_stage(Phase.STARTED)
