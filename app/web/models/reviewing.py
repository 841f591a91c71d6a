"""One finding as a page: what the two saw, how it came to rest, and what was done with it since."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from app.records.kept_reviews import ASSIGNED, Classification, FindingReview
from app.web.models.check import Head, head_of
from app.web.models.comparison import packs_of
from app.web.models.findings import ShownFinding, shown
from app.web.models.findings_page import where_of
from app.web.models.readings import Row, readings_of, rows_of
from app.web.models.spine import spine_for
from app.words.checking import became_words, settled_words, slip_words, spell
from app.words.findings import GRADES, ORIGINS, found_in_words
from app.words.reviewing import CATEGORIES, DONE, FACTORS, READERS
from app.workflow.refusals import NotAllowed
from app.workflow.reviewing import (
    AlreadyGiven,
    BothGiven,
    FindingSeen,
    NotClassified,
    NotTheirs,
)


@dataclass(frozen=True, kw_only=True)
class DoneLine:
    """One thing that was done with it."""

    words: str
    by: str
    at: datetime
    text: str


@dataclass(frozen=True, kw_only=True)
class GivenLine:
    """What one person says that it was."""

    by: str
    at: datetime
    category: str
    readers: str
    factors: str
    text: str


@dataclass(frozen=True, kw_only=True)
class FindingPage:
    """The page; `classifies`: whoever looks may classify findings, and `why_not` says why not this one."""

    where: Mapping[str, Any]
    head: Head
    finding: ShownFinding
    rows: tuple[Row, ...]
    spine: int
    reading: str
    compared_at: datetime
    outcome: str
    settled: str
    took: str
    origin: str
    slip: str
    independence: str
    earlier_look: bool
    ran: bool
    done: tuple[DoneLine, ...]
    given: tuple[GivenLine, ...]
    untold: int
    classifies: bool
    may_classify: bool
    is_second: bool
    why_not: str


def finding_page(seen: FindingSeen) -> FindingPage:
    """The page for whoever looks."""
    loaded, row, settled = seen.check.loaded, seen.row, seen.settled
    kind = loaded.state.kind
    rows = rows_of(readings_of(seen.kept, packs_of(loaded), kind))
    return FindingPage(
        where=where_of(row),
        head=head_of(seen.check),
        finding=shown(seen.found, rows, loaded.state, seen.check.names),
        rows=rows,
        spine=spine_for(number for each in rows for number in each.numbers),
        reading=found_in_words(row.subject, row.round),
        compared_at=row.compared_at,
        outcome=became_words(seen.ended.how),
        settled=settled_words(settled.settled, settled.settled_outcome),
        took="" if settled.seconds_to_settle is None else spell(settled.seconds_to_settle),
        origin=ORIGINS.get(row.origin, ""),
        slip=slip_words(row.slip),
        independence=GRADES.get(row.independence, ""),
        earlier_look=row.earlier_look,
        ran=kind.is_running,
        done=tuple(_done(each, seen) for each in seen.reviews),
        given=tuple(_given(each, seen.people) for each in seen.given),
        untold=seen.classified - len(seen.given),
        classifies=not isinstance(seen.why_not, NotAllowed),
        may_classify=seen.why_not is None,
        is_second=seen.classified == 1,
        why_not=why_not_words(seen.why_not),
    )


def why_not_words(why: NotClassified | None) -> str:
    """Why somebody does not classify a finding; blank where they may, or never could."""
    match why:
        case NotTheirs():
            return "You took part in this check, or took its request for help: a third person classifies it."
        case AlreadyGiven():
            return "You have classified it. Another may do so too, without being told what you said or write."
        case BothGiven():
            return "Two people have classified it."
        case NotAllowed() | None:
            return ""


def _done(each: FindingReview, seen: FindingSeen) -> DoneLine:
    to = f" {seen.people.get(each.assigned_to, '')}" if each.what == ASSIGNED else ""
    # Whoever has left will not look through it.
    left = ", who can no longer sign in" if each.assigned_to in seen.gone else ""
    return DoneLine(
        words=f"{DONE[each.what]}{to}{left}",
        by=seen.people.get(each.person, ""),
        at=each.at,
        text=each.text,
    )


def _given(each: Classification, people: Mapping[str, str]) -> GivenLine:
    return GivenLine(
        by=people.get(each.person, ""),
        at=each.at,
        category=CATEGORIES[each.category],
        readers=READERS[each.readers],
        factors=", ".join(FACTORS[factor] for factor in each.factors.split()),
        text=each.text,
    )
