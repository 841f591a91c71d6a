"""A site's own policy, where a test wants another than the seeded one."""

from collections.abc import Mapping
from datetime import datetime

from app.records.canonical import canonical, digest
from app.records.field_table import TABLE
from app.records.kept import SiteData
from app.records.rules import POLICY
from app.records.site_events import SiteDataPublished
from app.site.installation import Site
from tests.factories.seeded import seeded

# Whatever a policy may ask for besides.
ALSO_READ = tuple(each.name for each in TABLE if each.by_policy)


def publish_policy(site: Site, at: datetime, **changes: object) -> None:
    """From this moment on the site's policy is the seeded one but for the changes."""
    publish_document(site, at, POLICY, changes)


def publish_document(site: Site, at: datetime, what: str, changes: Mapping[str, object]) -> None:
    """The same of any document."""
    own = {**seeded(what), "version": f"{what}-own", **changes}
    content = canonical(own)
    with site.store.write() as tx:
        made = SiteData(
            what=what,
            version=own["version"],
            content=content,
            digest=digest(content),
            in_force_from=at,
            number=1 + len(tx.versions(what)),
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
