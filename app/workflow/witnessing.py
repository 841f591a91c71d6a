"""Drug that is wasted or given back: one person reads how much, sealed, and a second one reads it blind.

The second gives id and full secret at the same screen, and sees label and volume before it is gone. What the
second read counts.
"""

from base64 import b64decode, b64encode
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from fractions import Fraction

from app.base import Act
from app.judging.in_hand import InHand, is_of_lot
from app.keys import open_envelope, seal
from app.people import Permission, Person, is_same_name, may
from app.quantities import Dimension, Fault, exact, parse_quantity
from app.records.account_events import AccountLeftOpen
from app.records.account_so_far import Account
from app.records.also_read import PRESCRIBER
from app.records.ending_events import DrugRead, DrugReadApart
from app.records.kept import LETTERS, SOURCES
from app.records.policy import SitePolicy
from app.records.sealed import drug_context, opened, reading_content
from app.records.taken_back import RETURNED, FirstRead
from app.records.ward_events import DrugTakenBack
from app.site.installation import Site
from app.storage import Reader, Transaction
from app.workflow.loading import roles_of

WITHIN = timedelta(minutes=2)
"""So long after the first reading the second one counts as of the same moment."""

WRONG_LOT = "No syringe of this infusion has this lot. Look at the label once more."
GONE = "What was left of this syringe is gone already."
KEPT = "This syringe is kept as evidence: nothing of it is wasted or given back."

_SIZE = 1024
_LONGEST = 40
_OF = "drug"


@dataclass(frozen=True)
class SamePerson:
    """Whoever writes it is no witness of it, by whichever login."""


@dataclass(frozen=True)
class NoWitness:
    """The site's policy names no role of this person for witnessing."""


@dataclass(frozen=True)
class Prescribed:
    """Whoever prescribed it is no witness of what became of it."""


@dataclass(frozen=True, kw_only=True)
class Unwritable:
    """A field is not written as it must be; `faults` says for each how to write it."""

    faults: dict[str, str]


@dataclass(frozen=True)
class ReadApart:
    """The two read different volumes: both read once more, each alone."""


@dataclass(frozen=True, kw_only=True)
class Seen:
    """The volumes that count, by where the drug was; `not_witnessed` says why nobody else saw them, if so."""

    counts: Mapping[str, str]
    first: Mapping[str, str]
    witness: str
    not_witnessed: str
    received: bool


@dataclass(frozen=True, kw_only=True)
class At:
    """Who acts where: in a check, or in an infusion outside of any."""

    site: Site
    act: Act
    infusion: str
    check: str = ""

    def context(self, reading: int, person: str) -> tuple[str, ...]:
        """What a sealed reading is bound to."""
        return drug_context(self.infusion, self.check, reading, person)


def volume_faults(volumes: Mapping[str, str]) -> dict[str, str]:
    """What is wrong with volumes as they were typed, each under `in_` and where it was."""
    faults = {}
    for place, text in volumes.items():
        read = parse_quantity(text, Dimension.VOLUME, zero_allowed=True)
        if isinstance(read, Fault):
            faults[f"in_{place}"] = read.says
        elif len(text) > _LONGEST:
            faults[f"in_{place}"] = "Write it shorter."
    return faults


def drug_faults(volumes: Mapping[str, str], *, lot: str, stated_at: str) -> dict[str, str]:
    """The same with what else is written of it: the lot, and a time where it was not just now."""
    faults = volume_faults(volumes)
    if not lot.strip():
        faults["lot"] = "Write the lot from the label."
    if stated_at and not _is_moment(stated_at):
        faults["stated_at"] = "Write hours and minutes, as 14:05; or leave it blank."
    return faults


def _is_moment(text: str) -> bool:
    try:
        return datetime.fromisoformat(text).tzinfo is not None
    except ValueError:
        return False


def read_first(tx: Transaction, at: At, told: DrugRead, volumes: Mapping[str, str]) -> None:
    """Keep what one person read, sealed."""
    content = reading_content(salt=at.act.new_id(), answers={_OF: dict(volumes)})
    context = at.context(told.reading, at.act.by.person)
    sealed = b64encode(seal(at.site.key, context, content, size=_SIZE)).decode()
    tx.append(replace(told, sealed=sealed), act=at.act, infusion=at.infusion, check=at.check)


def read_second(  # who saw what, where, by which rules
    tx: Transaction,
    at: At,
    first: FirstRead,
    volumes: Mapping[str, str],
    *,
    witness: Person,
    policy: SitePolicy,
) -> Seen | ReadApart | SamePerson | NoWitness | Prescribed:
    """Hold what the witness read beside what was read first."""
    named = {role for role in roles_of(tx, witness.id) if role.value in policy.witnesses}
    writer = tx.find_person(first.by)
    has_same_name = writer is not None and is_same_name(witness.printed_name, writer.printed_name)
    if has_same_name or witness.id in (first.by, at.act.by.person):
        return SamePerson()
    if not may(named, Permission.WITNESS):
        return NoWitness()
    if any(is_same_name(witness.printed_name, each) for each in _prescribers(tx, at.infusion)):
        return Prescribed()
    before = _open_first(at, first)
    is_apart = any(_is_apart(text, volumes[place], policy) for place, text in before.items())
    if is_apart and first.reading == 1:
        apart = DrugReadApart(reading=first.reading, witness=witness.id)
        tx.append(apart, act=at.act, infusion=at.infusion, check=at.check)
        return ReadApart()
    why = DrugTakenBack.APART if is_apart else _why_not_in_time(at.act, first)
    is_received = first.way == RETURNED and not why and may(named, Permission.RECEIVE)
    return Seen(counts=volumes, first=before, witness=witness.id, not_witnessed=why, received=is_received)


