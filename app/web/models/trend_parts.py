"""A part of a trend: a sentence, a picture where there is enough to judge, and a table."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from app.reports.canvas import Svg
from app.reports.trend_pictures import control_picture
from app.review.charts import Chart, Subgroup, TooFew
from app.words import trends as words
from app.workflow.trends import Trend, months_of


@dataclass(frozen=True, kw_only=True)
class Section:
    """One part of a trend; no picture where there is too little to judge.

    `devices` says of which device each row is, where there is more to see of it.
    """

    head: str
    says: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    svg: Svg | None = None
    devices: tuple[str, ...] = ()


def by_month(
    trend: Trend,
    *,
    head: str,
    what: tuple[str, str],
    told: Callable[[int, int, str, str], str],
    chart: Callable[[Sequence[Subgroup]], Chart | TooFew],
) -> Section:
    """A control chart of the months that had any check; `told` says what all of them come to."""
    events_named, named = what
    kept = []
    for day, months in months_of(trend):
        size = sum(month.of for month in months)
        if size:
            count = sum(month.found for month in months)
            kept.append(Subgroup(name=words.month_words(day), count=count, size=Fraction(size)))
    events, whole = sum(each.count for each in kept), int(sum(each.size for each in kept))
    columns = ("Month", named.capitalize(), "Found", "Per 100", "Limits", "")
    if not whole:
        return Section(head=head, says="Nothing was checked in this time.", columns=columns, rows=())
    rate = told(events, whole, events_named, named)
    found = chart(kept)
    if not isinstance(found, Chart):
        rows = tuple((each.name, str(each.size), str(each.count), rate_of(each), "", "") for each in kept)
        return Section(head=head, says=f"{rate} {words.too_few_words(found)}", columns=columns, rows=rows)
    says = f"{rate} {words.chart_words(found)}"
    return Section(
        head=head,
        says=says,
        columns=columns,
        rows=tuple(
            (
                point.subgroup.name,
                str(point.subgroup.size),
                str(point.subgroup.count),
                rate_of(point.subgroup),
                words.limit_words(point),
                words.signal_words(point),
            )
            for point in found.points
        ),
        svg=control_picture(found, says, head=f"per 100 {named}"),
    )


def rate_of(subgroup: Subgroup) -> str:
    """How many for each hundred."""
    return words.per_100(subgroup.count / subgroup.size)
