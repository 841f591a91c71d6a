"""After a comparison: read again, acknowledge cautions, ask for help, abandon."""

import itertools
from collections.abc import Iterable
from dataclasses import dataclass

from app.base import Act, Actor
from app.comparison.reasons import reasons_for
from app.people import Permission, Role, may
from app.records import events
from app.records.followup import Found, leads_to, scope_of_touched, scope_to_read_again
from app.records.given_up import leads_after_giving_up, reading_of_what_runs
from app.records.life import Action, may_be_done
from app.records.reading import Scope
from app.records.sources import CAN_BE_PUT_RIGHT, Source
from app.records.state import CheckState, Phase
from app.site.flat_rows import keep_end
from app.site.installation import Site, is_for_training
from app.site.loading import Loaded, lock_and_load
from app.storage import Transaction
from app.workflow.closing_accounts import leave_open_given_up
from app.workflow.comparing import compare_before_its_end
from app.workflow.confirming import OWN_PART, NotConfirmed, Part, lock_part
from app.workflow.drafts import forget_drafts
from app.workflow.freezing import freeze_if_complete
from app.workflow.loading import Own, lock_own, roles_of
from app.workflow.refusals import Incomplete, NotFound, NotNow, NotYours

ABANDON_REASONS = (
    "order-withdrawn",
    "patient-moved",
    "device-fault",
    "supply-fault",
    "time",
    "left",
    "opened-in-error",
    "other",
)
# In an installation for training alone.
EXERCISE_OVER = "exercise-over"
# Why a check was ended by an infusion that had to start without it.
HAD_TO_START = "had-to-start"


@dataclass(frozen=True, kw_only=True)
class NextReading:
    """The two read again."""

    round: int


@dataclass(frozen=True)
class HelpNeeded:
    """Read again twice already: a third person must look before the next reading."""


@dataclass(frozen=True)
class Acknowledged:
    """The cautions are acknowledged by this clinician."""


@dataclass(frozen=True)
class NoSuchFinding:
    """A finding is not, or no longer, one of this comparison's that wait, or they are not of one group."""


@dataclass(frozen=True)
class Done:
    """It is in the log."""


def read_again(
    site: Site, act: Act, check_id: str, *, touched: Iterable[str], why: str
) -> NextReading | HelpNeeded | NotFound | NotYours | NotNow | Incomplete:
    """Open the next reading: the differing fields, or all of each source that somebody put right."""
    asked = [source for source in CAN_BE_PUT_RIGHT if source.value in set(touched)]
    with site.store.write() as tx:
        own = lock_own(tx, act, check_id, Action.READ_AGAIN)
        if not isinstance(own, Own):
            return own
        state = own.state
        if state.open_help is not None:
            return NotNow(phase=state.phase)
        if state.needs_help:
            return HelpNeeded()
        named = tuple(source.value for source in asked if source in state.kind.put_right)
        if len(named) < len(asked):
            # What is put right in a check of another kind is read again here where it differs, no more.
            return NotNow(phase=state.phase)
        scope = scope_of_next(state, named)
        if not scope:
            return Incomplete(fields=("touched",))
        number = number_of_next(state)
        tx.append(
            events.NextReadingOpened(round=number, scope=scope, touched=named, why=why),
            act=act,
            check=check_id,
        )
    return NextReading(round=number)


def scope_of_next(state: CheckState, touched: tuple[str, ...]) -> Scope:
    """Whole sources that were touched, and the differing fields of those that were not."""
    whole = scope_of_touched(touched)
    if not state.must_read_again:
        return whole
    differing = state.kind.read_again(scope_to_read_again(state.open_stops))
    fields = tuple(each for each in differing if each[0] not in touched)
    both = dict((*whole, *fields))
    return tuple((source.value, both[source.value]) for source in Source if source.value in both)


def number_of_next(state: CheckState) -> int:
    """The number of the reading that is opened next."""
    assert state.current is not None  # noqa: S101  # a compared check has a round
    return state.current.number + 1


