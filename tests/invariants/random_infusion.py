"""Random infusions through the store: every kind of check and emergency, and a crash in the middle of an act.

What truly happens is kept by plain addition, as where infusions are told as mere events. After each step all
that may never break holds, the account is what truly happened, and counted once more in SQL it is the same.
"""

from collections.abc import Callable
from datetime import datetime, timedelta
from fractions import Fraction
from functools import partial
from typing import Any

from hypothesis import strategies as st
from hypothesis.stateful import initialize, invariant, precondition, rule
from sqlalchemy import Engine, event

from app.auditing.invariants import check_invariants
from app.judging.account import balanced
from app.quantities import show_number
from app.records.kinds import (
    CLEARING,
    DEVICE_CHANGE,
    END_OF_PCA,
    HANDOFF,
    RE_CHECK,
    REPEAT_SET_UP,
    SETTINGS_CHANGE,
    SYRINGE_CHANGE,
    TRANSFER,
    Kind,
)
from app.records.state import Phase
from app.records.taken_back import RETURNED, SPILT, WASTED
from app.site.loading import account_of, load_infusion
from app.workflow import (
    boluses,
    emergencies,
    pausing,
    starting,
    stopping,
    taking_back,
    transferring,
    wasting,
)
from app.workflow.bolus_observing import Observed
from app.workflow.taking_back import FirstKept
from tests.story.people import INES, PETRA, QUILL, RALPH, RECOVERY, WARD
from tests.story.stored_infusion import BED, PRIMES, StoredInfusion
from tests.story.true_infusion import DOSE, PRIMED, SPILLED


