"""What both missed, from findings that a third person classified: on the page of trends, and by a command."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from app.records.kept import LETTERS
from app.records.kept_reviews import CATEGORIES
from app.review.alone import CaughtByEach, Classified, caught_by_each
from app.review.kappa import Agreement, NoKappa, agreement
from app.review.missed import Estimate, estimate_missed
from app.site.installation import Site
from app.site.loading import rules_in_force
from app.storage import ClassifiedError, Counted, Reader, Tally
from app.workflow.refusals import NoSuchUnit, WrongSpan

MOST_ON_A_PAGE = 250
"""The engine is asked twice of each: so many take about two seconds of one processor."""


@dataclass(frozen=True, kw_only=True)
class BothMissed:
    """What each caught, what neither may have, and how far two agree who classified the same.

    `categories` are the letters that either said, in the order of the table. `findings` were gone by; where
    they are `cut`, older ones were left out, and where they are `known`, those that somebody else alone said
    something of.
    """

    findings: int
    cut: bool
    known: bool
    caught: CaughtByEach
    estimate: Estimate
    categories: str
    agreed: Agreement | NoKappa


def find_both_missed(
    reader: Reader, counted: Counted, *, most: int | None, classifier: str = ""
) -> BothMissed:
    """Of the newest so many findings, or of all; to a classifier what tells nothing of another's answer."""
    found = reader.classified_errors(counted, None if most is None else most + 1, classifier=classifier)
    gone_by = found[:most]
    caught = caught_by_each(_errors(gone_by))
    categories, agreed = _agreed(reader.classified_twice(counted))
    return BothMissed(
        findings=len(gone_by),
        cut=len(gone_by) < len(found),
        known=bool(classifier),
        caught=caught,
        estimate=estimate_missed(caught.caught),
        categories=categories,
        agreed=agreed,
    )


def both_missed_at_host(
    site: Site, now: datetime, *, first: date, last: date, unit: str
) -> BothMissed | WrongSpan | NoSuchUnit:
    """The same of whole days at the site, of one unit or all (blank), for whoever holds the database."""
    if last < first:
        return WrongSpan()
    with site.store.read() as reader:
        if unit and unit not in {each.id for each in reader.units()}:
            return NoSuchUnit()
        zone = ZoneInfo(rules_in_force(reader, now).policy.zone)
        months = [
            datetime.combine(day, time.min, zone).astimezone(UTC) for day in (first, last + timedelta(days=1))
        ]
        return find_both_missed(reader, Counted(months=months, unit=unit), most=None)


def _errors(found: Iterable[ClassifiedError]) -> Iterable[Classified]:
    """One for each field of a check, whatever was found of it: who misread is whoever was said to."""
    by_field: dict[tuple[str, str], list[ClassifiedError]] = {}
    for each in found:
        by_field.setdefault((each.kept.check, each.field), []).append(each)
    for (_, field), same in by_field.items():
        misread = "".join(letter for letter in LETTERS if any(letter in each.readers for each in same))
        yield Classified(case=same[0].kept.opened["case"], field=field, misread=misread)


def _agreed(counted: Iterable[Tally]) -> tuple[str, Agreement | NoKappa]:
    said = Counter({(each.what, each.other): each.count for each in counted})
    letters = "".join(each for each in CATEGORIES if any(each in pair for pair in said))
    return letters, agreement([[said[one, other] for other in letters] for one in letters])
