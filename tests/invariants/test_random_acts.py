"""Two nurses, a charge nurse, a bystander and the sweeper act at random: the invariants hold after each act.

And nothing is changed by an act that the tables of `app/records/life.py` do not allow in the phase at hand,
and what a list asks of the database is what the states say.
"""

import shutil
from collections.abc import Callable
from contextlib import ExitStack
from datetime import timedelta
from functools import partial
from pathlib import Path
from typing import Any, ClassVar

import pytest
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)

from app.auditing.invariants import check_invariants
from app.people import Role
from app.records.events import ClearanceLapsed
from app.records.life import LIVES, Action
from app.records.state import ENDED, Phase
from app.workflow import emergencies as hurry
from app.workflow import pausing
from tests.invariants.acting import CHOICES, REFUSALS, TRY
from tests.story.people import IMOGEN, NADIA, QUILL, RUTH, TOMAS, WARD, Somebody
from tests.story.script import WAYS
from tests.story.ward import Ward, open_ward
from tests.support.lists import folded, listed
from tests.support.sampling import examples

GIVEN = st.fixed_dictionaries({name: st.sampled_from(choices) for name, choices in CHOICES.items()})
PEOPLE = st.sampled_from((NADIA, TOMAS, NADIA, TOMAS, RUTH, IMOGEN))

RAN_OUT = ClearanceLapsed(why=ClearanceLapsed.TIME)

# What is written of a line; anything else that is said of it is a refusal.
WRITTEN = (pausing.Paused, pausing.Resumed, pausing.SecondLookWanted, pausing.BecameStop)

# The act that leads on from a phase, so that a random walk gets far.
ONWARD: dict[Phase, tuple[Action, ...]] = {
    Phase.OPENED: (Action.JOIN,),
    Phase.READING: (Action.READ,),
    Phase.BOTH_HANDED_IN: (Action.COMPARE,),
    Phase.DISPUTED: (Action.READ_AGAIN, Action.ASK_FOR_HELP),
    Phase.ESCALATED: (Action.TAKE_HELP, Action.GRANT_EXCEPTION, Action.SETTLE_HELP),
    Phase.AGREED: (Action.RECOUNT, Action.ACKNOWLEDGE),
    Phase.STEPS: (Action.OBSERVE_BASELINE, Action.READ_PRIMED_VOLUME, Action.CONFIRM_STEPS),
    Phase.SIGNING: (Action.SIGN,),
    Phase.CLEARED: (Action.LAST_LOOK, Action.START),
    Phase.LAPSED: (Action.READ_AGAIN,),
}
PLAIN: dict[str, Any] = {
    "read": "agreed",
    "touched": ("device",),
    "outcome": "read-again",
    "place": 1,
    "volume": "2.3 mL",
    "sedation": "0",
    "same": True,
    "honest": True,
    "why": "",
}


SEES = {Role.NURSE, Role.CHARGE_NURSE, Role.PHARMACIST}
ENDS = ("back", "decided", "free", "lock")
IN_A_HURRY: dict[str, Callable[..., object]] = {
    "reversal": hurry.note_reversal,
    "itch": hurry.note_itch,
    "harm": partial(hurry.note_harm, what="overdose"),
    "away": partial(hurry.note_away, what="mri"),
    "key": partial(hurry.note_key, what="key"),
    "dead": hurry.note_dead_device,
    "back": partial(hurry.note_back, opioids="no"),
    "decided": partial(hurry.decide_restart, prescriber="Dr Hale"),
    "free": hurry.release_evidence,
    "lock": hurry.change_lock,
}


