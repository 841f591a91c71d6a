"""Dangers in the device as one clinician read it, and in label and order where a rule says so."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import floor

from app.comparison.case import Case, Entry
from app.comparison.fields import COMPARED_SOURCES, LIMITS
from app.comparison.figures import Figures
from app.comparison.moments import is_past, minutes_left
from app.comparison.readings import Amount, DoseAsVolume, Nothing, Readings
from app.comparison.wording import as_set, capitalised, listed, place, typed, words_of
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
        return as_set(self.entry.device.by_field[field])


_RISKS = {
    "age": "their age",
    "weight": "a low body weight",
    "sleep-apnea": "sleep apnea",
    "lung-disease": "lung disease",
    "kidney-or-liver-disease": "kidney or liver disease",
    "other-opioid": "another opioid",
    "sedative": "a sedative",
    "neuraxial-opioid": "an epidural or spinal opioid",
}


def risks_in_words(reasons: Sequence[str]) -> str:
    """What makes opioids more dangerous for a patient."""
    return listed([_RISKS[reason] for reason in reasons])


def dangers_of_device(view: View) -> Iterator[Danger]:
    """Everything but the drug library's findings."""
    yield from _mode_conflict(view)
    yield from _inconsistent_concentration(view)
    yield from _limit_too_low(view)
    yield from _continuous_part(view)
    yield from _carrier(view)
    yield from _monitoring_off(view)
    yield from _alarms(view)
    yield from _use_by(view)
    yield from primed_volume_dangers(view.case, view.entry)
    yield from _dose_below_step(view)
    yield from _syringe_short(view)
    yield from _limit_is_passed(view)


def _mode_conflict(view: View) -> Iterator[Danger]:
    rate, mode = _typed_rate(view.entry.device), view.entry.device.mode
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


def _typed_rate(device: Readings) -> Fraction | None:
    """The rate, be it known as a volume alone."""
    reading = device.find("continuous_rate")
    return reading.volume if isinstance(reading, DoseAsVolume) else device.find_number("continuous_rate")