def seen_by_nobody(at: At, first: FirstRead) -> Seen:
    """No witness could be had: what was read first counts, and the charge nurse settles it."""
    read = _open_first(at, first)
    return Seen(counts=read, first=read, witness="", not_witnessed=DrugTakenBack.NOBODY, received=False)


def write_down(
    tx: Transaction,
    at: At,
    first: FirstRead,
    seen: Seen,
    *,
    syringe: Mapping[str, str],
    is_told_apart: bool = False,
) -> None:
    """One entry for each place where it was; what nobody else saw, or took, is the charge nurse's to settle.

    `syringe` names what it was of; `is_told_apart`: the two of the check say which one it is.
    """
    for told in _taken_back(first, seen, syringe):
        event = replace(told, is_told_apart=is_told_apart)
        entry = tx.append(event, act=at.act, infusion=at.infusion, check=at.check)
        is_taken = event.way != RETURNED or event.received
        if event.not_witnessed or not is_taken:
            left = AccountLeftOpen(round=0, drug=str(entry.position))
            tx.append(left, act=at.act, infusion=at.infusion, check=at.check)


def _taken_back(first: FirstRead, seen: Seen, syringe: Mapping[str, str]) -> Iterable[DrugTakenBack]:
    for place in first.held_in:
        yield DrugTakenBack(
            slot=first.slot,
            round=first.round,
            way=first.way,
            syringe=syringe[place],
            held_in=place,
            volume=seen.counts[place],
            exact=f"{exact(millilitres(seen.counts[place]))} mL",
            lot=first.lot,
            stated_at=first.stated_at,
            witness=seen.witness,
            received=seen.received,
            first=seen.first[place],
            not_witnessed=seen.not_witnessed,
        )


def _why_not_in_time(act: Act, first: FirstRead) -> str:
    if act.by.device != first.device:
        return DrugTakenBack.ELSEWHERE
    return "" if timedelta(0) <= act.now - first.at <= WITHIN else DrugTakenBack.LATE


def _open_first(at: At, first: FirstRead) -> Mapping[str, str]:
    context = at.context(first.reading, first.by)
    return opened(open_envelope(at.site.key, context, b64decode(first.sealed), size=_SIZE)).answers[_OF]


def _is_apart(one: str, other: str, policy: SitePolicy) -> bool:
    return is_more(one, other, policy) or is_more(other, one, policy)


def is_more(less: str, volume: str, policy: SitePolicy) -> bool:
    """Whether a volume is more than another by more than a division of the scale."""
    return millilitres(volume) - millilitres(less) > millilitres(policy.scale_division)


def why_none_is_chosen(account: Account, in_hand: Iterable[InHand], lot: str) -> dict[str, str]:
    """What is wrong where no syringe in hand is the one that is meant."""
    of_lot = [each for each in in_hand if each.has_lot(lot)]
    if len(of_lot) > 1:
        return {"syringe": "Choose the syringe."}
    name = find_by_lot(account, lot)
    if name is None or of_lot:
        return {"lot": WRONG_LOT}
    return {"lot": KEPT if name in account.kept else GONE}


def find_by_lot(account: Account, lot: str) -> str | None:
    """The syringe of an account with this lot, or with none; of several the last that is not gone."""
    named = [name for name, its in account.lots.items() if is_of_lot(its, lot)]
    return max(named, key=lambda name: (name not in account.gone, int(name)), default=None)


def is_more_than_in_hand(syringe: InHand, volume: str, policy: SitePolicy) -> bool:
    """The same of what is left of a syringe at most; nothing is, where nobody knows that."""
    return syringe.at_most is not None and millilitres(volume) - syringe.at_most > millilitres(
        policy.scale_division
    )


def millilitres(text: str) -> Fraction:
    """A volume that was read before."""
    read = parse_quantity(text, Dimension.VOLUME, zero_allowed=True)
    assert not isinstance(read, Fault)  # noqa: S101  # its faults were looked for before
    return read.value


def _prescribers(reader: Reader, infusion: str) -> set[str]:
    """Whoever was read as the prescriber on the order, in any check of the infusion."""
    read = (
        kept.opened["answers"][letter].get("order", {}).get(PRESCRIBER.name, "")
        for check in reader.checks_of_infusion(infusion)
        for kept in reader.comparisons(check.id)
        if kept.subject == SOURCES
        for letter in LETTERS
    )
    return {each for each in read if each}
