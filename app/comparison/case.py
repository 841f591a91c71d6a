"""A case: two clinicians' readings of every source, and what they are judged by."""

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from app.comparison.chart import Bearing
from app.comparison.findings import SEVERITIES
from app.comparison.moments import Moment
from app.comparison.readings import Amount, Readings
from app.dosing import SetInUse
from app.records.followup import Severity
from app.records.kept import A, B
from app.records.sources import Source


@dataclass(frozen=True, kw_only=True, slots=True)
class AlarmBounds:
    """Where an alarm may be set, both bounds inclusive; None: no bound."""

    lowest: Amount | None
    highest: Amount | None
    required: bool

    def find_broken(self, value: Fraction) -> Amount | None:
        """The bound that a value is outside of."""
        if self.lowest is not None and value < self.lowest.value:
            return self.lowest
        if self.highest is not None and value > self.highest.value:
            return self.highest
        return None


@dataclass(frozen=True, kw_only=True, slots=True)
class Policy:
    """The site's rules; volumes in mL, times in min, weights in kg. What each means: CONTRACT.md, Policy."""

    in_use: SetInUse
    carrier_fluids: Mapping[str, str]
    """As the policy writes them, by the form in which they are compared."""
    carrier_refused: frozenset[str]
    capnography_required: str
    pulse_oximetry_required: bool
    pharmacist_required: bool
    chart_patient_required: bool
    smallest_volume_step: Fraction
    prime_tolerance: Fraction | None
    primed_between: tuple[Fraction, Fraction] | None
    """The least and the most that may run out at priming, both inclusive; None: the site does not say."""
    note_if_syringe_shorter_than: Fraction
    note_if_expires_within: Fraction
    alarm_bounds: Mapping[str, AlarmBounds]
    caution_from_age: int | None
    caution_below_weight: Fraction | None
    caution_at_risk: bool
    """Whether a continuous part in a patient at risk is a caution alone."""
    one_two_three_on_top: bool
    raise_to_stop: frozenset[str]
    not_set: tuple[str, ...]
    """What the site has set nothing for, so that nobody judges it."""

    def severity_of(self, code: str) -> Severity:
        """How much a finding of this code weighs here."""
        if code in self.raise_to_stop:
            return Severity.STOP
        if code == "continuous-in-patient-at-risk" and self._is_caution_at_risk:
            return Severity.CAUTION
        return SEVERITIES[code]

    @property
    def _is_caution_at_risk(self) -> bool:
        """What the finding stands for must not weigh less in it than on its own."""
        stands_for = {"patient-at-risk", "continuous-opioid-naive"}
        return self.caution_at_risk and self.raise_to_stop.isdisjoint(stands_for)


@dataclass(frozen=True, kw_only=True, slots=True)
class Bounds:
    """The inclusive bounds that a drug library sets for one field; None: no bound.

    `tolerant`: the patients that they are for; None: all.
    """

    field: str
    tolerant: bool | None = None
    soft_low: Fraction | None = None
    soft_high: Fraction | None = None
    hard_low: Fraction | None = None
    hard_high: Fraction | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class ListedDrug:
    """What the drug library holds of one drug; the concentrations by their value, in mg/mL."""

    concentrations: Mapping[Fraction, str]
    tolerant_only: frozenset[Fraction]
    limit_required: bool
    bounds: tuple[Bounds, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class Entry:
    """What one clinician read; a source that the case does not read gives nothing."""

    clinician: str
    read_at: Moment | None
    sources: Mapping[Source, Readings]
    primed_volume: Amount | None

    def source(self, source: Source) -> Readings:
        """What this clinician read from one source."""
        return self.sources[source]

    def has_read_like(self, other: "Entry") -> bool:
        """Whether both have read every source to the letter: then it is one and the same reading."""
        return self.primed_volume == other.primed_volume and all(
            readings is other.sources[source] for source, readings in self.sources.items()
        )

    @property
    def order(self) -> Readings:
        """The order as read; where none is read, the order of record."""
        return self.sources[Source.ORDER]

    @property
    def label(self) -> Readings:
        """The label as read."""
        return self.sources[Source.LABEL]

    @property
    def device(self) -> Readings:
        """The device as read."""
        return self.sources[Source.DEVICE]


@dataclass(frozen=True, kw_only=True, slots=True)
class Case:
    """Everything that one comparison looks at; `reads` are the sources that the two read.

    `patient` is the infusion's patient as known from its set-up. Without a chart there is no `bearing`.
    """

    policy: Policy
    library: Mapping[str, ListedDrug] | None
    patient: Readings
    order_of_record: Readings
    previous: Readings
    reads: frozenset[Source]
    entries: tuple[Entry, Entry]
    bearing: Bearing | None
    required_monitors: tuple[str, ...]

    def by_clinician(self) -> Mapping[str, Entry]:
        """What each of the two read: A before B."""
        first, second = self.entries
        return {A: first, B: second}

    @property
    def not_judged(self) -> tuple[str, ...]:
        """What nobody looked at."""
        chart = () if Source.CHART in self.reads else ("chart",)
        library = ("library",) if self.library is None else ()
        return (*chart, *library, *self.policy.not_set)


@dataclass(frozen=True, kw_only=True, slots=True)
class CaseError:
    """Why a case cannot be read: where, which code, and a sentence about it."""

    path: str
    code: str
    message: str

    def as_json(self) -> dict[str, str]:
        """As the contract writes it in the place of a result."""
        return {"path": self.path, "code": self.code, "message": self.message}
