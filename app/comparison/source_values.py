"""One source of a case, value by value: what each may be, and the first that is wrong with one."""

from collections.abc import Callable, Mapping, Sequence
from fractions import Fraction

from app.comparison.documents import (
    Node,
    Quantities,
    below,
    find_choice,
    find_day,
    find_moment_at,
    find_node,
    find_text,
    get,
    node,
    refuse,
)
from app.comparison.fields import LIMITS, TIME, ZERO_OR_MORE_VOLUME_RATE
from app.comparison.moments import Moment
from app.comparison.readings import (
    NONE,
    NOTHING_TYPED,
    Amount,
    DoseAsVolume,
    Identifier,
    Reading,
    Word,
    find_identifier,
    folded,
)
from app.records.measures import (
    CARRIER_RATE,
    CONCENTRATION,
    CONTINUOUS_RATE,
    FREQUENCY,
    LOCKOUT,
    MASS,
    PERCENT,
    PRESSURE,
    VOLUME,
    WINDOW,
    Measure,
)

_SWITCH = ("on", "off")
_SWITCHED_MONITORS = ("capnography", "pulse_oximetry")
ALARMS: Mapping[str, Measure] = {
    "low_respiratory_rate": FREQUENCY,
    "low_spo2": PERCENT,
    "high_etco2": PRESSURE,
    "apnea_time": TIME,
}
_STAFF_BOLUS: Mapping[str, Measure] = {"dose": MASS, "interval": LOCKOUT, "most": MASS, "window": WINDOW}
_LIMIT_KEYS = frozenset({"amount", "window"})
_CARRIER_KEYS = frozenset({"fluid", "rate"})
_MONITOR_KEYS = frozenset({*_SWITCHED_MONITORS, *ALARMS})
_PERSON_KEYS = frozenset({"identifier", "birth_date"})
_NAMED_KEYS = frozenset({"identifier"})
_MOST_LIMITS = len(LIMITS)

_IN_MASSES_OR_VOLUMES = (MASS, VOLUME)
_RATE_IN_MASSES_OR_VOLUMES = (CONTINUOUS_RATE, ZERO_OR_MORE_VOLUME_RATE)
# Of an identifier that is given by its end.
SHORTEST_END = 4


class Doses:
    """Whether a source's doses are volumes: the first that is given settles it."""

    def __init__(self) -> None:
        self.in_volumes: bool | None = None

    def settle_by(self, found: Mapping[str, Reading]) -> None:
        """An amount of drug or a concentration says that they are masses."""
        if "amount" in found or isinstance(found.get("concentration"), Amount):
            self.in_volumes = False

    def read(
        self, quantities: Quantities, value: object, path: str, measures: tuple[Measure, Measure]
    ) -> Amount | DoseAsVolume:
        """A dose of the kind that is settled, or the one that settles it."""
        dose = quantities.dose(value, path, measures, in_volumes=self.in_volumes)
        self.in_volumes = isinstance(dose, DoseAsVolume)
        return dose


