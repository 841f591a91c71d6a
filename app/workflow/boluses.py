"""A bolus given by staff by the device: by one nurse, as the order says, with a look before and at its peak.

How much is the order's of the check in force. It is in the account, and in no figure of the limit.
"""

from dataclasses import dataclass
from datetime import datetime, timedelta

from app.base import Act
from app.judging.boluses import BolusOrder, TooMuch, TooSoon, bolus_order, peak_of, refuse_by_order
from app.records.bolus_events import BolusLooked, StaffBolusGiven
from app.records.boluses import BolusLook, StaffBolus
from app.records.infusion import InfusionState
from app.records.kept import KeptInfusion
from app.records.known import Known
from app.records.policy import SitePolicy
from app.records.rules import LIBRARY
from app.records.visibility import is_closed_to
from app.site.installation import Site
from app.site.loading import account_of, known_of, known_of_check, load_infusion, rules_in_force, unit_name
from app.storage import Reader, Transaction
from app.workflow.bolus_looks import (
    CheckOpen,
    LookSaysNo,
    OpenedSince,
    OutsideSince,
    StartedSince,
    TakenOffBefore,
    stands_since,
)
from app.workflow.bolus_observing import Observed, faults_in, is_outside
from app.workflow.loading import NotTheirs, infusion_for, roles_of, viewer_of
from app.workflow.looking import note_access
from app.workflow.queueing import hold_bed
from app.workflow.refusals import ReadsBlind

_HOUR = timedelta(hours=1)


@dataclass(frozen=True)
class NotRunning:
    """It does not run, its line is paused, or a check has to come first."""


@dataclass(frozen=True)
class NotOrdered:
    """The order in force lets staff give none, or two have not read all of what it says."""


@dataclass(frozen=True)
class NoPeakKnown:
    """The drug library does not say when the effect of this drug is greatest."""


@dataclass(frozen=True)
class PeakNotSeen:
    """What the last one did at its peak is not written down yet."""


@dataclass(frozen=True)
class CoversOnly:
    """Whoever covers a colleague's break pauses, stops and answers alarms, and gives no bolus."""


@dataclass(frozen=True)
class LookFirst:
    """Whoever gives it has not looked at the patient within the site's time."""


@dataclass(frozen=True, kw_only=True)
class Unanswered:
    """Something was left out, or is no rate; `faults` says for each field what."""

    faults: dict[str, str]


@dataclass(frozen=True)
class LookedWell:
    """The protocol allows a bolus with what was observed."""


@dataclass(frozen=True, kw_only=True)
class Outside:
    """The protocol forbids one with what was observed; `says` what is done then."""

    says: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class NotYet:
    """Its effect is greatest only then; what is outside the protocol is written down before it, too."""

    until: datetime


@dataclass(frozen=True, kw_only=True)
class Given:
    """The bolus is in the log; `calls`: so many were given in an hour that the pain service is called."""

    calls: bool


CannotGive = (
    CoversOnly
    | NotRunning
    | CheckOpen
    | NotOrdered
    | NoPeakKnown
    | PeakNotSeen
    | TooSoon
    | TooMuch
    | ReadsBlind
)


@dataclass(frozen=True, kw_only=True)
class BolusSeen:
    """What the order lets staff give, and what was given; `refused` is why none may be given now.

    `peak_at` is when the effect of the last one is greatest, while that is not written down; `looked` that
    this person's look still counts. `in_an_hour` were given in the last hour. `may_have_given` is the look of
    this person after which one may have been given, where none may be given now, and `outside_at` when one
    that was outside the protocol came after it; `started_at` when it was started anew since, `opened_at` when
    a check was opened for which the device stands.
    """

    infusion: str
    unit: str
    bed: str
    order: BolusOrder | None
    drug: str
    last: StaffBolus | None
    peak_at: datetime | None
    looked: bool
    in_an_hour: int
    policy: SitePolicy
    refused: CannotGive | None
    may_have_given: datetime | None
    outside_at: datetime | None
    started_at: datetime | None
    opened_at: datetime | None


def see_bolus(site: Site, act: Act, infusion_id: str) -> BolusSeen | NotTheirs:
    """What may be given, for whoever may give it; a look at the order is written down as any look is."""
    with site.store.read() as reader:
        infusion = infusion_for(reader, act, infusion_id)
        if not isinstance(infusion, KeptInfusion):
            return infusion
        state = load_infusion(reader, infusion.id)
        place = _Place(reader=reader, act=act, infusion=infusion, state=state)
        refused = place.refused()
        is_blind = isinstance(refused, ReadsBlind)
        seen = BolusSeen(
            infusion=infusion.id,
            unit=unit_name(reader, infusion.unit),
            bed=infusion.bed,
            order=None if is_blind else place.order,
            drug="" if is_blind else place.drug,
            last=max(state.boluses.given, key=lambda each: each.at, default=None),
            peak_at=None if is_blind else place.peak_at,
            looked=place.has_looked,
            in_an_hour=state.boluses.since(act.now - _HOUR),
            policy=place.policy,
            refused=refused,
            may_have_given=place.may_have_given(refused),
            outside_at=None if is_blind or place.own_look is None else place.own_look.outside_at,
            started_at=None if place.own_look is None else place.own_look.started_at,
            opened_at=place.stands_since,
        )
    if seen.order is not None and state.in_force:
        note_access(site, act, state.in_force, what="infusion")
    return seen