class Stored(StoredInfusion):
    """Whatever may happen to it."""

    free = False

    @rule(statements=st.integers(1, 12))
    def a_crash_is_near(self, statements: int) -> None:
        self.crashing.left = statements

    @initialize(checked=st.sampled_from([True, True, False]))
    def begins(self, checked: bool) -> None:  # noqa: FBT001  # drawn
        ward = self.ward
        self.loads()
        if checked:
            ward.opens(ward.first, bed=BED).joins(ward.second)
            self.is_read(self.seen(totals=False))
            self.goes_on_to_start()
            self.infusion = ward.state().check.infusion
        else:
            ward.starts_without_check(ward.first, bed=BED)
            with ward.site.store.read() as reader:
                (found,) = reader.infusions_at(WARD, BED)
            self.infusion, self.opened = found.id, False
        self.fills()
        self.runs()

    def is_ready(self) -> bool:
        """It runs, checked, and nothing is open: a check may be opened on it."""
        return self.is_open() and self.running

    @precondition(lambda self: self.is_on() and self.running and not self.untold)
    @rule()
    def is_re_checked(self) -> None:
        self.is_done(RE_CHECK)
        self.taken = False

    @precondition(lambda self: self.is_ready() and not self.taken and not self.untold)
    @rule()
    def is_handed_over(self) -> None:
        """By whoever of the two answers for it, to the other."""
        ward = self.ward
        with ward.site.store.read() as reader:
            answers_for_it = load_infusion(reader, self.infusion).responsible
        if answers_for_it == ward.second.id:
            ward.first, ward.second = ward.second, ward.first
        self.is_done(HANDOFF)

    @precondition(lambda self: self.is_open() and not self.held and not self.away)
    @rule(kind=st.sampled_from([SETTINGS_CHANGE, DEVICE_CHANGE, CLEARING]))
    def something_is_changed(self, kind: Kind) -> None:
        if (kind.name in PRIMES and self.syringe["left"] < PRIMED) or self.untold:
            return
        if self.pause == "dead" and kind is not DEVICE_CHANGE:
            return
        self.is_changed(kind)
        if kind is not SETTINGS_CHANGE:
            self.given, self.presses, self.doses = Fraction(0), 0, 0
        if kind.name in PRIMES:
            self.fills()
        self.runs()

    @precondition(lambda self: self.is_open() and not self.held and not self.away and len(self.truth) < 3)
    @rule(again=st.booleans())
    def syringe_is_changed(self, again: bool) -> None:  # noqa: FBT001  # drawn
        """A new one is put on, or one that was on before once more; not on a device that is dead."""
        if self.untold or self.pause == "dead":
            return
        part_used = [each for each in self.part_used() if each != self.kept] if again else []
        self.is_changed(SYRINGE_CHANGE, of=part_used[0] if part_used else len(self.truth))
        if part_used:
            self.on = part_used[0]
        else:
            self.loads()
        self.fills()
        self.runs()

    @precondition(lambda self: self.is_open() and not self.running and not self.held and not self.pause)
    @rule(of=st.sampled_from(["the one that was on", "another that was on", "a new one"]))
    def is_set_up_again(self, of: str) -> None:
        """Old totals and what is left are read first; then a syringe is put on, and the line primed anew."""
        if self.taken or self.away or self.untold:
            return
        name = self.on
        if of == "a new one" and len(self.truth) < 3:
            name = len(self.truth)
        elif of == "another that was on":
            name = next((each for each in self.part_used() if each != self.kept), self.on)
        self.ward.opens(self.ward.first, bed=self.bed or BED).joins(self.ward.second)
        assert self.ward.state().kind is REPEAT_SET_UP
        if name < len(self.truth) and self.truth[name]["left"] < PRIMED:
            self.ward.abandons(self.ward.first)
            return
        self.is_read(self.seen(of=name, again=True))
        self.goes_on_to_start()
        if name < len(self.truth):
            self.on = name
        else:
            self.loads()
        self.given, self.presses, self.doses = Fraction(0), 0, 0
        self.fills()
        self.runs()

    # Stops, pauses, emergencies

    @precondition(lambda self: self.is_ready())
    @rule()
    def is_paused(self) -> None:
        said = self.writes(pausing.pause_line, why="kink")
        assert isinstance(said, pausing.Paused), said
        self.running, self.pause = False, "paused"

    @precondition(lambda self: self.pause == "paused")
    @rule()
    def runs_on(self) -> None:
        """After the site's time two look."""
        with self.ward.site.store.read() as reader:
            state = load_infusion(reader, self.infusion)
        assert state.pause is not None
        look = pausing.Look(
            pause=state.pause.position,
            in_force=state.in_force,
            pressure="let-out",
            sedation="1",
            respiratory_rate="12 /min",
            same=True,
        )
        said = self.writes(pausing.resume_line, look=look)
        if not isinstance(said, pausing.Resumed):
            said = self.writes(pausing.resume_line, look=look, who=self.ward.second)
        assert isinstance(said, pausing.Resumed), said
        self.running, self.pause = True, ""

    @precondition(lambda self: self.is_ready())
    @rule(what=st.sampled_from(["reversal", "away", "dead", "stop"]))
    def stands_in_a_hurry(self, what: str) -> None:
        if what == "reversal":
            said = self.writes(emergencies.note_reversal)
            self.held = True
        elif what == "away":
            said = self.writes(emergencies.note_away, what="mri")
            self.away = True
        elif what == "dead":
            said = self.writes(emergencies.note_dead_device)
            self.pause = "dead"
        else:
            stop = stopping.Stop(why="other")
            said = self.writes_of(stopping.note_stop_of_infusion, self.ward.first.roles, stop=stop)
        assert isinstance(said, emergencies.Noted | stopping.StopNoted), said
        self.running = False

    @precondition(lambda self: self.is_ready() and not self.taken and self.opened and not self.untold)
    @rule(drawn=st.integers(0, 3), shows=st.booleans())
    def harm_is_suspected(self, drawn: int, shows: bool) -> None:  # noqa: FBT001  # drawn
        """All is kept as it is; another writes down later what the device shows, if it does."""
        if drawn:
            return
        assert isinstance(self.writes(emergencies.note_harm, what="overdose"), emergencies.Noted)
        left = {"left": f"{show_number(self.syringe['left'])} mL"}
        counted = {"presses": str(self.presses), "doses": str(self.doses)}
        totals = {**counted, "total_amount": f"{show_number(self.given)} mg" if shows else "none"}
        for who, sealed in (
            (self.ward.first, emergencies.Sealed(seal="7701", holder="Ruth", read=left)),
            (self.ward.second, emergencies.Sealed(read=totals)),
        ):
            assert isinstance(self.writes(emergencies.keep_evidence, sealed, who=who), emergencies.Noted)
        self.keeps(shows=shows)

    @precondition(lambda self: self.kept >= 0 and not self.free)
    @rule()
    def what_was_kept_is_given_free(self) -> None:
        self.writes(emergencies.release_evidence, who=QUILL)
        self.free = True
        self.is_given_free()

    @precondition(lambda self: self.is_on())
    @rule(what=st.sampled_from(["itch", "key", "lock"]))
    def something_else_is_noted(self, what: str) -> None:
        """What moves no drug."""
        acts: dict[str, Callable[..., Any]] = {
            "itch": emergencies.note_itch,
            "key": partial(emergencies.note_key, what="key"),
            "lock": emergencies.change_lock,
        }
        self.writes(acts[what])

    @precondition(lambda self: self.held or self.away)
    @rule()
    def is_restarted(self) -> None:
        """A prescriber has decided, or the patient is back; a settings change is the check before it runs."""
        if self.untold:
            return
        if self.held:
            self.writes(emergencies.decide_restart, prescriber="Dr Hale")
        if self.away:
            self.writes(emergencies.note_back, opioids="no")
        self.is_changed(SETTINGS_CHANGE)
        self.runs()

    @precondition(lambda self: self.is_open() and not self.running and not self.taken)
    @rule()
    def is_started_again_without_a_check(self) -> None:
        """While one is open: it ends with that."""
        if self.held or self.away or self.pause:
            return
        ward = self.ward
        ward.opens(ward.first, bed=self.bed or BED)
        started = partial(starting.note_start_despite_check, reason="pain")
        said = ward.request(lambda: started(ward.site, ward.act(ward.first), ward.check))
        assert isinstance(said, starting.StartNoted)
        super().runs()

    @precondition(lambda self: self.is_ready() and not self.taken and self.opened)
    @rule()
    def another_unit_takes_the_patient(self) -> None:
        """And two of it have checked it."""
        ward = self.ward
        if self.bed or self.untold:
            return
        said = ward.request(
            lambda: transferring.take_patient(
                ward.site, ward.act(INES), before=(WARD, BED), unit=RECOVERY, bed="3"
            )
        )
        if not isinstance(said, transferring.Taken):
            return
        self.bed = "3"
        ward.first, ward.second = RALPH, INES
        self.is_done(TRANSFER)

    # Drug that goes otherwise

    @precondition(lambda self: self.is_ready() and self.syringe["left"] >= DOSE)
    @rule()
    def bolus_is_given(self) -> None:
        well = Observed(sedation="0", respiratory_rate="14 /min")
        self.writes(boluses.look_before, well)
        if isinstance(self.writes(boluses.give_bolus), boluses.Given):
            self.gives()
            self.ward.wait(timedelta(minutes=15))
            self.writes(boluses.look_at_peak, well)

    def goes(self, what: str, name: int, volume: Fraction, stated_at: str = "") -> None:
        """One reads it, and a colleague too."""
        amount = f"{show_number(volume)} mL"
        seen = self.writes(wasting.see_waste)
        gone = wasting.Gone(
            what=what,
            volume=amount,
            lot=f"LOT-{name + 1}",
            syringe="",
            stated_at=stated_at,
            last=seen.last,
        )
        assert self.writes(wasting.read_waste, gone) == FirstKept()
        said = self.writes(wasting.witness_waste, amount, login=PETRA.login, secret=PETRA.secret)
        assert said == wasting.WrittenDown()
        way = RETURNED if what == RETURNED else WASTED
        self.truth[name][way] += volume
        self.truth[name]["left"] -= volume

    def tells_of_a_spill(self, name: int, at: datetime) -> None:
        self.goes(SPILT, name, SPILLED, stated_at=at.isoformat())

    def others(self) -> list[int]:
        """Those that are off, and hold something."""
        return [at for at, each in enumerate(self.truth) if each["left"] and at != self.on]

    @precondition(lambda self: bool(self.others()) and (self.kept < 0 or self.free))
    @rule(what=st.sampled_from([WASTED, RETURNED]))
    def what_was_left_of_another_goes(self, what: str) -> None:
        name = self.others()[0]
        self.goes(what, name, self.truth[name]["left"])

    # What the account makes of it

    @invariant()
    def all_of_it_holds(self) -> None:
        if not self.infusion:
            return
        left, self.crashing.left = self.crashing.left, 0
        ward = self.ward
        assert check_invariants(ward.site, ward.now) == ()
        with ward.site.store.read() as reader:
            account = account_of(reader, self.infusion)
        self.crashing.left = left
        if not self.opened:
            assert account.entries == ()
            return
        result = balanced(account.written(), {"display_step_amount": "0.1 mg"})
        found = {each["code"] for each in result["findings"] if each["severity"] == "stop"}
        assert self.untold or found <= self.may_be_found, found
        for told, true in zip(result["syringes"], self.truth, strict=True):
            self.adds_up(told["volume"], true)
        # Each volume comes from one reading, and no reading gives two.
        froms = [(each.position, each.data["kind"], each.data.get("syringe")) for each in account.entries]
        assert len(set(froms)) == len(froms)

    def ends(self) -> None:
        """Both read once more of what is on, it comes off, and all that is left goes."""
        ward = self.ward
        self.opens(END_OF_PCA)
        self.is_read(self.seen())
        state = ward.state()
        assert state.plan is not None
        plain = [step.id for step in state.plan.steps if not step.entry]
        ward.does(ward.first, *plain).verifies(ward.second, *plain)
        last, was_in_hand = self.on, any(each["left"] for each in self.truth)
        while left := [at for at, each in enumerate(self.truth) if each["left"]]:
            name = left[0]
            volume = f"{show_number(self.truth[name]['left'])} mL"
            told = {"in_syringe": volume, "lot": f"LOT-{name + 1}"}
            said = ward.taking_back(ward.first, PETRA, given=told)
            assert isinstance(said, taking_back.Written), said
            self.truth[name]["wasted"] += self.truth[name]["left"]
            self.truth[name]["left"] = Fraction(0)
        if last < 0 and not was_in_hand:
            # Of what is kept nothing goes.
            ward.taking_back(ward.first, PETRA, given={"in_syringe": "0 mL", "lot": f"LOT-{self.kept + 1}"})
        ward.confirms_all().both_sign()
        assert ward.phase is Phase.DONE
        self.ended, self.running, self.on = True, False, -1

    def teardown(self) -> None:
        """At last it ends: nothing is unexplained."""
        try:
            self.crashing.left = 0
            if self.infusion and not self.ended:
                self.comes_to_its_end()
        finally:
            event.remove(Engine, "before_cursor_execute", self.crashing)
            self._open.close()

    def comes_to_its_end(self) -> None:
        while self.untold:
            self.what_was_spilt_is_told(1)
        if not self.opened:
            self.is_re_checked()
        if self.kept >= 0 and not self.free:
            self.what_was_kept_is_given_free()
        self.ends()
        self.all_of_it_holds()
        if not self.shows:
            return
        with self.ward.site.store.read() as reader:
            account = account_of(reader, self.infusion)
        infusion = balanced(account.written(), {})["infusion"]
        assert infusion["in_use"]["verdict"] == infusion["in_hand"]["verdict"] == "balances"
        given = sum((each["given"] for each in self.truth), Fraction(0))
        assert Fraction(infusion["volume"]["delivered_by_device"]["exact"]) == given
