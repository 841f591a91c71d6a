"""The list of findings of checks that have ended: from rows alone, so that a page asks for few things."""

from dataclasses import dataclass, replace
from datetime import datetime

from app.base import Act, Actor, Method
from app.people import Permission, Role, may
from app.records.followup import Found, findings_in, sources_of
from app.records.kept_rows import FindingReached, place_of
from app.records.reached import ReviewState
from app.records.rules import LIBRARY
from app.records.visibility import Viewer
from app.site.installation import Site
from app.site.loading import rules_in_force
from app.storage import FindingPlace, FindingsWanted, ListedFinding, Reader
from app.workflow.loading import viewer_of
from app.workflow.refusals import NotAllowed

PAGE = 25


@dataclass(frozen=True, kw_only=True)
class Wanted:
    """What the list is filtered by; blank means all."""

    unit: str = ""
    code: str = ""
    severity: str = ""
    slip: str = ""
    origin: str = ""
    drug: str = ""
    independence: str = ""
    settled: str = ""
    review: ReviewState | None = None
    from_: datetime | None = None
    to: datetime | None = None
    after: FindingPlace | None = None


# Those that are columns of a finding.
_COLUMNS = ("code", "severity", "slip", "origin", "drug", "independence")


@dataclass(frozen=True, kw_only=True)
class PastFinding:
    """One finding of one round: of which sources, and how far its review has come.

    No sentence of the comparison: it has doses in it, and a list has none. They stand on the finding's page,
    where the look is written down.
    """

    listed: ListedFinding
    sources: tuple[str, ...]
    reached: tuple[FindingReached, ...]


@dataclass(frozen=True, kw_only=True)
class PastFindings:
    """One page of the list, and where the next begins.

    `until` says how far back was looked for what the page lacks, where that was not the end of the list.
    """

    rows: tuple[PastFinding, ...]
    next_after: FindingPlace | None
    until: datetime | None = None


def past_findings(site: Site, act: Act, roles: frozenset[Role], wanted: Wanted) -> PastFindings | NotAllowed:
    """One page; a charge nurse sees the own unit, quality and pharmacist every unit."""
    unit = unit_of(act, roles, wanted.unit)
    if isinstance(unit, NotAllowed):
        return unit
    with site.store.read() as reader:
        viewer = viewer_of(reader, act.by, roles, act.now)
        return page_of(reader, _asked(wanted, unit, viewer))


def page_of(reader: Reader, asked: FindingsWanted) -> PastFindings:
    """One page of what is asked for."""
    # One more says whether there is a next page.
    listed = reader.page_of_findings(replace(asked, limit=PAGE + 1))
    rows = tuple(_with_sources(reader, listed[:PAGE]))
    if len(listed) > PAGE:
        return PastFindings(rows=rows, next_after=listed[PAGE - 1].place)
    last = reader.looked_at_until(asked)
    return PastFindings(rows=rows, next_after=last, until=last.compared_at if last else None)


def unit_of(act: Act, roles: frozenset[Role], wanted: str) -> str | NotAllowed:
    """The unit whose findings somebody may read: the one that is wanted, or the own; blank for every unit."""
    if sees_every_unit(act.by, roles):
        return wanted
    return act.by.unit if may(roles, Permission.UNIT_FINDINGS) else NotAllowed()


def sees_every_unit(by: Actor, roles: frozenset[Role]) -> bool:
    """Whether of every unit: six digits in place of the secret open a charge nurse's own alone."""
    return may(roles, Permission.ALL_FINDINGS) and by.method is not Method.PIN


def drugs_listed(site: Site, now: datetime) -> tuple[str, ...]:
    """The drugs of the site's library, by which the list may be filtered."""
    with site.store.read() as reader:
        rules = rules_in_force(reader, now)
    return tuple(sorted(rules.content(LIBRARY)["drugs"], key=str.casefold)) if rules.has_library else ()


def _asked(wanted: Wanted, unit: str, viewer: Viewer) -> FindingsWanted:
    named = {name: getattr(wanted, name) for name in _COLUMNS} | {"unit": unit}
    return FindingsWanted(
        columns={name: value for name, value in named.items() if value},
        settled=wanted.settled,
        review=wanted.review,
        person=viewer.person,
        from_=wanted.from_,
        to=wanted.to,
        after=wanted.after,
        # Whoever reads blind at a bed, or of an infusion, sees no earlier check of it.
        hidden_at=viewer.blind_at,
        hidden_on=viewer.blind_on,
        limit=PAGE,
    )


def _with_sources(reader: Reader, listed: tuple[ListedFinding, ...]) -> list[PastFinding]:
    """With the sources that the comparisons name."""
    places = [each.place for each in listed]
    kept = reader.comparisons_of(places)
    reached: dict[object, tuple[FindingReached, ...]] = {}
    for each in reader.reached_by(places):
        reached[place_of(each)] = (*reached.get(place_of(each), ()), each)
    found = {(each.check, each.subject, each.round): findings_in(each.told) for each in kept}
    return [
        _past(
            each,
            found[place_of(each.row)[:-1]][each.row.number - 1],
            reached.get(place_of(each.row), ()),
        )
        for each in listed
    ]


def _past(listed: ListedFinding, found: Found, reached: tuple[FindingReached, ...]) -> PastFinding:
    return PastFinding(listed=listed, sources=sources_of(found), reached=reached)