def look_before(
    site: Site, act: Act, infusion_id: str, observed: Observed
) -> LookedWell | Outside | Unanswered | CannotGive | NotTheirs:
    """Sedation and respiratory rate before a bolus: outside the protocol none is given."""
    with site.store.write() as tx:
        place = _place_for(tx, act, infusion_id)
        if not isinstance(place, _Place):
            return place
        refused = place.refused()
        return refused if refused is not None else _look(tx, place, observed, bolus="")


def give_bolus(
    site: Site, act: Act, infusion_id: str, *, given_at: str = ""
) -> Given | LookFirst | LookSaysNo | CannotGive | NotTheirs:
    """It was given at the device; pressed twice it is one, for it takes a look of its own.

    What was given after a look is written down whatever came since: a stop, a pause, a check, and a look
    outside the protocol or another start, where it was given before that; by the order that was in force
    then; while the device stands for a check, where it was given before that was opened. `given_at` is when,
    as it is stated.
    """
    with site.store.write() as tx:
        place = _place_for(tx, act, infusion_id)
        if not isinstance(place, _Place):
            return place
        look = place.own_look
        if look is None:
            return place.refused() or LookFirst()
        at = place.moment_of(look, given_at)
        refused = place.refused_by(look, given_at, at) or place.refused_late(look, at)
        if refused is not None:
            # To whoever reads blind there it is not told what others gave, saw, or counted.
            is_open = isinstance(refused, StartedSince) or not place.reads_blind
            return refused if is_open else ReadsBlind()
        given = StaffBolusGiven(
            look=str(look.position),
            in_force=look.in_force_at(at),
            stated_at="" if at == act.now else at.isoformat(timespec="seconds"),
        )
        tx.append(given, act=act, infusion=place.infusion.id)
        # With this one.
        in_an_hour = place.state.boluses.since(act.now - _HOUR) + 1
        return Given(calls=not place.reads_blind and in_an_hour >= place.policy.staff_boluses_call)


def look_at_peak(
    site: Site, act: Act, infusion_id: str, observed: Observed
) -> LookedWell | Outside | Unanswered | NotYet | NotRunning | NotTheirs:
    """Sedation and respiratory rate at the peak, by whoever looks; a stop meanwhile changes nothing of it."""
    with site.store.write() as tx:
        place = _place_for(tx, act, infusion_id)
        if not isinstance(place, _Place):
            return place
        bolus, peak_at = place.state.boluses.to_be_seen, place.peak_at
        if bolus is None:
            return NotRunning()
        if peak_at is not None and act.now < peak_at and not is_outside(place.policy, observed):
            return NotYet(until=peak_at)
        return _look(tx, place, observed, bolus=str(bolus.position))


