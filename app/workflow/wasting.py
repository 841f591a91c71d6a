"""Drug that goes outside of any check: the rest of a syringe that is off the device, what broke or was spilt.

What two people see of it is held as in a check (`witnessing.py`). The rest of the syringe that is on the
device goes at the end of PCA.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

from app.base import Act
from app.judging.in_hand import InHand, find_chosen, syringes_in_hand
from app.records.account import fold_account
from app.records.account_entries import FIRST_SYRINGE
from app.records.account_so_far import Account
from app.records.ending_events import DrugRead, DrugReadApart
from app.records.infusion import InfusionState
from app.records.kept import Entry, KeptInfusion
from app.records.policy import SitePolicy
from app.records.taken_back import (
    EMPTIES,
    IN_SYRINGE,
    OUTSIDE,
    FirstRead,
    find_apart,
    find_first_read,
    next_reading,
)
from app.records.timeline import open_checks_in
from app.records.visibility import is_closed_to
from app.records.ward_events import DrugTakenBack
from app.site.installation import Site
from app.site.loading import account_of, load_infusion, read_by_checks, rules_in_force, unit_name
from app.storage import Reader, Transaction
from app.workflow.credentials import Known, Where, forget_tries, try_credential
from app.workflow.loading import not_theirs, roles_of, viewer_of
from app.workflow.queueing import hold_bed
from app.workflow.refusals import (
    KeptAsEvidence,
    NotAllowed,
    NotFound,
    NotOnShift,
    ReadsBlind,
    TooManyTries,
    WrongCredential,
)
from app.workflow.taking_back import FirstKept, NothingWaits, WrittenMeanwhile
from app.workflow.witnessing import (
    At,
    NoWitness,
    Prescribed,
    ReadApart,
    SamePerson,
    Seen,
    Unwritable,
    drug_faults,
    is_more_than_in_hand,
    read_first,
    read_second,
    seen_by_nobody,
    volume_faults,
    why_none_is_chosen,
    write_down,
)

_ON_THE_DEVICE = "This syringe is on the device: what is left of it goes at the end of PCA."
_TOO_MUCH = "This is more than can be left of it. Read it once more."


@dataclass(frozen=True, kw_only=True)
class Gone:
    """What one person writes: what became of it (`what`), how much as text, and of which syringe.

    `last` is the position of what stood when the page was served, 0 where nothing did.
    """

    what: str
    volume: str
    lot: str
    syringe: str
    stated_at: str
    last: int


@dataclass(frozen=True)
class WrittenDown:
    """It stands, and the witness with it."""


@dataclass(frozen=True)
class AccountClosed:
    """The infusion has ended, and both have signed that nothing of it is in hand."""


Refused = NotFound | NotAllowed | NotOnShift | ReadsBlind | AccountClosed | KeptAsEvidence


@dataclass(frozen=True, kw_only=True)
class WasteSeen:
    """What is in hand, and what waits for a witness; `apart` is what this person wrote of it before.

    `waiting` is only what this person has read: whatever another one has read is read anew.
    """

    infusion: str
    unit: str
    bed: str
    in_hand: tuple[InHand, ...]
    waiting: FirstRead | None
    apart: DrugRead | None
    by: str
    last: int


def see_waste(site: Site, act: Act, infusion_id: str) -> WasteSeen | Refused:
    """The page for whoever writes it down; it shows no volume."""
    with site.store.read() as reader:
        place = _find_place(reader, act, infusion_id)
        if not isinstance(place, _Place):
            return place
        apart = find_apart(place.own, "")
        person = reader.find_person(act.by.person)
        return WasteSeen(
            infusion=infusion_id,
            unit=unit_name(reader, place.infusion.unit),
            bed=place.infusion.bed,
            in_hand=place.in_hand,
            waiting=place.waiting,
            apart=apart.event if apart and isinstance(apart.event, DrugRead) else None,
            by=person.printed_name if person else "",
            last=place.last,
        )


def read_waste(
    site: Site, act: Act, infusion_id: str, gone: Gone
) -> FirstKept | Unwritable | WrittenMeanwhile | Refused:
    """Keep what one person read of it, sealed until a witness has read it too."""
    faults = drug_faults({IN_SYRINGE: gone.volume}, lot=gone.lot, stated_at=gone.stated_at)
    if gone.what not in OUTSIDE:
        faults["what"] = "Choose what became of it."
    if faults:
        return Unwritable(faults=faults)
    with site.store.write() as tx:
        place = _hold_place(tx, act, infusion_id)
        if not isinstance(place, _Place):
            return place
        if place.last != gone.last:
            return WrittenMeanwhile()
        held_in, way = OUTSIDE[gone.what]
        if place.keeps((held_in,)):
            return KeptAsEvidence()
        syringe = place.chosen(gone)
        if isinstance(syringe, Unwritable):
            return syringe
        told = DrugRead(
            slot=0,
            round=0,
            reading=next_reading(place.own, ""),
            way=way,
            held_in=(held_in,),
            syringe=syringe,
            lot=gone.lot,
            stated_at=gone.stated_at,
            sealed="",
        )
        read_first(tx, place.at(site), told, {held_in: gone.volume})
        return FirstKept()


def witness_waste(
    site: Site, act: Act, infusion_id: str, volume: str, *, login: str, secret: str
) -> (
    WrittenDown
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
    """The witness reads it too, with id and full secret; once two agree, it stands."""
    faults = volume_faults({IN_SYRINGE: volume})
    if faults:
        return Unwritable(faults=faults)
    known = try_credential(
        site, act.now, login=login, secret=secret, what="witnessing", where=Where(signed_in=act.by.person)
    )
    if not isinstance(known, Known):
        return known
    with site.store.write() as tx:
        forget_tries(tx, known)
        place = _hold_place(tx, act, infusion_id)
        if not isinstance(place, _Place):
            return place
        first = place.waiting
        if first is None:
            return NothingWaits()
        if place.keeps(first.held_in):
            return KeptAsEvidence()
        volumes = dict.fromkeys(first.held_in, volume)
        seen = read_second(tx, place.at(site), first, volumes, witness=known.person, policy=place.policy)
        return _write(tx, site, place, first, seen=seen) if isinstance(seen, Seen) else seen


def go_on_without(site: Site, act: Act, infusion_id: str) -> WrittenDown | NothingWaits | Refused:
    """Nobody could be had who sees it: that stands, and the charge nurse settles it."""
    with site.store.write() as tx:
        place = _hold_place(tx, act, infusion_id)
        if not isinstance(place, _Place):
            return place
        first = place.waiting
        if first is None:
            return NothingWaits()
        if place.keeps(first.held_in):
            return KeptAsEvidence()
        return _write(tx, site, place, first, seen=seen_by_nobody(place.at(site), first))


@dataclass(frozen=True, kw_only=True)
class _Place:
    """An infusion, and what its log says of its syringes."""

    reader: Reader
    act: Act
    infusion: KeptInfusion
    state: InfusionState
    log: tuple[Entry, ...]

    @cached_property
    def policy(self) -> SitePolicy:
        """The site's policy on the unit."""
        return rules_in_force(self.reader, self.act.now, unit=self.infusion.unit).policy

    @cached_property
    def own(self) -> tuple[Entry, ...]:
        """What this person wrote; what a colleague reads meanwhile is of its own."""
        return tuple(each for each in self.log if each.by == self.act.by.person)

    @cached_property
    def waiting(self) -> FirstRead | None:
        """What this person has read, and waits for a witness."""
        return find_first_read(self.own, "")

    @property
    def last(self) -> int:
        """The position of what was written last."""
        of_drug = (each for each in self.log if not each.check and isinstance(each.event, _OF_DRUG))
        return max((each.position for each in of_drug), default=0)

    @cached_property
    def whole(self) -> Account:
        """The account with what checks that are still open have put into it."""
        return account_of(self.reader, self.infusion.id)

    @cached_property
    def in_hand(self) -> tuple[InHand, ...]:
        """The syringes in hand; what a check that is open has read of them is nobody's yet."""
        is_open = open_checks_in(self.log)
        counts = tuple(each for each in self.log if each.check not in is_open)
        told = fold_account(counts, read_by_checks(self.reader, counts))
        gone = self.whole.gone | self.whole.kept
        return tuple(each for each in syringes_in_hand(told, self.policy.account) if each.name not in gone)

    def keeps(self, held_in: Iterable[str]) -> bool:
        """Whether nothing of it may be emptied: it is kept as it is until the investigator gives it free."""
        return self.state.emergencies.evidence is not None and not EMPTIES.isdisjoint(held_in)

    def at(self, site: Site) -> At:
        """Where it is written: at the infusion, in no check."""
        return At(site=site, act=self.act, infusion=self.infusion.id)

    def chosen(self, gone: Gone) -> str | Unwritable:
        """The syringe by its name in the account; where nobody has read it yet, the first."""
        in_hand, whole = self.in_hand, self.whole
        if not whole.lots:
            return FIRST_SYRINGE
        syringe = find_chosen(in_hand, lot=gone.lot, name=gone.syringe)
        if syringe is None:
            return Unwritable(faults=why_none_is_chosen(whole, in_hand, gone.lot))
        if syringe.is_on and OUTSIDE[gone.what][0] == IN_SYRINGE:
            return Unwritable(faults={"what": _ON_THE_DEVICE})
        if is_more_than_in_hand(syringe, gone.volume, self.policy):
            return Unwritable(faults={"in_syringe": _TOO_MUCH})
        return syringe.name


