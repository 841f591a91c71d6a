"""What a trend says in plain words: the figure, what it is of, and why it cannot be judged, where so."""

from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime
from fractions import Fraction

from app.records.change_events import DoseLowered, PatientTaken
from app.records.events import StartedWithoutCheck
from app.records.independence import Grade
from app.records.state import Phase
from app.review.between import BetweenChart, GapPoint
from app.review.charts import Chart, Point, TooFew, TooFewEvents, TooFewPoints
from app.review.durations import Spread
from app.review.intervals import Rate, Share, wilson
from app.review.signals import Signal
from app.review.single import Single, SinglesChart
from app.words.checking import spell
from app.words.findings import GRADES
from app.words.names import listed

SIGNALS: Mapping[Signal, str] = {
    Signal.ABOVE: "above the upper limit",
    Signal.BELOW: "below the lower limit",
    Signal.RUN: "the eighth or a later one in a row on one side of the middle",
    Signal.STEADY: "the sixth or a later one in a row that rises or falls",
}
RULES = (
    "Out of control is a point beyond a limit (one exactly on it is not), eight in a row on one side of the "
    "middle, and six in a row that rise or fall. Limits are three standard deviations from the middle, and "
    "exact where few are expected. One such point may come by chance: ask what happened, not who it was."
)
OF_DEVICES = (
    "Plus is more gone than is explained, minus less. A device beyond its limit wants testing, its delivery "
    "and its totals, before anybody is asked anything. Differences are held against the usual step from one "
    "to the next: limits 3 / 1.128 of it from their mean."
)
IN_BRACKETS = "In brackets: between what it lies in 95 of 100 such counts."
OF_CODES = (
    "Stops and cautions, each once a check. A few kinds make most of it: begin with these. What values are "
    "consistent with is how they look, not what anybody did."
)
OF_TIMES = (
    "In the picture the dot is what half took, the line the half in the middle, the triangle what nine of "
    "ten took. A wait is a finding about the work, not about the two."
)
OF_GRADES = (
    "The second nurse finds what the first missed as far as nothing led her. Where many come below the best "
    "grade, ask what is lacking: a second screen, a second nurse, time."
)
NO_DEVICE = (
    "No serial number of a device was read in this time. Both nurses are asked for it where the site's "
    "policy says so."
)
AGAINST_ITSELF = "Judged against itself alone: leave the device blank to see it beside the others."
DEVICE_NOT_KNOWN, SEVERAL_DEVICES = "Not known", "More than one"
NOT_RARE = "They are not rare: more than one in ten checks has one. The months above say more."
DUE_AFTER: Mapping[str, str] = {
    StartedWithoutCheck.kind: "A start without a check",
    DoseLowered.kind: "A dose that one nurse lowered",
    PatientTaken.kind: "A patient taken from another unit",
}
ENDED: Mapping[str, str] = {
    Phase.STARTED: "Started",
    Phase.DONE: "Done",
    Phase.LED: "Led to another",
    Phase.ABANDONED: "Ended before it was signed",
}
# Of what is out of control by one rule; the table marks each.
_MOST_NAMED = 6
TIMES_FROM = 10
"""Of fewer durations nine of ten say nothing: common practice, no source."""
ALWAYS_FROM = 20
"""So many times acknowledged and never anything else: common practice, no source."""


def month_words(day: date) -> str:
    """A month by number, so that it sorts and fits below a picture."""
    return f"{day.year}-{day.month:02d}"


def per_100(value: Fraction | float) -> str:
    """A figure for each hundred, to a tenth."""
    return _tenths(float(value) * 100)


def _tenths(value: float) -> str:
    return f"{value:.1f}".removesuffix(".0")


def rate_words(events: int, of: int, what: str, named: str) -> str:
    """How many for each hundred, what that lies between, and of what."""
    rate = Rate(events=events, of=of, named=named)
    interval = rate.interval.times(0.1)
    return (
        f"{what[0].upper()}{what[1:]}: {events} in {of} {named}, "
        f"{_tenths(float(rate.per_1000) / 10)} per 100 {named} "
        f"({_tenths(interval.low)} to {_tenths(interval.high)})."
    )


def share_of_words(count: int, of: int, what: str, named: str) -> str:
    """How many of how many, where none counts twice."""
    return f"{what[0].upper()}{what[1:]}: {count} of {of} {named}, {percent_words(count, of)}."


def percent_words(count: int, of: int) -> str:
    """A share with what it lies between, as `30 % (18 to 45)`."""
    interval = wilson(Share(count=count, of=of)).times(100)
    return f"{100 * count / of:.0f} % ({interval.low:.0f} to {interval.high:.0f})"


def on_device_words(device: str) -> str:
    """Behind a title, of which device it is."""
    return f", on device {device}" if device else ""


def share_words(count: int, of: int) -> str:
    """A share with what it lies between, as `12 of 40: 30 % (18 to 45)`."""
    return f"{count} of {of}: {percent_words(count, of)}"


def too_few_words(why: TooFew) -> str:
    """Why nothing is drawn."""
    if isinstance(why, TooFewPoints):
        return f"Too few to judge: {why.points} to go by, and a chart needs {why.least}."
    if isinstance(why, TooFewEvents):
        return f"Too few to judge: {why.events} in all, and limits need {why.least}."
    return "Too few to judge: of so few at a time neither all nor none would be out of control."


def chart_words(chart: Chart) -> str:
    """Which months are out of control, and by which rule."""
    return _out_words([(each.subgroup.name, each.signals) for each in chart.out])


