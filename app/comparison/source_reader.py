"""The sources of a case, as one clinician read them -> what they give and what they lack."""

from dataclasses import dataclass, replace
from fractions import Fraction

from app.comparison.chart import ANSWERS
from app.comparison.documents import (
    Node,
    Quantities,
    node,
)
from app.comparison.fields import NEEDED_FROM_BOTH
from app.comparison.readings import (
    DoseAsVolume,
    Reading,
    Readings,
    folded,
    scanned,
    without_spaces,
)
from app.comparison.source_values import Doses, SourceValues
from app.records.field_table import MODES, MODES_WITH_CONTINUOUS, MODES_WITH_DEMANDS
from app.records.measures import LOCKOUT, VOLUME, WEIGHT

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
_LABEL_KEYS = frozenset(
    {"patient", "drug", "amount", "volume", "concentration", "use_by", "syringe_size", "lot", "code"}
)
_CHART_KEYS = frozenset({"patient", *ANSWERS, "weight"})

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
_PERSON = frozenset({"patient.identifier", "patient.birth_date"})
_NEEDED_OF_LABEL = frozenset({"drug", "concentration", "use_by", "syringe_size", "patient.identifier"})


@dataclass(frozen=True, kw_only=True, slots=True)
class Demands:
    """What is asked of a source of settings, and what may stand in it."""

    needed: frozenset[str] = frozenset()
    is_complete: bool = False
    may_state_no_concentration: bool = False
    is_an_order: bool = False
    has_patient: bool = False
    may_be_in_volumes: bool = False

    @property
    def keys(self) -> frozenset[str]:
        """The keys that it may have."""
        bolus = {"staff_bolus"} if self.is_an_order else set[str]()
        return _SETTINGS_KEYS | bolus | ({"patient"} if self.has_patient else set[str]())


ORDER = Demands(
    needed=frozenset({*_ALWAYS_NEEDED, *_PERSON}),
    is_complete=True,
    may_state_no_concentration=True,
    is_an_order=True,
    has_patient=True,
)
ORDER_OF_RECORD = Demands(may_state_no_concentration=True, is_an_order=True)
DEVICE = Demands(
    needed=frozenset({*_ALWAYS_NEEDED, "syringe_size"}), is_complete=True, may_be_in_volumes=True
)
PREVIOUS = Demands(may_state_no_concentration=True, may_be_in_volumes=True)


def settings(value: object, path: str, quantities: Quantities, demands: Demands) -> Readings:
    """The settings of an order or a device."""
    found: dict[str, Reading] = {}
    doses = Doses() if demands.may_be_in_volumes else None
    source = SourceValues(node(value, path, demands.keys), path, quantities, found=found, doses=doses)
    if demands.has_patient:
        source.read_person("patient", birth_date=True)
    source.read_text("drug", folded)
    stated_concentration = source.read_strength()
    if demands.may_state_no_concentration:
        source.read_no_concentration()
    if doses is not None:
        doses.settle_by(found)
    mode = source.read_choice("mode", MODES)
    source.read_dose("demand_dose")
    source.read_quantity("lockout", LOCKOUT)
    source.read_rate(is_complete=demands.is_complete, is_needed=mode in MODES_WITH_CONTINUOUS)
    amounts_needed = source.read_limits()
    source.read_none("loading_dose", "loading_dose")
    source.read_dose("loading_dose")
    if demands.is_an_order:
        source.read_staff_bolus()
    source.read_carrier()
    source.read_monitor()
    source.read_quantity("syringe_size", VOLUME)
    if demands.is_an_order:
        found.pop("syringe_size", None)
    in_volumes = doses is not None and doses.in_volumes is True
    needed = _needed(mode, demands, in_volumes=in_volumes)
    return Readings(
        by_field=found,
        missing=(needed | amounts_needed if demands.is_complete else needed) - found.keys(),
        stated_concentration=stated_concentration,
        in_volumes=in_volumes,
    )


def _needed(mode: str | None, demands: Demands, *, in_volumes: bool) -> frozenset[str]:
    """The fields that must be read from a source in this mode."""
    if not demands.is_complete:
        return demands.needed
    with_demands = {"demand_dose", "lockout"} if mode in MODES_WITH_DEMANDS else set[str]()
    return (demands.needed | with_demands) - ({"concentration"} if in_volumes else set[str]())


def label(value: object, path: str, quantities: Quantities) -> Readings:
    """The label of the syringe in the hand."""
    found: dict[str, Reading] = {}
    source = SourceValues(node(value, path, _LABEL_KEYS), path, quantities, found=found)
    source.read_none("patient", "patient.identifier")
    source.read_person("patient", birth_date=False)
    source.read_text("drug", folded)
    stated_concentration = source.read_strength()
    source.read_none("use_by", "use_by")
    use_by = source.read_use_by()
    source.read_quantity("syringe_size", VOLUME)
    source.read_text("lot", without_spaces)
    source.read_text("code", scanned)
    missing = _NEEDED_OF_LABEL - found.keys()
    return Readings(by_field=found, missing=missing, stated_concentration=stated_concentration, use_by=use_by)


def person(parent: Node, path: str, quantities: Quantities) -> Readings:
    """Who the patient is, by a wristband or by the case itself."""
    source = SourceValues(parent, path, quantities, found={})
    source.read_person("patient", birth_date=True, is_whole=True)
    return Readings(by_field=source.found, missing=_PERSON - source.found.keys())


def chart(parent: Node, path: str, quantities: Quantities, *, patient_needed: bool) -> Readings:
    """The answers from the chart; of those that one of the two suffices for, none is missing yet."""
    found: dict[str, Reading] = {}
    source = SourceValues(parent, path, quantities, found=found).inside("chart", _CHART_KEYS)
    if source is not None:
        source.read_person("patient", birth_date=False)
        for key, answers in ANSWERS.items():
            source.read_choice(key, answers)
        source.read_none("weight", "chart.weight")
        source.read_quantity("weight", WEIGHT)
    needed = NEEDED_FROM_BOTH | ({"patient.identifier"} if patient_needed else set[str]())
    return Readings(by_field=found, missing=needed - found.keys())


def with_masses(device: Readings, concentration: Fraction | None) -> Readings:
    """A device in volumes, with the masses that its volumes are at the concentration of the label."""
    if not device.in_volumes or concentration is None:
        return device
    by_field = {
        field: replace(reading, value=reading.volume * concentration)
        if isinstance(reading, DoseAsVolume)
        else reading
        for field, reading in device.by_field.items()
    }
    return replace(device, by_field=by_field)
