"""The picture of the worst case: how the dose adds up in the first hours, as ordered and as set.

The picture shows a shape, and nobody reads a figure off it: only here do the engine's exact numbers become
floating ones. Every figure in words beside it is exact.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from enum import Enum
from fractions import Fraction
from typing import Any

from app.comparison import CaseError, WorstCase, read_without_library, worst_cases
from app.dosing import Curve, Limit
from app.quantities import Dimension, Quantity, show, show_number, show_time
from app.records.kept import A, B
from app.reports.canvas import Line, Point, Size, Stroke, Svg
from app.reports.drawing import Picture, draw
from app.words.names import listed

_HOUR = Fraction(60)
_TABLE_HOURS = (1, 2, 4)
_MOST_TICKS = 5
_STEPS = (1, 2, 5, 10, 20, 50)
_STEPS_OF_HOURS = (1, 2, 3, 6, 12, 24)


class For(Enum):
    """What the picture is laid out for."""

    SCREEN = Size(width=340, height=210, letters=13, names=122)
    PAPER = Size(width=252, height=82, letters=8.5, names=92)


@dataclass(frozen=True, kw_only=True)
class Row:
    """One row of the table: what has been given by then."""

    time: str
    ordered: str
    given: str


@dataclass(frozen=True, kw_only=True)
class Chart:
    """The picture (one `svg` element), what it says in a sentence, and the same as a table."""

    svg: Svg
    says: str
    rows: tuple[Row, ...]

    @property
    def alike(self) -> bool:
        """Whether what is set gives what is ordered, at every time of the table."""
        return all(each.ordered == each.given for each in self.rows)


def charts_of(case: Mapping[str, Any], laid_out: For) -> Mapping[str, Chart]:
    """The pictures of a compared case: one where A and B read alike, else one for each letter.

    None where order and device are not known well enough. Letter blank: of both.
    """
    read = read_without_library(case)
    if isinstance(read, CaseError):
        message = f"a compared case cannot be read: {read.path}: {read.code}"
        raise ValueError(message)  # noqa: TRY004  # it is not about a type: only a bug comes here
    first, second = worst_cases(read)
    by_letter = {"": first} if first == second else {A: first, B: second}
    made = {letter: chart_of(worst, laid_out) for letter, worst in by_letter.items()}
    return {letter: chart for letter, chart in made.items() if chart is not None}


def chart_of(worst: WorstCase, laid_out: For) -> Chart | None:
    """The picture of one clinician's readings; None where neither curve is known."""
    if worst.ordered is None and worst.given is None:
        return None
    says = f"Most that could be given, pressed at every chance: {'; '.join(_parts(worst))}."
    return Chart(
        svg=draw(_picture(worst, says), laid_out.value),
        says=says,
        rows=tuple(_row(worst, hours) for hours in _hours(worst)),
    )


# In words ---------------------------------------------------------------------------------------------------


def _curves(worst: WorstCase) -> Iterator[tuple[str, Curve]]:
    """What there is to draw, with its name; where nothing differs it is one."""
    if worst.ordered is not None and worst.ordered == worst.given:
        yield "as ordered and as set", worst.ordered
        return
    if worst.ordered is not None:
        yield "as ordered", worst.ordered
    if worst.given is not None:
        yield "as set, with this syringe", worst.given


def _parts(worst: WorstCase) -> Iterator[str]:
    for name, curve in _curves(worst):
        yield f"{name} {listed(_given_by(curve, worst))}"
    for limit in worst.limits:
        yield f"limit {_limit_words(limit)}"
    waits = _waits(worst)
    if waits:
        start, end = waits[0]
        yield f"demands are first refused from {show_time(start)} on, for {show_time(end - start)}"


def _given_by(curve: Curve, worst: WorstCase) -> list[str]:
    first, *_, last = _hours(worst)
    return [f"{_mass(curve.before(hours * _HOUR))} in {_hour_words(hours)}" for hours in (first, last)]


def _row(worst: WorstCase, hours: Fraction) -> Row:
    ordered, given = (
        "" if curve is None else _mass(curve.before(hours * _HOUR)) for curve in (worst.ordered, worst.given)
    )
    return Row(time=_hour_words(hours), ordered=ordered, given=given)


def _hours(worst: WorstCase) -> list[Fraction]:
    """The usual hours, and the end of the picture where that is another one."""
    return sorted({*(Fraction(each) for each in _TABLE_HOURS), worst.until / _HOUR})


def _waits(worst: WorstCase) -> tuple[tuple[Fraction, Fraction], ...]:
    """The waits that limits impose as the device is set, or as ordered where that is not known."""
    curve = worst.given or worst.ordered
    return () if curve is None else curve.waits


def _limit_words(limit: Limit) -> str:
    return f"{_mass(limit.amount)} in {_hour_words(limit.window / _HOUR)}"


def _mass(amount: Fraction) -> str:
    return show(Quantity(value=amount, dimension=Dimension.MASS))


def _hour_words(hours: Fraction) -> str:
    return f"{show_number(hours)} h"


# As a picture -----------------------------------------------------------------------------------------------


def _picture(worst: WorstCase, says: str) -> Picture:
    lines = tuple(_lines(worst))
    end = max(amount for line in lines for _, amount in line.points) * 1.04
    waits = _waits(worst)
    return Picture(
        title=says,
        lines=lines,
        shaded=tuple((float(start), float(stop)) for start, stop in waits),
        shaded_name=f"refused for {show_time(waits[0][1] - waits[0][0])}" if waits else "",
        across=tuple((float(each * _HOUR), _hour_words(each)) for each in _hour_ticks(worst.until / _HOUR)),
        up=tuple((float(each), _mass(each) if each else "0") for each in _amount_ticks(Fraction(end))),
        end=(float(worst.until), end),
    )


def _lines(worst: WorstCase) -> Iterator[Line]:
    """The lines, the set one drawn through; where nothing differs it is the only one."""
    for name, curve in _curves(worst):
        stroke = Stroke.DASHED if name == "as ordered" else Stroke.SOLID
        rows = name.replace(", ", ",\n").replace(" and ", "\nand ")
        yield Line(points=_points(curve.corners()), stroke=stroke, name=rows)
    for limit in worst.limits:
        amount, window = float(limit.amount), float(limit.window)
        name = "limit\n" + _limit_words(limit)
        yield Line(points=((0, amount), (window, amount)), stroke=Stroke.DOTTED, name=name)


def _points(corners: Iterable[tuple[Fraction, Fraction]]) -> tuple[Point, ...]:
    return tuple((float(time), float(amount)) for time, amount in corners)


def _hour_ticks(hours: Fraction) -> list[Fraction]:
    step = next((each for each in _STEPS_OF_HOURS if hours / each <= _MOST_TICKS), _STEPS_OF_HOURS[-1])
    return _multiples(Fraction(step), hours)


def _amount_ticks(end: Fraction) -> list[Fraction]:
    """Steps of 1, 2 or 5 times a power of ten."""
    power = Fraction(1)
    while power > end / 10:
        power /= 10
    while power * 10 <= end / 10:
        power *= 10
    return _multiples(next(each * power for each in _STEPS if end / (each * power) <= _MOST_TICKS), end)


def _multiples(step: Fraction, end: Fraction) -> list[Fraction]:
    return [number * step for number in range(int(end / step) + 1)]
