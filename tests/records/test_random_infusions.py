"""Random infusions, lived through honestly: what the fold makes of them comes to what truly went where.

Syringes, doses and volumes are kept here by plain addition, apart from the fold and from the engine.
"""

from dataclasses import replace
from datetime import datetime, timedelta
from fractions import Fraction
from functools import lru_cache

import pytest
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import initialize, invariant, precondition, rule

from app.accounting import AccountCase, balance, read_account
from app.judging.account import account_case
from app.quantities import show_number
from app.records import events
from app.records.account import fold_account
from app.records.bolus_events import StaffBolusGiven
from app.records.canonical import canonical
from app.records.change_events import PatientTaken
from app.records.check_read import CheckRead
from app.records.emergency_events import EvidenceKept, EvidenceReleased
from app.records.ending_events import InfusionEnded
from app.records.events import Event
from app.records.kept import LETTERS, Entry, KeptComparison
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
from app.records.taken_back import IN_SYRINGE, RETURNED, SPILT, WASTED
from app.records.ward_events import DrugTakenBack, LinePaused, LineResumed
from tests.factories.answers import answers
from tests.judging.test_account import kept, primed
from tests.story.events import BEGAN
from tests.story.true_infusion import BOLUS, DOSE, PRIMED, SPILLED, TrueInfusion
from tests.support.sampling import examples

# Watched by the coverage tool these would take three times as long; tests by hand take every branch.
pytestmark = [pytest.mark.no_cover, pytest.mark.timeout(3600)]


@lru_cache
def compared_once(lot: str, dose: str) -> KeptComparison:
    """What both read of everything but the totals; the engine is asked once for each."""
    return kept(
        answers(label={"lot": lot}, device={"demand_dose": dose}, order={"demand_dose": dose, **BOLUS}),
        at=BEGAN,
    )


@lru_cache
def primed_once() -> KeptComparison:
    """What was primed."""
    return primed("2.3 mL", compared_once("LOT-1", "0.2 mg"))


