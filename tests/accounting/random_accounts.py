"""Random infusions, well formed but in no way honest: whatever people may write down."""

from typing import Any

from hypothesis import strategies as st

from tests.accounting.builders import ABSENT, account, entry, issued, settings, totals

MODES = ("demand", "continuous", "demand-and-continuous")
CONCENTRATIONS = ("1 mg/mL", "5 mg/mL", "0.2 mg/mL", "50 mg/30 mL")
TENTHS = st.integers(0, 400)


def tenths(number: int, unit: str) -> str:
    whole, part = divmod(number, 10)
    return f"{whole}.{part} {unit}" if part else f"{whole} {unit}"


mass = TENTHS.map(lambda number: tenths(number, "mg"))
volume = TENTHS.map(lambda number: tenths(number, "mL"))
some_volume = st.integers(1, 60).map(lambda number: tenths(number, "mL"))
maybe = st.booleans()
LIMITS: tuple[Any, ...] = (
    None,
    {"amount": "6 mg", "window": "1 h"},
    [{"amount": "8 mg", "window": "4 h"}, {"amount": "3 mg", "window": "1 h"}],
)
VOLUME_LIMITS: tuple[Any, ...] = (None, {"amount": "2.5 mL", "window": "1 h"})
COUNTS = ("totals_count_bolus", "totals_count_loading", "totals_count_prime", "doses_count_bolus")


class Ward:
    """Where things are while a random infusion is made."""

    def __init__(self, draw: st.DrawFn) -> None:
        self.draw = draw
        self.minutes = 8 * 60
        self.entries: list[dict[str, Any]] = []
        self.known: list[str] = []
        self.on: str | None = None
        self.is_set = False
        self.in_volumes = False

    def add(self, kind: str, **keys: object) -> None:
        self.minutes += self.draw(st.integers(0, 240))
        day, minute = divmod(self.minutes, 24 * 60)
        time = f"{2 + day}T{minute // 60:02d}:{minute % 60:02d}"
        if kind == "issued":
            self.entries.append(issued(time, **keys))
        elif kind == "settings":
            self.entries.append(settings(time, **keys))
        else:
            self.entries.append(entry(kind, time, **keys))

    def totals(self) -> dict[str, Any]:
        counts = [self.draw(st.integers(0, 40)) for _ in range(self.draw(st.integers(0, 2)))]
        kind = self.draw(st.sampled_from(("amount", "amount", "volume", "both")))
        return totals(
            self.draw(mass) if kind != "volume" else None,
            *counts,
            volume=self.draw(volume) if kind != "amount" else None,
        )

    def maybe(self, value: object) -> object:
        return value if self.draw(st.integers(0, 9)) else None

    def counts(self) -> dict[str, bool]:
        given = self.draw(st.lists(st.sampled_from(COUNTS), unique=True, max_size=2))
        return {key: self.draw(maybe) for key in given}

    def step(self) -> None:
        """One more entry of those that can stand here."""
        kinds = ["issued", "settings", "read", "paused", "cleared"]
        if self.known:
            kinds += ["wasted", "device"]
            kinds += ["returned", "kept"] if any(name != self.on for name in self.known) else []
            kinds += ["loaded"] * 4 if self.on is None else []
        if self.on is not None:
            kinds += ["primed", "removed", "left"] + ["started", "started", "bolus"] * self.is_set
        kind = self.draw(st.sampled_from(kinds))
        {
            "issued": self.issue,
            "settings": self.set,
            "loaded": self.load,
            "removed": self.remove,
            "bolus": self.bolus,
        }.get(kind, lambda: self.other(kind))()

    def issue(self) -> None:
        name = f"S{len(self.known) + 1}"
        self.known.append(name)
        self.add(
            "issued",
            syringe=name,
            concentration=self.draw(st.sampled_from(CONCENTRATIONS)),
            size=self.draw(st.sampled_from(("50 mL", "60 mL"))),
            drawn_up=self.draw(maybe),
        )

    def set(self) -> None:
        self.is_set, self.in_volumes = True, self.draw(st.integers(0, 4)) == 0
        mode = self.draw(st.sampled_from(MODES))
        unit = "mL" if self.in_volumes else "mg"
        keys: dict[str, Any] = {
            "mode": mode,
            "concentration": ABSENT if self.in_volumes else self.draw(st.sampled_from(CONCENTRATIONS)),
            "limit": self.draw(st.sampled_from(VOLUME_LIMITS if self.in_volumes else LIMITS)),
            "demand_dose": self.draw(st.sampled_from((f"0.5 {unit}", f"1 {unit}", f"2.2 {unit}"))),
            "lockout": self.draw(st.sampled_from(("5 min", "8 min", "1 h"))),
            "continuous_rate": self.draw(st.sampled_from((f"0 {unit}/h", f"0.7 {unit}/h"))),
        }
        self.add("settings", **keys, **self.counts())

    def load(self) -> None:
        self.on = self.draw(st.sampled_from(self.known))
        self.add("loaded", syringe=self.on)

    def remove(self) -> None:
        self.on = None
        self.add("removed", totals=self.maybe(self.totals()), left=self.maybe(self.draw(volume)))

    def bolus(self) -> None:
        self.add("bolus", amount="1.5 mL" if self.in_volumes else "1.5 mg", loading=self.draw(maybe))

    def other(self, kind: str) -> None:
        names = [name for name in self.known if name != self.on or kind == "wasted"]
        match kind:
            case "read":
                self.add("read", totals=self.maybe(self.totals()))
            case "left":
                self.add("read", totals=self.maybe(self.totals()), left=self.maybe(self.draw(volume)))
            case "cleared":
                self.add(kind, totals=self.maybe(self.totals()), after=self.totals())
            case "device":
                self.is_set = self.in_volumes = False
                self.add(kind, totals=self.maybe(self.totals()), after=self.totals(), **self.counts())
            case "primed":
                self.add(kind, volume=self.draw(some_volume))
            case "wasted" | "returned" | "kept":
                signed = "witnessed" if kind == "wasted" else "received"
                keys = {"syringe": self.draw(st.sampled_from(names)), "volume": self.draw(some_volume)}
                seal = {"seal": "A 17"} if kind == "kept" else {}
                self.add(kind, **keys, **seal, **{signed: self.draw(maybe)})
            case _:
                self.add(kind)


