"""The fields that are compared, in the contract's order, and what a library's bounds are measured in."""

from collections.abc import Mapping

from app.quantities import Dimension
from app.records.fields import find_field
from app.records.measures import CONTINUOUS_RATE, Measure
from app.records.sources import Field, Source

COMPARED_SOURCES = (Source.ORDER, Source.LABEL, Source.DEVICE)
"""Where the engine reads; the wristband it reads apart."""

# CONTRACT.md, "Fields compared, in this order".
_IN_ORDER = (
    "drug",
    "concentration",
    "amount",
    "volume",
    "mode",
    "demand_dose",
    "lockout",
    "continuous_rate",
    "limit.amount",
    "limit.window",
    "loading_dose",
    "carrier.fluid",
    "carrier.rate",
    "monitor.capnography",
    "monitor.pulse_oximetry",
    "monitor.low_respiratory_rate",
    "monitor.low_spo2",
    "monitor.high_etco2",
    "monitor.apnea_time",
    "syringe_size",
    "lot",
    "use_by",
    "code",
)

FIELD_OF: Mapping[str, Field] = {name: field for name in _IN_ORDER if (field := find_field(name)) is not None}
FIELDS = tuple(FIELD_OF.values())


def places_of(field: Field) -> tuple[Source, ...]:
    """The sources of a case that can hold a field: a monitor's settings stand in an order's or a device's."""
    return (Source.ORDER, Source.DEVICE) if Source.MONITOR in field.sources else field.sources


# What a finding can be about, in the order in which findings of one code are shown.
FIELD_ORDER: Mapping[str, int] = {
    name: place
    for place, name in enumerate(
        (
            *_IN_ORDER,
            "patient.identifier",
            "patient.birth_date",
            "amount_per_hour",
            "amount_per_4_hours",
        )
    )
}

# Of the site's rules alone.
TIME = Measure(dimension=Dimension.TIME)
ZERO_OR_MORE_VOLUME = Measure(dimension=Dimension.VOLUME, zero_allowed=True)

# The fields that a library can bound, with what their bounds are measured in; a bound may be zero.
LIBRARY_MEASURES: Mapping[str, Measure] = {
    "demand_dose": Measure(dimension=Dimension.MASS, zero_allowed=True),
    "lockout": Measure(dimension=Dimension.TIME, zero_allowed=True),
    "continuous_rate": CONTINUOUS_RATE,
    "loading_dose": Measure(dimension=Dimension.MASS, zero_allowed=True),
    "amount_per_hour": Measure(dimension=Dimension.MASS, zero_allowed=True),
    "amount_per_4_hours": Measure(dimension=Dimension.MASS, zero_allowed=True),
}