def _inconsistent_concentration(view: View) -> Iterator[Danger]:
    places = [
        f"{place(source)} ({_two_concentrations(readings)})"
        for source in COMPARED_SOURCES
        if source in view.case.reads and _is_inconsistent(readings := view.entry.source(source))
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
    """A limit leaves no room for a demand: never, or not beside the continuous part."""
    for amount_field, window_field in LIMITS:
        amount = view.entry.device.find_number(amount_field)
        if amount is not None:
            yield from _this_limit_too_low(view, amount, amount_field, window_field)


def _this_limit_too_low(
    view: View, amount: Fraction, amount_field: str, window_field: str
) -> Iterator[Danger]:
    dose = view.settings.demand_dose
    limit = view.typed(amount_field)
    is_below_dose = dose is not None and amount < dose
    if is_below_dose:
        says = (
            f"The limit of {limit} is less than one demand of {view.typed('demand_dose')}. "
            "No demand would ever be given."
        )
        yield Danger(code="limit-below-dose", field=amount_field, says=says)
    by_rate = _counted_in_window(view, window_field)
    if by_rate is None:
        return
    window = view.typed(window_field)
    share = f"The continuous part alone gives {_mass(by_rate)} in {window}"
    if by_rate > amount:
        then = (
            "No demand would be given after that"
            if view.settings.has_demands
            else "The limit would be passed"
        )
        says = f"{share}, more than the limit of {limit}. {then}, and the continuous part would run on."
        yield Danger(code="limit-below-continuous", field=amount_field, says=says)
    elif not is_below_dose and view.settings.has_demands and dose is not None and by_rate + dose > amount:
        says = (
            f"{share}, which leaves less than one demand of {view.typed('demand_dose')} under the limit of "
            f"{limit}. After the first {window} no demand would ever be given again."
        )
        yield Danger(code="limit-blocks-demands", field=amount_field, says=says)


def _counted_in_window(view: View, window_field: str) -> Fraction | None:
    """What a limit counts of the continuous part in one window; None where it counts none."""
    rate, window = view.settings.rate, view.entry.device.find_number(window_field)
    if rate is None or window is None or not view.case.policy.in_use.counting.continuous:
        return None
    return rate * window / _HOUR


def _continuous_part(view: View) -> Iterator[Danger]:
    """It runs whether or not the patient is awake to ask for it."""
    bearing = view.case.bearing
    if bearing is None or bearing.tolerant or not view.settings.has_continuous:
        return
    runs = (
        "A continuous part runs whether or not the patient presses, also in sleep, and adds to every demand"
    )
    if bearing.reasons:
        says = (
            f"{runs}. This patient is not known to be opioid-tolerant and is at risk: "
            f"{risks_in_words(bearing.reasons)}."
        )
        code = "continuous-in-patient-at-risk"
    else:
        says = f"{runs}. This patient is not known to be opioid-tolerant."
        code = "continuous-opioid-naive"
    yield Danger(code=code, field="continuous_rate", says=says)


def _carrier(view: View) -> Iterator[Danger]:
    fluid, policy = view.entry.device.find_text("carrier.fluid"), view.case.policy
    if fluid is None:
        return
    if fluid in policy.carrier_refused:
        says = f"The carrier fluid {view.typed('carrier.fluid')} is refused here. Use another."
        yield Danger(code="carrier-not-allowed", field="carrier.fluid", says=says)
    elif fluid not in policy.carrier_fluids:
        says = (
            f"The carrier fluid {view.typed('carrier.fluid')} is not listed here. "
            f"Listed: {listed(list(policy.carrier_fluids.values())) if policy.carrier_fluids else 'none'}."
        )
        yield Danger(code="carrier-not-listed", field="carrier.fluid", says=says)


def _monitoring_off(view: View) -> Iterator[Danger]:
    for monitor in view.case.required_monitors:
        if view.entry.device.find_text(monitor) == "off":
            says = (
                f"{capitalised(words_of(monitor))} is off, and it is required here. "
                "Without it, breathing that fails is noticed late."
            )
            yield Danger(code="monitoring-off", field=monitor, says=says)


def _alarms(view: View) -> Iterator[Danger]:
    """Alarms that are off, or set where they never sound in time."""
    for alarm, bounds in view.case.policy.alarm_bounds.items():
        field = f"monitor.{alarm}"
        match view.entry.device.find(field):
            case Nothing() if bounds.required:
                says = f"{capitalised(words_of(field))} is not set, and it is required here."
                yield Danger(code="alarm-not-set", field=field, says=says)
            case Amount(value=value) if (broken := bounds.find_broken(value)) is not None:
                where = "below the lowest" if value < broken.value else "above the highest"
                says = (
                    f"{capitalised(words_of(field))} is set to {view.typed(field)}, "
                    f"{where} allowed here, {typed(broken)}."
                )
                yield Danger(code="alarm-outside-bounds", field=field, says=says)
            case _:
                pass


def _use_by(view: View) -> Iterator[Danger]:
    use_by, read_at = view.entry.label.use_by, view.entry.read_at
    if use_by is None or read_at is None:
        return
    by = typed(view.entry.label.by_field["use_by"])
    if is_past(use_by, read_at):
        says = f"The label says to use the syringe by {by}, and it was read after that."
        yield Danger(code="label-expired", field="use_by", says=says)
        return
    left = minutes_left(use_by, read_at)
    if left < view.case.policy.note_if_expires_within:
        says = f"The label says to use the syringe by {by}: {_time(left)} after it was read."
        yield Danger(code="expires-soon", field="use_by", says=says)


def primed_volume_dangers(case: Case, entry: Entry) -> Iterator[Danger]:
    """Less or more has run out at priming than the line set in use holds."""
    primed, between = entry.primed_volume, case.policy.primed_between
    if primed is None or between is None:
        return
    least, most = between
    holds = _volume(case.policy.in_use.prime_volume)
    read = f"{typed(primed)} ran out at priming, and the line set in use holds {holds}"
    if primed.value < least:
        says = f"{read}. The drug would reach the patient late: a gap may be left in the line."
        yield Danger(code="primed-volume-below-set", field="primed_volume", says=says)
    elif primed.value > most:
        says = f"{read}. What ran out beside it is missing from the syringe."
        yield Danger(code="primed-volume-above-set", field="primed_volume", says=says)


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
        spent = f"At full use of the model device the syringe lasts {show(lasts)}."
        says = f"{spent} Have the next one ready by then."
        yield Danger(code="syringe-short", field="volume", says=says)


def _limit_is_passed(view: View) -> Iterator[Danger]:
    delivered = view.figures.device.first_windows_with_loading
    for (amount_field, window_field), limit, given in zip(
        LIMITS, view.settings.limits, delivered, strict=False
    ):
        if given.value > limit.amount:
            says = (
                f"At full use of the model device {show(given)} is delivered in the first "
                f"{view.typed(window_field)}, loading dose and continuous part included: "
                f"more than the limit of {view.typed(amount_field)}."
            )
            yield Danger(code="limit-is-passed", field=amount_field, says=says)


def _mass(value: Fraction) -> str:
    return show(Quantity(value=value, dimension=Dimension.MASS))


def _volume(value: Fraction) -> str:
    return show(Quantity(value=value, dimension=Dimension.VOLUME))


def _time(value: Fraction) -> str:
    return show(Quantity(value=value, dimension=Dimension.TIME))