@st.composite
def policies(draw: st.DrawFn) -> dict[str, Any]:
    rules: dict[str, Any] = {
        "device_accuracy": draw(st.sampled_from(("0 %", "5 %"))),
        "fill_accuracy": draw(st.sampled_from(("0 %", "2 %"))),
        "prime_accuracy": draw(st.sampled_from(("0 %", "10 %"))),
        "scale_division": draw(st.sampled_from(("0 mL", "1 mL", "2 mL"))),
        "decide_by": draw(st.sampled_from(("worst-case", "root-sum-square"))),
        "at_least": draw(st.sampled_from(("0 mL", "3 mL"))),
        "presses_per_dose": draw(st.sampled_from((None, 1, 3))),
        "limit_counts_continuous": draw(maybe),
        "ask_at_full_use": draw(maybe),
        "time_accuracy": draw(st.sampled_from(("0 min", "1 min", "30 s"))),
    }
    return {**rules, **{key: draw(maybe) for key in COUNTS}}


@st.composite
def accounts(draw: st.DrawFn) -> dict[str, Any]:
    """A whole case; most have a syringe on the device for some of the time."""
    ward = Ward(draw)
    ward.issue()
    ward.set()
    ward.load()
    ward.add("started")
    for _ in range(draw(st.integers(0, 14))):
        ward.step()
    if draw(maybe):
        if ward.on is not None:
            ward.remove()
        ward.add("end")
    return account(*ward.entries, policy=draw(policies()))
