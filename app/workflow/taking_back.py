"""Drug that is taken back, of a syringe that was replaced or that was left at the end: before a witness."""

from collections.abc import Mapping
from dataclasses import dataclass

from app.base import Act
from app.judging.in_hand import InHand, find_chosen, syringes_in_hand
from app.records import events
from app.records.account_entries import FIRST_SYRINGE, totals_read
from app.records.account_so_far import Account
from app.records.ending_events import DrugRead
from app.records.kept import SOURCES, B
from app.records.life import Action, may_be_done
from app.records.sources import JudgedBy
from app.records.state import CheckState, Phase
from app.records.steps import DONE, OF_A_REPLACEMENT, PERHAPS_REPLACED, TAKEN_BACK, VERIFIED, Step
from app.records.taken_back import (
    IN_LINE,
    IN_SYRINGE,
    WAYS,
    FirstRead,
    is_nothing,
    next_reading,
)
from app.records.visibility import Sight, sight
from app.site.installation import Site
from app.site.loading import Loaded, account_of
from app.storage import Reader, Transaction
from app.workflow.credentials import Known, Where, forget_tries, try_credential
from app.workflow.loading import Own, lock_own, roles_of, viewer_of
from app.workflow.put_on import note_put_on
from app.workflow.refusals import KeptAsEvidence, NotFound, NotNow, NotYours, TooManyTries, WrongCredential
from app.workflow.witnessing import (
    GONE,
    KEPT,
    At,
    NoWitness,
    Prescribed,
    ReadApart,
    SamePerson,
    Seen,
    Unwritable,
    drug_faults,
    find_by_lot,
    is_more,
    is_more_than_in_hand,
    read_first,
    read_second,
    seen_by_nobody,
    volume_faults,
    why_none_is_chosen,
    write_down,
)

# In these another syringe is told by what is written of the one before; later somebody must say so first.
_BEFORE_SIGNING = frozenset({Phase.AGREED, Phase.STEPS, Phase.ABANDONED})
# In these the step counts as done with it, and the other verifies it.
_VERIFIED_AFTER = frozenset({Phase.AGREED, Phase.STEPS, Phase.SIGNING})


@dataclass(frozen=True, kw_only=True)
class GivenBack:
    """What one of the two writes: volumes as text by where the drug is, and what becomes of it.

    `last` is the position of what stood when the page was served, 0 where nothing did. `syringe` is
    which one, by its name in the account, where several are in hand at the end.
    """

    way: str
    volumes: Mapping[str, str]
    lot: str
    stated_at: str
    last: int
    syringe: str = ""


@dataclass(frozen=True)
class FirstKept:
    """What was read first is kept, sealed: the witness reads it now."""


@dataclass(frozen=True, kw_only=True)
class Written:
    """It stands, and the witness with it; it may be `to_be_verified` by the other of the two.

    `more`: at the end another syringe of the infusion is still in hand, and comes next.
    """

    to_be_verified: bool
    more: bool = False


@dataclass(frozen=True)
class WrittenMeanwhile:
    """Something was written since the page was served: what was sent belongs to what stood before."""


@dataclass(frozen=True)
class NothingWaits:
    """Nothing was read first that waits for a witness."""


Refused = NotFound | NotYours | NotNow | KeptAsEvidence | WrittenMeanwhile


def find_step(state: CheckState) -> Step | None:
    """The step that asks for it, where one does."""
    return next((each for each in state.plan.steps if each.entry == TAKEN_BACK), None) if state.plan else None


def is_or_may_be_replaced(state: CheckState) -> bool:
    """Whether a syringe was replaced, or may have been, as far as the two are told; or all of it ends."""
    if state.kind.ends:
        return True
    return state.plan is not None and any(step.only_if in OF_A_REPLACEMENT for step in state.plan.steps)


def is_perhaps_to_write(state: CheckState) -> bool:
    """Whether danger was seen, and the two have not both said that the syringe is the same."""
    steps = state.plan.steps if state.plan else ()
    asked = [step for step in steps if step.only_if == PERHAPS_REPLACED]
    return any(not state.is_confirmed(step, VERIFIED) for step in asked) and state.phase in _BEFORE_SIGNING


def may_write(state: CheckState) -> bool:
    """Whether it is asked for now, or a mistake in it may be put right, or another syringe may be on."""
    step = find_step(state)
    is_asked = step is not None or is_perhaps_to_write(state)
    # What was left at the end is gone once: nobody reads it anew.
    is_over = state.kind.ends and (state.phase not in _VERIFIED_AFTER or _is_said(state, step))
    return is_asked and not is_over and may_be_done(Action.TAKE_BACK, state)


