"""What is read from each source: one table, in the order in which a nurse meets the fields.

An answer is text: a quantity as typed (`1 mg`), a choice, a date, or the word `none` where the source says
that there is none. Blank means *not read* and is never the same as none.
"""

from dataclasses import dataclass
from enum import StrEnum

NONE = "none"
STATES_NONE = "states-none"


class Source(StrEnum):
    """Where a clinician looks."""

    WRISTBAND = "wristband"
    CHART = "chart"
    ORDER = "order"
    LABEL = "label"
    DEVICE = "device"
    MONITOR = "monitor"


class Form(StrEnum):
    """What an answer looks like."""

    TEXT = "text"
    DATE = "date"
    MOMENT = "moment"
    QUANTITY = "quantity"
    CHOICE = "choice"
    DRUG = "drug"
    FLUID = "fluid"
    PACK = "pack"


@dataclass(frozen=True, kw_only=True)
class Field:
    """One thing to read; `may_be_none` offers *none* as an answer, `needed_in` names modes (empty: all)."""

    name: str
    form: Form
    measure: str = ""
    choices: tuple[str, ...] = ()
    may_be_none: bool = False
    optional: bool = False
    needed_in: tuple[str, ...] = ()


DEMAND = "demand"
CONTINUOUS = "continuous"
BOTH = "demand-and-continuous"
MODES = (DEMAND, CONTINUOUS, BOTH)
YES_NO = ("yes", "no")
ON_OFF = ("on", "off")


def _quantity(
    name: str,
    measure: str,
    *,
    may_be_none: bool = False,
    optional: bool = False,
    needed_in: tuple[str, ...] = (),
) -> Field:
    return Field(
        name=name,
        form=Form.QUANTITY,
        measure=measure,
        may_be_none=may_be_none,
        optional=optional,
        needed_in=needed_in,
    )


def _choice(name: str, choices: tuple[str, ...]) -> Field:
    return Field(name=name, form=Form.CHOICE, choices=choices)


STRENGTH = ("strength", "amount", "volume", "concentration")

_STRENGTH_AS = ("amount-in-volume", "per-millilitre")

_SETTINGS = (
    _choice("mode", MODES),
    _quantity("demand_dose", "mass", needed_in=(DEMAND, BOTH)),
    _quantity("lockout", "time", needed_in=(DEMAND, BOTH)),
    _quantity("continuous_rate", "mass-rate", may_be_none=True, needed_in=(CONTINUOUS, BOTH)),
    _quantity("limit_amount", "mass", may_be_none=True),
    _quantity("limit_window", "time"),
    _quantity("loading_dose", "mass", may_be_none=True),
    Field(name="carrier_fluid", form=Form.FLUID, may_be_none=True),
    _quantity("carrier_rate", "volume-rate"),
)


def _strength(choices: tuple[str, ...]) -> tuple[Field, ...]:
    return (
        _choice("strength", choices),
        _quantity("amount", "mass"),
        _quantity("volume", "volume"),
        _quantity("concentration", "concentration"),
    )


_DRUG = Field(name="drug", form=Form.DRUG)

FIELDS: dict[Source, tuple[Field, ...]] = {
    Source.WRISTBAND: (
        Field(name="identifier", form=Form.TEXT),
        Field(name="birth_date", form=Form.DATE),
    ),
    Source.CHART: (
        _choice("order_current", YES_NO),
        _choice("pharmacist", ("verified", "not-yet", "urgent-exception")),
        _choice("allergy", ("none-charted", "charted", "not-recorded")),
        _choice("opioid_tolerant", ("yes", "no", "unknown")),
        _choice("other_opioids", ("none", "charted")),
        _choice("sedatives", ("none", "charted")),
        _choice("neuraxial_opioid", ("none", "within-24-h")),
        _choice("able_to_use_button", YES_NO),
        _quantity("weight", "weight", may_be_none=True),
    ),
    Source.ORDER: (_DRUG, *_strength((*_STRENGTH_AS, STATES_NONE)), *_SETTINGS),
    Source.LABEL: (
        _DRUG,
        *_strength(_STRENGTH_AS),
        Field(name="lot", form=Form.TEXT, may_be_none=True),
        Field(name="use_by", form=Form.MOMENT, may_be_none=True),
        Field(name="code", form=Form.TEXT, optional=True),
        _quantity("syringe_size", "volume"),
    ),
    Source.DEVICE: (
        _DRUG,
        *_strength(_STRENGTH_AS),
        *_SETTINGS,
        _quantity("syringe_size", "volume"),
        Field(name="pack", form=Form.PACK),
    ),
    Source.MONITOR: (
        _choice("capnography", ON_OFF),
        _choice("pulse_oximetry", ON_OFF),
        _quantity("low_respiratory_rate", "breaths", may_be_none=True),
        _quantity("low_spo2", "percent", may_be_none=True),
        _quantity("high_etco2", "pressure", may_be_none=True),
        _quantity("apnea_time", "time", may_be_none=True),
    ),
}


_NAMED = {(source, each.name): each for source, fields in FIELDS.items() for each in fields}


def field_of(source: Source, name: str) -> Field:
    """The field of that name in that source; a wrong name is a bug."""
    return _NAMED[source, name]


# What must be looked at again together, because one answer decides whether the next is asked.
_TOGETHER: dict[str, tuple[str, ...]] = {
    "strength": STRENGTH,
    "amount": STRENGTH,
    "volume": STRENGTH,
    "concentration": STRENGTH,
    "mode": ("mode", "demand_dose", "lockout", "continuous_rate"),
    "limit_amount": ("limit_amount", "limit_window"),
    "limit_window": ("limit_amount", "limit_window"),
    "carrier_fluid": ("carrier_fluid", "carrier_rate"),
    "carrier_rate": ("carrier_fluid", "carrier_rate"),
}


def read_together(name: str) -> tuple[str, ...]:
    """The fields that are read again when this one is."""
    return _TOGETHER.get(name, (name,))