class RandomActs(RuleBasedStateMachine):
    """One bed, whose checks anybody may try to do anything with."""

    template: ClassVar[Path]
    folder: ClassVar[Path]
    begins_at: ClassVar[Phase]

    def __init__(self) -> None:
        super().__init__()
        self._open = ExitStack()
        database = self.folder / "countersign.sqlite3"
        for each in self.folder.glob("countersign.sqlite3*"):
            each.unlink()
        shutil.copyfile(self.template, database)
        self.ward: Ward = self._open.enter_context(open_ward(f"sqlite:///{database}"))

    def teardown(self) -> None:
        self._open.close()

    @initialize()
    def begin(self) -> None:
        self.ward.at_stage(self.begins_at)

    @rule(who=PEOPLE, action=st.sampled_from(tuple(Action)), given=GIVEN)
    def anybody_tries_anything(self, who: Somebody, action: Action, given: dict[str, Any]) -> None:
        self._try(who, action, given)

    @rule(who=PEOPLE, given=GIVEN, place=st.sampled_from((0, 1, 2)))
    def somebody_goes_on(self, who: Somebody, given: dict[str, Any], place: int) -> None:
        onward = ONWARD.get(self.ward.phase, (Action.NOTE_STOP,))
        self._try(who, onward[place % len(onward)], given)

    @rule()
    def all_go_on(self) -> None:
        for who in (NADIA, TOMAS, RUTH):
            for action in ONWARD.get(self.ward.state().phase, ()):
                self._try(who, action, PLAIN)

    @rule(minutes=st.sampled_from((1, 20)))
    def time_passes(self, minutes: int) -> None:
        before = self.ward.state().phase
        self.ward.wait(timedelta(minutes=minutes))
        after = self.ward.state().phase

        assert after is before or (before, after) == (Phase.CLEARED, Phase.LAPSED)

    @rule(who=PEOPLE, given=GIVEN)
    def the_line_is_paused_or_runs_on(self, who: Somebody, given: dict[str, Any]) -> None:
        before, size = self.ward.state().phase, self._told()
        look = self.ward.a_look(sedation=given["sedation"], same=given["same"])
        said = self.ward.resuming_line(who, look) if given["place"] else self.ward.pausing_line(who)

        assert (self._told() > size) is isinstance(said, WRITTEN), said
        after = self.ward.state().phase
        assert (
            after is before
            or (before, after) == (Phase.CLEARED, Phase.LAPSED)
            or (isinstance(said, pausing.BecameStop) and after is Phase.STEPS)
        )

    @rule(who=st.one_of(PEOPLE, st.just(QUILL)), what=st.sampled_from(tuple(IN_A_HURRY)))
    def somebody_is_in_a_hurry(self, who: Somebody, what: str) -> None:
        infusion, size = self.ward.state().check.infusion, self._told()
        said = IN_A_HURRY[what](self.ward.site, self.ward.act(who), infusion)

        # Never refused to whoever may see that it runs; what ends it is for whom it concerns.
        assert (self._told() > size) is isinstance(said, hurry.Noted), said
        assert isinstance(said, hurry.Noted) or what in ENDS or not SEES & who.roles

    @precondition(lambda self: self.ward.state().phase in ENDED)
    @rule(unchecked=st.booleans())
    def the_next_check_is_opened(self, unchecked: bool) -> None:  # noqa: FBT001  # Hypothesis draws it
        bed = self.ward.state().check.bed
        if self.ward.loaded().infusion.is_held_back:
            # Only its end frees the bed.
            self.ward.stops(RUTH, why="end-of-therapy")
        if unchecked:
            self.ward.starts_without_check(NADIA, bed=bed)
        self.ward.opens(IMOGEN, bed=bed).abandons(IMOGEN).opens(NADIA, bed=bed)

    @invariant()
    def all_of_them_hold(self) -> None:
        if self.ward.check:
            assert check_invariants(self.ward.site, self.ward.now) == ()

    @invariant()
    def the_lists_ask_what_the_states_say(self) -> None:
        with self.ward.site.store.read() as reader:
            assert listed(reader, WARD) == folded(reader, WARD, self.ward.now)

    def _try(self, who: Somebody, action: Action, given: dict[str, Any]) -> None:
        before, size = self.ward.state().phase, self._told()
        said = TRY[action](self.ward, who, given)
        after = self.ward.state().phase

        if isinstance(said, REFUSALS):
            assert self._told() == size, (action, said)
            assert after is before or (before, after) == (Phase.CLEARED, Phase.LAPSED)
        else:
            # A moment passes with every act: a clearance may run out in it.
            life = LIVES[self.ward.state().check.kind]
            now_allowed = before in life.when.get(action, ()) or action is Action.COMPARE
            assert now_allowed, (action, before, said)
            assert after is before or after in life.follows[before], (action, before, after)

    def _told(self) -> int:
        """How many entries are about a check or an infusion; that time ran out is nobody's act."""
        with self.ward.site.store.read() as reader:
            entries = reader.log_entries(after=0, limit=reader.head())
        return sum(1 for each in entries if (each.check or each.infusion) and each.event != RAN_OUT)


@pytest.mark.timeout(3600)
@pytest.mark.usefixtures("quick_pdf")
@pytest.mark.parametrize("phase", WAYS, ids=lambda phase: phase.value)
def test_the_invariants_hold_whatever_people_do(sqlite_url: str, tmp_path: Path, phase: Phase) -> None:
    folder = tmp_path / "acts"
    folder.mkdir()

    class FromHere(RandomActs):
        template = Path(sqlite_url.removeprefix("sqlite:///"))
        begins_at = phase

    FromHere.folder = folder
    run_state_machine_as_test(
        FromHere,
        settings=settings(
            max_examples=examples(sample=2, whole=40),
            stateful_step_count=examples(sample=25, whole=50),
            suppress_health_check=list(HealthCheck),
        ),
    )


def test_every_action_is_tried() -> None:
    assert TRY.keys() == set(Action)
    assert ONWARD.keys() == set(WAYS) - ENDED