def acknowledge(  # noqa: PLR0913  # what is acknowledged, and how
    site: Site,
    act: Act,
    check_id: str,
    *,
    findings: Iterable[str],
    reasons: Iterable[str],
    named: str,
    text: str,
    part: Part = OWN_PART,
) -> Acknowledged | NoSuchFinding | NotFound | NotYours | NotNow | Incomplete | NotConfirmed:
    """One clinician answers the cautions of one group, each by name, with reasons from each rule's own list.

    What was found since the page was served is not among them, and asks again.
    """
    with site.store.write() as tx:
        own = lock_part(tx, act, check_id, Action.ACKNOWLEDGE, part=part)
        if not isinstance(own, Own):
            return own
        state, slot = own.state, own.slot
        open_ones = {each.key: each for each in state.unacknowledged(slot)}
        answered = [open_ones.get(key) for key in dict.fromkeys(findings)]
        found = [each for each in answered if each is not None]
        if not found or len(found) < len(answered) or len({each.group for each in found}) > 1:
            return NoSuchFinding()
        given = set(reasons)
        lacking = _lacking(found, given, named)
        if lacking:
            return Incomplete(fields=lacking)
        for each, reason in itertools.product(found, sorted(given)):
            if reason in {one.key for one in reasons_for(each.code)}:
                tx.append(
                    events.CautionAcknowledged(
                        slot=slot, finding=each.key, reason=reason, named=named, text=text
                    ),
                    act=own.act,
                    check=check_id,
                    infusion=state.check.infusion,
                )
        freeze_if_complete(tx, own.loaded.after(tx.appended), act=own.act)
    return Acknowledged()


def _lacking(found: Iterable[Found], given: set[str], named: str) -> tuple[str, ...]:
    """Each caution needs a reason of its own list, and whoever says that somebody was asked says who."""
    offered = [{each.key: each for each in reasons_for(one.code)} for one in found]
    if not all(given & set(each) for each in offered) or not given <= set().union(*offered):
        return ("reason",)
    asks = any(each[key].asks_name for each in offered for key in given & set(each))
    return ("named",) if asks and not named.strip() else ()


def ask_for_help(
    site: Site, act: Act, check_id: str, *, why: str, text: str
) -> Done | NotFound | NotYours | NotNow:
    """Ask a third person to look; possible at any time before clearance."""
    with site.store.write() as tx:
        own = lock_own(tx, act, check_id, Action.ASK_FOR_HELP)
        if not isinstance(own, Own):
            return own
        state = own.state
        if state.open_help is not None:
            return NotNow(phase=state.phase)
        tx.append(
            events.HelpAsked(help=act.new_id(), why=why, text=text),
            act=act,
            check=check_id,
            infusion=state.check.infusion,
        )
    return Done()


def may_end(state: CheckState, by: Actor, roles: frozenset[Role]) -> bool:
    """Whether this person may end the check: one of its two, or who is in charge of its unit on this shift.

    Ending shows nothing of a check, so that who does it from outside is not barred from the next one; a look
    at what was compared, once it is over, is stated with that one's readings like every earlier look.
    """
    if state.slot_of(by.person) is not None:
        return True
    return may(roles, Permission.END_CHECK) and by.unit == state.check.unit


def abandon(
    site: Site, act: Act, check_id: str, *, reason: str, text: str
) -> Done | NotFound | NotYours | NotNow | Incomplete:
    """End a check that is not cleared, with a reason; its two may have left.

    What both have handed in and nobody has compared is compared first: what is wrong is not lost with it.
    """
    said = _abandoned(site, act, check_id, reason=reason, text=text)
    if not isinstance(said, _NotCompared):
        return said
    compare_before_its_end(site, check_id, act.now)
    said = _abandoned(site, act, check_id, reason=reason, text=text, compared=True)
    assert not isinstance(said, _NotCompared)  # noqa: S101  # it was tried
    return said


@dataclass(frozen=True)
class _NotCompared:
    """Both have handed in, and the comparison is still to be made."""


