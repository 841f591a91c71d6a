"""The fields that are compared, in order: how each is measured, where it is read, and what people call it."""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from app.quantities import Dimension, Range


class Source(StrEnum):
    """What a clinician reads, besides the wristband."""

    ORDER = "order"
    LABEL = "label"
    DEVICE = "device"


# Each measure is one object: a text is read once for each measure, found again by identity.
@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Measure:
    """Which quantities a field can hold."""

    dimension: Dimension
    zero_allowed: bool = False
    allowed: Range | None = None


_HOUR = Fraction(60)
_DAY = Fraction(24 * 60)

MASS = Measure(dimension=Dimension.MASS)
VOLUME = Measure(dimension=Dimension.VOLUME)
ZERO_OR_MORE_VOLUME = Measure(dimension=Dimension.VOLUME, zero_allowed=True)
CONCENTRATION = Measure(dimension=Dimension.CONCENTRATION)
LOCKOUT = Measure(dimension=Dimension.TIME, allowed=Range(least=Fraction(1), most=_DAY))
WINDOW = Measure(dimension=Dimension.TIME, allowed=Range(least=_HOUR, most=_DAY))
TIME = Measure(dimension=Dimension.TIME)
CONTINUOUS_RATE = Measure(dimension=Dimension.MASS_RATE, zero_allowed=True)
CARRIER_RATE = Measure(dimension=Dimension.VOLUME_RATE)
FREQUENCY = Measure(dimension=Dimension.FREQUENCY)
PERCENT = Measure(dimension=Dimension.PERCENT)
PRESSURE = Measure(dimension=Dimension.PRESSURE)
WEIGHT = Measure(dimension=Dimension.WEIGHT)

_EVERYWHERE = (Source.ORDER, Source.LABEL, Source.DEVICE)
_SETTINGS = (Source.ORDER, Source.DEVICE)
_HARDWARE = (Source.LABEL, Source.DEVICE)
_LABEL = (Source.LABEL,)


@dataclass(frozen=True, kw_only=True, slots=True)
class Field:
    """One thing that is read and compared; `words` follow "the" or stand alone in a sentence."""

    name: str
    words: str
    sources: tuple[Source, ...]
    measure: Measure | None = None
    label_stands_in: bool = False


FIELDS = (
    Field(name="drug", words="the drug", sources=_EVERYWHERE),
    Field(
        name="concentration",
        words="the concentration",
        sources=_EVERYWHERE,
        measure=CONCENTRATION,
        label_stands_in=True,
    ),
    Field(
        name="amount",
        words="the amount of drug in the syringe",
        sources=_EVERYWHERE,
        measure=MASS,
        label_stands_in=True,
    ),
    Field(
        name="volume",
        words="the volume in the syringe",
        sources=_EVERYWHERE,
        measure=VOLUME,
        label_stands_in=True,
    ),
    Field(name="mode", words="the mode", sources=_SETTINGS),
    Field(name="demand_dose", words="the demand dose", sources=_SETTINGS, measure=MASS),
    Field(name="lockout", words="the lockout", sources=_SETTINGS, measure=LOCKOUT),
    Field(name="continuous_rate", words="the continuous rate", sources=_SETTINGS, measure=CONTINUOUS_RATE),
    Field(name="limit.amount", words="the limit", sources=_SETTINGS, measure=MASS),
    Field(name="limit.window", words="the time window of the limit", sources=_SETTINGS, measure=WINDOW),
    Field(name="loading_dose", words="the loading dose", sources=_SETTINGS, measure=MASS),
    Field(name="carrier.fluid", words="the carrier fluid", sources=_SETTINGS),
    Field(name="carrier.rate", words="the carrier rate", sources=_SETTINGS, measure=CARRIER_RATE),
    Field(name="monitor.capnography", words="capnography", sources=_SETTINGS),
    Field(name="monitor.pulse_oximetry", words="pulse oximetry", sources=_SETTINGS),
    Field(
        name="monitor.low_respiratory_rate",
        words="the low alarm for the respiratory rate",
        sources=_SETTINGS,
        measure=FREQUENCY,
    ),
    Field(name="monitor.low_spo2", words="the low alarm for SpO2", sources=_SETTINGS, measure=PERCENT),
    Field(
        name="monitor.high_etco2",
        words="the high alarm for end-tidal CO2",
        sources=_SETTINGS,
        measure=PRESSURE,
    ),
    Field(name="monitor.apnea_time", words="the apnea alarm time", sources=_SETTINGS, measure=TIME),
    Field(
        name="syringe_size",
        words="the syringe size",
        sources=_HARDWARE,
        measure=VOLUME,
        label_stands_in=True,
    ),
    Field(name="lot", words="the lot number", sources=_LABEL),
    Field(name="use_by", words="the use-by date", sources=_LABEL),
    Field(name="code", words="the scanned code", sources=_LABEL),
)

FIELD_OF: Mapping[str, Field] = {field.name: field for field in FIELDS}

# What a finding can be about, in the order in which findings of one code are shown.
FIELD_ORDER: Mapping[str, int] = {
    name: place
    for place, name in enumerate(
        (
            *FIELD_OF,
            "patient.identifier",
            "patient.birth_date",
            "amount_per_hour",
            "amount_per_4_hours",
        )
    )
}

# The fields that a library can bound, with what their bounds are measured in; a bound may be zero.
LIBRARY_MEASURES: Mapping[str, Measure] = {
    "demand_dose": Measure(dimension=Dimension.MASS, zero_allowed=True),
    "lockout": Measure(dimension=Dimension.TIME, zero_allowed=True),
    "continuous_rate": CONTINUOUS_RATE,
    "loading_dose": Measure(dimension=Dimension.MASS, zero_allowed=True),
    "amount_per_hour": Measure(dimension=Dimension.MASS, zero_allowed=True),
    "amount_per_4_hours": Measure(dimension=Dimension.MASS, zero_allowed=True),
}
