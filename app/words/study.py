"""The words of the study of ways of checking."""

from collections.abc import Iterator, Mapping
from fractions import Fraction

from app.review.coverage import Condition, Covered
from app.review.intervals import Share, wilson
from app.review.mixes import ALONE, EXPECTS, LED, MISREAD, MIXES, SHARED, Chance
from app.review.plan import NO_ERROR, Findings
from app.review.study import Assumed, Way
from app.words.errors import ERRORS

WAYS: Mapping[Way, str] = {
    Way.ONE: "one reader",
    Way.PRIMED: "two, primed",
    Way.BLIND: "two, blind",
    Way.ENGINE: "two, blind, with the engine",
}

MIX_NAMES: Mapping[str, str] = {
    "pca-hospital": "As in one hospital's PCA errors",
    "pca-reports": "As in voluntary reports of PCA errors",
    "even": "Each kind as often as any other",
}


ROWS: Mapping[str, str] = {**{error.value: words for error, words in ERRORS.items()}, **MIX_NAMES}
"""What there is a row for: each kind of error, then each mix."""

DEPENDS = (
    "With the engine an error of a source that is read is missed where both hand in what they expected. How "
    "often somebody does, nobody has measured: try --expects 20 and --expects 40."
)
_FIRST, _COLUMN = 40, 28


def ways_row() -> Iterator[str]:
    """The head of the table."""
    yield _row("", *WAYS.values())


def share_rows(found: Findings, shared: Fraction) -> Iterator[str]:
    """A row for each kind of error, then one for each mix."""
    for name, words in ROWS.items():
        caught = found.caught[name, shared]
        yield _row(words, *(share_with_interval(caught.by[way], caught.made) for way in WAYS))


def nothing_row(found: Findings, shared: Fraction) -> str:
    """What the engine's way costs where there is no error."""
    caught = found.caught[NO_ERROR, shared]
    stopped = share_with_interval(caught.by[Way.ENGINE], caught.made)
    return f"Checks without an error that are read again, as one of the two got a number wrong: {stopped}"


def coverage_rows(covered: Mapping[Condition, Covered]) -> Iterator[str]:
    """How often the interval holds the truth under each condition, and how far the estimate is from it."""
    yield _row("", "interval holds it", "errors estimated, mean", "errors missed, mean", "no estimate")
    for condition, each in covered.items():
        held = share_with_interval(each.held, each.given) if each.given else "none given"
        estimated = f"{float(each.estimated) / each.given:.1f}" if each.given else ""
        missed = f"{each.missed / each.given:.1f}" if each.given else ""
        yield _row(_condition(condition), held, estimated, missed, f"{each.refused} of {each.tried}")


def _condition(condition: Condition) -> str:
    alike = "equally easy" if condition.equal else "not equally easy"
    causes = f"one cause in {percent(condition.shared)}" if condition.shared else "independent"
    return f"{causes}, {alike}"


def assumptions(assumed: Assumed) -> Iterator[str]:
    """What the study stands on, each with its source; what was set otherwise says so."""
    yield from (f"mix, {MIX_NAMES[mix.name]}: {mix.source}" for mix in MIXES)
    for chance in dict.fromkeys(ALONE.values()):
        found = "; ".join(ERRORS[error] for error, each in ALONE.items() if each == chance)
        yield f"{percent(chance.share)} found by one reader: {chance.source}. So of: {found}"
    yield _assumed(assumed.expects, EXPECTS)
    yield _assumed(assumed.led, LED)
    yield _assumed(assumed.shared, SHARED)
    yield _assumed(assumed.misread, MISREAD)


def _assumed(share: Fraction, otherwise: Chance) -> str:
    source = otherwise.source if share == otherwise.share else f"{otherwise.source}; here set by hand"
    return f"{percent(share)}: {source}"


def percent(share: Fraction) -> str:
    """To a tenth of a percent, where it has one."""
    return f"{float(share * 100):.1f}".removesuffix(".0") + " %"


def share_with_interval(count: int, of: int) -> str:
    """A share with what it lies between, as `45.0 % (42.8 to 47.2)`."""
    share = Share(count=count, of=of)
    interval = wilson(share).times(100)
    return f"{float(share.value) * 100:.1f} % ({interval.low:.1f} to {interval.high:.1f})"


def _row(first: str, *columns: str) -> str:
    return f"{first:<{_FIRST}}" + "".join(f"{each:>{_COLUMN}}" for each in columns)
