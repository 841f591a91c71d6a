"""How findings speak of values: plain words, one way of saying each thing."""

import re
from collections.abc import Sequence
from fractions import Fraction

from app.comparison.fields import FIELD_OF
from app.comparison.readings import Amount, DoseAsVolume, Reading
from app.quantities import Dimension, Quantity, set_off, show, show_number
from app.records.kept import A, B
from app.records.sources import Source

# A slip is never stated as a fact.
SLIPS = {
    "drug-swap": "a mix-up of two drugs",
    "swapped-fields": "two fields that were exchanged",
    "mass-for-volume": "an amount of drug typed as a volume",
    "stale-value": "a value left over from the settings before",
    "unit-slip": "a mix-up of units",
    "decimal-shift": "a moved decimal point",
    "minutes-for-hours": "minutes taken for hours",
    "amount-for-volume": "an amount taken for a volume",
    "weight-slip": "a dose multiplied or divided by the body weight",
    "digits-swapped": "two digits that were exchanged",
    "digit-doubled": "a digit typed twice",
    "digit-dropped": "a digit left out",
    "neighbour-key": "a key pressed beside the right one",
}

_PER_VOLUME = re.compile(r"/\s?[0-9]")

_NURSES = {A: "the first nurse", B: "the second nurse"}


_PLACES = {
    Source.WRISTBAND: "on the wristband",
    Source.CHART: "in the chart",
    Source.ORDER: "in the order",
    Source.LABEL: "on the label",
    Source.DEVICE: "on the device",
}


def place(source: Source) -> str:
    """Where a value was read."""
    return _PLACES[source]


def nurse(clinician: str) -> str:
    """Who A or B is."""
    return _NURSES[clinician]


def by_whom(nurses: Sequence[str]) -> str:
    """One nurse, or both of them."""
    return nurses[0] if len(nurses) == 1 else "both nurses"


def words_of(field: str) -> str:
    """What people call a field, as in "the demand dose"."""
    return FIELD_OF[field].words


def typed(reading: Reading) -> str:
    """A value as it was typed, thousands set off; "none" where there is none."""
    return set_off(reading.typed) if reading.typed else "none"


def amounts_to(reading: Reading) -> str:
    """A strength as what it comes to, `1 mg/mL` for `50 mg/50 mL`; anything else as it was typed and set."""
    if isinstance(reading, Amount) and _PER_VOLUME.search(reading.typed):
        return show(Quantity(value=reading.value, dimension=Dimension.CONCENTRATION))
    return as_set(reading)


def as_set(reading: Reading) -> str:
    """A device's value as typed; of a volume, where it is known, also the mass that it is."""
    if not isinstance(reading, DoseAsVolume) or reading.value is None:
        return typed(reading)
    return f"{typed(reading)} ({as_mass(reading.typed, reading.value)})"


def as_mass(typed: str, value: Fraction) -> str:
    """The mass, in mg or in mg/h, that a device's volume or rate of volume as typed is."""
    dimension = Dimension.MASS_RATE if "/" in typed else Dimension.MASS
    return show(Quantity(value=value, dimension=dimension))


def times(factor: Fraction) -> str:
    """A factor in words, as in "10 times"."""
    return f"{show_number(factor)} times"


def listed(words: Sequence[str]) -> str:
    """Words joined as in "the order, the label and the device"."""
    return " and ".join([", ".join(words[:-1]), words[-1]]) if len(words) > 1 else words[0]


def sentences(*parts: str | None) -> str:
    """Sentences behind each other; what is not said is left out."""
    return " ".join(part for part in parts if part)


def consistent_with(slip: str | None) -> str | None:
    """The likeliest slip, as a sentence."""
    return None if slip is None else f"Consistent with {SLIPS[slip]}."


def capitalised(sentence: str) -> str:
    """A sentence that begins with a capital, the rest as it is."""
    return sentence[:1].upper() + sentence[1:]
