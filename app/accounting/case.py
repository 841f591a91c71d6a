"""A case: what people read of one infusion, in the order in which it happened, and the site's rules."""

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from app.dosing import Counting, Limit


@dataclass(frozen=True, kw_only=True, slots=True)
class At:
    """When something happened: min of UTC since the calendar began, and how far local time is ahead of it."""

    minutes: Fraction
    ahead: int


@dataclass(frozen=True, kw_only=True, slots=True)
class Totals:
    """What a device shows as given: mg, mL, and two counts; None: not read."""

    amount: Fraction | None = None
    volume: Fraction | None = None
    presses: int | None = None
    doses: int | None = None


ZERO_TOTALS = Totals(amount=Fraction(0), volume=Fraction(0), presses=0, doses=0)


@dataclass(frozen=True, kw_only=True, slots=True)
class TotalsCount:
    """What the totals of a device count besides demands and the continuous part."""

    totals_count_bolus: bool = True
    totals_count_loading: bool = True
    totals_count_prime: bool = False
    doses_count_bolus: bool = False


@dataclass(frozen=True, kw_only=True, slots=True)
class Policy:
    """The site's rules; shares of 1, mL, mg and min. What each means: CONTRACT.md, Policy."""

    device_accuracy: Fraction
    fill_accuracy: Fraction
    prime_accuracy: Fraction
    scale_division: Fraction
    display_step_amount: Fraction | None
    display_step_volume: Fraction | None
    time_accuracy: Fraction
    root_decides: bool
    at_least: Fraction
    totals_count: TotalsCount
    counting: Counting
    presses_per_dose: int | None
    lead_time: Fraction
    ask_at_full_use: bool


@dataclass(frozen=True, kw_only=True, slots=True)
class Entry:
    """One thing that happened, or was read."""

    at: At


@dataclass(frozen=True, kw_only=True, slots=True)
class ReadsTotals(Entry):
    """An entry at which the totals may be read, before it takes effect."""

    totals: Totals | None


@dataclass(frozen=True, kw_only=True, slots=True)
class ReadsLeft(ReadsTotals):
    """An entry at which the volume left may be read, too, by the scale of the syringe."""

    left: Fraction | None


@dataclass(frozen=True, kw_only=True, slots=True)
class BeginsSeries(ReadsTotals):
    """An entry after which totals begin anew: what they show then."""

    after: Totals


@dataclass(frozen=True, kw_only=True, slots=True)
class GivesAway(Entry):
    """An entry at which a volume leaves a syringe for good, as two saw it."""

    syringe: str
    volume: Fraction


@dataclass(frozen=True, kw_only=True, slots=True)
class Issued(Entry):
    """A syringe comes in, with what its label says."""

    syringe: str
    typed: str
    volume: Fraction
    concentration: Fraction
    size: Fraction
    drawn_up: bool


@dataclass(frozen=True, kw_only=True, slots=True)
class Loaded(Entry):
    """A syringe is put on the device, for the first time or again."""

    syringe: str


@dataclass(frozen=True, kw_only=True, slots=True)
class Primed(Entry):
    """A volume left the syringe now on, off the patient."""

    volume: Fraction


@dataclass(frozen=True, kw_only=True, slots=True)
class Settings(Entry):
    """The settings from here on, as far as the mode uses them: mg, min, mg/h.

    Without a concentration the device is one in volumes: mL and mL/h stand in the places of mg and mg/h.
    """

    concentration: Fraction | None
    demand_dose: Fraction | None
    lockout: Fraction | None
    rate: Fraction
    limits: tuple[Limit, ...]
    totals_count: Mapping[str, bool]


@dataclass(frozen=True, kw_only=True, slots=True)
class Started(Entry):
    """The device runs."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Paused(Entry):
    """The device stands."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Read(ReadsLeft):
    """What the device shows, and what is left."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Bolus(Entry):
    """Given by staff by the device, at once; mg, or mL where the device is set in volumes."""

    amount: Fraction
    loading: bool


@dataclass(frozen=True, kw_only=True, slots=True)
class Cleared(BeginsSeries):
    """The totals were cleared."""


@dataclass(frozen=True, kw_only=True, slots=True)
class DeviceChanged(BeginsSeries):
    """Another device or line, the syringe kept on."""

    totals_count: Mapping[str, bool]


@dataclass(frozen=True, kw_only=True, slots=True)
class Removed(ReadsLeft):
    """The syringe now on is taken off."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Wasted(GivesAway):
    """A remainder, a spill or a breakage."""

    witnessed: bool


@dataclass(frozen=True, kw_only=True, slots=True)
class Returned(GivesAway):
    """Given back."""

    received: bool


@dataclass(frozen=True, kw_only=True, slots=True)
class Kept(GivesAway):
    """Kept under seal as evidence after an event."""

    seal: str
    received: bool


@dataclass(frozen=True, kw_only=True, slots=True)
class End(Entry):
    """The account is closed: nothing is in hand."""


@dataclass(frozen=True, kw_only=True, slots=True)
class AccountCase:
    """Everything that one account is made of; `now` in min, as `At` has it, None: the last entry's time."""

    policy: Policy
    now: Fraction | None
    entries: tuple[Entry, ...]
    finest_amount: Fraction
    finest_volume: Fraction
    """The finest last digits in any totals: the display's steps where the policy gives none."""

    @property
    def step_amount(self) -> Fraction:
        """The last digit of the mass that the device shows."""
        step = self.policy.display_step_amount
        return self.finest_amount if step is None else step

    @property
    def step_volume(self) -> Fraction:
        """The last digit of the volume that the device shows."""
        step = self.policy.display_step_volume
        return self.finest_volume if step is None else step


def totals_of(entry: Entry) -> Totals | None:
    """The totals that were read at an entry."""
    return entry.totals if isinstance(entry, ReadsTotals) else None


def left_of(entry: Entry) -> Fraction | None:
    """The volume that was read to be left at an entry."""
    return entry.left if isinstance(entry, ReadsLeft) else None
