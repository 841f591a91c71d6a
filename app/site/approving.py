"""Whether each version of the site's rules came into force as it must: by one person, and by another."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime

from app.people import Permission, Role, may
from app.records import site_events
from app.records.kept import Entry
from app.records.rules import LIBRARY

# Of which the log is asked.
OF_APPROVALS = (
    site_events.InstallationFounded,
    site_events.RulesProposed,
    site_events.ProposalApproved,
    site_events.SiteDataPublished,
)


@dataclass(frozen=True, kw_only=True)
class Unapproved:
    """A version that nobody may be treated by, and why."""

    what: str
    version: str
    why: str


def approves(what: str) -> Permission:
    """What whoever approves a document must be permitted: of a drug library, that is another pharmacist."""
    return Permission.PROPOSE_RULES if what == LIBRARY else Permission.APPROVE_RULES


def unapproved(entries: Iterable[Entry], versions: Iterable[tuple[str, str]]) -> Iterator[Unapproved]:
    """Of these versions (document and name) those that the log's entries do not bring into force."""
    found = _published(entries)
    for what, version in versions:
        why = found.get((what, version), "the log tells nothing of it")
        if why:
            yield Unapproved(what=what, version=version, why=why)


def _published(entries: Iterable[Entry]) -> dict[tuple[str, str], str]:
    """Why each version that the log tells of may not count; empty where it may."""
    installed_at: datetime | None = None
    proposed: dict[str, Entry] = {}
    approved: dict[tuple[str, str, str], tuple[Entry, Entry]] = {}
    found: dict[tuple[str, str], str] = {}
    for entry in entries:
        match entry.event:
            case site_events.InstallationFounded():
                installed_at = installed_at or entry.at
            case site_events.RulesProposed(proposal=proposal):
                proposed[proposal] = entry
            case site_events.ProposalApproved(proposal=proposal) if proposal in proposed:
                its = proposed[proposal]
                assert isinstance(its.event, site_events.RulesProposed)  # noqa: S101  # kept so just above
                approved[its.event.what, its.event.version, its.event.digest] = its, entry
            case site_events.SiteDataPublished(what=what, version=version, digest=digest) as event:
                # With the installation came the first of each, at the same moment.
                is_first = event.number == 1 and not entry.by and installed_at in (None, entry.at)
                why = "" if is_first else _why_not(approved.get((what, version, digest)), event)
                found[what, version] = why
            case _:
                pass
    return found


def _why_not(two: tuple[Entry, Entry] | None, published: site_events.SiteDataPublished) -> str:
    """Why a version that was proposed and approved, as far as the log tells, does not count."""
    if two is None:
        return "nobody approved it"
    (proposed, one), (approved, other) = ((each, each.event) for each in two)
    assert isinstance(one, site_events.RulesProposed)  # noqa: S101  # kept so above
    assert isinstance(other, site_events.ProposalApproved)  # noqa: S101  # likewise
    if approved.by == proposed.by:
        return "whoever proposed it approved it"
    if not _may(one.roles, Permission.PROPOSE_RULES):
        return "whoever proposed it was no pharmacist"
    if not _may(other.roles, approves(one.what)):
        whom = "pharmacist" if one.what == LIBRARY else "administrator"
        return f"whoever approved it was no {whom}"
    asked = datetime.fromisoformat(one.in_force_from) if one.in_force_from else approved.at
    is_early = datetime.fromisoformat(published.in_force_from) < max(asked, approved.at)
    return "it counts from earlier than was approved" if is_early else ""


def _may(roles: Iterable[str], permission: Permission) -> bool:
    return may((role for role in Role if role.value in roles), permission)
