"""What has happened at the bed before a test begins: the ward of a demonstration, walked by the workflow."""

from collections.abc import Iterator
from datetime import timedelta
from typing import Self

from app.base import Actor, Method
from app.cli.demo_site import Demonstration
from app.cli.installation import now
from app.keys import new_id
from app.people import Role
from app.records.reading import Answers
from app.records.state import Phase
from tests.browser.ward import Scene
from tests.story.people import Somebody
from tests.story.script import Read
from tests.story.trying import A_MOMENT
from tests.story.ward import Ward

LOGINS = "n.ferrow", "t.osmund"


class Beforehand(Ward):
    """One check of two nurses, brought by the real clock to where the test takes over."""

    def __init__(self, *, running: Demonstration, scene: Scene) -> None:
        super().__init__(running.site)
        self.scene = scene
        self.everybody = tuple(_somebody(running, each.login) for each in running.people)
        self.first, self.second = (self.who(each) for each in LOGINS)

    def who(self, login: str) -> Somebody:
        """One of the invented people."""
        return next(each for each in self.everybody if each.login == login)

    def wait(self, time: timedelta = A_MOMENT) -> Self:  # noqa: ARG002  # nobody waits here
        """The time is that of the demonstration."""
        self.now = now()
        return self

    def new_id(self) -> str:
        """As the demonstration makes them."""
        return new_id()

    def signs_in(self, who: Somebody, *, device: str = "", unit: str = "") -> Actor:
        """A session that no browser has."""
        self.wait()
        self._signed_in[who.id] = Actor(
            person=who.id,
            session=new_id() + new_id(),
            device=device or new_id(),
            signed_in_at=self.now,
            unit=unit or who.unit,
            method=Method.SECRET,
        )
        return self._signed_in[who.id]

    def opens(self, who: Somebody | None = None, *, bed: str = "") -> Self:
        """At the bed of the scene."""
        return super().opens(who, bed=bed or self.scene.bed)

    def compared(self, first: Answers, second: Answers | None = None) -> Self:
        """Both have joined and read, the second the same unless told otherwise, and it is compared."""
        return self.at_stage(Phase.READING).both_read(first, second).compares()

    def what_is_read(self, read: Read) -> tuple[Answers, Answers]:
        """What there is to read at the bed."""
        return self.scene.that_comes_to(read)


def _somebody(running: Demonstration, login: str) -> Somebody:
    known = running.person(login)
    with running.site.store.read() as reader:
        account = reader.find_person_by_login(login)
    assert account is not None
    return Somebody(
        id=account.id,
        printed_name=known.printed_name,
        roles=frozenset(Role(each) for each in known.roles),
        unit=known.unit,
        login=login,
        secret=known.secret,
    )


def events_of(running: Demonstration, check: str, kind: str) -> Iterator[str]:
    """Who did this kind of thing in a check, once for each time that it stands in the log."""
    with running.site.store.read() as reader:
        entries = reader.entries(check)
    for each in entries:
        if each.event.kind == kind:
            yield each.by
