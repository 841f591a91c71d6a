"""Dangers in the device as one clinician read it, and in label and order where a rule says so."""

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from math import floor

from app.comparison.case import Case, Entry
from app.comparison.fields import COMPARED_SOURCES
from app.comparison.figures import Figures
from app.comparison.moments import is_past
from app.comparison.readings import Amount, Readings
from app.comparison.wording import capitalised, listed, place, typed, words_of
from app.dosing import SourceSettings
from app.quantities import Dimension, Quantity, show
from app.records.field_table import MODES_WITH_CONTINUOUS

_HOUR = Fraction(60)


@dataclass(frozen=True, kw_only=True, slots=True)
class Danger:
    """A finding about one clinician's readings, before it is known whether the other's show it too."""

    code: str
    field: str
    says: str


@dataclass(frozen=True, kw_only=True, slots=True)
class View:
    """What one clinician's readings are judged by."""

    case: Case
    entry: Entry
    figures: Figures

    @property
    def settings(self) -> SourceSettings:
        """The device's settings, without what its mode does not use."""
        return self.figures.device_settings

    def typed(self, field: str) -> str:
        """The device's value as typed, of a field that was read."""
        return typed(self.entry.device.by_field[field])


def dangers_of_device(view: View) -> Iterator[Danger]:
    """Everything but the drug library's findings."""
    yield from _mode_conflict(view)
    yield from _inconsistent_concentration(view)
    yield from _limit_too_low(view)
    yield from _continuous_for_naive(view)
    yield from _carrier_not_allowed(view)
    yield from _monitoring_off(view)
    yield from _label_expired(view)
    yield from _dose_below_step(view)
    yield from _syringe_short(view)
    yield from _limit_is_passed(view)
    yield from _limit_at_full_use(view)


def _mode_conflict(view: View) -> Iterator[Danger]:
    rate, mode = view.entry.device.find_number("continuous_rate"), view.entry.device.mode
    if rate is None or mode is None:
        return
    if rate and mode not in MODES_WITH_CONTINUOUS:
        says = (
            f"A continuous rate of {view.typed('continuous_rate')} is set, and the mode has no continuous "
            "part. One of the two is not what is meant."
        )
        yield Danger(code="mode-conflict", field="mode", says=says)
    elif not rate and mode in MODES_WITH_CONTINUOUS:
        says = (
            f"The mode has a continuous part, and its rate is {view.typed('continuous_rate')}. "
            "One of the two is not what is meant."
        )
        yield Danger(code="mode-conflict", field="mode", says=says)


def _inconsistent_concentration(view: View) -> Iterator[Danger]:
    places = [
        f"{place(source)} ({_two_concentrations(readings)})"
        for source in COMPARED_SOURCES
        if _is_inconsistent(readings := view.entry.source(source))
    ]
    if places:
        says = f"Two different concentrations stand side by side {listed(places)}."
        yield Danger(code="concentration-inconsistent", field="concentration", says=says)


def _is_inconsistent(readings: Readings) -> bool:
    stated = readings.stated_concentration
    return stated is not None and stated.value != readings.find_number("concentration")


def _two_concentrations(readings: Readings) -> str:
    both = (readings.find("concentration"), readings.stated_concentration)
    return listed([typed(reading) for reading in both if isinstance(reading, Amount)])


def _limit_too_low(view: View) -> Iterator[Danger]:
    """The limit leaves no room for a demand: never, or not beside the continuous part."""
    dose, amount = view.settings.demand_dose, view.entry.device.find_number("limit.amount")
    if amount is None:
        return
    limit = view.typed("limit.amount")
    is_below_dose = dose is not None and amount < dose
    if is_below_dose:
        says = (
            f"The limit of {limit} is less than one demand of {view.typed('demand_dose')}. "
            "No demand would ever be given."
        )
        yield Danger(code="limit-below-dose", field="limit.amount", says=says)
    by_rate = _counted_in_window(view)
    if by_rate is None:
        return
    window = view.typed("limit.window")
    share = f"The continuous part alone gives {_mass(by_rate)} in {window}"
    if by_rate > amount:
        then = (
            "No demand would be given after that"
            if view.settings.has_demands
            else "The limit would be passed"
        )
        says = f"{share}, more than the limit of {limit}. {then}, and the continuous part would run on."
        yield Danger(code="limit-below-continuous", field="limit.amount", says=says)
    elif not is_below_dose and view.settings.has_demands and dose is not None and by_rate + dose > amount:
        says = (
            f"{share}, which leaves less than one demand of {view.typed('demand_dose')} under the limit of "
            f"{limit}. After the first {window} no demand would ever be given again."
        )
        yield Danger(code="limit-blocks-demands", field="limit.amount", says=says)


def _counted_in_window(view: View) -> Fraction | None:
    """What the limit counts of the continuous part in one window; None where it counts none."""
    rate, window = view.settings.rate, view.entry.device.find_number("limit.window")
    if rate is None or window is None or not view.case.policy.in_use.counting.continuous:
        return None
    return rate * window / _HOUR