class Infusion(TrueInfusion):
    """Told as mere events, with what each check read."""

    def __init__(self) -> None:
        """Nothing has happened."""
        super().__init__()
        self.log: list[Entry] = []
        self.read: dict[str, CheckRead] = {}
        self.paused = self.in_force = ""

    def tell(self, event: Event, check: str = "") -> None:
        self.log.append(
            Entry(
                position=len(self.log) + 1,
                at=self.now,
                by="nadia",
                infusion="infusion-1",
                check=check,
                session="",
                device="",
                signed_in_at=BEGAN,
                event=event,
                canonical=b"",
            )
        )

    def reads(self, *, of: int, with_totals: bool = True) -> str:
        """Both read the same in a check, whose id it is; of which syringe the label is."""
        check = f"check-{len(self.read) + 1}"
        once = compared_once(f"LOT-{of + 1}", "0.2 mg")
        if with_totals:
            shown = {
                "total_amount": f"{show_number(self.given)} mg",
                "total_volume": "none",
                "presses": str(self.presses),
                "doses": str(self.doses),
                "left": f"{show_number(self.syringe['left'])} mL",
                "read_at": self.now.isoformat(),
            }
            opened = once.opened
            opened = {
                **opened,
                "answers": {each: {**opened["answers"][each], "totals": shown} for each in LETTERS},
            }
            once = replace(once, case=canonical(opened))
        self.read[check] = CheckRead(rounds=(replace(once, check=check, at=self.now),))
        return check

    def primes(self, check: str) -> None:
        self.read[check] = replace(self.read[check], primed=replace(primed_once(), check=check, at=self.now))
        self.fills()

    def starts(self, kind: Kind | None, check: str) -> None:
        self.tell(events.Started(check_kind=kind.name) if kind else events.Started(), check)
        self.in_force, self.paused = check, ""
        self.runs()

    @initialize(checked=st.sampled_from([True, True, False]))
    def begins(self, checked: bool) -> None:  # noqa: FBT001  # drawn
        """By a set-up, or in a hurry; then the set was filled before, by its whole volume."""
        self.loads()
        if checked:
            check = self.reads(of=self.on, with_totals=False)
            self.primes(check)
            self.starts(None, check)
            return
        self.opened = False
        self.fills()
        self.tell(events.StartedWithoutCheck(reason="nobody free", started_at=self.now.isoformat()))
        self.runs()

    @precondition(lambda self: self.is_open() and self.running)
    @rule()
    def is_paused(self) -> None:
        self.paused = str(len(self.log) + 1)
        self.tell(LinePaused(why="walk"))
        self.running = False

    @precondition(lambda self: bool(self.paused))
    @rule()
    def is_resumed(self) -> None:
        self.tell(LineResumed(pause=self.paused))
        self.running, self.paused = True, ""

    @precondition(lambda self: self.is_open() and self.running)
    @rule()
    def is_stopped(self) -> None:
        self.tell(events.DeviceStopped(stopped_at="", why="other", totals=""))
        self.running = False

    @precondition(lambda self: self.is_open() and not self.running)
    @rule()
    def is_set_up_by_its_label(self) -> None:
        """With the syringe that is on, after a stop or a pause that became one, as the first releases did."""
        self.starts(None, self.reads(of=self.on, with_totals=False))

    @precondition(lambda self: self.is_open() and not self.running and not self.untold)
    @rule(of=st.sampled_from(["the one that was on", "another that was on", "a new one"]))
    def is_set_up_again(self, of: str) -> None:
        """After a stop: old totals and what is left are read first, and the line is primed anew."""
        if of == "a new one" and len(self.truth) < 4:
            name = len(self.truth)
        else:
            others = self.part_used() if of == "another that was on" else []
            name = others[0] if others else self.on
            if self.truth[name]["left"] < PRIMED:
                return
        check = self.reads(of=name)
        (read,) = self.read[check].rounds
        again = str(name + 1) if name < len(self.truth) else ""
        self.read[check] = CheckRead(
            rounds=(replace(read, result=canonical({**read.told, "loaded_again": again})),)
        )
        self.minutes += 5
        if again:
            self.on = name
        else:
            self.loads()
        self.primes(check)
        self.given, self.presses, self.doses = Fraction(0), 0, 0
        self.starts(REPEAT_SET_UP, check)

    @precondition(lambda self: self.is_open() and not self.running)
    @rule(ago=st.integers(0, 5))
    def is_started_again_without_a_check(self, ago: int) -> None:
        """In a hurry; it is said to have been some minutes ago, and no dose was given in them."""
        at = max(self.now - timedelta(minutes=ago), self.log[-1].at)
        self.tell(events.StartedWithoutCheck(reason="pain", started_at=at.isoformat()))
        self.runs()

    @precondition(lambda self: self.is_open() and not self.running and len(self.truth) < 4)
    @rule(again=st.booleans(), minutes=st.integers(0, 60))
    def another_is_put_on_in_a_hurry(self, again: bool, minutes: int) -> None:  # noqa: FBT001  # drawn
        """The change of the syringe is given up for it; the first check after it finds which one is on."""
        if self.untold:
            return
        part_used = self.part_used() if again else []
        check = self.reads(of=part_used[0] if part_used else len(self.truth))
        self.tell(
            events.StartedWithoutCheck(reason="pain", started_at=self.now.isoformat(), instead_of=check)
        )
        self.paused = ""
        if part_used:
            self.on = part_used[0]
        else:
            self.loads()
        self.runs()
        self.minutes += minutes
        check = self.reads(of=self.on)
        (read,) = self.read[check].rounds
        found = canonical({**read.told, "unseen": str(self.on + 1)})
        self.read[check] = CheckRead(rounds=(replace(read, result=found),))
        self.tell(events.CheckDone(check_kind=RE_CHECK.name), check)
        self.in_force = check

    @precondition(lambda self: self.is_on() and not self.untold)
    @rule()
    def is_re_checked(self) -> None:
        check = self.reads(of=self.on)
        self.tell(events.CheckDone(check_kind=RE_CHECK.name), check)
        self.opened, self.in_force = True, check

    @precondition(lambda self: self.is_open() and not self.untold)
    @rule(taken=st.booleans())
    def is_handed_over(self, taken: bool) -> None:  # noqa: FBT001  # drawn
        """From nurse to nurse, or once another unit has taken the patient."""
        if taken:
            self.tell(PatientTaken(before_unit="a", before="1", unit="b", bed="2"))
        kind = TRANSFER if taken else HANDOFF
        self.tell(events.CheckDone(check_kind=kind.name), self.reads(of=self.on))

    @precondition(lambda self: self.is_open() and self.running and self.syringe["left"] >= DOSE)
    @rule()
    def bolus_is_given(self) -> None:
        """By staff, as the order in force has it; the device counts it in its totals, and not as a dose."""
        if not self.in_force:
            return
        self.tell(StaffBolusGiven(look="1", in_force=self.in_force))
        self.gives()

    def tells_of_a_spill(self, name: int, at: datetime) -> None:
        self.gives_away(name, way=WASTED, volume=SPILLED, held_in=SPILT, stated_at=at.isoformat())

    @precondition(lambda self: self.is_open() and self.kept < 0 and not self.untold)
    @rule(drawn=st.integers(0, 5), shows=st.booleans())
    def harm_is_suspected(self, drawn: int, shows: bool) -> None:  # noqa: FBT001  # drawn
        """It is stopped, and the syringe is kept as it is; its totals may show, and are written later."""
        if drawn:
            return
        self.tell(events.DeviceStopped(stopped_at="", why="other", totals=""))
        self.paused = ""
        left = f"{show_number(self.syringe['left'])} mL"
        self.tell(EvidenceKept(harm="1", left=left, seal="7701", holder="Ruth", place="safe"))
        totals = f"{show_number(self.given)} mg" if shows else "none"
        self.tell(EvidenceKept(harm="1", total_amount=totals, presses=str(self.presses)))
        self.keeps(shows=shows)

    @precondition(lambda self: self.kept >= 0 and bool(self.truth[self.kept]["kept"]) and not self.ended)
    @rule()
    def what_was_kept_is_given_free(self) -> None:
        self.tell(EvidenceReleased(harm="1"))
        self.is_given_free()

    @precondition(lambda self: self.is_open())
    @rule()
    def settings_are_changed(self) -> None:
        if not self.untold:
            self.is_re_checked()
        self.starts(SETTINGS_CHANGE, self.reads(of=self.on))

    @precondition(lambda self: self.is_open())
    @rule(clears=st.booleans(), primes=st.booleans())
    def totals_begin_anew(self, clears: bool, primes: bool) -> None:  # noqa: FBT001  # drawn
        """They are cleared, or another device or line is taken, which is primed."""
        kind = CLEARING if clears else DEVICE_CHANGE
        check = self.reads(of=self.on)
        if primes and not clears and self.syringe["left"] >= PRIMED:
            self.primes(check)
        self.given, self.presses, self.doses = Fraction(0), 0, 0
        self.starts(kind, check)

    @precondition(lambda self: self.is_open() and len(self.truth) < 4)
    @rule(again=st.booleans())
    def syringe_is_changed(self, again: bool) -> None:  # noqa: FBT001  # drawn
        """A new one is put on, or one that was on before once more."""
        part_used = self.part_used() if again else []
        check = self.reads(of=part_used[0] if part_used else len(self.truth))
        if part_used:
            (read,) = self.read[check].rounds
            found = canonical({**read.told, "loaded_again": str(part_used[0] + 1)})
            self.read[check] = CheckRead(rounds=(replace(read, result=found),))
            self.on = part_used[0]
        else:
            self.loads()
        self.minutes += 5
        self.starts(SYRINGE_CHANGE, check)

    def gives_away(
        self, name: int, *, way: str, volume: Fraction, held_in: str = IN_SYRINGE, stated_at: str = ""
    ) -> None:
        exact = f"{show_number(volume)} mL"
        self.tell(
            DrugTakenBack(
                slot=1,
                round=1,
                way=way,
                syringe=str(name + 1),
                held_in=held_in,
                volume=exact,
                exact=exact,
                lot=f"LOT-{name + 1}",
                stated_at=stated_at,
                witness="ruth",
                received=way == RETURNED,
                first=exact,
                not_witnessed="",
            )
        )
        self.truth[name][way] += volume
        self.truth[name]["left"] -= volume

    @precondition(lambda self: any(each["left"] and at != self.on for at, each in enumerate(self.truth)))
    @rule(way=st.sampled_from([WASTED, RETURNED]))
    def what_was_left_of_another_goes(self, way: str) -> None:
        if self.ended:
            return
        name = next(at for at, each in enumerate(self.truth) if each["left"] and at != self.on)
        self.gives_away(name, way=way, volume=self.truth[name]["left"])

    # What the account makes of it

    @invariant()
    def account_is_what_truly_happened(self) -> None:
        account = fold_account(self.log, self.read)
        if not self.truth or not self.opened:
            assert account.entries == ()
            return
        read = read_account(account_case(account.written(), {"display_step_amount": "0.1 mg"}))
        assert isinstance(read, AccountCase), read
        result = balance(read).as_json()

        found = [each for each in result["findings"] if each["severity"] == "stop"]
        # What was kept may not show its totals; what was not written down is, or is not, noticed.
        assert self.untold or {each["code"] for each in found} <= self.may_be_found, found
        for told, true in zip(result["syringes"], self.truth, strict=True):
            self.adds_up(told["volume"], true)
        # Each volume comes from one reading, and no reading gives two.
        froms = [(each.position, each.data["kind"], each.data.get("syringe")) for each in account.entries]
        assert len(set(froms)) == len(froms)

    def ends(self) -> None:
        """Both read once more of what is on, it comes off, and all that is left goes."""
        check = self.reads(of=self.on) if self.on >= 0 else ""
        last, self.on = self.on, -1
        self.running, self.paused = False, ""
        if last >= 0 and self.truth[last]["left"]:
            self.gives_away(last, way=WASTED, volume=self.truth[last]["left"])
            self.log[-1] = replace(self.log[-1], check=check)
        for at, each in enumerate(self.truth):
            if each["left"]:
                self.gives_away(at, way=RETURNED, volume=each["left"])
        self.tell(InfusionEnded(check_kind=END_OF_PCA.name), check)
        self.ended = True

    def teardown(self) -> None:
        """At last it ends, all is read once more and what is left goes: nothing is unexplained."""
        while self.untold:
            self.what_was_spilt_is_told(1)
        if not self.truth:
            return
        if not self.opened:
            self.is_re_checked()
        self.ends()
        self.account_is_what_truly_happened()
        if not self.shows:
            return
        account = fold_account(self.log, self.read)
        read = read_account(account_case(account.written(), {}))
        assert isinstance(read, AccountCase), read
        result = balance(read).as_json()
        assert (
            result["infusion"]["in_use"]["verdict"] == result["infusion"]["in_hand"]["verdict"] == "balances"
        )
        given = sum((each["given"] for each in self.truth), Fraction(0))
        assert Fraction(result["infusion"]["volume"]["delivered_by_device"]["exact"]) == given


TestInfusion = Infusion.TestCase
TestInfusion.settings = settings(
    max_examples=examples(sample=60, whole=5000),
    stateful_step_count=14,
    suppress_health_check=[HealthCheck.too_slow],
)