_OF_DRUG = DrugRead | DrugReadApart | DrugTakenBack


def _find_place(reader: Reader, act: Act, infusion_id: str) -> _Place | Refused:
    infusion = reader.find_infusion(infusion_id)
    if infusion is None:
        return NotFound()
    roles = roles_of(reader, act.by.person)
    refused = not_theirs(act, infusion, roles)
    if refused is not None:
        return refused
    if is_closed_to(infusion, viewer_of(reader, act.by, roles, act.now)):
        return ReadsBlind()
    state = load_infusion(reader, infusion_id)
    if not state.runs:
        return NotFound()
    if state.closed_at is not None:
        return AccountClosed()
    return _Place(
        reader=reader, act=act, infusion=infusion, state=state, log=reader.entries_of_infusion(infusion_id)
    )


def _hold_place(tx: Transaction, act: Act, infusion_id: str) -> _Place | Refused:
    infusion = tx.find_infusion(infusion_id)
    if infusion is not None:
        hold_bed(tx, infusion.unit, infusion.bed, act.now)
    return _find_place(tx, act, infusion_id)


def _write(tx: Transaction, site: Site, place: _Place, first: FirstRead, *, seen: Seen) -> WrittenDown:
    write_down(tx, place.at(site), first, seen, syringe=dict.fromkeys(first.held_in, first.syringe))
    return WrittenDown()
