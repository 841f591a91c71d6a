"""What is found in the readings of the device, and in how it was set."""

from collections.abc import Iterator
from fractions import Fraction

from app.accounting.account import Account
from app.accounting.case import Bolus, Settings, Started
from app.accounting.device import Judged
from app.accounting.findings import AccountFinding, Difference
from app.accounting.predicting import Prediction
from app.accounting.series import How
from app.accounting.wording import doses, presses, recount, shown, times
from app.quantities import Dimension, Quantity, show


def device_findings(account: Account) -> Iterator[AccountFinding]:
    """Times, settings, series, and each reading of totals."""
    yield from _disordered(account)
    yield from _set_otherwise(account)
    for judged in account.judged.values():
        on = account.course.states[judged.entry].on
        yield from _of_series(judged, on)
        yield from _of_prediction(judged, on)
        yield from _of_counts(judged, on, account.case.policy.presses_per_dose)
    for series in account.series:
        first = series.points[0].totals
        if series.how is not How.WENT_BACK and any((first.amount, first.volume, first.presses, first.doses)):
            yield AccountFinding(
                code="series-not-from-zero",
                entry=series.begins,
                says="The totals did not begin at zero here: only what they rose by from here on is counted.",
            )


def _disordered(account: Account) -> Iterator[AccountFinding]:
    for place, late in account.course.late.items():
        earlier = show(Quantity(value=late, dimension=Dimension.TIME))
        yield AccountFinding(
            code="time-disorder",
            entry=place,
            says=f"The time stated here is {earlier} before that of an earlier entry. The order of entries"
            " stands, and the later time is used.",
        )


def _set_otherwise(account: Account) -> Iterator[AccountFinding]:
    """The concentration in force beside the syringe's, where something is about to be given by it."""
    course = account.course
    for place, entry in enumerate(course.entries):
        before, after = course.states[place], course.states[place + 1]
        is_given = isinstance(entry, Started | Bolus) or (isinstance(entry, Settings) and before.running)
        in_force = after.in_force
        if not is_given or in_force is None or after.on is None or in_force.concentration is None:
            continue
        held = course.issued[after.on].concentration
        if in_force.concentration != held:
            factor = held / in_force.concentration
            yield AccountFinding(
                code="strength-set-differs",
                entry=place,
                syringe=after.on,
                factor=factor,
                says=f"The syringe holds {_concentration(held)}, and the device is set to"
                f" {_concentration(in_force.concentration)}: each dose is {times(factor)} what is shown.",
            )


def _concentration(value: Fraction) -> str:
    return show(Quantity(value=value, dimension=Dimension.CONCENTRATION))


def _of_series(judged: Judged, on: str | None) -> Iterator[AccountFinding]:
    if judged.went_back:
        yield AccountFinding(
            code="totals-went-back",
            entry=judged.entry,
            syringe=on,
            says=recount(
                "A total is lower here than at the reading before. It is taken to have begun at zero there."
            ),
        )
    if not judged.interval.is_attributed:
        yield AccountFinding(
            code="totals-not-attributed",
            entry=judged.entry,
            says="What the device gave up to this reading cannot be put down to one syringe at one"
            " concentration: no syringe that was on since the reading before is counted from here on.",
        )


def _of_prediction(judged: Judged, on: str | None) -> Iterator[AccountFinding]:
    prediction = judged.prediction
    if prediction is None:
        return
    if prediction.is_above:
        more = Difference(value=prediction.rise - prediction.most, dimension=prediction.dimension)
        by = "at full use" if prediction.by_possible else "by settings and counts"
        yield AccountFinding(
            code="totals-above-possible" if prediction.by_possible else "totals-above-predicted",
            entry=judged.entry,
            syringe=on,
            difference=more,
            says=recount(
                f"The total rose by {_amount(prediction.rise, prediction)}, and {by} it can have risen by"
                f" {_amount(prediction.most, prediction)} at most: {shown(more)} more."
            ),
        )
    if prediction.is_below:
        less = Difference(value=prediction.rise - prediction.least, dimension=prediction.dimension)
        yield AccountFinding(
            code="totals-below-predicted",
            entry=judged.entry,
            syringe=on,
            difference=less,
            says=recount(
                f"The total rose by {_amount(prediction.rise, prediction)}, and by settings and counts it"
                f" should have risen by {_amount(prediction.least, prediction)} at least: {shown(less)} less."
            ),
        )


def _amount(value: Fraction, prediction: Prediction) -> str:
    return show(Quantity(value=value, dimension=prediction.dimension))


def _of_counts(judged: Judged, on: str | None, presses_per_dose: int | None) -> Iterator[AccountFinding]:
    pressed, too_many = judged.pressed, judged.too_many
    if pressed is not None and pressed.presses < pressed.demands:
        yield AccountFinding(
            code="presses-below-doses",
            entry=judged.entry,
            syringe=on,
            says=recount(
                f"{presses(pressed.presses)} and {doses(pressed.demands)} were counted: a dose needs a press."
            ),
        )
    if too_many is not None:
        yield AccountFinding(
            code="doses-above-possible",
            entry=judged.entry,
            syringe=on,
            says=recount(
                f"{doses(too_many.demands)} were counted, and with the button pressed at every instant the"
                f" device as it was set could have granted {too_many.possible:,}."
            ),
        )
    if judged.boluses_above_doses:
        yield AccountFinding(
            code="doses-below-boluses",
            entry=judged.entry,
            syringe=on,
            says=recount(
                "Fewer doses were counted than boluses were given, and each bolus is one of the doses."
            ),
        )
    if (
        pressed is not None
        and presses_per_dose is not None
        and pressed.presses > presses_per_dose * max(1, pressed.demands)
    ):
        yield AccountFinding(
            code="presses-far-above-doses",
            entry=judged.entry,
            syringe=on,
            says=f"{presses(pressed.presses)} and {doses(pressed.demands)} were counted: more than"
            f" {presses(presses_per_dose)} for each dose.",
        )
