"""What has happened at the bed before a test begins: the real workflow, walked without a browser."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import zip_longest

from app.base import Act, Actor
from app.cli.demo_site import Demonstration
from app.cli.installation import now
from app.keys import new_id
from app.records.kept import FIRST, SECOND
from app.records.reading import Answers
from app.records.sources import Source
from app.records.state import CheckState, Phase
from app.records.steps import BASELINE, PRIMED_VOLUME
from app.site.loading import load
from app.workflow import comparing, opening, reading, signing, stepping
from tests.browser.ward import Scene


@dataclass(kw_only=True)
class Beforehand:
    """One check of two nurses, up to where the test takes over."""

    running: Demonstration
    scene: Scene
    logins: tuple[str, str] = ("n.ferrow", "t.osmund")
    check: str = ""
    actors: dict[str, Actor] = field(default_factory=dict)

    def joined(self) -> "Beforehand":
        """One has opened the check, the other has joined it."""
        opened = opening.open_check(
            self.running.site, self._act(self.logins[0]), unit="ward-4-east", bed=self.scene.bed, coin=0
        )
        assert isinstance(opened, opening.Opened), opened
        self.check = opened.check
        joined = opening.join_check(self.running.site, self._act(self.logins[1]), self.check)
        assert isinstance(joined, opening.Joined), joined
        return self

    def read(self, first: Answers, second: Answers | None = None) -> "Beforehand":
        """Both have read, the second nurse the same unless told otherwise, and it is compared."""
        for login, answers in zip_longest(self.logins, (first, second or first)):
            self.handed_in(login, answers)
        assert comparing.compare_round(self.running.site, self.check, now())
        return self

    def handed_in(self, login: str, answers: Answers) -> "Beforehand":
        """One has handed in what is asked for."""
        for source in Source:
            desk = reading.open_desk(self.running.site, self._act(login), self.check)
            assert isinstance(desk, reading.Desk), desk
            if source.value in {name for name, _ in desk.round.scope}:
                saved = reading.save_draft(
                    self.running.site,
                    self._act(login),
                    self.check,
                    source=source,
                    answers=answers[source.value],
                    version=desk.version,
                )
                assert isinstance(saved, reading.Saved), saved
        handed_in = reading.hand_in(self.running.site, self._act(login), self.check)
        assert isinstance(handed_in, reading.HandedIn), handed_in
        return self

    def agreed(self) -> "Beforehand":
        """Both have read the same, and nothing stands against it."""
        return self.joined().read(self.scene.quiet)

    def ready_to_sign(self) -> "Beforehand":
        """Every safety step is confirmed."""
        self.agreed()
        while self.state.phase is Phase.STEPS:
            self._confirm_group()
        return self

    def cleared(self) -> "Beforehand":
        """Both have signed."""
        self.ready_to_sign()
        for login in self.logins:
            who = self.running.person(login)
            signed = signing.sign_record(
                self.running.site,
                self._act(login),
                self.check,
                login=login,
                secret=who.secret,
                digest=self.state.frozen_digest,
            )
            assert isinstance(signed, signing.Signed), signed
        return self

    @property
    def state(self) -> CheckState:
        """What the check adds up to."""
        with self.running.site.store.read() as reader:
            found = load(reader, self.check, now())
        assert found is not None
        return found.state

    def login_of(self, slot: int) -> str:
        """Who holds a slot."""
        return next(each for each in self.logins if self._actor(each).person == self.state.people[slot])

    def _confirm_group(self) -> None:
        state = self.state
        assert state.plan is not None
        due = state.plan.in_group(state.group)
        first, second = (self.login_of(slot) for slot in (FIRST, SECOND))
        entries = {step.entry for step in due}
        plain = tuple(step.id for step in due if not step.entry)
        seen = tuple(step.id for step in due if step.entry != PRIMED_VOLUME)
        observed = self._observed if BASELINE in entries else None
        for login, ticked, saw in ((first, plain, observed), (second, seen, None)):
            primed = self._primed(login) if PRIMED_VOLUME in entries else None
            given = stepping.Given(ticked=ticked, observed=saw, primed=primed)
            taken = stepping.take_steps(self.running.site, self._act(login), self.check, given)
            assert isinstance(taken, stepping.Taken), taken

    @property
    def _observed(self) -> stepping.Observed:
        told = self.scene.baseline
        return stepping.Observed(
            sedation=told["sedation"],
            respiratory_rate=f"{told['respiratory_rate']} /min",
            spo2=f"{told['spo2']} %",
        )

    def _primed(self, login: str) -> stepping.PrimedVolume:
        volume = self.scene.primed[self.logins.index(login)]
        return stepping.PrimedVolume(volume=f"{volume} mL", round=self.state.priming_round)

    def _act(self, login: str) -> Act:
        return Act(now=now(), by=self._actor(login), new_id=new_id)

    def _actor(self, login: str) -> Actor:
        if login not in self.actors:
            with self.running.site.store.read() as reader:
                person = reader.find_person_by_login(login)
            assert person is not None
            self.actors[login] = Actor(
                person=person.id,
                session=new_id() + new_id(),
                device=new_id(),
                signed_in_at=now(),
                unit="ward-4-east",
            )
        return self.actors[login]


def events_of(running: Demonstration, check: str, kind: str) -> Iterator[str]:
    """Who did this kind of thing in a check, once for each time that it stands in the log."""
    with running.site.store.read() as reader:
        entries = reader.entries(check)
    for each in entries:
        if each.event.kind == kind:
            yield each.by