def _is_said(state: CheckState, step: Step | None) -> bool:
    return step is not None and bool(state.said_of(step))


def see_in_hand(site: Site, loaded: Loaded) -> tuple[InHand, ...]:
    """The syringes that go at the end, for the page on which one is chosen."""
    if not loaded.state.kind.ends:
        return ()
    with site.store.read() as reader:
        return in_hand_at_the_end(reader, loaded)


def see_kept(site: Site, loaded: Loaded) -> tuple[str, ...]:
    """The lots of what is kept as evidence, for a page on which nothing goes."""
    with site.store.read() as reader:
        return _kept_alone(reader, loaded)


def in_hand_at_the_end(reader: Reader, loaded: Loaded) -> tuple[InHand, ...]:
    """At the end of PCA, the syringes that go, the one on the device among them."""
    if not loaded.state.kind.ends:
        return ()
    return syringes_in_hand(account_of(reader, loaded.state.check.infusion), loaded.policy.account)


def take_back(site: Site, act: Act, check_id: str, given: GivenBack) -> FirstKept | Unwritable | Refused:
    """Keep what one of the two read of it, sealed until a witness has read it too."""
    faults = _faults(given)
    if faults:
        return Unwritable(faults=faults)
    with site.store.write() as tx:
        own = _lock(tx, act, check_id)
        if not isinstance(own, Own):
            return own
        if max((each.position for each in own.state.taken_back), default=0) != given.last:
            return WrittenMeanwhile()
        makes_no_sense = _senseless(tx, own, given)
        if makes_no_sense:
            return Unwritable(faults=makes_no_sense)
        told = DrugRead(
            slot=own.slot,
            round=own.loaded.replaced.to_write_of or 0,
            reading=next_reading(own.loaded.entries, check_id),
            way=given.way,
            held_in=own.state.kind.portions,
            syringe=_which(tx, own, given),
            lot=given.lot,
            stated_at=given.stated_at,
            sealed="",
        )
        read_first(tx, _at(site, own), told, given.volumes)
        return FirstKept()


def witness(
    site: Site, act: Act, check_id: str, volumes: Mapping[str, str], *, login: str, secret: str
) -> (
    Written
    | ReadApart
    | NothingWaits
    | Unwritable
    | SamePerson
    | NoWitness
    | Prescribed
    | Refused
    | WrongCredential
    | TooManyTries
):
    """The witness reads it too, with id and full secret, each time; once two agree, it stands."""
    faults = volume_faults(volumes)
    if faults:
        return Unwritable(faults=faults)
    known = try_credential(
        site, act.now, login=login, secret=secret, what="witnessing", where=Where(signed_in=act.by.person)
    )
    if not isinstance(known, Known):
        return known
    with site.store.write() as tx:
        forget_tries(tx, known)
        own = _lock(tx, act, check_id)
        if not isinstance(own, Own):
            return own
        first = own.loaded.first_read
        if first is None or {*first.held_in} != {*volumes}:
            return NothingWaits()
        policy = own.loaded.policy
        seen = read_second(tx, _at(site, own), first, volumes, witness=known.person, policy=policy)
        return _write(tx, site, own, first, seen=seen) if isinstance(seen, Seen) else seen


def go_on_without(site: Site, act: Act, check_id: str) -> Written | NothingWaits | Refused:
    """Nobody could be had who sees it: that stands, and the charge nurse settles it."""
    with site.store.write() as tx:
        own = _lock(tx, act, check_id)
        if not isinstance(own, Own):
            return own
        first = own.loaded.first_read
        if first is None:
            return NothingWaits()
        return _write(tx, site, own, first, seen=seen_by_nobody(_at(site, own), first))


def _lock(tx: Transaction, act: Act, check_id: str) -> Own | NotFound | NotYours | NotNow | KeptAsEvidence:
    own = lock_own(tx, act, check_id, Action.TAKE_BACK)
    if not isinstance(own, Own):
        return own
    if not may_write(own.state) or not _sees(tx, own):
        return NotNow(phase=own.state.phase)
    is_free = own.loaded.infusion.emergencies.evidence is None or bool(_kept_alone(tx, own.loaded))
    return own if is_free else KeptAsEvidence()


def _kept_alone(reader: Reader, loaded: Loaded) -> tuple[str, ...]:
    """The lots of what is kept as evidence, where at the end of PCA nothing else is in hand."""
    if not loaded.state.kind.ends:
        return ()
    account = account_of(reader, loaded.state.check.infusion)
    in_hand = syringes_in_hand(account, loaded.policy.account)
    return () if in_hand else tuple(account.lots[name] for name in sorted(account.kept, key=int))


def _at(site: Site, own: Own) -> At:
    return At(site=site, act=own.act, infusion=own.state.check.infusion, check=own.state.check.id)