def _abandoned(  # as the act, and whether it was tried to compare what both handed in
    site: Site, act: Act, check_id: str, *, reason: str, text: str, compared: bool = False
) -> Done | NotFound | NotYours | NotNow | Incomplete | _NotCompared:
    with site.store.write() as tx:
        loaded = lock_and_load(tx, check_id, act.now)
        if loaded is None:
            return NotFound()
        state = loaded.state
        if not may_end(state, act.by, roles_of(tx, act.by.person)):
            return NotYours()
        if not may_be_done(Action.ABANDON, state):
            return NotNow(phase=state.phase)
        is_exercise = reason == EXERCISE_OVER and is_for_training(tx)
        if reason not in ABANDON_REASONS and not is_exercise:
            return Incomplete(fields=("reason",))
        if not compared and may_be_done(Action.COMPARE, state):
            return _NotCompared()
        give_up(site, tx, act, loaded, reason=reason, text=text)
    return Done()


def give_up(site: Site, tx: Transaction, act: Act, loaded: Loaded, *, reason: str, text: str) -> None:
    """End a check before its end; what it leaves to be done stands on its infusion from then on."""
    check, leads = loaded.state.check, leads_after_giving_up(loaded.state, loaded.infusion)
    leave_open_given_up(tx, loaded, act.now)
    if leads:
        led = events.LedToCheck(check_kind=leads, round=reading_of_what_runs(loaded.state))
        tx.append(led, act=act, check=check.id, infusion=check.infusion)
    _abandon(site, tx, act, loaded, reason=reason, text=text)


def end_for_a_start(site: Site, tx: Transaction, act: Act, loaded: Loaded) -> None:
    """The infusion had to start without this check: it ends, so that a blind one may be opened."""
    _lapse(tx, act, loaded, why=events.ClearanceLapsed.HAD_TO_START)
    if not loaded.state.has_ended:
        leave_open_given_up(tx, loaded, act.now)
        _abandon(site, tx, act, loaded, reason=HAD_TO_START, text="")


def end_for_a_transfer(site: Site, tx: Transaction, act: Act, loaded: Loaded) -> None:
    """Whoever takes the patient to another unit ends the check that is open where the patient was."""
    _lapse(tx, act, loaded, why=events.ClearanceLapsed.PATIENT_TAKEN)
    give_up(site, tx, act, loaded, reason="patient-moved", text="")


def _lapse(tx: Transaction, act: Act, loaded: Loaded, *, why: str) -> None:
    if loaded.state.phase is Phase.CLEARED:
        tx.append(events.ClearanceLapsed(why=why), act=act, check=loaded.state.check.id)


def _abandon(site: Site, tx: Transaction, act: Act, loaded: Loaded, *, reason: str, text: str) -> None:
    state, check = loaded.state, loaded.state.check
    tx.append(events.Abandoned(reason=reason, text=text), act=act, check=check.id, infusion=check.infusion)
    keep_end(site, tx, loaded)
    drop_drafts(tx, state)


def lead_on(site: Site, act: Act, check_id: str) -> Done | NotFound | NotYours | NotNow:
    """End a check that puts nothing right itself: what was found or changed needs a check of another kind.

    Either of the two says so, and needs nobody for it: who then opens the other check, and when, is theirs.
    """
    with site.store.write() as tx:
        own = lock_own(tx, act, check_id, Action.LEAD_ON)
        if not isinstance(own, Own):
            return own
        check = own.state.check
        leads = leads_to(own.state.kind, own.state.open_stops, in_force=own.loaded.infusion.in_force)
        led = events.LedToCheck(check_kind=leads, round=reading_of_what_runs(own.state))
        if led.round:
            # What its reading tells is told from here on, and found by no later check.
            leave_open_given_up(tx, own.loaded, act.now)
        tx.append(led, act=act, check=check_id, infusion=check.infusion)
        keep_end(site, tx, own.loaded)
    return Done()


def drop_drafts(tx: Transaction, state: CheckState) -> None:
    """What was being written in a check that ends."""
    if state.current is not None:
        forget_drafts(tx, state.check.id, state.current.number)
