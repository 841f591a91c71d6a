"""The drug that is taken back after a wrong syringe: written by one of the two, seen by a second person."""

from dataclasses import dataclass
from datetime import datetime

from app.base import Act
from app.people import Permission, Role, may
from app.quantities import Dimension, Fault, exact, parse_quantity
from app.records import events
from app.records.kept import SOURCES
from app.records.life import Action, may_be_done
from app.records.state import CheckState, Phase
from app.records.steps import DONE, OF_A_REPLACEMENT, PERHAPS_REPLACED, TAKEN_BACK, VERIFIED, Step
from app.records.taken_back import IN_LINE, IN_SYRINGE, RETURNED, WAYS
from app.records.visibility import Sight, sight
from app.records.ward_events import DrugTakenBack
from app.site.installation import Site
from app.site.loading import Loaded
from app.storage import Transaction
from app.workflow.credentials import Known, Where, forget_tries, try_credential
from app.workflow.loading import Own, lock_own, roles_of, viewer_of
from app.workflow.refusals import NotFound, NotNow, NotYours, TooManyTries, WrongCredential

# In these another syringe is told by what is written of the one before; later somebody must say so first.
_BEFORE_SIGNING = frozenset({Phase.AGREED, Phase.STEPS, Phase.ABANDONED})
# In these the step counts as done with it, and the other verifies it.
_VERIFIED_AFTER = frozenset({Phase.AGREED, Phase.STEPS, Phase.SIGNING})


@dataclass(frozen=True, kw_only=True)
class GivenBack:
    """What one of the two writes: volumes as text, one for the syringe and one for the line.

    `last` is the position of what stood when the page was served, 0 where nothing did.
    """

    way: str
    in_syringe: str
    in_line: str
    lot: str
    stated_at: str
    last: int


@dataclass(frozen=True, kw_only=True)
class Written:
    """It stands, and the witness with it; it may be `to_be_verified` by the other of the two."""

    to_be_verified: bool


@dataclass(frozen=True)
class WrittenMeanwhile:
    """Something was written since the page was served: what was sent belongs to what stood before."""


@dataclass(frozen=True, kw_only=True)
class Unwritable:
    """A field is not written as it must be; `faults` says for each how to write it."""

    faults: dict[str, str]


@dataclass(frozen=True)
class SamePerson:
    """Whoever writes it is no witness of it."""


@dataclass(frozen=True)
class NoWitness:
    """The site's policy names no role of this person for witnessing."""


def find_step(state: CheckState) -> Step | None:
    """The step that asks for it, where one does."""
    return next((each for each in state.plan.steps if each.entry == TAKEN_BACK), None) if state.plan else None


def is_or_may_be_replaced(state: CheckState) -> bool:
    """Whether a syringe was replaced in this check, or may have been, as far as its two are told."""
    return state.plan is not None and any(step.only_if in OF_A_REPLACEMENT for step in state.plan.steps)


def is_perhaps_to_write(state: CheckState) -> bool:
    """Whether danger was seen, and the two have not both said that the syringe is the same."""
    steps = state.plan.steps if state.plan else ()
    asked = [step for step in steps if step.only_if == PERHAPS_REPLACED]
    return any(not state.is_confirmed(step, VERIFIED) for step in asked) and state.phase in _BEFORE_SIGNING


def may_write(state: CheckState) -> bool:
    """Whether it is asked for now, or a mistake in it may be put right, or another syringe may be on."""
    is_asked = find_step(state) is not None or is_perhaps_to_write(state)
    return is_asked and may_be_done(Action.TAKE_BACK, state)


