"""Finish what a crash or a lost connection left: comparisons not made, PDFs not stored."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from app.workflow.comparing import compare_round
from app.workflow.issuing import issue_record
from app.workflow.site import Site

LEASE = "sweeper"
LEASE_TIME = timedelta(seconds=30)


@dataclass(frozen=True, kw_only=True)
class Swept:
    """What one sweep finished."""

    compared: int
    issued: int


def sweep_once(site: Site, now: datetime, *, holder: str) -> Swept | None:
    """One sweep under the lease; None when another process holds it."""
    with site.store.write() as tx:
        if not tx.take_lease(LEASE, holder, now=now, until=now + LEASE_TIME):
            return None
    with site.store.read() as reader:
        uncompared, unissued = reader.uncompared(), reader.unissued()
    compared = sum(compare_round(site, check, now) for check, _, _ in uncompared)
    issued = sum(issue_record(site, check, edition, now) for check, edition in unissued)
    return Swept(compared=compared, issued=issued)
