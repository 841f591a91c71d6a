"""Finish what a crash or a lost connection left, and tell what followed a record and sign the log in time."""

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from functools import partial
from typing import TypeVar

from app.auditing.access_digest import digest_accesses
from app.auditing.checkpointing import HistoryChanged
from app.auditing.keeping_checkpoints import keep_checkpoints
from app.records.kept import KeptCheck
from app.site.installation import KeysUnusable, Site
from app.site.loading import load_check, lock_and_load
from app.storage import Reader
from app.workflow.comparing import compare_round
from app.workflow.exporting import tend_exports
from app.workflow.following import tell_what_followed
from app.workflow.issuing import Issued, LeftAlone, issue_record
from app.workflow.issuing_competency import issue_competency

LEASE = "sweeper"
# With the pause between two sweeps: how soon after a crash another process takes up what was left.
LEASE_TIME = timedelta(seconds=3)

Done = TypeVar("Done")


@dataclass(frozen=True, kw_only=True)
class Swept:
    """What one sweep finished; `told` counts the records of which it told what followed, `lapsed` clearances.

    `failed` names the checks, or the exports, that it could not finish and the kind of fault;
    `waiting` counts the cleared records that nobody can seal until somebody has put right what `why` says,
    which may also be what keeps the log from being signed. Up to the position `settled` of the log nothing is
    left, so that the next sweep need not look there again.
    """

    compared: int
    issued: int
    told: int = 0
    lapsed: int = 0
    failed: tuple[str, ...] = ()
    waiting: int = 0
    why: str = ""
    settled: int = field(default=0, compare=False)
    settled_at: datetime | None = field(default=None, compare=False)

    @property
    def left(self) -> str:
        """What was left undone, for whoever runs the site; empty when nothing was."""
        told = []
        if self.failed:
            told.append(f"{len(self.failed)} could not be finished")
        if self.waiting:
            told.append(f"{self.waiting} cleared records wait for their PDF: {self.why}")
        elif self.why:
            told.append(f"the log could not be signed: {self.why}")
        return "; ".join(told)


@dataclass(frozen=True, kw_only=True)
class Standing:
    """What waits for a sweep: rounds, records and for how many seconds the oldest of these; the last sweep.

    Up to the position `settled` nothing waited, so that whoever asks again need not look there.
    """

    uncompared: int
    unsealed: int
    oldest: float
    swept_at: float
    settled: int


def see_standing(site: Site, now: datetime, *, after: int = 0) -> Standing:
    """What waits, of what happened after a position; raises StoreUnavailable."""
    with site.store.read() as reader:
        head, leases = reader.head(), [each["until"] for each in reader.rows("lease", name=LEASE)]
        uncompared, unissued = reader.uncompared(after=after), reader.unissued(after=after)
        since = [max(_signed(reader, check, edition)) for check, edition in unissued]
    return Standing(
        uncompared=len(uncompared),
        unsealed=len(unissued),
        oldest=max((now - min(since, default=now)).total_seconds(), 0),
        swept_at=(leases[0] - LEASE_TIME).timestamp() if leases else 0,
        settled=after if uncompared or unissued else head,
    )


def _signed(reader: Reader, check: str, edition: int) -> list[datetime]:
    """When each of the two signed."""
    return [each.signed_at for each in reader.signatures(check) if each.edition == edition]


def sweep_once(
    site: Site, now: datetime, *, holder: str, after: int = 0, since: datetime | None = None
) -> Swept | None:
    """One sweep under the lease, of what happened after a position, and was due since a moment.

    None when another process holds the lease.
    """
    with site.store.write() as tx:
        if not tx.take_lease(LEASE, holder, now=now, until=now + LEASE_TIME):
            return None
    failed: list[str] = []
    lapsed = _write_down_lapses(site, now, failed)
    with site.store.read() as reader:
        head = reader.head()
        uncompared, unissued = reader.uncompared(after=after), reader.unissued(after=after)
        untold = reader.untold(now, after=after, since=since)
        of_training = reader.unsealed_competencies(after=after)
    compared = sum(
        bool(_finished(failed, check, compare_round, site, check, now)) for check, _, _ in uncompared
    )
    issue, tell = partial(issue_record, site, now=now), partial(tell_what_followed, site, now=now)
    trained: list[Issued] = []
    issued, stopped = _made(issue, unissued, failed)
    if not stopped:
        trained, stopped = _made(partial(issue_competency, site, now=now), of_training, failed)
    left: list[str] = []
    told, unsealed = ([], stopped) if stopped else _made(tell, untold, left)
    digest_accesses(site, now)
    _finished(failed, "exports", tend_exports, site, now)
    newest = max((each.position for each in (*issued, *trained, *told)), default=0)
    unsigned = unsealed or keep_checkpoints(site, now, issued=newest)
    # Whatever was not finished, by whom and why ever, is looked at once more. What followed a record is due
    # by time, too: where that was not told, everything is looked at.
    made = (compared, len(issued), len(trained))
    all_finished = made == (len(uncompared), len(unissued), len(of_training))
    all_told = not left and not (unsealed and untold)
    return Swept(
        compared=compared,
        issued=len(issued),
        told=len(told),
        lapsed=lapsed,
        failed=(*failed, *left),
        waiting=len(unissued) + len(of_training) - len(issued) - len(trained) if stopped else 0,
        why=unsigned.says if unsigned else "",
        settled=(head if all_finished else after) if all_told else 0,
        settled_at=now if all_told else None,
    )


def _write_down_lapses(site: Site, now: datetime, failed: list[str]) -> int:
    """How many clearances had run out since the last sweep, and lapse for good."""
    with site.store.read() as reader:
        lapses = [each.id for each in reader.checks_with_signature() if _has_run_out(reader, each, now)]
    return sum(bool(_finished(failed, check, _lapse, site, check, now)) for check in lapses)


def _has_run_out(reader: Reader, check: KeptCheck, now: datetime) -> bool:
    return load_check(reader, check, now).state.has_run_out


def _lapse(site: Site, check: str, now: datetime) -> bool:
    with site.store.write() as tx:
        # Whoever loads it to act on it writes the lapse down.
        return lock_and_load(tx, check, now) is not None


_Make = Callable[[str, int], Issued | LeftAlone | KeysUnusable | HistoryChanged]


def _made(
    make: _Make, waiting: tuple[tuple[str, int], ...], failed: list[str]
) -> tuple[list[Issued], KeysUnusable | HistoryChanged | None]:
    """What was issued, and what stopped it: whatever stops one stops all that follow."""
    issued: list[Issued] = []
    for check, edition in waiting:
        made = _finished(failed, check, make, check, edition)
        if isinstance(made, KeysUnusable | HistoryChanged):
            return issued, made
        if isinstance(made, Issued):
            issued.append(made)
    return issued, None


def _finished(failed: list[str], check: str, finish: Callable[..., Done], *arguments: object) -> Done | None:
    try:
        return finish(*arguments)
    except Exception as error:  # noqa: BLE001  # one check that cannot be finished must not hold up all others
        failed.append(f"{check}: {type(error).__name__}")
        return None
