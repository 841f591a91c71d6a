"""Order, label and device of a case, as one clinician read them -> what they give and what they lack."""

from collections.abc import Callable
from dataclasses import dataclass

from app.comparison.documents import Node, Quantities, find_choice, find_moment_at, find_node, find_text, node
from app.comparison.fields import FIELD_OF, FIELDS, places_of
from app.comparison.moments import Moment
from app.comparison.readings import (
    NONE,
    NOTHING_TYPED,
    Amount,
    Reading,
    Readings,
    Word,
    folded,
)
from app.records.field_table import MODES_WITH_CONTINUOUS, MODES_WITH_DEMANDS
from app.records.fields import FIELDS as READ
from app.records.measures import Measure
from app.records.sources import Field, Form, JudgedBy, Source


def _keys(source: Source) -> frozenset[str]:
    """The keys of a source: what stands in an object of its own is named after it."""
    return frozenset(each.finding.partition(".")[0] for each in FIELDS if source in places_of(each))


def _inside(key: str) -> tuple[Field, ...]:
    return tuple(each for each in FIELDS if each.finding.startswith(f"{key}."))


def _not_ordered(source: Source) -> tuple[Field, ...]:
    """What the engine reads of a source and no order gives, in the order in which the contract names it."""
    return tuple(
        each
        for each in READ[source]
        if JudgedBy.ENGINE in each.judged_by and Source.ORDER not in each.sources
    )


# An order may name the size too, where it takes no part.
_SETTINGS_KEYS = _keys(Source.ORDER) | _keys(Source.DEVICE)
_LABEL_KEYS = _keys(Source.LABEL)
# The objects inside a source, and what stands in each.
_INSIDE = {key: _inside(key) for key in ("limit", "carrier", "monitor")}
_DEVICE_ALONE, _LABEL_ALONE = _not_ordered(Source.DEVICE), _not_ordered(Source.LABEL)

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
    source.read("drug")
    stated_concentration = source.read_strength()
    if demands.may_state_no_concentration:
        source.read_no_concentration()
    mode = source.read_choice("mode")
    source.read("demand_dose")
    source.read("lockout")
    rate_needed = demands.complete and mode in MODES_WITH_CONTINUOUS
    source.read_rate(complete=demands.complete, needed=rate_needed)
    source.read_limit()
    source.read_none("loading_dose", "loading_dose")
    source.read("loading_dose")
    source.read_all_inside("carrier")
    source.read_all_inside("monitor")
    for each in _DEVICE_ALONE:
        source.read(each.finding)
    if not demands.syringe_size_counts:
        found.pop("syringe_size", None)
    missing = _needed(mode, demands) - found.keys()
    return Readings(by_field=found, missing=missing, stated_concentration=stated_concentration)


def label(value: object, path: str, quantities: Quantities) -> Readings:
    """The label of the syringe in the hand."""
    found: dict[str, Reading] = {}
    source = _Source(node(value, path, _LABEL_KEYS), path, quantities, found=found)
    source.read("drug")
    stated_concentration = source.read_strength()
    for each in _LABEL_ALONE:
        source.read(each.finding)
    missing = _NEEDED_OF_LABEL - found.keys()
    return Readings(
        by_field=found,
        missing=missing,
        stated_concentration=stated_concentration,
        use_by=source.moments.get("use_by"),
    )


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
        self.moments: dict[str, Moment] = {}

    def inside(self, key: str) -> "_Source | None":
        """An object inside the source, where it is given; its fields are named after it."""
        keys = frozenset(each.finding.removeprefix(f"{key}.") for each in _INSIDE[key])
        given = find_node(self.given, self.path, key, keys)
        if given is None:
            return None
        return _Source(given, f"{self.path}.{key}", self.quantities, found=self.found, prefix=f"{key}.")

    def read(self, key: str) -> None:
        """A value, where it is given, in the form that its field has."""
        field = FIELD_OF[self.prefix + key]
        match field.form:
            case Form.QUANTITY:
                self.read_quantity(key)
            case Form.CHOICE:
                self.read_choice(key)
            case Form.MOMENT:
                self._read_moment(key)
            case Form.DRUG | Form.FLUID:
                self._read_text(key, folded)
            case _:
                self._read_text(key, str)

    def read_quantity(self, key: str) -> Amount | None:
        """A quantity, where it is given."""
        amount = self.quantities.find(self.given, self.path, key, self._measure(key))
        if amount is not None:
            self.found[self.prefix + key] = amount
        return amount

    def read_choice(self, key: str) -> str | None:
        """One of a few words, where it is given."""
        chosen = find_choice(self.given, self.path, key, FIELD_OF[self.prefix + key].choices)
        if chosen is not None:
            self.found[self.prefix + key] = Word(typed=chosen, value=chosen)
        return chosen

    def _read_text(self, key: str, compared: Callable[[str], str]) -> None:
        """A text, where it is given, and the form in which it is compared."""
        typed = find_text(self.given, self.path, key)
        if typed is not None:
            self.found[self.prefix + key] = Word(typed=typed, value=compared(typed))

    def _read_moment(self, key: str) -> None:
        """A day or a time, where it is given."""
        found = find_moment_at(self.given, self.path, key)
        if found is not None:
            typed, moment = found
            self.moments[key] = moment
            self.found[self.prefix + key] = Word(typed=typed, value=moment.instant or moment.day)

    def _measure(self, key: str) -> Measure:
        return FIELD_OF[self.prefix + key].number

    def read_none(self, key: str, *fields: str) -> None:
        """Null is the answer *none* where nothing else was read."""
        if key in self.given and self.given[key] is None:
            for field in fields:
                self.found[field] = NONE

    def read_strength(self) -> Amount | None:
        """Amount, volume and concentration: amount by volume decides where both are given, else as stated."""
        amount = self.read_quantity("amount")
        volume = self.read_quantity("volume")
        stated = self.quantities.find(self.given, self.path, "concentration", self._measure("concentration"))
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
        self.read("continuous_rate")
        if needed:
            return
        self.read_none("continuous_rate", "continuous_rate")
        if complete:
            self.found.setdefault("continuous_rate", NOTHING_TYPED)

    def read_limit(self) -> None:
        """The limit's amount and window; null is the answer *none* for both."""
        self.read_none("limit", *(each.finding for each in _INSIDE["limit"]))
        self.read_all_inside("limit")

    def read_all_inside(self, key: str) -> None:
        """Everything in an object inside the source, where it is given."""
        inside = self.inside(key)
        if inside is not None:
            for each in _INSIDE[key]:
                inside.read(each.finding.removeprefix(inside.prefix))
