"""An account that was left open stays with the charge nurse until she closes it with a reason."""

from dataclasses import dataclass
from datetime import datetime

from app.base import Act
from app.people import Permission, Role, may
from app.records.account_events import AccountClosed, AccountLeftOpen
from app.records.given_up import account_after_giving_up
from app.records.kept import Entry, KeptInfusion
from app.records.state import Round
from app.records.visibility import is_closed_to
from app.records.ward_events import DrugTakenBack
from app.site.installation import Site
from app.site.loading import Loaded, account_of, load_check, load_infusion
from app.storage import OfInfusions, Reader, Transaction
from app.workflow.loading import viewer_of
from app.workflow.put_on import close_with
from app.workflow.queueing import hold_bed
from app.workflow.refusals import Incomplete, NotAllowed, NotFound

_TOLD_BEFORE = frozenset({"account-not-witnessed", "account-not-received"})


@dataclass(frozen=True, kw_only=True)
class OpenAccount:
    """Where an account is open, and since when; no figure.

    `waits`: the two of its check are not done yet. `adds_up`: all that is open is that nobody saw, or took,
    drug that went. `has_none`: nobody ever read what was on the device, and it has ended so.
    """

    infusion: str
    bed: str
    check: str
    at: datetime
    waits: bool
    mine: bool
    adds_up: bool
    has_none: bool


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
    """Whoever closes an account is a third person, never one of the two who counted or wrote it down."""


def leave_open(tx: Transaction, loaded: Loaded, now: datetime) -> None:
    """What the two cannot settle is the charge nurse's, once; part of the transaction of the comparison."""
    state = loaded.state
    # That nobody saw it go, or took it, was told when it was written.
    counted = [each for each in state.open_account if each.code not in _TOLD_BEFORE]
    is_open = bool(counted) or (state.kind.ends and _nobody_read(tx, loaded))
    if state.recount_due or state.must_read_again or not is_open or state.current is None:
        return
    _tell(tx, loaded, state.current, now)


def leave_open_given_up(tx: Transaction, loaded: Loaded, now: datetime) -> None:
    """What two found of the account in a check that is given up is nobody else's; part of its ending."""
    reading = account_after_giving_up(loaded.state, but=_TOLD_BEFORE)
    if reading is not None:
        _tell(tx, loaded, reading, now)


def _tell(tx: Transaction, loaded: Loaded, reading: Round, now: datetime) -> None:
    if any(not each.drug for each in loaded.infusion.all_left_open):
        return
    check = loaded.state.check
    tx.append(AccountLeftOpen(round=reading.number), at=now, check=check.id, infusion=check.infusion)


def _nobody_read(reader: Reader, loaded: Loaded) -> bool:
    """Whether it was started without a check, and no two have read what was on the device since."""
    account = account_of(reader, loaded.state.check.infusion)
    return account.begun is not None and not account.on


def open_accounts(site: Site, act: Act, roles: frozenset[Role]) -> tuple[OpenAccount, ...]:
    """Those of the unit of the shift, for whoever may close them; none at a bed where that person reads."""
    if not may(roles, Permission.CLOSE_ACCOUNT):
        return ()
    with site.store.read() as reader:
        found = reader.infusions_that(OfInfusions.ACCOUNT_OPEN, act.by.unit)
        if not found:
            return ()
        viewer = viewer_of(reader, act.by, roles, act.now)
        return tuple(_open(reader, each, act) for each in found if not is_closed_to(each, viewer))


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
        if is_closed_to(kept, viewer_of(tx, act.by, roles, act.now)):
            # As where its page is not there: whether one is open is not told.
            return NotFound()
        state = load_infusion(tx, infusion)
        left = state.left_open
        if left is None:
            return NothingOpen()
        refused = _refused(_open(tx, kept, act))
        if refused is not None:
            return refused
        if not reason.strip():
            return Incomplete(fields=("reason",))
        event = AccountClosed(left_open=str(left.position), reason=reason.strip())
        tx.append(event, act=act, infusion=infusion)
        if state.closed_at is not None:
            close_with(tx, act, infusion)
    return Closed()


def _refused(told: OpenAccount) -> OneOfTheTwo | StillChecked | None:
    if told.mine:
        return OneOfTheTwo()
    return StillChecked() if told.waits else None


def _open(reader: Reader, kept: KeptInfusion, act: Act) -> OpenAccount:
    left = load_infusion(reader, kept.id).all_left_open
    checks = [found for each in left if (found := reader.find_check(each.check)) is not None]
    loaded = [load_check(reader, each, act.now) for each in checks]
    states = [each.state for each in loaded]
    of_drug = {int(each.drug) for each in left if each.drug}
    wrote = (each for each in reader.course(kept.id) if each.position in of_drug)
    people = {person for each in wrote for person in (each.by, *_witness(each))}
    return OpenAccount(
        infusion=kept.id,
        bed=kept.bed,
        check=checks[0].id if checks else "",
        at=left[0].at,
        waits=any(not each.has_ended and each.cleared_at is None for each in states),
        mine=act.by.person in people or any(each.slot_of(act.by.person) is not None for each in states),
        adds_up=all(each.drug for each in left),
        has_none=any(_has_none(each) for each in loaded),
    )


def _has_none(loaded: Loaded) -> bool:
    kept = loaded.last_comparison
    return loaded.state.kind.ends and kept is not None and kept.told["account"]["result"] is None


def _witness(entry: Entry) -> tuple[str, ...]:
    return (entry.event.witness,) if isinstance(entry.event, DrugTakenBack) else ()