def _sees(tx: Transaction, own: Own) -> bool:
    """Whoever reads blind at this bed in a later check writes nothing of an earlier one."""
    viewer = viewer_of(tx, own.act.by, roles_of(tx, own.act.by.person), own.act.now, of=own.state)
    return sight(own.state, viewer) is Sight.EVERYTHING


def _faults(given: GivenBack) -> dict[str, str]:
    way = {} if given.way in WAYS else {"way": "Choose what becomes of it."}
    return {**drug_faults(given.volumes, lot=given.lot, stated_at=given.stated_at), **way}


def _senseless(tx: Transaction, own: Own, given: GivenBack) -> dict[str, str]:
    """What is wrong with it beside what is asked, and of what was left, beside the account."""
    unread = [place for place in own.state.kind.portions if place not in given.volumes]
    if unread:
        return {f"in_{place}": "Write the volume." for place in unread}
    if not own.state.kind.ends:
        return {}
    account = account_of(tx, own.state.check.infusion)
    return _fault_by_account(own, account, given) if account.lots else {}


def _fault_by_account(own: Own, account: Account, given: GivenBack) -> dict[str, str]:
    in_hand = syringes_in_hand(account, own.loaded.policy.account)
    chosen, volume = find_chosen(in_hand, lot=given.lot, name=given.syringe), given.volumes[IN_SYRINGE]
    if chosen is None:
        faults = why_none_is_chosen(account, in_hand, given.lot)
        # Of what is gone, or kept as evidence, nothing goes, and that is what is written.
        return {} if faults in ({"lot": GONE}, {"lot": KEPT}) and is_nothing(volume) else faults
    # Of the one on the device, by what the two have just read; of another, by what was read last.
    policy = own.loaded.policy
    if is_more_than_left(own, volume) if chosen.is_on else is_more_than_in_hand(chosen, volume, policy):
        return {"in_syringe": "This is more than both of you read as left. Read it once more."}
    return {}


def is_more_than_left(own: Own, volume: str) -> bool:
    """Whether it is more than the second of the two read as left, by more than a division of the scale."""
    kept = own.loaded.last_comparison
    read = totals_read(kept.opened["answers"][B]) if kept else None
    left = read.data.get("left") if read else None
    return left is not None and is_more(left, volume, own.loaded.policy)


def _write(tx: Transaction, site: Site, own: Own, first: FirstRead, *, seen: Seen) -> Written:
    state, is_now = own.state, own.state.phase in _VERIFIED_AFTER
    syringe = _syringes(own, first)
    if not first.syringe:
        # Its label is read by nobody any more: what was issued of it was put on with that.
        note_put_on(tx, own.act, own.loaded, _number_of(syringe[IN_SYRINGE]))
    is_told_apart = JudgedBy.LOADED_AGAIN in state.kind.judges
    write_down(tx, _at(site, own), first, seen, syringe=syringe, is_told_apart=is_told_apart)
    after = own.loaded.after(tx.appended)
    step, more = find_step(after.state), bool(in_hand_at_the_end(tx, after))
    if step is not None and is_now and not more:
        done = events.StepsConfirmed(slot=first.slot, group=step.group, part=DONE, steps=(step.id,))
        tx.append(done, act=own.act, check=state.check.id)
    return Written(to_be_verified=is_now and not more, more=more)


def _which(reader: Reader, own: Own, given: GivenBack) -> str:
    """Its name in the account; where it has none yet, of the first. Of a replaced one its label says it."""
    if not own.state.kind.ends:
        return ""
    account = account_of(reader, own.state.check.infusion)
    in_hand = syringes_in_hand(account, own.loaded.policy.account)
    chosen = find_chosen(in_hand, lot=given.lot, name=given.syringe)
    return chosen.name if chosen else find_by_lot(account, given.lot) or FIRST_SYRINGE


def _syringes(own: Own, first: FirstRead) -> Mapping[str, str]:
    """Of which syringe it was, by where it was: its name in the account, or the reading of its label."""
    if first.syringe:
        return {IN_SYRINGE: first.syringe}
    replaced = own.loaded.replaced
    return {
        IN_SYRINGE: _read_before(own.loaded, first.round),
        IN_LINE: _read_before(own.loaded, replaced.primed or first.round),
    }


def _number_of(reading: str) -> int:
    return int(reading.rpartition(" ")[2])


def _read_before(loaded: Loaded, number: int) -> str:
    """The reading in which the label of a syringe was read last, before it was replaced."""
    compared = (each.round for each in loaded.comparisons if each.subject == SOURCES)
    return f"reading {max((each for each in compared if each < number), default=number - 1)}"
