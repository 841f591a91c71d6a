"""Order, label and device of a case, as one clinician read them -> what they give and what they lack."""

from collections.abc import Sequence
from dataclasses import dataclass

from app.comparison.documents import Node, Quantities, find_choice, find_moment_at, find_node, find_text, node
from app.comparison.fields import (
    CARRIER_RATE,
    CONCENTRATION,
    CONTINUOUS_RATE,
    FREQUENCY,
    LOCKOUT,
    MASS,
    PERCENT,
    PRESSURE,
    TIME,
    VOLUME,
    WINDOW,
    Measure,
)
from app.comparison.moments import Moment
from app.comparison.readings import (
    MODES,
    MODES_WITH_CONTINUOUS,
    MODES_WITH_DEMANDS,
    NONE,
    NOTHING_TYPED,
    Amount,
    Reading,
    Readings,
    Word,
    folded,
)

_SWITCH = ("on", "off")
_SWITCHED_MONITORS = ("capnography", "pulse_oximetry")
_MEASURED_MONITORS = {
    "low_respiratory_rate": FREQUENCY,
    "low_spo2": PERCENT,
    "high_etco2": PRESSURE,
    "apnea_time": TIME,
}
_SETTINGS_KEYS = frozenset(
    {
        "drug",
        "amount",
        "volume",
        "concentration",
        "mode",
        "demand_dose",
        "lockout",
        "continuous_rate",
        "limit",
        "loading_dose",
        "carrier",
        "monitor",
        "syringe_size",
    }
)
_LIMIT_KEYS = frozenset({"amount", "window"})
_CARRIER_KEYS = frozenset({"fluid", "rate"})
_MONITOR_KEYS = frozenset({*_SWITCHED_MONITORS, *_MEASURED_MONITORS})
_LABEL_KEYS = frozenset(
    {"drug", "amount", "volume", "concentration", "lot", "use_by", "code", "syringe_size"}
)

# The rate too: where the mode has none, its absence is the answer *none*.
_ALWAYS_NEEDED = (
    "drug",
    "concentration",
    "mode",
    "continuous_rate",
    "limit.amount",
    "limit.window",
    "loading_dose",
)
_NEEDED_OF_LABEL = frozenset({"drug", "concentration"})


@dataclass(frozen=True, kw_only=True, slots=True)
class Demands:
    """What is asked of a source of settings."""

    complete: bool = False
    monitors: tuple[str, ...] = ()
    may_state_no_concentration: bool = False
    syringe_size_counts: bool = True


ORDER = Demands(complete=True, may_state_no_concentration=True, syringe_size_counts=False)
ORDER_OF_RECORD = Demands(may_state_no_concentration=True, syringe_size_counts=False)
PREVIOUS = Demands(may_state_no_concentration=True)


def of_device(required_monitors: tuple[str, ...]) -> Demands:
    """What is asked of a device where these monitors are required."""
    return Demands(complete=True, monitors=required_monitors)


def settings(value: object, path: str, quantities: Quantities, demands: Demands) -> Readings:
    """The settings of an order or a device."""
    found: dict[str, Reading] = {}
    source = _Source(node(value, path, _SETTINGS_KEYS), path, quantities, found=found)
    source.read_name("drug")
    stated_concentration = source.read_strength()
    if demands.may_state_no_concentration:
        source.read_no_concentration()
    mode = source.read_choice("mode", MODES)
    source.read_quantity("demand_dose", MASS)
    source.read_quantity("lockout", LOCKOUT)
    rate_needed = demands.complete and mode in MODES_WITH_CONTINUOUS
    source.read_rate(complete=demands.complete, needed=rate_needed)
    source.read_limit()
    source.read_none("loading_dose", "loading_dose")
    source.read_quantity("loading_dose", MASS)
    source.read_carrier()
    source.read_monitor()
    source.read_quantity("syringe_size", VOLUME)
    if not demands.syringe_size_counts:
        found.pop("syringe_size", None)
    missing = _needed(mode, demands) - found.keys()
    return Readings(by_field=found, missing=missing, stated_concentration=stated_concentration)


def label(value: object, path: str, quantities: Quantities) -> Readings:
    """The label of the syringe in the hand."""
    found: dict[str, Reading] = {}
    source = _Source(node(value, path, _LABEL_KEYS), path, quantities, found=found)
    source.read_name("drug")
    stated_concentration = source.read_strength()
    source.read_text("lot")
    use_by = source.read_use_by()
    source.read_text("code")
    source.read_quantity("syringe_size", VOLUME)
    missing = _NEEDED_OF_LABEL - found.keys()
    return Readings(by_field=found, missing=missing, stated_concentration=stated_concentration, use_by=use_by)


