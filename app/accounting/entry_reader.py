"""One entry of a case, from the object that describes it."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from fractions import Fraction

from app.accounting.case import (
    At,
    Bolus,
    Cleared,
    DeviceChanged,
    End,
    Entry,
    Issued,
    Kept,
    Loaded,
    Paused,
    Primed,
    Read,
    Removed,
    Returned,
    Settings,
    Started,
    Totals,
    Wasted,
)
from app.accounting.settings_reader import BOLUS, read_settings
from app.accounting.shapes import COUNTS, Part, count
from app.comparison.documents import Node, Quantities, node, refuse, text
from app.comparison.fields import ZERO_OR_MORE_VOLUME
from app.comparison.moments import find_moment
from app.comparison.readings import folded
from app.quantities import Dimension
from app.records.measures import CONCENTRATION, MASS, VOLUME, Measure

ZERO_OR_MORE_MASS = Measure(dimension=Dimension.MASS, zero_allowed=True)
_FARTHEST_ZONE = 14 * 60
_SHOWN = {"amount": ZERO_OR_MORE_MASS, "volume": ZERO_OR_MORE_VOLUME}
_TOTALS_KEYS = frozenset({"amount", "volume", "presses", "doses"})


@dataclass(kw_only=True, slots=True)
class Reading:
    """What the reading of a case carries from entry to entry."""

    quantities: Quantities
    in_volumes: bool = False
    """Whether the last settings were in volumes: so is a bolus after them."""
    shown: list[Node]
    """Every object of totals, for the finest last digit in them."""


def read_at(part: Part) -> At:
    """When it happened."""
    here = part.below("at")
    return at_of(text(part.get("at"), here), here)


def at_of(typed: str, path: str) -> At:
    """A date with hours and minutes, and how far it is ahead of UTC."""
    moment = find_moment(typed)
    if moment is None or moment.instant is None or not typed.startswith("2"):
        refuse(path, "bad-time", "Write a time of the years 2000 to 2999 as YYYY-MM-DDThh:mm+hh:mm.")
    ahead = _ahead(typed)
    if abs(ahead) > _FARTHEST_ZONE:
        refuse(path, "bad-time", "No time zone is more than 14 hours away.")
    seconds, parts = moment.instant.as_integer_ratio()
    return At(minutes=Fraction(seconds, 60 * parts), ahead=ahead)


def _ahead(typed: str) -> int:
    if typed.endswith("Z"):
        return 0
    minutes = int(typed[-5:-3]) * 60 + int(typed[-2:])
    return -minutes if typed[-6] == "-" else minutes


def read_entry(given: object, path: str, reading: Reading) -> Entry:
    """One entry: its kind, then its keys in the order of the contract."""
    whole = Part(node(given, path, None), path, reading.quantities)
    kind = text(whole.get("kind"), whole.below("kind"))
    if kind not in _KINDS:
        refuse(whole.below("kind"), "unknown-value", f"This must be {' or '.join(_KINDS)}.")
    keys, read = _KINDS[kind]
    node(given, path, keys)
    return read(whole, reading, read_at(whole))


def _issued(part: Part, _: Reading, at: At) -> Issued:
    typed = part.name("syringe")
    volume = part.quantity("volume", VOLUME)
    amount = part.find_quantity("amount", MASS)
    stated = part.find_quantity("concentration", CONCENTRATION)
    if amount is not None:
        if stated is not None:
            refuse(part.below("concentration"), "out-of-place", "The amount and the volume say it already.")
        stated = amount / volume
    if stated is None:
        refuse(part.below("amount"), "missing-key", "Say the amount of drug or the concentration.")
    size = part.quantity("size", VOLUME)
    if volume > size:
        refuse(part.below("volume"), "out-of-range", "There is more in it than its barrel is made for.")
    return Issued(
        at=at,
        syringe=folded(typed),
        typed=typed,
        volume=volume,
        concentration=stated,
        size=size,
        drawn_up=part.find_switch("drawn_up") or False,
    )


def _loaded(part: Part, _: Reading, at: At) -> Loaded:
    return Loaded(at=at, syringe=folded(part.name("syringe")))


def _primed(part: Part, _: Reading, at: At) -> Primed:
    return Primed(at=at, volume=part.quantity("volume", VOLUME))


def _settings(part: Part, reading: Reading, at: At) -> Settings:
    settings = read_settings(part, at)
    reading.in_volumes = settings.concentration is None
    return settings


def _started(_: Part, __: Reading, at: At) -> Started:
    return Started(at=at)


def _paused(_: Part, __: Reading, at: At) -> Paused:
    return Paused(at=at)


def _read(part: Part, reading: Reading, at: At) -> Read:
    totals = _find_totals(part, reading)
    return Read(at=at, totals=totals, left=part.find_quantity("left", ZERO_OR_MORE_VOLUME))


def _bolus(part: Part, reading: Reading, at: At) -> Bolus:
    # Where masses are set, a volume is of the wrong dimension here: nothing says that it could be one.
    amount = (
        part.dose("amount", BOLUS, in_volumes=True) if reading.in_volumes else part.quantity("amount", MASS)
    )
    return Bolus(at=at, amount=amount, loading=part.switch("loading"))


def _cleared(part: Part, reading: Reading, at: At) -> Cleared:
    totals = _find_totals(part, reading)
    return Cleared(at=at, totals=totals, after=_totals(part.get("after"), part.below("after"), reading))


def _device(part: Part, reading: Reading, at: At) -> DeviceChanged:
    totals = _find_totals(part, reading)
    after = _totals(part.get("after"), part.below("after"), reading)
    return DeviceChanged(at=at, totals=totals, after=after, totals_count=part.switches(COUNTS))


def _removed(part: Part, reading: Reading, at: At) -> Removed:
    totals = _find_totals(part, reading)
    return Removed(at=at, totals=totals, left=part.find_quantity("left", ZERO_OR_MORE_VOLUME))


def _wasted(part: Part, _: Reading, at: At) -> Wasted:
    syringe, volume = folded(part.name("syringe")), part.quantity("volume", VOLUME)
    return Wasted(at=at, syringe=syringe, volume=volume, witnessed=part.switch("witnessed"))


def _returned(part: Part, _: Reading, at: At) -> Returned:
    syringe, volume = folded(part.name("syringe")), part.quantity("volume", VOLUME)
    return Returned(at=at, syringe=syringe, volume=volume, received=part.switch("received"))


def _kept(part: Part, _: Reading, at: At) -> Kept:
    syringe, volume = folded(part.name("syringe")), part.quantity("volume", VOLUME)
    seal = part.name("seal")
    return Kept(at=at, syringe=syringe, volume=volume, seal=seal, received=part.switch("received"))


def _end(_: Part, __: Reading, at: At) -> End:
    return End(at=at)


def _find_totals(part: Part, reading: Reading) -> Totals | None:
    given = part.given.get("totals")
    return None if given is None else _totals(given, part.below("totals"), reading)


def _totals(given: object, path: str, reading: Reading) -> Totals:
    totals = Part(node(given, path, _TOTALS_KEYS), path, reading.quantities)
    amount = totals.find_quantity("amount", ZERO_OR_MORE_MASS)
    volume = totals.find_quantity("volume", ZERO_OR_MORE_VOLUME)
    if amount is None and volume is None:
        refuse(totals.below("amount"), "missing-key", "Say the mass or the volume that is shown as given.")
    reading.shown.append(totals.given)
    return Totals(
        amount=amount,
        volume=volume,
        presses=count(totals.given.get("presses"), totals.below("presses")),
        doses=count(totals.given.get("doses"), totals.below("doses")),
    )


_Reader = Callable[[Part, Reading, At], Entry]
_GIVEN_AWAY = ("syringe", "volume")


def _kind(read: _Reader, *keys: str) -> tuple[frozenset[str], _Reader]:
    return frozenset({"kind", "at", *keys}), read


_KINDS: Mapping[str, tuple[frozenset[str], _Reader]] = {
    "issued": _kind(_issued, "syringe", "volume", "amount", "concentration", "size", "drawn_up"),
    "loaded": _kind(_loaded, "syringe"),
    "primed": _kind(_primed, "volume"),
    "settings": _kind(
        _settings,
        "concentration",
        "mode",
        "limit",
        "demand_dose",
        "lockout",
        "continuous_rate",
        *COUNTS,
    ),
    "started": _kind(_started),
    "paused": _kind(_paused),
    "read": _kind(_read, "totals", "left"),
    "bolus": _kind(_bolus, "amount", "loading"),
    "cleared": _kind(_cleared, "totals", "after"),
    "device": _kind(_device, "totals", "after", *COUNTS),
    "removed": _kind(_removed, "totals", "left"),
    "wasted": _kind(_wasted, *_GIVEN_AWAY, "witnessed"),
    "returned": _kind(_returned, *_GIVEN_AWAY, "received"),
    "kept": _kind(_kept, *_GIVEN_AWAY, "seal", "received"),
    "end": _kind(_end),
}


def finest_step(reading: Reading, key: str) -> Fraction:
    """The finest last digit with which a value is shown in any totals; zero where none is."""
    steps = {_last_digit(str(totals[key])) for totals in reading.shown if totals.get(key) is not None}
    measure = _SHOWN[key]
    return min((reading.quantities.get(step, key, measure).value for step in steps), default=Fraction(0))


def _last_digit(typed: str) -> str:
    """One in the last digit: `0.1 mg` for `4.4 mg`, `1 mg` for `12 mg`."""
    number, _, unit = typed.partition(" ")
    decimals = len(number.partition(".")[2])
    return f"0.{'1'.rjust(decimals, '0')} {unit}" if decimals else f"1 {unit}"