def take_back(
    site: Site, act: Act, check_id: str, given: GivenBack, *, login: str, secret: str
) -> (
    Written
    | WrittenMeanwhile
    | Unwritable
    | SamePerson
    | NoWitness
    | NotFound
    | NotYours
    | NotNow
    | WrongCredential
    | TooManyTries
):
    """Write down what was taken back; the witness gives id and full secret, each time."""
    faults = _faults(given)
    if faults:
        return Unwritable(faults=faults)
    known = try_credential(
        site, act.now, login=login, secret=secret, what="witnessing", where=Where(signed_in=act.by.person)
    )
    if not isinstance(known, Known):
        return known
    with site.store.write() as tx:
        forget_tries(tx, known)
        own = lock_own(tx, act, check_id, Action.TAKE_BACK)
        if not isinstance(own, Own):
            return own
        if not may_write(own.state) or not _sees(tx, own):
            return NotNow(phase=own.state.phase)
        if max((each.position for each in own.state.taken_back), default=0) != given.last:
            return WrittenMeanwhile()
        if known.person.id == act.by.person:
            return SamePerson()
        roles = roles_of(tx, known.person.id)
        named = {role for role in roles if role.value in own.loaded.policy.witnesses}
        if not may(named, Permission.WITNESS):
            return NoWitness()
        _write(tx, own, given, witness=known.person.id, received=Role.PHARMACIST in named)
        return Written(to_be_verified=own.state.phase in _VERIFIED_AFTER)


def _sees(tx: Transaction, own: Own) -> bool:
    """Whoever reads blind at this bed in a later check writes nothing of an earlier one."""
    viewer = viewer_of(tx, own.act.by, roles_of(tx, own.act.by.person), own.act.now, of=own.state)
    return sight(own.state, viewer) is Sight.EVERYTHING


def _faults(given: GivenBack) -> dict[str, str]:
    read = {
        name: parse_quantity(text, Dimension.VOLUME, zero_allowed=True)
        for name, text in (("in_syringe", given.in_syringe), ("in_line", given.in_line))
    }
    faults = {name: each.says for name, each in read.items() if isinstance(each, Fault)}
    if given.way not in WAYS:
        faults["way"] = "Choose what became of it."
    if not given.lot.strip():
        faults["lot"] = "Write the lot from the old label."
    if given.stated_at and not _is_moment(given.stated_at):
        faults["stated_at"] = "Write hours and minutes, as 14:05; or leave it blank."
    return faults


def _is_moment(text: str) -> bool:
    try:
        return datetime.fromisoformat(text).tzinfo is not None
    except ValueError:
        return False


def _write(tx: Transaction, own: Own, given: GivenBack, *, witness: str, received: bool) -> None:
    state, replaced = own.state, own.loaded.replaced
    number = replaced.to_write_of
    assert number is not None  # noqa: S101  # it is asked for
    for held_in, volume, syringe in (
        (IN_SYRINGE, given.in_syringe, _read_before(own.loaded, number)),
        (IN_LINE, given.in_line, _read_before(own.loaded, replaced.primed or number)),
    ):
        read = parse_quantity(volume, Dimension.VOLUME, zero_allowed=True)
        assert not isinstance(read, Fault)  # noqa: S101  # its faults were looked for before
        taken = DrugTakenBack(
            slot=own.slot,
            round=number,
            way=given.way,
            syringe=syringe,
            held_in=held_in,
            volume=volume,
            exact=f"{exact(read.value)} mL",
            lot=given.lot,
            stated_at=given.stated_at,
            witness=witness,
            received=received and given.way == RETURNED,
        )
        tx.append(taken, act=own.act, check=state.check.id)
    step = find_step(own.loaded.after(tx.appended).state)
    if step is not None and state.phase in _VERIFIED_AFTER:
        done = events.StepsConfirmed(slot=own.slot, group=step.group, part=DONE, steps=(step.id,))
        tx.append(done, act=own.act, check=state.check.id)


def _read_before(loaded: Loaded, number: int) -> str:
    """The reading in which the label of a syringe was read last, before it was replaced."""
    compared = (each.round for each in loaded.comparisons if each.subject == SOURCES)
    return f"reading {max((each for each in compared if each < number), default=number - 1)}"