def _needed(mode: str | None, demands: Demands) -> frozenset[str]:
    """The fields that must be read from a source in this mode."""
    if not demands.complete:
        return frozenset()
    with_demands = ("demand_dose", "lockout") if mode in MODES_WITH_DEMANDS else ()
    return frozenset({*_ALWAYS_NEEDED, *with_demands, *demands.monitors})


class _Source:
    """One source, or an object inside it, while it is read: its values are collected in `found`."""

    def __init__(
        self, given: Node, path: str, quantities: Quantities, *, found: dict[str, Reading], prefix: str = ""
    ) -> None:
        self.given = given
        self.path = path
        self.quantities = quantities
        self.found = found
        self.prefix = prefix

    def inside(self, key: str, keys: frozenset[str]) -> "_Source | None":
        """An object inside the source, where it is given; its fields are named after it."""
        given = find_node(self.given, self.path, key, keys)
        if given is None:
            return None
        return _Source(given, f"{self.path}.{key}", self.quantities, found=self.found, prefix=f"{key}.")

    def read_quantity(self, key: str, measure: Measure) -> Amount | None:
        """A quantity, where it is given."""
        amount = self.quantities.find(self.given, self.path, key, measure)
        if amount is not None:
            self.found[self.prefix + key] = amount
        return amount

    def read_name(self, key: str) -> None:
        """A text that is compared without regard to case, where it is given."""
        typed = find_text(self.given, self.path, key)
        if typed is not None:
            self.found[self.prefix + key] = Word(typed=typed, value=folded(typed))

    def read_text(self, key: str) -> None:
        """A text that is compared as it stands, where it is given."""
        typed = find_text(self.given, self.path, key)
        if typed is not None:
            self.found[self.prefix + key] = Word(typed=typed, value=typed)

    def read_choice(self, key: str, choices: Sequence[str]) -> str | None:
        """One of a few words, where it is given."""
        chosen = find_choice(self.given, self.path, key, choices)
        if chosen is not None:
            self.found[self.prefix + key] = Word(typed=chosen, value=chosen)
        return chosen

    def read_none(self, key: str, *fields: str) -> None:
        """Null is the answer *none* where nothing else was read."""
        if key in self.given and self.given[key] is None:
            for field in fields:
                self.found[field] = NONE

    def read_strength(self) -> Amount | None:
        """Amount, volume and concentration: amount by volume decides where both are given, else as stated."""
        amount = self.read_quantity("amount", MASS)
        volume = self.read_quantity("volume", VOLUME)
        stated = self.quantities.find(self.given, self.path, "concentration", CONCENTRATION)
        if amount is None or volume is None:
            if stated is not None:
                self.found["concentration"] = stated
            return None
        self.found["concentration"] = self.quantities.strength(amount, volume)
        return stated

    def read_no_concentration(self) -> None:
        """An explicit null says that no concentration is stated, unless amount or volume say otherwise."""
        if self.found.keys().isdisjoint({"amount", "volume"}):
            self.read_none("concentration", "concentration")

    def read_rate(self, *, complete: bool, needed: bool) -> None:
        """The continuous rate; where none is needed, null and (in a complete source) absence mean *none*."""
        self.read_quantity("continuous_rate", CONTINUOUS_RATE)
        if needed:
            return
        self.read_none("continuous_rate", "continuous_rate")
        if complete:
            self.found.setdefault("continuous_rate", NOTHING_TYPED)

    def read_limit(self) -> None:
        """The limit's amount and window; null is the answer *none* for both."""
        self.read_none("limit", "limit.amount", "limit.window")
        limit = self.inside("limit", _LIMIT_KEYS)
        if limit is not None:
            limit.read_quantity("amount", MASS)
            limit.read_quantity("window", WINDOW)

    def read_carrier(self) -> None:
        """The carrier's fluid and rate, where they are given."""
        carrier = self.inside("carrier", _CARRIER_KEYS)
        if carrier is not None:
            carrier.read_name("fluid")
            carrier.read_quantity("rate", CARRIER_RATE)

    def read_monitor(self) -> None:
        """The monitors' switches and alarms, where they are given."""
        monitor = self.inside("monitor", _MONITOR_KEYS)
        if monitor is None:
            return
        for key in _SWITCHED_MONITORS:
            monitor.read_choice(key, _SWITCH)
        for key, measure in _MEASURED_MONITORS.items():
            monitor.read_quantity(key, measure)

    def read_use_by(self) -> Moment | None:
        """The use-by date or time, where it is given."""
        use_by = find_moment_at(self.given, self.path, "use_by")
        if use_by is None:
            return None
        typed, moment = use_by
        self.found["use_by"] = Word(typed=typed, value=moment.instant or moment.day)
        return moment
