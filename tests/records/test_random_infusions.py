"""Random infusions, lived through honestly: what the fold makes of them comes to what truly went where.

Syringes, doses and volumes are kept here by plain addition, apart from the fold and from the engine.
"""

from dataclasses import replace
from datetime import datetime, timedelta
from fractions import Fraction
from functools import lru_cache
from typing import Any

import pytest
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from app.accounting import AccountCase, balance, read_account
from app.judging.account import account_case
from app.quantities import show_number
from app.records import events
from app.records.account import CheckRead, fold_account
from app.records.canonical import canonical
from app.records.ending_events import InfusionEnded
from app.records.events import Event
from app.records.kept import LETTERS, Entry, KeptComparison
from app.records.kinds import CLEARING, DEVICE_CHANGE, END_OF_PCA, RE_CHECK, SETTINGS_CHANGE, SYRINGE_CHANGE
from app.records.taken_back import IN_SYRINGE, RETURNED, WASTED
from app.records.ward_events import DrugTakenBack, LinePaused, LineResumed
from tests.factories.answers import answers
from tests.judging.test_account import kept, primed
from tests.story.events import BEGAN
from tests.support.sampling import examples

# Watched by the coverage tool these would take three times as long; tests by hand take every branch.
pytestmark = [pytest.mark.no_cover, pytest.mark.timeout(3600)]

LOADED, DOSE, PRIMED = Fraction(30), Fraction(1), Fraction(23, 10)
MG_PER_ML = Fraction(1, 5)
LOCKOUT, WINDOW, MOST_IN_WINDOW = 10, 240, 10
"""Of the settings in `tests/factories/answers.py`: 0.2 mg is 1 mL, every 10 min, and 2 mg in 4 h."""


@lru_cache
def compared_once(lot: str, dose: str) -> KeptComparison:
    """What both read of everything but the totals; the engine is asked once for each."""
    return kept(
        answers(label={"lot": lot}, device={"demand_dose": dose}, order={"demand_dose": dose}), at=BEGAN
    )


@lru_cache
def primed_once() -> KeptComparison:
    """What was primed."""
    return primed("2.3 mL", compared_once("LOT-1", "0.2 mg"))