def limit_words(point: Point) -> str:
    """Between what and what a point is in control, for each hundred."""
    exact = ", exact" if point.is_exact else ""
    return f"{per_100(point.low)} to {per_100(point.high)}{exact}"


def between_words(chart: BetweenChart, named: str) -> str:
    """How many lie between two, and which gaps are out of control."""
    middle = f"In the middle {chart.median:.0f} {named} lie between two."
    return f"{middle} {_out_words([(each.gap.name, each.signals) for each in chart.out])}"


def _out_words(out: Sequence[tuple[str, Sequence[Signal]]]) -> str:
    if not out:
        return "Nothing is out of control."
    said = []
    for signal, words in SIGNALS.items():
        names = [name for name, signals in out if signal in signals]
        more = [f"{len(names) - _MOST_NAMED} more"] if len(names) > _MOST_NAMED else []
        if names:
            said.append(f"{listed([*names[:_MOST_NAMED], *more])} ({words})")
    return f"Out of control: {'; '.join(said)}."


def devices_words(found: Chart | TooFew, *, few: int, least: int, of: int, shown: int) -> str:
    """Which devices are out of control, how many are too little used to tell, and what is not shown."""
    if isinstance(found, TooFewPoints):
        said = [f"Too few to judge: {found.points} devices to go by, and a chart needs {found.least}."]
    else:
        said = [chart_words(found) if isinstance(found, Chart) else too_few_words(found)]
    if few:
        said.append(f"Devices with fewer than {least} infusions, which are not judged: {few}.")
    if of > shown:
        said.append(f"The first {shown} of {of} are shown.")
    return " ".join(said)


def singles_words(chart: SinglesChart) -> str:
    """What the differences are on average, between what chance moves them, and which are out of control."""
    limits = f"{volume_words(chart.low)} to {volume_words(chart.high)}"
    middle = f"The last {len(chart.points)}: in the middle {volume_words(chart.median)}, limits {limits}."
    return f"{middle} {_out_words([(each.name, each.signals) for each in chart.out])}"


def day_words(at: datetime) -> str:
    """A day, so that it sorts and fits below a picture."""
    return f"{at:%Y-%m-%d}"


def signal_words(point: Point | GapPoint | Single) -> str:
    """What a point says, blank for nothing."""
    return "; ".join(SIGNALS[each] for each in point.signals)


def spread_words(found: Spread) -> str:
    """Half within so long, nine of ten within so long."""
    return f"half within {took_words(found.median)}, nine of ten within {took_words(found.ninth)}"


def took_words(seconds: Fraction) -> str:
    """A stretch of time, whole minutes."""
    return spell(round(seconds / 60) * 60) if seconds >= 60 else "a minute"  # noqa: PLR2004  # a minute


def most_words(counts: Iterable[tuple[str, int]]) -> str:
    """Which few make most of the whole: those that together make four of five; there is at least one."""
    kept = list(counts)
    whole, said, so_far = sum(count for _, count in kept), list[str](), 0
    for words, count in kept:
        if 5 * so_far >= 4 * whole:
            break
        said.append(f"{words} ({count})")
        so_far += count
    return f"Most of {whole}: {listed(said)}."


def differences_words(amounts: Sequence[tuple[Fraction, int]]) -> str:
    """By how much accounts were short, and by how much over."""
    short = sum((amount * count for amount, count in amounts if amount < 0), Fraction(0))
    over = sum((amount * count for amount, count in amounts if amount > 0), Fraction(0))
    return f"{volume_words(short)} and {volume_words(over)}"


def volume_words(amount: Fraction) -> str:
    """A volume with its sign; of nothing it is plus."""
    sign = "\N{MINUS SIGN}" if amount < 0 else "+"
    return f"{sign}{_tenths(float(abs(amount)))} mL"


def times_words(judged: Sequence[tuple[str, Spread]], few: Sequence[str]) -> str:
    """Of each kind half and nine of ten, and of which there are too few to say."""
    said = [f"{name}: {spread_words(found)}." for name, found in judged]
    if few:
        said.append(f"Too few to say, under {TIMES_FROM}: {listed(list(few))}.")
    return " ".join(said) or "Nothing came so far in this time."


def grade_words(code: str) -> str:
    """How the two read, by the name that rows have for it."""
    return GRADES.get(code, "Not graded")


def grade_place(code: str) -> int:
    """Where a grade stands, the best first."""
    return [*GRADES, code].index(code)


def independence_trend_words(best: int, looked: int, of: int) -> str:
    """How many read as independently as can be, and how many had looked before."""
    return (
        f"{GRADES[Grade.TWO_DEVICES.code]}, the best grade: {share_words(best, of)}. "
        f"Somebody had looked at earlier values of the infusion before: {share_words(looked, of)}."
    )


def always_words(always: Sequence[str]) -> str:
    """Which cautions were acknowledged each time, which says something of the rule."""
    if not always:
        return f"No caution that was shown {ALWAYS_FROM} times or more was acknowledged every time."
    return (
        f"Acknowledged every time, {ALWAYS_FROM} times or more: {listed(list(always))}. A caution that "
        "changes nothing is a finding about its rule."
    )


def due_words(due: int, in_time: int) -> str:
    """How many of the checks that became due were had in time."""
    if not due:
        return "Nothing became due in this time."
    return f"Had in time: {share_words(in_time, due)}. Judged by the times that the policy sets now."