class SourceValues:
    """One source, or an object inside it, while it is read: its values are collected in `found`."""

    def __init__(
        self,
        given: Node,
        path: str,
        quantities: Quantities,
        *,
        found: dict[str, Reading],
        prefix: str = "",
        doses: Doses | None = None,
    ) -> None:
        self.given = given
        self.path = path
        self.quantities = quantities
        self.found = found
        self.prefix = prefix
        self.doses = doses

    def inside(self, key: str, keys: frozenset[str]) -> "SourceValues | None":
        """An object inside the source, where it is given; its fields are named after it."""
        given = find_node(self.given, self.path, key, keys)
        return None if given is None else self._inner(given, f"{self.path}.{key}", f"{key}.")

    def _inner(self, given: Node, path: str, prefix: str) -> "SourceValues":
        return SourceValues(given, path, self.quantities, found=self.found, prefix=prefix, doses=self.doses)

    def read_quantity(self, key: str, measure: Measure) -> Amount | None:
        """A quantity, where it is given."""
        amount = self.quantities.find(self.given, self.path, key, measure)
        if amount is not None:
            self.found[self.prefix + key] = amount
        return amount

    def read_dose(self, key: str, measures: tuple[Measure, Measure] = _IN_MASSES_OR_VOLUMES) -> None:
        """A dose, where it is given: a mass, or in a device in volumes a volume."""
        value = self.given.get(key)
        if self.doses is None:
            self.read_quantity(key, measures[0])
        elif value is not None:
            dose = self.doses.read(self.quantities, value, f"{self.path}.{key}", measures)
            self.found[self.prefix + key] = dose

    def read_text(self, key: str, compared: Callable[[str], str]) -> None:
        """A text, where it is given, and the form in which it is compared."""
        typed = find_text(self.given, self.path, key)
        if typed is not None:
            self.found[self.prefix + key] = Word(typed=typed, value=compared(typed))

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

    def read_person(self, key: str, *, birth_date: bool, is_whole: bool = False) -> None:
        """Who a patient is said to be; a wristband, and the case itself, must give the whole identifier."""
        keys = _PERSON_KEYS if birth_date else _NAMED_KEYS
        person = find_node(self.given, self.path, key, keys)
        if person is None:
            return
        path = below(self.path, key)
        identifier = _find_identifier(person, path, is_whole=is_whole)
        born = find_day(person, path, "birth_date")
        if identifier is not None:
            self.found["patient.identifier"] = identifier
        if born is not None:
            self.found["patient.birth_date"] = Word(typed=born[0], value=born[1])

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

    def read_rate(self, *, is_complete: bool, is_needed: bool) -> None:
        """The continuous rate; where none is needed, null and (in a complete source) absence mean *none*."""
        self.read_dose("continuous_rate", _RATE_IN_MASSES_OR_VOLUMES)
        if is_complete and is_needed:
            return
        self.read_none("continuous_rate", "continuous_rate")
        if is_complete:
            self.found.setdefault("continuous_rate", NOTHING_TYPED)

    def read_limits(self) -> frozenset[str]:
        """All limits, the shortest window first, null for none; gives the amounts that must be there."""
        given = self.given.get("limit")
        if isinstance(given, list):
            return self._read_listed_limits(given)
        one = self.inside("limit", _LIMIT_KEYS)
        if one is not None:
            one.read_dose("amount")
            one.read_quantity("window", WINDOW)
        if "limit" in self.given:
            self._no_limits_from(0 if one is None else 1)
        return frozenset()

    def _read_listed_limits(self, given: list[object]) -> frozenset[str]:
        path = f"{self.path}.limit"
        if not 1 <= len(given) <= _MOST_LIMITS:
            refuse(path, "wrong-count", f"One to {_MOST_LIMITS} limits can stand here.")
        by_window: dict[Fraction, tuple[Reading | None, Amount]] = {}
        for place, each in enumerate(given):
            here = f"{path}[{place}]"
            read: dict[str, Reading] = {}
            limit = SourceValues(
                node(each, here, _LIMIT_KEYS), here, self.quantities, found=read, doses=self.doses
            )
            limit.read_dose("amount")
            window = self.quantities.get(get(limit.given, here, "window"), f"{here}.window", WINDOW)
            if window.value in by_window:
                refuse(f"{here}.window", "same-window", "Each limit has a time window of its own.")
            by_window[window.value] = read.get("amount"), window
        for (amount_field, window_field), (_, (amount, window)) in zip(
            LIMITS, sorted(by_window.items(), key=_by_window), strict=False
        ):
            self.found[window_field] = window
            if amount is not None:
                self.found[amount_field] = amount
        self._no_limits_from(len(given))
        return frozenset(amount for amount, _ in LIMITS[: len(given)])

    def _no_limits_from(self, place: int) -> None:
        for fields in LIMITS[place:]:
            for field in fields:
                self.found[field] = NONE

    def read_staff_bolus(self) -> None:
        """What staff may give: whole, or null for none."""
        self.read_none("staff_bolus", *(f"staff_bolus.{key}" for key in _STAFF_BOLUS))
        bolus = self.inside("staff_bolus", frozenset(_STAFF_BOLUS))
        if bolus is None:
            return
        for key, measure in _STAFF_BOLUS.items():
            value = get(bolus.given, bolus.path, key)
            self.found[f"staff_bolus.{key}"] = self.quantities.get(value, f"{bolus.path}.{key}", measure)

    def read_carrier(self) -> None:
        """The carrier's fluid and rate, where they are given."""
        carrier = self.inside("carrier", _CARRIER_KEYS)
        if carrier is not None:
            carrier.read_text("fluid", folded)
            carrier.read_quantity("rate", CARRIER_RATE)

    def read_monitor(self) -> None:
        """The monitors' switches and alarms, where they are given; null is *none* for an alarm."""
        monitor = self.inside("monitor", _MONITOR_KEYS)
        if monitor is None:
            return
        for key in _SWITCHED_MONITORS:
            monitor.read_choice(key, _SWITCH)
        for key, measure in ALARMS.items():
            monitor.read_none(key, f"monitor.{key}")
            monitor.read_quantity(key, measure)

    def read_use_by(self) -> Moment | None:
        """The use-by month, date or time, where it is given."""
        use_by = find_moment_at(self.given, self.path, "use_by", month_allowed=True)
        if use_by is None:
            return None
        typed, moment = use_by
        self.found["use_by"] = Word(typed=typed, value=moment.instant or moment.day)
        return moment


def _by_window(limit: tuple[Fraction, object]) -> Fraction:
    return limit[0]


def _find_identifier(person: Node, path: str, *, is_whole: bool) -> Identifier | None:
    """A patient's identifier, or absent or null or blank."""
    typed = find_text(person, path, "identifier")
    identifier = None if typed is None else find_identifier(typed)
    if identifier is None or not identifier.is_end:
        return identifier
    if is_whole or len(identifier.value) < SHORTEST_END:
        says = (
            "Write the whole identifier here."
            if is_whole
            else f"Of an identifier write at least the last {SHORTEST_END} characters after the star."
        )
        refuse(f"{path}.identifier", "partial-identifier", says)
    return identifier
