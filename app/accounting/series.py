"""Series of totals: which readings count on from which beginning."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from fractions import Fraction
from typing import TypeVar

from app.accounting.case import ZERO_TOTALS, BeginsSeries, Cleared, Entry, Started, Totals, totals_of

_Number = TypeVar("_Number", Fraction, int)


class How(StrEnum):
    """How a series began."""

    FIRST = "first"
    CLEARED = "cleared"
    DEVICE = "device"
    WENT_BACK = "went-back"


@dataclass(frozen=True, kw_only=True, slots=True)
class Point:
    """A reading of totals, or the beginning of a series."""

    entry: int
    totals: Totals


@dataclass(kw_only=True, slots=True)
class Series:
    """A beginning and the readings that count on from it; it grows while it is read."""

    how: How
    points: list[Point] = field(default_factory=list)

    @property
    def begins(self) -> int:
        """The entry of its beginning."""
        return self.points[0].entry

    @property
    def ends(self) -> int:
        """The entry of its last reading."""
        return self.points[-1].entry

    def rise(self) -> Totals:
        """Last less first of every value that each reading gives."""
        values = [point.totals for point in self.points]
        return Totals(
            amount=_last_less_first([each.amount for each in values]),
            volume=_last_less_first([each.volume for each in values]),
            presses=_last_less_first([each.presses for each in values]),
            doses=_last_less_first([each.doses for each in values]),
        )


@dataclass(frozen=True, kw_only=True, slots=True)
class PlacedReading:
    """A reading of totals: its series, and which point of it, from 0 on."""

    entry: int
    series: int
    place: int


def find_series(entries: Sequence[Entry]) -> tuple[list[Series], list[PlacedReading]]:
    """All series in the order in which they begin, and every reading of totals."""
    series = [Series(how=How.FIRST)]
    placed: list[PlacedReading] = []
    if _begins_at_zero(entries):
        series[0].points.append(Point(entry=0, totals=ZERO_TOTALS))
    for number, entry in enumerate(entries):
        totals = totals_of(entry)
        if totals is not None:
            current = series[-1]
            if _went_back(current, totals):
                current = Series(how=How.WENT_BACK, points=[Point(entry=current.ends, totals=ZERO_TOTALS)])
                series.append(current)
            placed.append(PlacedReading(entry=number, series=len(series) - 1, place=len(current.points)))
            current.points.append(Point(entry=number, totals=totals))
        if isinstance(entry, BeginsSeries):
            how = How.CLEARED if isinstance(entry, Cleared) else How.DEVICE
            series.append(Series(how=how, points=[Point(entry=number, totals=entry.after)]))
    return series, placed


def _begins_at_zero(entries: Sequence[Entry]) -> bool:
    """Whether the first series has no reading of its own to begin at, or one only after a start."""
    for entry in entries:
        if totals_of(entry) is not None:
            return False
        if isinstance(entry, Started | BeginsSeries):
            return True
    return True


def _went_back(series: Series, totals: Totals) -> bool:
    """Whether a value is lower than the last one of its kind in the series."""
    return any(
        value is not None and value < last for value, last in zip(_values(totals), _last(series), strict=True)
    )


def _values(totals: Totals) -> tuple[Fraction | int | None, ...]:
    return totals.amount, totals.volume, totals.presses, totals.doses


def _last(series: Series) -> Iterator[Fraction | int]:
    """The last value of each kind, or one below all where none gave it."""
    for kind in range(len(_values(ZERO_TOTALS))):
        given = (_values(point.totals)[kind] for point in reversed(series.points))
        yield next((value for value in given if value is not None), -1)


def _last_less_first(values: Sequence[_Number | None]) -> _Number | None:
    given = [value for value in values if value is not None]
    return given[-1] - given[0] if len(given) == len(values) else None
