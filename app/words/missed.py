"""What both missed, in words: the estimate with its interval, what it assumes, or why there is none."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from app.review.alone import CaughtByEach
from app.review.kappa import Agreement, NoKappa
from app.review.missed import Estimate, Missed, NoneAlone

ASSUMES = (
    "The estimate assumes that the two read independently, that every error is as easy to find as any other, "
    "and that what was found was an error. Where one cause misleads both, as a label that looks like "
    "another, it is too low; errors that nobody can find, as a label that is itself wrong, are not in it."
)
CAUGHT = (
    "An error counts as caught by a nurse where that nurse's own readings of the first round show it: the "
    "engine is given them in place of both, and stops on that field. Only findings of checks that are over "
    "count, and only those that a third person has called an error; who misread has not caught it."
)
LEAST_TOLD = 5
"""Of fewer no count is told: whoever classifies as the second would know what the first said."""
FEW = f"Fewer than {LEAST_TOLD} errors are classified: nothing can be said, and no count of them is shown."
KNOWN = (
    "Findings that two people classified, or you did. You may still be asked what the others were, and a "
    "count of them would tell what your colleague said."
)
ONE_SIDED = (
    "One of the two said the same of each: kappa is then 0 whatever the other said, and tells nothing. "
    "Read the table."
)
UNSTABLE = "Kappa is unstable where that share is near 1: read the table with it."


@dataclass(frozen=True, kw_only=True)
class Part:
    """One part of what is told: sentences, a paragraph a line, with their table."""

    head: str
    says: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...] = ()


def caught_part(found: CaughtByEach, estimate: Estimate) -> Part:
    """What each caught, and what both may have missed."""
    caught, columns = found.caught, ("Caught by", "Errors")
    head = "Caught by one, by both, and by neither"
    if caught.distinct + found.slips < LEAST_TOLD:
        return Part(head=head, says=f"{FEW}\n{CAUGHT}", columns=columns)
    rows = {
        "The first nurse alone": caught.first - caught.both,
        "The second nurse alone": caught.second - caught.both,
        "Both": caught.both,
        "Nobody: what stood there was right, and was misread": found.slips,
    }
    return Part(
        head=head,
        says=f"{missed_words(estimate)}\n{CAUGHT}",
        columns=columns,
        rows=tuple((who, str(count)) for who, count in rows.items()),
    )


def missed_words(found: Estimate) -> str:
    """The estimate in one sentence, or why it is refused."""
    caught = found.caught
    if isinstance(found, Missed):
        least, most = (_rounded(each) for each in (found.interval.low, found.interval.high))
        missed = float(found.missed)
        more = f"about {_rounded(missed)}" if missed >= 1 else _rounded(missed)
        return (
            f"Of {caught.distinct} errors the first nurse caught {caught.first}, the second {caught.second} "
            f"and both {caught.both}. By that, {more} more were caught by neither "
            f"(95 % interval: {least} to {most})."
        )
    if isinstance(found, NoneAlone):
        return (
            "There is no estimate: one of the two caught nothing that the other did not, so that nothing "
            "tells what the other misses."
        )
    return f"Too few to estimate: both caught {caught.both} errors, and {found.least} are needed."


def agreed_part(found: Agreement | NoKappa, categories: str, named: Mapping[str, str]) -> Part:
    """How far two agree who classified the same: a row for the first, a column for the second."""
    return Part(
        head="How far two agree who classified the same",
        says=agreed_words(found),
        columns=("The first said", *(f"Second: {each}" for each in categories)),
        rows=tuple((named[each], *map(str, row)) for each, row in zip(categories, found.table, strict=True)),
    )


def agreed_words(found: Agreement | NoKappa) -> str:
    """Kappa with its standard error, or why there is none."""
    count = sum(map(sum, found.table))
    if not count:
        return "No finding was classified by two people in this time."
    alike = sum(row[place] for place, row in enumerate(found.table))
    said = f"Two people classified {count} findings, and {alike} alike."
    if isinstance(found, NoKappa):
        return f"{said} There is no kappa: both said one and the same of each."
    if 1 in (_used(found.table), _used(tuple(zip(*found.table, strict=True)))):
        return f"{said} {ONE_SIDED}"
    interval = found.interval
    kappa = (
        f"Kappa is {_hundredths(found.kappa)}, with a standard error of {_hundredths(found.error)} "
        f"(95 % interval: {_hundredths(interval.low)} to {_hundredths(interval.high)}); by chance "
        f"alone a share of {_hundredths(found.by_chance)} would be alike."
    )
    here = " So it is here." if found.is_unstable else ""
    return f"{said} {kappa} {UNSTABLE}{here}"


def _used(table: Sequence[Sequence[int]]) -> int:
    """How many categories one of the two gave at all."""
    return sum(any(row) for row in table)


def cut_words(most: int) -> str:
    """Where older findings are left out."""
    return f"Of the newest {most} classified findings of this time: `countersign missed` goes by all."


def _hundredths(value: Fraction | float) -> str:
    return f"{float(value):.2f}".rstrip("0").removesuffix(".").replace("-", "\N{MINUS SIGN}")


def _rounded(value: float) -> str:
    return f"{value:.0f}" if value >= 1 else "fewer than 1"