def _continuous_for_naive(view: View) -> Iterator[Danger]:
    if view.settings.has_continuous and view.case.patient.opioid_naive is not False:
        known = view.case.patient.opioid_naive is not None
        says = (
            "A continuous part runs whether or not the patient presses, and this patient "
            f"{'is opioid-naive' if known else 'counts as opioid-naive, since nothing else is known'}. "
            "It adds to every demand, also during sleep."
        )
        yield Danger(code="continuous-opioid-naive", field="continuous_rate", says=says)


def _carrier_not_allowed(view: View) -> Iterator[Danger]:
    fluid, allowed = view.entry.device.find_text("carrier.fluid"), view.case.policy.carrier_fluids
    if fluid is not None and fluid not in allowed:
        says = (
            f"The carrier fluid {view.typed('carrier.fluid')} is not allowed here. "
            f"Allowed: {listed(list(allowed.values())) if allowed else 'none'}."
        )
        yield Danger(code="carrier-not-allowed", field="carrier.fluid", says=says)


def _monitoring_off(view: View) -> Iterator[Danger]:
    for monitor in view.case.policy.required_monitors:
        if view.entry.device.find_text(monitor) == "off":
            says = (
                f"{capitalised(words_of(monitor))} is off, and it is required here. "
                "Without it, breathing that fails is noticed late."
            )
            yield Danger(code="monitoring-off", field=monitor, says=says)


def _label_expired(view: View) -> Iterator[Danger]:
    use_by, read_at = view.entry.label.use_by, view.entry.read_at
    if use_by is not None and read_at is not None and is_past(use_by, read_at):
        by = typed(view.entry.label.by_field["use_by"])
        says = f"The label says to use the syringe by {by}, and it was read after that."
        yield Danger(code="label-expired", field="use_by", says=says)


def _dose_below_step(view: View) -> Iterator[Danger]:
    volume, step = view.figures.device.demand_volume, view.case.policy.smallest_volume_step
    concentration = view.settings.concentration
    if volume is None or concentration is None:
        return
    steps = volume.value / step
    if steps.denominator != 1:
        says = (
            f"A demand of {view.typed('demand_dose')} is {show(volume)}, and the device delivers whole steps "
            f"of {_volume(step)}. Really delivered: {_mass(floor(steps) * step * concentration)}."
        )
        yield Danger(code="dose-below-step", field="demand_dose", says=says)


def _syringe_short(view: View) -> Iterator[Danger]:
    lasts = view.figures.device.syringe_lasts_full_use
    if lasts is not None and lasts.value < view.case.policy.note_if_syringe_shorter_than:
        says = (
            f"At full use of the model pump the syringe lasts {show(lasts)}. Have the next one ready by then."
        )
        yield Danger(code="syringe-short", field="volume", says=says)


def _limit_is_passed(view: View) -> Iterator[Danger]:
    delivered, limit = view.figures.device.first_window_with_loading, view.settings.limit
    if delivered is not None and limit is not None and delivered.value > limit.amount:
        says = (
            f"At full use of the model pump {show(delivered)} is delivered in the first "
            f"{view.typed('limit.window')}, loading dose and continuous part included: "
            f"more than the limit of {view.typed('limit.amount')}."
        )
        yield Danger(code="limit-is-passed", field="limit.amount", says=says)


def _limit_at_full_use(view: View) -> Iterator[Danger]:
    """When the limit first refuses a demand, or that it never does."""
    figures, limit = view.figures.device, view.settings.limit
    if figures.full_use is None or limit is None or not view.settings.has_demands:
        return
    limit_typed = f"{view.typed('limit.amount')} in {view.typed('limit.window')}"
    if figures.limit_first_refuses_at is None:
        says = (
            f"At full use of the model pump the limit of {limit_typed} refuses no demand in the first 24 h."
        )
        yield Danger(code="limit-never-refuses", field="limit.amount", says=says)
        return
    says = f"At full use of the model pump the limit of {limit_typed} {_refusal(view)}"
    yield Danger(code="limit-cuts-in", field="limit.amount", says=says)


def _refusal(view: View) -> str:
    """When the limit first refuses, how many demands were given before, and how long the next can take."""
    figures = view.figures.device
    given, refused_at, wait = (
        figures.demands_before_limit,
        figures.limit_first_refuses_at,
        figures.longest_wait,
    )
    if not given or refused_at is None:
        then = (
            "None is given in the first 24 h." if wait is None else f"Later the longest wait is {show(wait)}."
        )
        return f"refuses the first demand at 0 min, after 0 demands. {then}"
    demands = "1 demand" if given == 1 else f"{given} demands"
    then = "No demand follows." if wait is None else f"The longest wait for the next one is {show(wait)}."
    return f"first refuses a demand at {show(refused_at)}, after {demands}. {then}"


def _mass(value: Fraction) -> str:
    return show(Quantity(value=value, dimension=Dimension.MASS))


def _volume(value: Fraction) -> str:
    return show(Quantity(value=value, dimension=Dimension.VOLUME))
