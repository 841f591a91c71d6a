"""An account that was left open stays with the charge nurse until she closes it with a reason."""

from dataclasses import dataclass
from datetime import datetime

from app.base import Act
from app.people import Permission, Role, may
from app.records.account_events import AccountClosed, AccountLeftOpen
from app.records.kept import KeptInfusion
from app.records.visibility import bed_of
from app.site.installation import Site
from app.site.loading import Loaded, load_check, load_infusion
from app.storage import OfInfusions, Reader, Transaction
from app.workflow.loading import viewer_of
from app.workflow.queueing import hold_bed
from app.workflow.refusals import Incomplete, NotAllowed, NotFound


@dataclass(frozen=True, kw_only=True)
class OpenAccount:
    """Where an account is open, and since when; no figure. `waits`: the two of its check are not done yet."""

    infusion: str
    bed: str
    check: str
    at: datetime
    waits: bool
    mine: bool


@dataclass(frozen=True)
class Closed:
    """The account is closed."""


@dataclass(frozen=True)
class NothingOpen:
    """No account is open there, or somebody has closed it meanwhile."""


@dataclass(frozen=True)
class StillChecked:
    """The two of the check are not done: they sign first."""


@dataclass(frozen=True)
class OneOfTheTwo:
    """Whoever closes an account is a third person, never one of the two who counted."""


def leave_open(tx: Transaction, loaded: Loaded, now: datetime) -> None:
    """What the two cannot settle is the charge nurse's, once; part of the transaction of the comparison."""
    state = loaded.state
    settles_nothing = state.recount_due or state.must_read_again or not state.open_account
    if settles_nothing or state.current is None or loaded.infusion.left_open is not None:
        return
    event = AccountLeftOpen(round=state.current.number)
    tx.append(event, at=now, check=state.check.id, infusion=state.check.infusion)


def open_accounts(site: Site, act: Act, roles: frozenset[Role]) -> tuple[OpenAccount, ...]:
    """Those of the unit of the shift, for whoever may close them; none at a bed where that person reads."""
    if not may(roles, Permission.CLOSE_ACCOUNT):
        return ()
    with site.store.read() as reader:
        found = reader.infusions_that(OfInfusions.ACCOUNT_OPEN, act.by.unit)
        if not found:
            return ()
        blind_at = viewer_of(reader, act.by, roles, act.now).blind_at
        return tuple(_open(reader, each, act) for each in found if bed_of(each) not in blind_at)


def find_open_account(site: Site, act: Act, roles: frozenset[Role], infusion: str) -> OpenAccount | None:
    """One of them, while it is open."""
    return next((each for each in open_accounts(site, act, roles) if each.infusion == infusion), None)


def close_account(
    site: Site, act: Act, roles: frozenset[Role], infusion: str, *, reason: str
) -> Closed | NothingOpen | StillChecked | OneOfTheTwo | Incomplete | NotFound | NotAllowed:
    """Close it, with the reason; a third person does."""
    if not may(roles, Permission.CLOSE_ACCOUNT):
        return NotAllowed()
    with site.store.write() as tx:
        kept = tx.find_infusion(infusion)
        if kept is None or kept.unit != act.by.unit:
            return NotFound()
        hold_bed(tx, kept.unit, kept.bed, act.now)
        left = load_infusion(tx, infusion).left_open
        if left is None:
            return NothingOpen()
        told = _open(tx, kept, act)
        if told.mine:
            return OneOfTheTwo()
        if told.waits:
            return StillChecked()
        if not reason.strip():
            return Incomplete(fields=("reason",))
        event = AccountClosed(left_open=str(left.position), reason=reason.strip())
        tx.append(event, act=act, infusion=infusion)
    return Closed()


def _open(reader: Reader, kept: KeptInfusion, act: Act) -> OpenAccount:
    state = load_infusion(reader, kept.id)
    assert state.left_open is not None  # noqa: S101  # the list asked the same question
    check = reader.find_check(state.left_open.check)
    assert check is not None  # noqa: S101  # it was compared
    of_check = load_check(reader, check, act.now).state
    return OpenAccount(
        infusion=kept.id,
        bed=kept.bed,
        check=check.id,
        at=state.left_open.at,
        waits=not of_check.has_ended and of_check.cleared_at is None,
        mine=of_check.slot_of(act.by.person) is not None,
    )
