"""The fields that are compared, in the contract's order, where each is read, and what a library bounds."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from app.quantities import Dimension
from app.records.field_table import TABLE
from app.records.measures import CONTINUOUS_RATE, Measure
from app.records.sources import Field, JudgedBy, Source

COMPARED_SOURCES = (Source.WRISTBAND, Source.CHART, Source.ORDER, Source.LABEL, Source.DEVICE)
"""Where the engine reads: a monitor's settings stand in an order's or a device's."""

_EVERYWHERE = (Source.ORDER, Source.LABEL, Source.DEVICE)
_SETTINGS = (Source.ORDER, Source.DEVICE)
_HARDWARE = (Source.LABEL, Source.DEVICE)
_ORDER = (Source.ORDER,)
_LABEL = (Source.LABEL,)
_CHART = (Source.CHART,)

LIMITS = (
    ("limit.amount", "limit.window"),
    ("limit.2.amount", "limit.2.window"),
    ("limit.3.amount", "limit.3.window"),
)
"""By window, the shortest first."""

# CONTRACT.md, "Fields compared, in this order", with the sources that can hold each.
_PLACES: Mapping[str, tuple[Source, ...]] = {
    **dict.fromkeys(("drug", "concentration", "amount", "volume"), _EVERYWHERE),
    **dict.fromkeys(("mode", "demand_dose", "lockout", "continuous_rate"), _SETTINGS),
    **{field: _SETTINGS for fields in LIMITS for field in fields},
    "loading_dose": _SETTINGS,
    **dict.fromkeys(
        ("staff_bolus.dose", "staff_bolus.interval", "staff_bolus.most", "staff_bolus.window"), _ORDER
    ),
    **dict.fromkeys(
        (
            "carrier.fluid",
            "carrier.rate",
            "monitor.capnography",
            "monitor.pulse_oximetry",
            "monitor.low_respiratory_rate",
            "monitor.low_spo2",
            "monitor.high_etco2",
            "monitor.apnea_time",
        ),
        _SETTINGS,
    ),
    "syringe_size": _HARDWARE,
    **dict.fromkeys(("lot", "use_by", "code"), _LABEL),
    "patient.identifier": (Source.WRISTBAND, Source.CHART, Source.ORDER, Source.LABEL),
    "patient.birth_date": (Source.WRISTBAND, Source.ORDER),
    **dict.fromkeys(
        (
            "chart.order_current",
            "chart.pharmacist",
            "chart.allergy",
            "chart.opioid_tolerant",
            "chart.other_opioids",
            "chart.sedatives",
            "chart.neuraxial_opioid",
            "chart.able_to_use_button",
            "chart.sleep_apnea",
            "chart.lung_disease",
            "chart.kidney_or_liver_disease",
            "chart.supplemental_oxygen",
            "chart.weight",
        ),
        _CHART,
    ),
}
NEEDED_FROM_BOTH = frozenset(
    {"chart.order_current", "chart.pharmacist", "chart.allergy", "chart.able_to_use_button"}
)
RISKS = tuple(name for name, places in _PLACES.items() if places == _CHART and name not in NEEDED_FROM_BOTH)
"""Answers that one of the two suffices for; where both give one, the riskier counts."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Compared:
    """One thing that is compared; `words` follow "the" or stand alone in a sentence.

    `label_stands_in`: where the order does not give it, the label's counts.
    """

    name: str
    words: str
    sources: tuple[Source, ...]
    is_number: bool
    label_stands_in: bool

    @property
    def is_risk(self) -> bool:
        """Whether it is an answer that one of the two suffices for."""
        return self.name in RISKS

    @property
    def one_rule_for_all(self) -> bool:
        """Whether every source is held against who the patient is."""
        return self.name.startswith("patient.")


def compared_as(places: Mapping[str, tuple[Source, ...]], table: Iterable[Field]) -> dict[str, Compared]:
    """Each place with what its row of the table says; one that only one of the two names is a bug.

    Nothing would say so otherwise: a field that nobody compares differs from nothing.
    """
    # Of two rows that are found as one, the later is what the finding is about.
    rows = {row.finding: row for row in table if JudgedBy.ENGINE in row.judged_by}
    if misnamed := rows.keys() ^ places.keys():
        raise ValueError(f"compared, or in the table of fields, but not both: {sorted(misnamed)}")
    return {
        name: Compared(
            name=name,
            words=rows[name].words,
            sources=sources,
            is_number=rows[name].measure is not None,
            label_stands_in=rows[name].label_stands_in,
        )
        for name, sources in places.items()
    }


FIELD_OF: Mapping[str, Compared] = compared_as(_PLACES, TABLE)
FIELDS = tuple(FIELD_OF.values())

# What a finding can be about, in the order in which findings of one code are shown.
FIELD_ORDER: Mapping[str, int] = {
    name: place
    for place, name in enumerate(
        (
            *FIELD_OF,
            "primed_volume",
            "patient",
            "amount_per_hour",
            "amount_per_4_hours",
            "first_hour_with_loading",
        )
    )
}

# Of the site's rules alone.
TIME = Measure(dimension=Dimension.TIME)
ZERO_OR_MORE_VOLUME = Measure(dimension=Dimension.VOLUME, zero_allowed=True)
# What a device in volumes takes its continuous rate as.
ZERO_OR_MORE_VOLUME_RATE = Measure(dimension=Dimension.VOLUME_RATE, zero_allowed=True)

# The fields that a library can bound, with what their bounds are measured in; a bound may be zero.
LIBRARY_MEASURES: Mapping[str, Measure] = {
    "demand_dose": Measure(dimension=Dimension.MASS, zero_allowed=True),
    "lockout": Measure(dimension=Dimension.TIME, zero_allowed=True),
    "continuous_rate": CONTINUOUS_RATE,
    "loading_dose": Measure(dimension=Dimension.MASS, zero_allowed=True),
    "amount_per_hour": Measure(dimension=Dimension.MASS, zero_allowed=True),
    "amount_per_4_hours": Measure(dimension=Dimension.MASS, zero_allowed=True),
    "first_hour_with_loading": Measure(dimension=Dimension.MASS, zero_allowed=True),
}
