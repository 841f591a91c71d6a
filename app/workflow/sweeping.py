"""Finish what a crash or a lost connection left: comparisons not made, PDFs not stored."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta

from app.workflow.comparing import compare_round
from app.workflow.issuing import issue_record
from app.workflow.site import Site

LEASE = "sweeper"
LEASE_TIME = timedelta(seconds=30)


@dataclass(frozen=True, kw_only=True)
class Swept:
    """What one sweep finished; `failed` names the checks that it could not finish and the kind of fault."""

    compared: int
    issued: int
    failed: tuple[str, ...] = ()


def sweep_once(site: Site, now: datetime, *, holder: str) -> Swept | None:
    """One sweep under the lease; None when another process holds it."""
    with site.store.write() as tx:
        if not tx.take_lease(LEASE, holder, now=now, until=now + LEASE_TIME):
            return None
    with site.store.read() as reader:
        uncompared, unissued = reader.uncompared(), reader.unissued()
    failed: list[str] = []
    compared = sum(_finished(failed, check, compare_round, site, check, now) for check, _, _ in uncompared)
    issued = sum(
        _finished(failed, check, issue_record, site, check, edition, now) for check, edition in unissued
    )
    return Swept(compared=compared, issued=issued, failed=tuple(failed))


def _finished(failed: list[str], check: str, finish: Callable[..., bool], *arguments: object) -> bool:
    try:
        return finish(*arguments)
    except Exception as error:  # noqa: BLE001  # one check that cannot be finished must not hold up all others
        failed.append(f"{check}: {type(error).__name__}")
        return False
