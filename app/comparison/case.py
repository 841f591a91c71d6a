"""A case: two clinicians' readings of order, label, device and wristband, and what they are judged by."""

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from app.comparison.moments import Moment
from app.comparison.readings import Readings
from app.dosing import SetInUse
from app.records.kept import A, B
from app.records.sources import Source


@dataclass(frozen=True, kw_only=True, slots=True)
class Policy:
    """The site's rules; volumes in mL, times in min. What each means: CONTRACT.md, Policy."""

    in_use: SetInUse
    carrier_fluids: Mapping[str, str]
    """As the policy writes them, by the form in which they are compared."""
    required_monitors: tuple[str, ...]
    smallest_volume_step: Fraction
    note_if_syringe_shorter_than: Fraction


@dataclass(frozen=True, kw_only=True, slots=True)
class Bounds:
    """The inclusive bounds that a drug library sets for one field; None: no bound."""

    field: str
    soft_low: Fraction | None = None
    soft_high: Fraction | None = None
    hard_low: Fraction | None = None
    hard_high: Fraction | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class ListedDrug:
    """What the drug library holds of one drug; the concentrations by their value, in mg/mL."""

    concentrations: Mapping[Fraction, str]
    limit_required: bool
    bounds: tuple[Bounds, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class Patient:
    """The infusion's patient as known from its set-up; None: not known. Weight in kg."""

    identifier: str | None = None
    birth_date: str | None = None
    weight: Fraction | None = None
    opioid_naive: bool | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class Entry:
    """What one clinician read."""

    clinician: str
    read_at: Moment | None
    wristband: Mapping[str, str]
    order: Readings
    label: Readings
    device: Readings

    def source(self, source: Source) -> Readings:
        """What this clinician read from one source."""
        return {Source.ORDER: self.order, Source.LABEL: self.label, Source.DEVICE: self.device}[source]


@dataclass(frozen=True, kw_only=True, slots=True)
class Case:
    """Everything that one comparison looks at."""

    policy: Policy
    library: Mapping[str, ListedDrug] | None
    patient: Patient
    order_of_record: Readings
    previous: Readings
    entries: tuple[Entry, Entry]

    def by_clinician(self) -> Mapping[str, Entry]:
        """What each of the two read: A before B."""
        first, second = self.entries
        return {A: first, B: second}


@dataclass(frozen=True, kw_only=True, slots=True)
class CaseError:
    """Why a case cannot be read: where, which code, and a sentence about it."""

    path: str
    code: str
    message: str

    def as_json(self) -> dict[str, str]:
        """As the contract writes it in the place of a result."""
        return {"path": self.path, "code": self.code, "message": self.message}
