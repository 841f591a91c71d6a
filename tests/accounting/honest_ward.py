"""An honest infusion, lived through minute by minute, and what people would then read of it."""

from dataclasses import dataclass, field
from fractions import Fraction
from random import Random  # noqa: TID251  # the one that Hypothesis draws from
from typing import Any

from app.accounting.budget import graduation_tolerance
from app.quantities import exact
from tests.accounting.builders import account, entry, issued, settings, totals

SIZE, VOLUME = 60, 50
DEVICE_ACCURACY = Fraction(5, 100)
DIVISION = Fraction(1)
LOCKOUT = 8
DAY = 24 * 60


@dataclass(kw_only=True)
class HonestWard:
    """`errors` false: every instrument is exact, every time is right."""

    rng: Random
    errors: bool = True
    concentration: Fraction = Fraction(1)
    limit: int | None = None
    rate: Fraction = Fraction(0)
    """In mg an hour."""
    minute: int = 8 * 60
    stated: int = 8 * 60
    entries: list[dict[str, Any]] = field(default_factory=list)
    syringes: int = 0
    left: Fraction = Fraction(0)
    """In truth."""
    printed: Fraction = Fraction(0)
    """How far the scale of this barrel is off, as a share of its tolerance."""
    runs_since: int | None = None
    granted: list[int] = field(default_factory=list)
    shown: Fraction = Fraction(0)
    presses: int = 0
    doses: int = 0

    def error(self, most: Fraction) -> Fraction:
        return most * Fraction(self.rng.randint(-100, 100), 100) if self.errors else Fraction(0)

    def write(self, kind: str, /, **keys: object) -> None:
        """Some minutes later, at a time that is stated to the minute or so."""
        self.stand(3)
        late = self.rng.randint(-1, 1) if self.errors else 0
        day, minute = divmod(self.minute + late, DAY)
        self.write_at(f"{2 + day}T{minute // 60:02d}:{minute % 60:02d}", kind, keys)

    def write_at(self, time: str, kind: str, keys: dict[str, object]) -> None:
        make = {"issued": issued, "settings": settings}.get(kind)
        made = make(time, **keys) if make is not None else entry(kind, time, **keys)
        self.entries.append(made)

    def stand(self, minutes: int) -> None:
        """Time goes by; where the device runs, it gives what it is asked for."""
        for _ in range(minutes):
            if self.runs_since is not None:
                self.flow(self.rate / 60)
                if self.left > 5 and self.rng.random() < Fraction(1, 6):
                    self.press()
            self.minute += 1

    def press(self) -> None:
        self.presses += 1
        assert self.runs_since is not None
        time = self.minute - self.runs_since
        in_window = sum(time - 240 < each for each in self.granted)
        counted = in_window + 1 + self.rate * min(time, 240) / 60
        is_locked = bool(self.granted) and time < self.granted[-1] + LOCKOUT
        if not is_locked and (self.limit is None or counted <= self.limit):
            self.granted.append(time)
            self.doses += 1
            self.flow(Fraction(1))

    def flow(self, amount: Fraction) -> None:
        self.shown += amount
        self.left -= amount / self.concentration * (1 + self.error(DEVICE_ACCURACY))

    def totals(self) -> dict[str, Any]:
        """The display rounds to a tenth; exact instruments show everything."""
        amount = Fraction(round(self.shown * 10), 10) if self.errors else self.shown
        return totals(f"{exact(amount)} mg", self.presses, self.doses)

    def scale(self) -> Fraction:
        """What the barrel's scale stands at, its printing error included."""
        tolerance = graduation_tolerance(Fraction(SIZE), self.left)
        # A little less: the tolerance is judged at what is read.
        return self.left + self.printed * tolerance * Fraction(9, 10)

    def read_left(self) -> Fraction:
        return max(Fraction(0), rounded(self.scale() + self.error(DIVISION / 2)))

    def load(self) -> None:
        self.syringes += 1
        self.left, self.printed = Fraction(VOLUME), self.error(Fraction(1))
        label = {"amount": f"{exact(VOLUME * self.concentration)} mg", "volume": f"{VOLUME} mL"}
        self.write("issued", syringe=f"S{self.syringes}", **label)
        self.write("loaded", syringe=f"S{self.syringes}")

    def prime(self) -> None:
        volume = Fraction(self.rng.randint(1, 20), 10)
        self.write("primed", volume=f"{exact(volume)} mL")
        self.left -= volume

    def set(self) -> None:
        amount = self.rng.choice((None, 6, 12))
        rate = self.rng.choice((Fraction(0), Fraction(0), Fraction(3, 5)))
        self.write(
            "settings",
            concentration=f"{exact(self.concentration)} mg/mL",
            mode="demand-and-continuous",
            limit=None if amount is None else {"amount": f"{amount} mg", "window": "4 h"},
            continuous_rate=f"{exact(rate)} mg/h",
        )
        # In force from here on: until it was written the device ran as before.
        self.limit, self.rate = amount, rate
        if self.runs_since is not None:
            self.runs_since, self.granted = self.minute, []

    def start(self) -> None:
        self.write("started")
        self.runs_since, self.granted = self.minute, []

    def pause(self) -> None:
        self.write("paused")
        self.runs_since = None

    def bolus(self) -> None:
        self.write("bolus", amount="1.5 mg", loading=bool(self.rng.randint(0, 1)))
        self.flow(Fraction(3, 2))

    def clear(self) -> None:
        self.stand(3)
        shown = self.totals()
        self.write_now("cleared", totals=shown, after=totals("0 mg", 0, 0))
        self.shown, self.presses, self.doses = Fraction(0), 0, 0

    def read(self) -> None:
        self.stand(3)
        self.write_now("read", totals=self.totals(), left=f"{exact(self.read_left())} mL")

    def write_now(self, kind: str, /, **keys: object) -> None:
        """What was just read is written at once, lest more be given in between."""
        self.minute -= 3
        running, self.runs_since = self.runs_since, None
        self.write(kind, **keys)
        self.runs_since = running

    def remove(self, unwritten_after: Fraction = Fraction(0)) -> None:
        """Off, and the rest wasted in one or two portions, by the same scale."""
        self.stand(3)
        scale = rounded(self.scale())
        left = max(Fraction(0), rounded(scale + self.error(DIVISION / 2)))
        self.write_now("removed", totals=self.totals(), left=f"{exact(left)} mL")
        self.runs_since = None
        parts = self.rng.choice((1, 2))
        for _ in range(parts):
            volume = rounded((scale - unwritten_after) / parts + self.error(DIVISION / 2))
            if volume > 0:
                self.write(
                    "wasted", syringe=f"S{self.syringes}", volume=f"{exact(volume)} mL", witnessed=True
                )

    def live(self, steps: int) -> None:
        """Some hours of it, from the first syringe on."""
        self.load()
        self.prime()
        self.set()
        self.start()
        for _ in range(steps):
            self.stand(self.rng.randint(0, 120))
            if self.left < 15:
                self.change_syringe()
            running = self.runs_since is not None
            acts = [self.read, self.read, self.clear, self.set]
            acts += [self.pause, self.bolus] if running else [self.start, self.prime]
            self.rng.choice(acts)()

    def change_syringe(self) -> None:
        self.remove()
        self.load()
        self.start()

    def case(self, policy: dict[str, Any]) -> dict[str, Any]:
        return account(*self.entries, policy=policy)


def rounded(volume: Fraction) -> Fraction:
    """To a thousandth, as it can be typed."""
    return Fraction(int(volume * 1000), 1000)