class Infusion(RuleBasedStateMachine):
    """One infusion, and what truly happens to it."""

    def __init__(self) -> None:
        """Nothing has happened."""
        super().__init__()
        self.minutes = 0
        self.log: list[Entry] = []
        self.read: dict[str, CheckRead] = {}
        self.doses_at: list[int] = []
        self.given, self.presses, self.doses = Fraction(0), 0, 0
        self.truth: list[dict[str, Fraction]] = []
        self.on = -1
        self.running = False
        self.ended = False
        self.paused = ""

    # What happens

    @property
    def now(self) -> datetime:
        return BEGAN + timedelta(minutes=self.minutes)

    @property
    def syringe(self) -> dict[str, Fraction]:
        return self.truth[self.on]

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

    def loads(self) -> None:
        self.truth.append(
            {name: Fraction(0) for name in ("primed", "given", "wasted", "returned")} | {"left": LOADED}
        )
        self.on = len(self.truth) - 1

    def primes(self, check: str) -> None:
        self.read[check] = replace(self.read[check], primed=replace(primed_once(), check=check, at=self.now))
        self.syringe["primed"] += PRIMED
        self.syringe["left"] -= PRIMED

    def runs(self) -> None:
        self.running, self.paused = True, ""
        self.doses_at = []

    @initialize()
    def begins(self) -> None:
        self.loads()
        check = self.reads(of=self.on, with_totals=False)
        self.primes(check)
        self.tell(events.Started(), check)
        self.runs()

    def is_on(self) -> bool:
        return self.on >= 0 and not self.ended

    @precondition(lambda self: not self.ended)
    @rule(minutes=st.integers(1, 300), presses=st.integers(0, 8))
    def passes(self, minutes: int, presses: int) -> None:
        """Time goes by; the patient presses now and then, and is given what the device lets be given."""
        for press in range(presses if self.running else 0):
            at = self.minutes + minutes * (press + 1) // (presses + 1)
            self.presses += 1
            recent = [each for each in self.doses_at if at - each < WINDOW]
            waits = bool(self.doses_at) and at - self.doses_at[-1] < LOCKOUT
            if waits or len(recent) >= MOST_IN_WINDOW or self.syringe["left"] < DOSE:
                continue
            self.doses_at.append(at)
            self.doses += 1
            self.given += DOSE * MG_PER_ML
            self.syringe["given"] += DOSE
            self.syringe["left"] -= DOSE
        self.minutes += minutes

    @precondition(lambda self: self.is_on() and self.running)
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

    @precondition(lambda self: self.is_on() and self.running)
    @rule()
    def is_stopped(self) -> None:
        self.tell(events.DeviceStopped(stopped_at="", why="other", totals=""))
        self.running = False

    @precondition(lambda self: self.is_on() and not self.running)
    @rule()
    def is_set_up_again(self) -> None:
        """With the syringe that is on, after a stop or a pause that became one."""
        self.tell(events.Started(), self.reads(of=self.on, with_totals=False))
        self.runs()

    @precondition(lambda self: self.is_on())
    @rule()
    def is_re_checked(self) -> None:
        self.tell(events.CheckDone(check_kind=RE_CHECK.name), self.reads(of=self.on))

    @precondition(lambda self: self.is_on())
    @rule()
    def settings_are_changed(self) -> None:
        self.is_re_checked()
        check = self.reads(of=self.on)
        self.tell(events.Started(check_kind=SETTINGS_CHANGE.name), check)
        self.runs()

    @precondition(lambda self: self.is_on())
    @rule(clears=st.booleans(), primes=st.booleans())
    def totals_begin_anew(self, clears: bool, primes: bool) -> None:  # noqa: FBT001  # drawn
        """They are cleared, or another device or line is taken, which is primed."""
        kind = CLEARING if clears else DEVICE_CHANGE
        check = self.reads(of=self.on)
        if primes and not clears and self.syringe["left"] >= PRIMED:
            self.primes(check)
        self.given, self.presses, self.doses = Fraction(0), 0, 0
        self.tell(events.Started(check_kind=kind.name), check)
        self.runs()

    @precondition(lambda self: self.is_on() and len(self.truth) < 4)
    @rule()
    def syringe_is_changed(self) -> None:
        check = self.reads(of=len(self.truth))
        self.loads()
        self.minutes += 5
        self.tell(events.Started(check_kind=SYRINGE_CHANGE.name), check)
        self.runs()

    def gives_away(self, name: int, *, way: str, volume: Fraction) -> None:
        exact = f"{show_number(volume)} mL"
        self.tell(
            DrugTakenBack(
                slot=1,
                round=1,
                way=way,
                syringe=str(name + 1),
                held_in=IN_SYRINGE,
                volume=exact,
                exact=exact,
                lot=f"LOT-{name + 1}",
                stated_at="",
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
        if not self.truth:
            return
        account = fold_account(self.log, self.read)
        read = read_account(account_case(account.written(), {"display_step_amount": "0.1 mg"}))
        assert isinstance(read, AccountCase), read
        result = balance(read).as_json()

        assert not [each for each in result["findings"] if each["severity"] == "stop"], result["findings"]
        for told, true in zip(result["syringes"], self.truth, strict=True):
            self.adds_up(told["volume"], true)
        # Each volume comes from one reading, and no reading gives two.
        froms = [(each.position, each.data["kind"], each.data.get("syringe")) for each in account.entries]
        assert len(set(froms)) == len(froms)

    def adds_up(self, volume: dict[str, Any], true: dict[str, Fraction]) -> None:
        exact = {name: Fraction(told["exact"]) for name, told in volume.items() if told is not None}
        assert exact["loaded"] == LOADED
        assert exact["primed"] == true["primed"]
        assert (exact["wasted"], exact["returned"]) == (true["wasted"], true["returned"])
        # As far as it was read: what was given since the last reading is still in what is left.
        assert exact["delivered_by_device"] + exact["not_read"] <= true["given"]
        assert exact["left"] >= true["left"]
        assert exact["difference"] == 0

    def teardown(self) -> None:
        """At last it ends, all is read once more and what is left goes: nothing is unexplained."""
        if not self.truth:
            return
        check = self.reads(of=self.on)
        self.running, self.paused = False, ""
        last, self.on = self.on, -1
        if self.truth[last]["left"]:
            self.gives_away(last, way=WASTED, volume=self.truth[last]["left"])
            self.log[-1] = replace(self.log[-1], check=check)
        for at, each in enumerate(self.truth):
            if each["left"]:
                self.gives_away(at, way=RETURNED, volume=each["left"])
        self.tell(InfusionEnded(check_kind=END_OF_PCA.name), check)
        self.ended = True
        self.account_is_what_truly_happened()
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
