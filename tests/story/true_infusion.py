"""What truly happens to an infusion, by plain addition: for those who tell of it in some way."""

from datetime import datetime, timedelta
from fractions import Fraction
from typing import Any

from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, precondition, rule

from tests.story.events import BEGAN

LOADED, DOSE, PRIMED = Fraction(30), Fraction(1), Fraction(23, 10)
MG_PER_ML = Fraction(1, 5)
LOCKOUT, WINDOW, MOST_IN_WINDOW = 10, 240, 10
"""Of the settings in `tests/factories/answers.py`: 0.2 mg is 1 mL, every 10 min, and 2 mg in 4 h."""
SPILLED = Fraction(1, 2)
BOLUS = {
    "staff_bolus_dose": "0.2 mg",
    "staff_bolus_interval": "1 min",
    "staff_bolus_most": "9 mg",
    "staff_bolus_window": "4 h",
}


class TrueInfusion(RuleBasedStateMachine):
    """One infusion, and what truly happens to it; whoever tells of it says how."""

    def __init__(self) -> None:
        """Nothing has happened."""
        super().__init__()
        self.minutes = 0
        self.doses_at: list[int] = []
        self.given, self.presses, self.doses = Fraction(0), 0, 0
        self.truth: list[dict[str, Fraction]] = []
        self.on = -1
        self.running = False
        self.ended = False
        self.opened = True
        self.untold: list[tuple[int, datetime]] = []
        self.kept = -1
        # Whether what is kept shows its totals.
        self.shows = True

    @property
    def now(self) -> datetime:
        return BEGAN + timedelta(minutes=self.minutes)

    @property
    def syringe(self) -> dict[str, Fraction]:
        return self.truth[self.on]

    def loads(self) -> None:
        self.truth.append(
            {name: Fraction(0) for name in ("primed", "given", "wasted", "returned", "kept")}
            | {"left": LOADED}
        )
        self.on = len(self.truth) - 1

    def part_used(self) -> list[int]:
        """Those that may be loaded again: off the device, and enough in them to take up slack."""
        return [at for at, each in enumerate(self.truth) if each["left"] >= PRIMED and at != self.on]

    def fills(self) -> None:
        self.syringe["primed"] += PRIMED
        self.syringe["left"] -= PRIMED

    def runs(self) -> None:
        self.running = True
        self.doses_at = []

    def gives(self) -> None:
        """The device gives a dose, and counts it in its totals."""
        self.given += DOSE * MG_PER_ML
        self.syringe["given"] += DOSE
        self.syringe["left"] -= DOSE

    def keeps(self, *, shows: bool) -> None:
        """It stands, and what is on is kept as evidence from now on."""
        self.kept, self.on, self.running, self.shows = self.on, -1, False, shows
        its = self.truth[self.kept]
        its["kept"], its["left"] = its["left"], Fraction(0)

    def is_given_free(self) -> None:
        """What was kept is in hand, as what is left of any other."""
        its = self.truth[self.kept]
        its["kept"], its["left"] = Fraction(0), its["kept"]

    @property
    def may_be_found(self) -> set[str]:
        """Of the account's stops: totals that do not show nobody has read."""
        return set() if self.shows else {"reading-missing"}

    def is_on(self) -> bool:
        return self.on >= 0 and not self.ended

    def is_open(self) -> bool:
        """Its account is, and there is a syringe on."""
        return self.is_on() and self.opened

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
            self.gives()
        self.minutes += minutes

    @precondition(lambda self: self.is_on() and self.syringe["left"] >= SPILLED)
    @rule()
    def is_spilt(self) -> None:
        """And nobody writes it down as yet."""
        self.syringe["left"] -= SPILLED
        self.untold.append((self.on, self.now))
        # What is read in the same minute may have been read before or after.
        self.minutes += 1

    @precondition(lambda self: bool(self.untold))
    @rule(minutes=st.integers(0, 90))
    def what_was_spilt_is_told(self, minutes: int) -> None:
        """Whoever tells of it says how."""
        self.minutes += minutes
        name, at = self.untold.pop(0)
        self.truth[name]["left"] += SPILLED
        self.tells_of_a_spill(name, at)

    def tells_of_a_spill(self, name: int, at: datetime) -> None:
        """It is written down."""
        raise NotImplementedError

    def adds_up(self, volume: dict[str, Any], true: dict[str, Fraction]) -> None:
        exact = {name: Fraction(told["exact"]) for name, told in volume.items() if told is not None}
        assert exact["loaded"] == LOADED
        assert exact["primed"] == true["primed"]
        assert (exact["wasted"], exact["returned"]) == (true["wasted"], true["returned"])
        assert exact.get("kept", 0) == true["kept"]
        if "difference" not in exact or self.untold:
            # Nobody read the totals of what is kept; or it is not written down as yet.
            return
        # As far as it was read: what was given since the last reading is still in what is left.
        assert exact["delivered_by_device"] + exact["not_read"] <= true["given"]
        assert exact["left"] >= true["left"]
        assert exact["difference"] == 0
