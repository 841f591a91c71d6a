"""The page of one trend: each part a sentence, a picture where there is enough to judge, and a table."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from app.records.followup import Severity
from app.records.independence import Grade
from app.records.kinds import KINDS
from app.reports.trend_pictures import bars_picture, between_picture, spread_picture
from app.review.between import BetweenChart, Gap, g_chart, t_chart
from app.review.charts import TooFewPoints, u_chart
from app.review.durations import Spread, spread
from app.review.pareto import pareto
from app.storage import Tally, Took
from app.web.models.trend_accounts import account_sections
from app.web.models.trend_parts import Section, by_month
from app.words import trends as words
from app.words.checking import code_words, settled_words
from app.words.findings import SLIP_CHOICES
from app.words.missed import ASSUMES, KNOWN, agreed_part, caught_part, cut_words
from app.words.names import SEVERITIES, finding_field_words
from app.words.reviewing import CATEGORIES
from app.words.screens import kind_words
from app.workflow.trends import About, Trend

_MOST_BARS = 10
# With so many between two on average one month is told from another by its share alone.
_RARE_FROM = 9
_DAY = 24 * 60 * 60
TITLES: Mapping[About, str] = {
    About.FINDINGS: "Findings per 100 checks",
    About.CODES: "What is found",
    About.TIMES: "How long it takes",
    About.INDEPENDENCE: "How independent the readings were",
    About.CAUTIONS: "Cautions, by rule",
    About.DUE: "Checks due and done",
    About.ACCOUNTS: "Accounts that do not add up",
    About.MISSED: "What both missed",
}
_RULES: Mapping[About, str] = {
    About.FINDINGS: f"{words.RULES} {words.IN_BRACKETS}",
    About.CODES: words.OF_CODES,
    About.TIMES: words.OF_TIMES,
    About.INDEPENDENCE: f"{words.OF_GRADES} {words.IN_BRACKETS}",
    About.CAUTIONS: words.IN_BRACKETS,
    About.DUE: words.IN_BRACKETS,
    About.ACCOUNTS: f"{words.RULES} {words.OF_DEVICES} {words.IN_BRACKETS}",
    About.MISSED: ASSUMES,
}


@dataclass(frozen=True, kw_only=True)
class TrendPage:
    """One trend, and what others there are."""

    about: str
    title: str
    sections: tuple[Section, ...]
    rules: str = ""

    @property
    def asks_for_device(self) -> bool:
        """Whether it may be asked for of one device."""
        return self.about == About.ACCOUNTS

    @property
    def others(self) -> tuple[tuple[str, str], ...]:
        """The other trends: what stands in their address, and what they are called."""
        return tuple((each.value, title) for each, title in TITLES.items() if each.value != self.about)


def no_trend(about: About) -> TrendPage:
    """Where what was asked cannot be read."""
    return TrendPage(about=about.value, title=TITLES[about], sections=())


def trend_page(trend: Trend, units: Mapping[str, str]) -> TrendPage:
    """The page; `units` names each unit."""
    return TrendPage(
        about=trend.about.value,
        title=f"{TITLES[trend.about]}{words.on_device_words(trend.device)}",
        sections=tuple(_SECTIONS[trend.about](trend, units)),
        rules=_RULES.get(trend.about, ""),
    )


def _findings(trend: Trend, units: Mapping[str, str]) -> Iterable[Section]:
    yield by_month(
        trend,
        head="By month",
        what=("findings that said DO NOT START", "checks"),
        told=words.rate_words,
        chart=u_chart,
    )
    yield from _rare(trend)
    if not trend.unit:
        yield _by_unit(trend, units)


def _rare(trend: Trend) -> Iterable[Section]:
    """What lies between one check that was stopped and the next: checks without one, and days."""
    pairs = list(pairwise(trend.rare))
    names = [f"{after.at:%Y-%m-%d}" for _, after in pairs]
    checks = g_chart(
        [(name, after.place - before.place - 1) for name, (before, after) in zip(names, pairs, strict=True)]
    )
    if isinstance(checks, BetweenChart) and checks.mean < _RARE_FROM:
        yield Section(head="Between one and the next", says=words.NOT_RARE, columns=(), rows=())
        return
    yield _between("Checks between one and the next", checks, "checks without one")
    days = t_chart(
        [
            Gap(name=name, length=Fraction(int((after.at - before.at).total_seconds()), _DAY))
            for name, (before, after) in zip(names, pairs, strict=True)
        ]
    )
    yield _between("Days between one and the next", days, "days")


def _between(head: str, found: BetweenChart | TooFewPoints, named: str) -> Section:
    columns = ("Check of", f"{named[0].upper()}{named[1:]} before it", "")
    if not isinstance(found, BetweenChart):
        return Section(head=head, says=words.too_few_words(found), columns=columns, rows=())
    says = words.between_words(found, named)
    return Section(
        head=head,
        says=says,
        columns=columns,
        rows=tuple(
            (each.gap.name, f"{float(each.gap.length):.0f}", words.signal_words(each))
            for each in found.points
        ),
        svg=between_picture(found, says, head=named),
    )


def _by_unit(trend: Trend, units: Mapping[str, str]) -> Section:
    checks, stops = dict.fromkeys(units, 0), dict.fromkeys(units, 0)
    for each in trend.by_month:
        checks[each.unit] = checks.get(each.unit, 0) + each.of
        stops[each.unit] = stops.get(each.unit, 0) + each.found
    return Section(
        head="By unit",
        says="Units differ in whom they treat: compare a unit with itself first.",
        columns=("Unit", "Checks", "Found", "Per 100"),
        rows=tuple(
            (
                units.get(unit, unit),
                str(of),
                str(stops[unit]),
                words.per_100(Fraction(stops[unit], of)) if of else "",
            )
            for unit, of in checks.items()
        ),
    )


def _codes(trend: Trend, _units: Mapping[str, str]) -> Iterable[Section]:
    yield _pareto("By finding", trend.codes, code_words)
    yield _pareto("By field", trend.fields, finding_field_words)
    yield _pareto("By what the values are consistent with", trend.slips, SLIP_CHOICES.__getitem__)


def _pareto(head: str, counted: Iterable[Tally], named: Callable[[str], str]) -> Section:
    by_severity: dict[str, dict[str, int]] = {}
    for each in counted:
        by_severity.setdefault(each.what, {})[each.other] = each.count
    bars = pareto({what: sum(some.values()) for what, some in by_severity.items()})
    rows = [(named(each.kind), each.count) for each in bars]
    columns = ("What", "How often", *(SEVERITIES[each] for each in _STAND_IN_THE_WAY), "With those above it")
    if not bars:
        return Section(head=head, says="Nothing was found in this time.", columns=columns, rows=())
    says = words.most_words(rows)
    return Section(
        head=head,
        says=says,
        columns=columns,
        rows=tuple(
            (
                named(each.kind),
                str(each.count),
                *(str(by_severity[each.kind].get(severity, 0)) for severity in _STAND_IN_THE_WAY),
                f"{float(each.together):.0%}".replace("%", " %"),
            )
            for each in bars
        ),
        svg=bars_picture(rows[:_MOST_BARS], says),
    )


_STAND_IN_THE_WAY = (Severity.STOP, Severity.CAUTION)


def _times(trend: Trend, _units: Mapping[str, str]) -> Iterable[Section]:
    yield _took("From opening until both had signed", trend.clearing, kind_words)
    yield _took("From a finding until it had come to rest", trend.settling, SEVERITIES.__getitem__)


def _took(head: str, counted: Iterable[Took], named: Callable[[str], str]) -> Section:
    seconds: dict[str, list[int]] = {}
    for each in counted:
        seconds.setdefault(each.what, []).extend([each.minutes * 60] * each.count)
    found = [(named(what), took) for what, all_of in seconds.items() if (took := spread(all_of))]
    judged = [(name, each) for name, each in found if each.count >= words.TIMES_FROM]
    says = words.times_words(judged, [name for name, each in found if each.count < words.TIMES_FROM])
    return Section(
        head=head,
        says=says,
        columns=("What", "How many", "Half within", "Nine of ten within"),
        rows=tuple(_took_row(name, each) for name, each in found),
        svg=spread_picture(judged, says) if judged else None,
    )


def _took_row(name: str, found: Spread) -> tuple[str, ...]:
    if found.count < words.TIMES_FROM:
        return (name, str(found.count), "", "")
    return (name, str(found.count), words.took_words(found.median), words.took_words(found.ninth))


def _independence(trend: Trend, _units: Mapping[str, str]) -> Iterable[Section]:
    whole = sum(each.count for each in trend.grades)
    looked = sum(each.count for each in trend.grades if each.other)
    grades: dict[str, int] = {}
    for each in trend.grades:
        grades[each.what] = grades.get(each.what, 0) + each.count
    in_order = sorted(grades.items(), key=lambda each: words.grade_place(each[0]))
    rows = [(words.grade_words(code), count) for code, count in in_order]
    columns = ("How the two read, the best first", "Checks", "Of all")
    if not whole:
        yield Section(head="By grade", says="Nothing was checked in this time.", columns=columns, rows=())
        return
    says = words.independence_trend_words(grades.get(Grade.TWO_DEVICES.code, 0), looked, whole)
    yield Section(
        head="By grade",
        says=says,
        columns=columns,
        rows=tuple((name, str(count), words.percent_words(count, whole)) for name, count in rows),
        svg=bars_picture(rows, says),
    )


def _cautions(trend: Trend, _units: Mapping[str, str]) -> Iterable[Section]:
    shown: dict[str, dict[str, int]] = {}
    for each in trend.cautions:
        shown.setdefault(each.what, {})[each.other] = each.count
    rows, always = [], []
    for code, came in sorted(shown.items(), key=lambda each: (-sum(each[1].values()), each[0])):
        whole, acknowledged = sum(came.values()), came.get(_ACKNOWLEDGED, 0)
        others = "; ".join(
            f"{settled_words(how)}: {count}" for how, count in came.items() if how != _ACKNOWLEDGED
        )
        rows.append((code_words(code), words.share_words(acknowledged, whole), others))
        if acknowledged == whole >= words.ALWAYS_FROM:
            always.append(code_words(code))
    yield Section(
        head="Acknowledged, of all that were shown",
        says=words.always_words(always),
        columns=("Caution", "Acknowledged by both", "Otherwise"),
        rows=tuple(rows),
    )


_ACKNOWLEDGED = "acknowledged"


def _due(trend: Trend, _units: Mapping[str, str]) -> Iterable[Section]:
    yield Section(
        head="Due, and had",
        says=words.due_words(sum(each.due for each in trend.due), sum(each.in_time for each in trend.due)),
        columns=("Due after", "Due", "Had in time", "Had later", "Not had"),
        rows=tuple(
            (
                words.DUE_AFTER[each.kind],
                str(each.due),
                str(each.in_time),
                str(each.later),
                str(each.due - each.in_time - each.later),
            )
            for each in trend.due
        ),
    )
    kinds: dict[str, dict[str, int]] = {}
    for each in trend.kinds:
        kinds.setdefault(each.what, {})[each.other] = each.count
    yield Section(
        head="Done, by kind of check",
        says="Of the checks whose readings were compared.",
        columns=("Kind of check", *words.ENDED.values()),
        rows=tuple(
            (kind_words(kind), *(str(kinds[kind].get(how, 0)) for how in words.ENDED))
            for kind in KINDS
            if kind in kinds
        ),
    )


def _missed(trend: Trend, _units: Mapping[str, str]) -> Iterable[Section]:
    found = trend.missed
    assert found is not None  # noqa: S101  # this trend is of nothing else
    parts = (
        caught_part(found.caught, found.estimate),
        agreed_part(found.agreed, found.categories, CATEGORIES),
    )
    if found.known:
        yield Section(head="What is counted here", says=KNOWN, columns=(), rows=())
    if found.cut:
        yield Section(head="Not all of them", says=cut_words(found.findings), columns=(), rows=())
    yield from (Section(**vars(part)) for part in parts)


_SECTIONS: Mapping[About, Callable[[Trend, Mapping[str, str]], Iterable[Section]]] = {
    About.FINDINGS: _findings,
    About.CODES: _codes,
    About.TIMES: _times,
    About.INDEPENDENCE: _independence,
    About.CAUTIONS: _cautions,
    About.DUE: _due,
    About.ACCOUNTS: account_sections,
    About.MISSED: _missed,
}
