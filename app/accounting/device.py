"""The device's account: what each reading of totals should have shown, and what could have been granted."""

from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction

from app.accounting.case import Totals
from app.accounting.course import Course
from app.accounting.intervals import Interval, interval_of
from app.accounting.possible import PossibleDemands
from app.accounting.predicting import Prediction, Span, predict
from app.accounting.series import How, PlacedReading, Point, Series

_NOTHING = Fraction(0)


@dataclass(frozen=True, kw_only=True, slots=True)
class TooMany:
    """More demands than were possible since an earlier reading."""

    since: int
    demands: int
    possible: int


@dataclass(frozen=True, kw_only=True, slots=True)
class Pressed:
    """By how much presses and demands rose since the last reading that gave both."""

    since: int
    presses: int
    demands: int


@dataclass(frozen=True, kw_only=True, slots=True)
class Judged:
    """A reading of totals beside those before it in its series."""

    entry: int
    went_back: bool
    interval: Interval
    presses: int | None
    doses: int | None
    """By how much each count rose since the last reading of the series that gave it."""
    since: int
    """Where its span begins."""
    prediction: Prediction | None
    possible: int | None
    boluses_above_doses: bool
    too_many: TooMany | None
    pressed: Pressed | None


def judge_readings(course: Course, series: list[Series], placed: list[PlacedReading]) -> dict[int, Judged]:
    """Every reading of totals that does not begin its series, by its entry."""
    judge = _Judge(course, series)
    return {each.entry: judge.judge(each) for each in placed if each.place}


class _Judge:
    """What readings leave for later ones: arrears, and which was the last with too many doses."""

    def __init__(self, course: Course, series: list[Series]) -> None:
        self._course = course
        self._series = series
        self._possible = PossibleDemands(course)
        self._arrears: dict[int, Fraction] = {}
        self._judged_from: dict[int, int] = {}
        """By series: its last reading with too many doses, from which on the later ones are judged."""

    def judge(self, placed: PlacedReading) -> Judged:
        """One reading; those before it have been judged."""
        series, place = self._series[placed.series], placed.place
        here = series.points[place]
        span_begins = _begin_of_span(series, place)
        begin = series.points[span_begins]
        demands = self._demands(begin, here)
        possible = prediction = None
        # A reading that went back began nobody knows when: no span that holds it can be judged.
        if series.how is not How.WENT_BACK or span_begins:
            possible = self._possible.between(begin.entry, here.entry)
            span = Span(
                begin=begin,
                end=here,
                begins_series=not span_begins,
                demands=None if demands is None or demands < 0 else demands,
                possible=possible,
                arrears=self._arrears.get(begin.entry, _NOTHING),
            )
            prediction = predict(self._course, span)
        self._arrears[placed.entry] = _NOTHING if prediction is None else prediction.arrears
        return Judged(
            entry=placed.entry,
            went_back=series.how is How.WENT_BACK and place == 1,
            interval=interval_of(self._course, series.points[place - 1], here),
            presses=_rise_since_last(series, place, lambda totals: totals.presses),
            doses=_rise_since_last(series, place, lambda totals: totals.doses),
            since=begin.entry,
            prediction=prediction,
            possible=possible,
            boluses_above_doses=demands is not None and demands < 0,
            too_many=self._find_too_many(placed),
            pressed=self._find_pressed(series, place),
        )

    def _demands(self, one: Point, other: Point) -> int | None:
        """By how much the doses rose, less the boluses among them: below zero where that cannot be."""
        if one.totals.doses is None or other.totals.doses is None:
            return None
        boluses = self._course.boluses_among_doses(one.entry, other.entry)
        return other.totals.doses - one.totals.doses - boluses

    def _find_too_many(self, placed: PlacedReading) -> TooMany | None:
        """Judged from every earlier reading: what each hour can hold, several hours need not."""
        series = self._series[placed.series]
        here = series.points[placed.place]
        first = self._judged_from.get(placed.series, 1 if series.how is How.WENT_BACK else 0)
        for place in range(placed.place - 1, first - 1, -1):
            begin = series.points[place]
            demands = self._demands(begin, here)
            if not demands or demands < 0:
                continue
            possible = self._possible.between(begin.entry, here.entry)
            if demands > possible:
                self._judged_from[placed.series] = placed.place
                return TooMany(since=begin.entry, demands=demands, possible=possible)
        return None

    def _find_pressed(self, series: Series, place: int) -> Pressed | None:
        here = series.points[place]
        before = _find_last(
            series, place, lambda totals: totals.presses is not None and totals.doses is not None
        )
        if before is None or here.totals.presses is None or before.totals.presses is None:
            return None
        demands = self._demands(before, here)
        if demands is None or demands < 0:
            return None
        presses = here.totals.presses - before.totals.presses
        return Pressed(since=before.entry, presses=presses, demands=demands)


def _begin_of_span(series: Series, place: int) -> int:
    """The reading before; of one that gives doses the last that gave them, if one did."""
    if series.points[place].totals.doses is not None:
        for before in range(place - 1, -1, -1):
            if series.points[before].totals.doses is not None:
                return before
    return place - 1


def _find_last(series: Series, place: int, gives: Callable[[Totals], bool]) -> Point | None:
    """The last reading of a series before another that gives something."""
    return next((point for point in reversed(series.points[:place]) if gives(point.totals)), None)


def _rise_since_last(series: Series, place: int, count: Callable[[Totals], int | None]) -> int | None:
    """By how much a count rose since the last reading that gave it."""
    here = count(series.points[place].totals)
    if here is None:
        return None
    for point in reversed(series.points[:place]):
        before = count(point.totals)
        if before is not None:
            return here - before
    return None