@dataclass(frozen=True, kw_only=True)
class _Place:
    """An infusion, and what is in force on it."""

    reader: Reader
    act: Act
    infusion: KeptInfusion
    state: InfusionState

    @property
    def policy(self) -> SitePolicy:
        """The site's policy on the unit."""
        return rules_in_force(self.reader, self.act.now, unit=self.infusion.unit).policy

    @property
    def known(self) -> Known:
        """What is in force."""
        return known_of(self.reader, self.state)

    @property
    def order(self) -> BolusOrder | None:
        """What the order lets staff give."""
        return bolus_order(self.known.order_of_record)

    @property
    def drug(self) -> str:
        """The drug, as both read it on the device."""
        return str(self.known.previous.get("drug", ""))

    @property
    def peak(self) -> timedelta | None:
        """How long after a dose the effect of this drug is greatest."""
        rules = rules_in_force(self.reader, self.act.now)
        effects = rules.content(LIBRARY).get("peak_effects", {}) if rules.has_library else {}
        named = {name.casefold(): text for name, text in effects.items()}
        text = named.get(self.drug.casefold())
        return peak_of(text) if text else None

    @property
    def peak_at(self) -> datetime | None:
        """When the effect of the last one is greatest, while that is not written down."""
        bolus, peak = self.state.boluses.to_be_seen, self.peak
        return bolus.at + peak if bolus is not None and peak is not None else None

    @property
    def has_looked(self) -> bool:
        """Whether the look of whoever acts still counts."""
        look = self.state.boluses.look_of(self.act.by.person)
        return look is not None and look.is_fresh(self.act.by.person, self.act.now, self.policy.clearance)

    @property
    def own_look(self) -> BolusLook | None:
        """The look of whoever acts, after which nothing of hers was written down; after a start for a day."""
        looks, who = self.state.boluses, self.act.by.person
        return None if self.state.closed_at else looks.look_to_tell(who, self.act.now)

    @property
    def stands_since(self) -> datetime | None:
        """Since when a check of it is open for which the device stands."""
        return stands_since(self.reader, self.infusion)

    def moment_of(self, look: BolusLook, given_at: str) -> datetime:
        """When one was given after a look; blank is the latest that it can have been."""
        at, opened_at = look.given_at(given_at, self.act.now, self.policy.clearance), self.stands_since
        if given_at or opened_at is None or opened_at < look.at:
            return at
        return min(at, opened_at)

    def may_have_given(self, refused: CannotGive | None) -> datetime | None:
        """When whoever acts looked, where that counts only for what was given then."""
        look = self.own_look
        return None if look is None or (refused is None and self.has_looked) else look.at

    @property
    def reads_blind(self) -> bool:
        """Whether whoever acts is one of two who read there."""
        viewer = viewer_of(self.reader, self.act.by, roles_of(self.reader, self.act.by.person), self.act.now)
        return is_closed_to(self.infusion, viewer)

    def refused(self) -> CannotGive | None:
        """Why none may be given now, if so; what the two who read there are told is that they read."""
        if self.reads_blind:
            return ReadsBlind()
        state = self.state
        if not state.is_running or state.pause is not None or state.led_to or state.is_held_back:
            return NotRunning()
        if self.stands_since is not None:
            return CheckOpen(at=self.stands_since)
        if state.cover is not None and not state.cover.may_give(self.act.by.person):
            return CoversOnly()
        return self._by_the_order()

    def _by_the_order(self) -> CannotGive | None:
        order = self.order
        if order is None or self.state.is_unchecked:
            return NotOrdered()
        if self.peak is None:
            return NoPeakKnown()
        by_order = refuse_by_order(order, self._given(), self.act.now)
        return by_order or (PeakNotSeen() if self.state.boluses.to_be_seen is not None else None)

    def refused_late(self, look: BolusLook, at: datetime) -> NotOrdered | TooSoon | TooMuch | None:
        """Why the order that was in force after a look forbids one at a moment, if so.

        What was given since another start was held against the order that is in force with that.
        """
        order = bolus_order(known_of_check(self.reader, look.in_force_at(at)).order_of_record)
        given = self._given(before=look.started_at)
        return NotOrdered() if order is None else refuse_by_order(order, given, at)

    def refused_by(self, look: BolusLook, given_at: str, at: datetime) -> LookSaysNo | None:
        """Why a look allows none at the moment that is stated, if so."""
        if look.started_at is not None and not look.is_before_start(given_at, self.act.now):
            return StartedSince(at=look.started_at)
        if look.outside_at is not None and not look.allows(given_at, self.act.now):
            return OutsideSince(at=look.outside_at)
        if self.stands_since is not None and at > self.stands_since:
            return OpenedSince(at=self.stands_since)
        off = None if look.started_at is None else self._off_after(look)
        return TakenOffBefore(at=off) if off is not None and off <= at else None

    def _off_after(self, look: BolusLook) -> datetime | None:
        """When by the account the syringe came off that was on when somebody looked."""
        entries = account_of(self.reader, self.infusion.id).entries
        off = (each for each in entries if each.data["kind"] == "removed" and each.position > look.position)
        return next((each.at for each in off), None)

    def _given(self, *, before: datetime | None = None) -> list[tuple[datetime, str]]:
        """When each was given, and how much: what the order said that was in force then."""
        told: dict[str, str] = {}
        given = [each for each in self.state.boluses.given if before is None or each.at < before]
        for each in {bolus.in_force for bolus in given}:
            order = bolus_order(known_of_check(self.reader, each).order_of_record)
            assert order is not None  # noqa: S101  # none was given without
            told[each] = order.dose
        return [(each.at, told[each.in_force]) for each in given]


def _look(
    tx: Transaction, place: _Place, observed: Observed, *, bolus: str
) -> LookedWell | Outside | Unanswered:
    rule = place.policy.baseline
    faults, within = faults_in(place.policy, observed), not is_outside(place.policy, observed)
    # What is outside waits for no other answer.
    if faults and within:
        return Unanswered(faults=faults)
    looked = BolusLooked(
        bolus=bolus,
        scale=rule.scale,
        sedation="" if "sedation" in faults else observed.sedation,
        respiratory_rate="" if "respiratory_rate" in faults else observed.respiratory_rate,
        within=within,
    )
    tx.append(looked, act=place.act, infusion=place.infusion.id)
    return LookedWell() if within else Outside(says=rule.outside)


def _place_for(tx: Transaction, act: Act, infusion_id: str) -> _Place | NotTheirs:
    infusion = infusion_for(tx, act, infusion_id)
    if not isinstance(infusion, KeptInfusion):
        return infusion
    hold_bed(tx, infusion.unit, infusion.bed, act.now)
    return _Place(reader=tx, act=act, infusion=infusion, state=load_infusion(tx, infusion.id))
