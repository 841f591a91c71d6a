"""An account that was left open stays with the charge nurse until she closes it with a reason."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from app.base import Act
from app.people import Permission, Role, may
from app.records.account_events import AccountClosed, AccountLeftOpen
from app.records.followup import NOT_COMPUTED
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
_NO_ACCOUNT = frozenset({NOT_COMPUTED})


@dataclass(frozen=True, kw_only=True)
class OpenEntry:
    """One entry by which it is open: `of_drug` that nobody saw drug go, else what a check found."""

    position: int
    at: datetime
    check: str
    of_drug: bool


@dataclass(frozen=True, kw_only=True)
class OpenAccount:
    """Where an account is open, since when and by which entries; no figure.

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
    entries: tuple[OpenEntry, ...]

    @property
    def last_at(self) -> datetime:
        """When the last of it was found."""
        return self.entries[-1].at


@dataclass(frozen=True)
class Closed:
    """The account is closed."""


@dataclass(frozen=True)
class NothingOpen:
    """No account is open there, or somebody has closed it meanwhile."""


@dataclass(frozen=True)
class MoreSince:
    """More was found, or written, since this person looked: that is looked at first."""


@dataclass(frozen=True)
class StillChecked:
    """The two of the check are not done: they sign first."""


@dataclass(frozen=True)
class OneOfTheTwo:
    """Whoever closes an account is a third person, never one of the two who counted or wrote it down."""


NotClosed = StillChecked | OneOfTheTwo | MoreSince


def leave_open(tx: Transaction, loaded: Loaded, now: datetime) -> None:
    """What the two cannot settle is the charge nurse's; part of the transaction of the comparison.

    What an earlier check has told is not found again: each that finds more leaves an entry of its own.
    """
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
    check = loaded.state.check
    told = [each for each in loaded.infusion.all_left_open if not each.drug]
    found = {each.code for each in reading.findings if each.is_of_account} - _TOLD_BEFORE
    # That there is no account is found by each check anew, and is no more than before.
    if any(each.check == check.id for each in told) or (told and found <= _NO_ACCOUNT):
        return
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
    site: Site, act: Act, roles: frozenset[Role], infusion: str, *, reason: str, shown: Iterable[int]
) -> Closed | NothingOpen | NotClosed | Incomplete | NotFound | NotAllowed:
    """Close it, with the reason; a third person does, who was `shown` each entry by which it is open."""
    if not may(roles, Permission.CLOSE_ACCOUNT):
        return NotAllowed()
    with site.store.write() as tx:
        kept = tx.find_infusion(infusion)
        if kept is None or kept.unit != act.by.unit:
            return NotFound()
        _hold(tx, kept, act)
        if is_closed_to(kept, viewer_of(tx, act.by, roles, act.now)):
            # As where its page is not there: whether one is open is not told.
            return NotFound()
        state = load_infusion(tx, infusion)
        if not state.all_left_open:
            return NothingOpen()
        refused = _refused(_open(tx, kept, act), frozenset(shown))
        if refused is not None:
            return refused
        if not reason.strip():
            return Incomplete(fields=("reason",))
        closes = tuple(str(each.position) for each in state.all_left_open)
        event = AccountClosed(left_open=closes[0], reason=reason.strip(), closes=closes)
        tx.append(event, act=act, infusion=infusion)
        if state.closed_at is not None:
            close_with(tx, act, infusion)
    return Closed()


def _hold(tx: Transaction, kept: KeptInfusion, act: Act) -> None:
    """Whatever leaves one more entry holds the bed, or its check."""
    hold_bed(tx, kept.unit, kept.bed, act.now)
    for check in tx.open_checks_at(kept.unit, kept.bed):
        tx.lock_check(check.id)


def _refused(told: OpenAccount, shown: frozenset[int]) -> NotClosed | None:
    if told.mine:
        return OneOfTheTwo()
    if told.waits:
        return StillChecked()
    return None if shown.issuperset(each.position for each in told.entries) else MoreSince()


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
        entries=tuple(
            OpenEntry(position=each.position, at=each.at, check=each.check, of_drug=bool(each.drug))
            for each in left
        ),
    )


def _has_none(loaded: Loaded) -> bool:
    kept = loaded.last_comparison
    return loaded.state.kind.ends and kept is not None and kept.told["account"]["result"] is None


def _witness(entry: Entry) -> tuple[str, ...]:
    return (entry.event.witness,) if isinstance(entry.event, DrugTakenBack) else ()
