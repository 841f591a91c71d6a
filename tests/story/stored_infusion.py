"""What truly happens to an infusion, told by two nurses through the workflow; a crash may be in their way."""

from collections.abc import Callable
from contextlib import ExitStack
from datetime import datetime, timedelta
from typing import Any, ClassVar, Self

from sqlalchemy import Engine, event

from app.auditing.invariants import check_invariants
from app.quantities import show_number
from app.records.kinds import (
    DEVICE_CHANGE,
    SYRINGE_CHANGE,
    Kind,
)
from app.records.reading import Answers
from app.records.state import Phase
from app.workflow import (
    opening,
)
from app.workflow.emergencies import Noted
from app.workflow.holding_evidence import SealApart, confirm_evidence
from tests.factories.answers import answers
from tests.story.people import PETRA, Somebody
from tests.story.true_infusion import BOLUS, PRIMED, TrueInfusion
from tests.story.ward import BEGAN, Ward, open_ward

BED = "1"
PRIMES = {SYRINGE_CHANGE.name, DEVICE_CHANGE.name}
# What a request is here: after a crash the same is sent again.
REQUESTS = (
    "opening",
    "joining",
    "reading",
    "comparing",
    "acknowledging",
    "taking_steps",
    "reading_drug",
    "witnessing",
    "signing",
    "looking",
    "starting",
    "noting_a_stop",
    "pausing_line",
    "resuming_line",
    "starting_without_check",
)


class Crash(Exception):  # noqa: N818  # named for what happened
    """The machine is lost in the middle of an act."""


class Crashing:
    """Raises once, at the statement that is so many writing ones from now."""

    def __init__(self) -> None:
        self.left = 0

    def __call__(self, _connection: object, _cursor: object, statement: str, *_more: object) -> None:
        if self.left and statement.startswith(("INSERT", "UPDATE", "DELETE")):
            self.left -= 1
            if not self.left:
                raise Crash


class SentAgain(Ward):
    """A ward in which what a crash broke off is sent again; nothing of it was left behind."""

    def primes(self, volume: str = f"{show_number(PRIMED)} mL", who: Somebody | None = None) -> Self:
        return super().primes(volume, who)

    def request(self, sent: Callable[[], Any]) -> Any:  # noqa: ANN401  # what came of it
        with self.site.store.read() as reader:
            before = reader.head()
        try:
            return sent()
        except Crash:
            with self.site.store.read() as reader:
                # A reading is drafts and one that is handed in: drafts are no entries.
                assert reader.head() == before
            assert check_invariants(self.site, self.now) == ()
            return sent()


def _sent_again(name: str) -> Callable[..., Any]:
    def send(self: SentAgain, *given: Any, **named: Any) -> Any:  # noqa: ANN401  # as it is given
        return self.request(lambda: getattr(Ward, name)(self, *given, **named))

    return send


for _name in REQUESTS:
    setattr(SentAgain, _name, _sent_again(_name))


class StoredInfusion(TrueInfusion):
    """One infusion: how two nurses do a check of it in the workflow, and write something down."""

    address: ClassVar[str]

    def __init__(self) -> None:
        self._open = ExitStack()
        opened = self._open.enter_context(open_ward(self.address))
        self.ward = SentAgain(opened.site, self.address)
        super().__init__()
        self.crashing = Crashing()
        event.listen(Engine, "before_cursor_execute", self.crashing)
        self.infusion = self.pause = self.bed = ""
        self.held = self.away = self.taken = False

    # Time is the ward's

    @property
    def now(self) -> datetime:
        return self.ward.now

    @property
    def minutes(self) -> int:
        return (self.ward.now - BEGAN) // timedelta(minutes=1)

    @minutes.setter
    def minutes(self, minutes: int) -> None:
        self.ward.wait(max(timedelta(), timedelta(minutes=minutes - self.minutes)))

    def writes(
        self, act: Callable[..., Any], *given: object, who: Somebody | None = None, **named: object
    ) -> Any:  # noqa: ANN401  # what came of it
        """Something that one person writes down of the infusion."""
        by = who or self.ward.first
        return self.ward.request(
            lambda: act(self.ward.site, self.ward.act(by), self.infusion, *given, **named)
        )

    def writes_of(self, act: Callable[..., Any], first: object, **named: object) -> Any:  # noqa: ANN401  # as above
        """The same of acts that name the infusion last."""
        ward = self.ward
        return ward.request(lambda: act(ward.site, ward.act(ward.first), first, self.infusion, **named))

    def keeps(self, *, shows: bool) -> None:
        """Whoever takes it misreads its seal at first."""
        for seal, came in (("7710", SealApart), ("7701", Noted)):
            assert isinstance(self.writes(confirm_evidence, who=PETRA, seal=seal), came)
        super().keeps(shows=shows)

    # Checks

    def seen(self, *, of: int = -1, totals: bool = True, again: bool = False) -> Answers:
        """What both read: the label of a syringe, and what device and barrel show.

        `again`: the one that is on may be put on again.
        """
        shown = {
            "total_amount": f"{show_number(self.given)} mg",
            "presses": str(self.presses),
            "doses": str(self.doses),
            "left": f"{show_number(self.syringe['left'])} mL",
        }
        label = {"lot": f"LOT-{(self.on if of < 0 else of) + 1}"}
        if 0 <= of < len(self.truth) and (again or of != self.on):
            label |= {"comes_as": "part-used", "part_left": f"{show_number(self.truth[of]['left'])} mL"}
        return (
            answers(order=BOLUS, label=label, totals=shown) if totals else answers(order=BOLUS, label=label)
        )

    def opens(self, kind: Kind) -> None:
        ward = self.ward
        opened = self.writes_of(opening.open_on_infusion, kind)
        if isinstance(opened, opening.AnotherAnswers):
            opened = self.writes_of(opening.open_on_infusion, kind, in_place=True)
        assert isinstance(opened, opening.Opened), (kind.name, opened)
        ward.check = opened.check
        ward.joins(ward.second)

    def is_read(self, read: Answers) -> None:
        ward = self.ward
        ward.reads(ward.first, read).reads(ward.second, read).compares()
        for who in (ward.first, ward.second):
            slot = ward.state().slot_of(who.id)
            assert slot is not None
            for each in ward.state().unacknowledged(slot):
                ward.acknowledging(who, each.key)
        assert ward.state().open_stops == (), ward.codes()

    def is_done(self, kind: Kind) -> None:
        self.opens(kind)
        self.is_read(self.seen())
        self.ward.both_sign()
        assert self.ward.phase is Phase.DONE
        self.opened = True

    def is_changed(self, kind: Kind, *, of: int = -1) -> None:
        """From its opening to the start; the device stands from its first step on."""
        self.opens(kind)
        self.is_read(self.seen(of=of))
        self.goes_on_to_start()

    def goes_on_to_start(self) -> None:
        ward = self.ward
        ward.confirms_all().both_sign()
        ward.looks(ward.first).looks(ward.second).starts(ward.first)

    def runs(self) -> None:
        super().runs()
        self.pause, self.held, self.away = "", False, False
