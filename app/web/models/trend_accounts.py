"""Accounts that did not add up: by month, by device, one after the other, and by unit; of no person."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from fractions import Fraction

from app.reports.trend_pictures import shares_picture, singles_picture
from app.review.charts import Chart, Subgroup, p_chart, side_by_side
from app.review.single import SinglesChart, singles_chart
from app.storage import SEVERAL, OfDevice, Tally
from app.web.models.trend_parts import Section, by_month, rate_of
from app.words import trends as words
from app.workflow.trends import Trend

# With fewer infusions the share of a device says nothing: common practice, no source.
_LEAST_INFUSIONS = 8
# What one page shows.
_MOST_DEVICES = 50
_NOT_ONE = {"": words.DEVICE_NOT_KNOWN, SEVERAL: words.SEVERAL_DEVICES}
_BY_DEVICE = ("Device", "Infusions", "Did not add up", "Per 100", "Limits", "", "By how much, at the end")

Amounts = Sequence[tuple[Fraction, int]]


def account_sections(trend: Trend, units: Mapping[str, str]) -> Iterator[Section]:
    """The parts of the page."""
    yield by_month(
        trend,
        head="By month",
        what=("accounts that did not add up", "infusions with an account"),
        told=words.share_of_words,
        chart=p_chart,
    )
    if not trend.device:
        yield _by_device(trend)
    yield _one_after_the_other(trend)
    if not trend.unit:
        yield _by_unit(trend, units)


def _by_device(trend: Trend) -> Section:
    """Devices beside each other, the worst first: they stand in no order of time."""
    head = "By device"
    if not any(each.device for each in trend.devices):
        return Section(head=head, says=words.NO_DEVICE, columns=_BY_DEVICE, rows=())
    counted = sorted(map(_subgroup, trend.devices), key=_worst_first)
    found = side_by_side([each for each in counted if _is_enough(each)])
    points = {each.subgroup.name: each for each in found.points} if isinstance(found, Chart) else {}
    amounts = _amounts(trend.of_devices)
    few = sum(each.name not in _NOT_ONE and not _is_enough(each) for each in counted)
    says = words.devices_words(found, few=few, least=_LEAST_INFUSIONS, of=len(counted), shown=_MOST_DEVICES)
    shown = counted[:_MOST_DEVICES]
    return Section(
        head=head,
        says=says,
        columns=_BY_DEVICE,
        rows=tuple(
            (
                _NOT_ONE.get(each.name, each.name),
                str(each.size),
                str(each.count),
                rate_of(each),
                words.limit_words(points[each.name]) if each.name in points else "",
                words.signal_words(points[each.name]) if each.name in points else "",
                words.differences_words(amounts.get(each.name, [])),
            )
            for each in shown
        ),
        devices=tuple("" if each.name in _NOT_ONE else each.name for each in shown),
        svg=shares_picture(found, says, head="did not add up, per 100 infusions")
        if isinstance(found, Chart)
        else None,
    )


def _subgroup(counted: OfDevice) -> Subgroup:
    return Subgroup(name=counted.device, count=counted.found, size=Fraction(counted.of))


def _worst_first(each: Subgroup) -> tuple[bool, bool, Fraction, str]:
    """Those of which there is enough, then the others, and last what is of no one device."""
    return (each.name in _NOT_ONE, not _is_enough(each), -each.count / each.size, each.name)


def _is_enough(each: Subgroup) -> bool:
    return each.name not in _NOT_ONE and each.size >= _LEAST_INFUSIONS


def _one_after_the_other(trend: Trend) -> Section:
    """The newest differences, each with its sign: a device that drifts shows here first."""
    figures = [(words.day_words(each.at), Fraction(each.amount)) for each in trend.last]
    found = singles_chart(figures)
    judged = f" {words.AGAINST_ITSELF}" if trend.device else ""
    columns = ("PCA ended on", "Difference", "")
    if not isinstance(found, SinglesChart):
        rows = tuple((name, words.volume_words(amount), "") for name, amount in figures)
        return Section(
            head="Differences at the end of PCA", says=words.too_few_words(found), columns=columns, rows=rows
        )
    says = f"{words.singles_words(found)}{judged}"
    return Section(
        head="Differences at the end of PCA",
        says=says,
        columns=columns,
        rows=tuple(
            (each.name, words.volume_words(each.value), words.signal_words(each)) for each in found.points
        ),
        svg=singles_picture(found, says, head="mL: plus is missing, minus left over"),
    )


def _by_unit(trend: Trend, units: Mapping[str, str]) -> Section:
    return Section(
        head="By unit, at the end of PCA",
        says="The sum of what was missing and the sum of what was left over, of whole infusions.",
        columns=("Unit", "Ended", "Sum of each sign"),
        rows=tuple(
            (units.get(unit, unit), str(sum(count for _, count in each)), words.differences_words(each))
            for unit, each in _amounts(trend.differences).items()
        ),
    )


def _amounts(tallies: Iterable[Tally]) -> dict[str, Amounts]:
    found: dict[str, list[tuple[Fraction, int]]] = {}
    for each in tallies:
        found.setdefault(each.what, []).append((Fraction(each.other), each.count))
    return dict(found)
