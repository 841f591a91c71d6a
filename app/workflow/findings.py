"""The list of findings of checks that have ended: from rows alone, so that a page asks for few things."""

from dataclasses import dataclass
from datetime import datetime

from app.base import Act
from app.people import Permission, Role, may
from app.records.followup import Found, findings_in, sources_of
from app.records.kept_rows import place_of
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
    from_: datetime | None = None
    to: datetime | None = None
    after: FindingPlace | None = None


# Those that are columns of a finding.
_COLUMNS = ("code", "severity", "slip", "origin", "drug", "independence")


@dataclass(frozen=True, kw_only=True)
class PastFinding:
    """One finding of one round, with what was found and which sources it is about."""

    listed: ListedFinding
    says: str
    sources: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class PastFindings:
    """One page of the list, and where the next begins."""

    rows: tuple[PastFinding, ...]
    next_after: FindingPlace | None


def past_findings(site: Site, act: Act, roles: frozenset[Role], wanted: Wanted) -> PastFindings | NotAllowed:
    """One page; a charge nurse sees the own unit, quality and pharmacist every unit."""
    unit = unit_of(act, roles, wanted.unit)
    if isinstance(unit, NotAllowed):
        return unit
    with site.store.read() as reader:
        viewer = viewer_of(reader, act.by, roles, act.now)
        # One more says whether there is a next page.
        listed = reader.page_of_findings(_asked(wanted, unit, viewer, limit=PAGE + 1))
        rows = tuple(_with_words(reader, listed[:PAGE]))
    return PastFindings(rows=rows, next_after=listed[PAGE - 1].place if len(listed) > PAGE else None)


def unit_of(act: Act, roles: frozenset[Role], wanted: str) -> str | NotAllowed:
    """The unit whose findings somebody may read: the one that is wanted, or the own; blank for every unit."""
    if may(roles, Permission.ALL_FINDINGS):
        return wanted
    return act.by.unit if may(roles, Permission.UNIT_FINDINGS) else NotAllowed()


def drugs_listed(site: Site, now: datetime) -> tuple[str, ...]:
    """The drugs of the site's library, by which the list may be filtered."""
    with site.store.read() as reader:
        rules = rules_in_force(reader, now)
    return tuple(sorted(rules.content(LIBRARY)["drugs"], key=str.casefold)) if rules.has_library else ()


def _asked(wanted: Wanted, unit: str, viewer: Viewer, *, limit: int) -> FindingsWanted:
    named = {name: getattr(wanted, name) for name in _COLUMNS} | {"unit": unit}
    return FindingsWanted(
        columns={name: value for name, value in named.items() if value},
        settled=wanted.settled,
        from_=wanted.from_,
        to=wanted.to,
        after=wanted.after,
        # Whoever reads blind at a bed, or of an infusion, sees no earlier check of it.
        hidden_at=viewer.blind_at,
        hidden_on=viewer.blind_on,
        limit=limit,
    )


def _with_words(reader: Reader, listed: tuple[ListedFinding, ...]) -> list[PastFinding]:
    """With what the comparisons say: no row holds what was read."""
    kept = reader.comparisons_of([each.place for each in listed])
    found = {(each.check, each.subject, each.round): findings_in(each.told) for each in kept}
    return [_past(each, found[place_of(each.row)[:-1]][each.row.number - 1]) for each in listed]


def _past(listed: ListedFinding, found: Found) -> PastFinding:
    return PastFinding(listed=listed, says=found.says, sources=sources_of(found))
