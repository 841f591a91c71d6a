"""A site's own policy, where a test wants another than the seeded one."""

from collections.abc import Mapping
from datetime import datetime

from app.base import Act, Actor, Method
from app.people import Role
from app.records.canonical import canonical, digest
from app.records.field_table import TABLE
from app.records.kept import SiteData
from app.records.rules import POLICY
from app.records.site_events import SiteDataPublished
from app.site.installation import Site
from app.workflow.proposing import Draft, keep_approval, keep_proposal
from tests.factories.seeded import seeded

# Whatever a policy may ask for besides.
ALSO_READ = tuple(each.name for each in TABLE if each.by_policy)


def publish_policy(site: Site, at: datetime, **changes: object) -> None:
    """From this moment on the site's policy is the seeded one but for the changes."""
    publish_document(site, at, POLICY, changes)


def _act(person: str, at: datetime, proposal: str) -> Act:
    by = Actor(person=person, session="", device="", signed_in_at=at, unit="", method=Method.SECRET)
    return Act(now=at, by=by, new_id=lambda: proposal)


def publish_document(site: Site, at: datetime, what: str, changes: Mapping[str, object]) -> None:
    """The same of any document; two approve it, where there are two who may."""
    own = {**seeded(what), "version": f"{what}-own", **changes}
    content = canonical(own)
    with site.store.write() as tx:
        number = 1 + len(tx.versions(what))
        roles = {row["role"]: row["person"] for row in tx.rows("person_role")}
        if {"pharmacist", "administrator"} <= roles.keys():
            one, other = (
                _act(roles[role], at, f"{what}-{number}") for role in ("pharmacist", "administrator")
            )
            draft = Draft(what=what, content=own, why="a test", in_force_from=None, against="")
            proposal = keep_proposal(tx, one, frozenset({Role.PHARMACIST}), draft)
            keep_approval(tx, other, frozenset({Role.ADMINISTRATOR}), proposal)
            return
        made = SiteData(
            what=what,
            version=own["version"],
            content=content,
            digest=digest(content),
            in_force_from=at,
            number=number,
        )
        tx.publish(made)
        told = SiteDataPublished(
            what=what,
            version=made.version,
            digest=made.digest,
            number=made.number,
            in_force_from=at.isoformat(),
        )
        tx.append(told, at=at)
