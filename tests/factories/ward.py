"""A ward in which people act: the real workflow on a real database, walked to any stage of a check."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from app.base import Act, Actor
from app.config import root
from app.keys import ApplicationKey
from app.people import Role
from app.records.followup import Found
from app.records.kept import FIRST, SECOND
from app.records.reading import Answers
from app.records.sources import Source
from app.records.state import CheckState, Phase
from app.records.steps import BASELINE, PRIMED_VOLUME
from app.site.installation import Site
from app.site.loading import Loaded, load
from app.storage import open_store
from app.workflow import (
    comparing,
    opening,
    reading,
    settling,
    signing,
    starting,
    stepping,
)
from app.workflow.enrolling import Newcomer, enrol
from app.workflow.installing import install_seed
from tests.factories.answers import answers, changed
from tests.factories.beginning import Beginning
from tests.factories.enrolled import QUICK, newcomer
from tests.factories.site_keys import site_keys
from tests.support.copies import furnished

BEGAN = datetime(2031, 5, 2, 12, 10, tzinfo=UTC)
A_MOMENT = timedelta(seconds=20)
WARD, RECOVERY = "ward-4-east", "recovery"


@dataclass(frozen=True, kw_only=True)
class Somebody:
    """An invented person: who, in which part, with which secret."""

    id: str
    printed_name: str
    roles: frozenset[Role]
    unit: str = WARD

    @property
    def login(self) -> str:
        """What is typed at sign-in."""
        return f"{self.id}.login"

    @property
    def secret(self) -> str:
        """A secret long enough to be one."""
        return f"{self.id} hums beneath the copper stairs"

    @property
    def newcomer(self) -> Newcomer:
        """The account to be, with a confirmed key."""
        same = {
            each: getattr(self, each) for each in ("id", "login", "printed_name", "roles", "unit", "secret")
        }
        return newcomer(staff_number=f"LG-{self.id}", **same)


NADIA = Somebody(id="nadia", printed_name="Nadia Ferrow", roles=frozenset({Role.NURSE}))
TOMAS = Somebody(id="tomas", printed_name="Tomas Osmund", roles=frozenset({Role.NURSE}))
IMOGEN = Somebody(id="imogen", printed_name="Imogen Bexley", roles=frozenset({Role.NURSE}))
INES = Somebody(id="ines", printed_name="Ines Kovac", roles=frozenset({Role.NURSE}), unit=RECOVERY)
RUTH = Somebody(id="ruth", printed_name="Ruth Calloway", roles=frozenset({Role.CHARGE_NURSE}))
RALPH = Somebody(
    id="ralph", printed_name="Ralph Denning", roles=frozenset({Role.CHARGE_NURSE}), unit=RECOVERY
)
PETRA = Somebody(id="petra", printed_name="Petra Varga", roles=frozenset({Role.PHARMACIST}), unit=RECOVERY)
QUILL = Somebody(id="quill", printed_name="Quill Lindqvist", roles=frozenset({Role.QUALITY}))
ADELE = Somebody(id="adele", printed_name="Adele Moreau", roles=frozenset({Role.ADMINISTRATOR}))
EVERYBODY = (NADIA, TOMAS, IMOGEN, INES, RUTH, RALPH, PETRA, QUILL, ADELE)


class Ward(Beginning):
    """A site on one database, its people, and the check at hand."""

    def __init__(self, site: Site, address: str = "") -> None:
        super().__init__(site, address, BEGAN)

    # -- who and when

    def new_id(self) -> str:
        """Ids in order, so that two wards in which the same is done are alike."""
        self._ids += 1
        return f"{self._ids:032x}"

    def wait(self, time: timedelta = A_MOMENT) -> "Ward":
        """Let time pass."""
        self.now += time
        return self

    def signs_in(self, who: Somebody, *, device: str = "", unit: str = "") -> Actor:
        """A person signs in at a device: their own, unless it is named."""
        self.wait(timedelta(seconds=1))
        self._signed_in[who.id] = Actor(
            person=who.id,
            session=f"session-{who.id}-{self.new_id()[-6:]}",
            device=device or f"tablet-of-{who.id}",
            signed_in_at=self.now,
            unit=unit or who.unit,
        )
        self.wait(timedelta(seconds=1))
        return self._signed_in[who.id]

    def act(self, who: Somebody) -> Act:
        """A moment later, this person acts."""
        actor = self._signed_in.get(who.id) or self.signs_in(who)
        self.wait()
        return Act(now=self.now, by=actor, new_id=self.new_id)

    # -- what is stored

    def loaded(self, check: str = "") -> Loaded:
        """The check with what it is judged by."""
        with self.site.store.read() as reader:
            found = load(reader, check or self.check, self.now)
        assert found is not None
        return found

    def state(self, check: str = "") -> CheckState:
        """What the check adds up to now."""
        return self.loaded(check).state

    @property
    def phase(self) -> Phase:
        """Where the check at hand stands."""
        return self.state().phase

    def found(self, code: str) -> Found:
        """The finding of this code in the comparison at hand."""
        return next(each for each in self.state().findings if each.code == code)

    def codes(self) -> list[str]:
        """The codes of all findings of the comparison at hand."""
        return [each.code for each in self.state().findings]

    # -- what people do

    def opens(self, who: Somebody = NADIA, *, bed: str = "", coin: int = 0) -> "Ward":
        """Open a check at the next free bed, or at a named one."""
        self.bed += 1
        opened = opening.open_check(
            self.site, self.act(who), unit=self.act(who).by.unit, bed=bed or str(self.bed), coin=coin
        )
        assert isinstance(opened, opening.Opened), opened
        self.check = opened.check
        return self

    def joins(self, who: Somebody = TOMAS) -> "Ward":
        """Take the free slot."""
        joined = opening.join_check(self.site, self.act(who), self.check)
        assert isinstance(joined, opening.Joined), joined
        return self

    def drafts(self, who: Somebody, read: Answers) -> "Ward":
        """Keep a draft of every source that the round asks for."""
        for source in Source:
            desk = reading.open_desk(self.site, self.act(who), self.check)
            assert isinstance(desk, reading.Desk), desk
            if source.value in {name for name, _ in desk.round.scope}:
                saved = reading.save_draft(
                    self.site,
                    self.act(who),
                    self.check,
                    source=source,
                    answers=read.get(source.value, {}),
                    version=desk.version,
                )
                assert isinstance(saved, reading.Saved), saved
        return self

    def reads(self, who: Somebody, read: Answers | None = None) -> "Ward":
        """Draft every source and hand in; without answers, the complete set that agrees."""
        self.drafts(who, answers() if read is None else read)
        handed_in = reading.hand_in(self.site, self.act(who), self.check)
        assert isinstance(handed_in, reading.HandedIn), handed_in
        return self

    def both_read(self, first: Answers | None = None, second: Answers | None = None) -> "Ward":
        """Nadia reads, and Tomas reads the same unless told otherwise."""
        return self.reads(NADIA, first).reads(TOMAS, first if second is None else second)

    def compares(self) -> "Ward":
        """The site compares."""
        assert comparing.compare_round(self.site, self.check, self.wait().now)
        return self

    def reads_again(self, who: Somebody = NADIA, *touched: str) -> "Ward":
        """Open the next reading."""
        opened = settling.read_again(self.site, self.act(who), self.check, touched=touched, why="read again")
        assert isinstance(opened, settling.NextReading), opened
        return self

    def acknowledges(self, who: Somebody, code: str) -> "Ward":
        """Acknowledge every caution of this code, the prescriber having been asked."""
        slot = self.state().slot_of(who.id)
        assert slot is not None
        for each in [found for found in self.state().unacknowledged(slot) if found.code == code]:
            said = settling.acknowledge(
                self.site,
                self.act(who),
                self.check,
                finding=each.key,
                reason="prescriber-asked",
                named="Dr Brandt",
                text="",
            )
            assert isinstance(said, settling.Acknowledged), said
        return self

    def asks_for_help(self, who: Somebody = NADIA) -> "Ward":
        """Ask a third person to look."""
        asked = settling.ask_for_help(self.site, self.act(who), self.check, why="cannot-settle", text="")
        assert isinstance(asked, settling.Done), asked
        return self

    def takes_help(self, who: Somebody = RUTH) -> "Ward":
        """A third person takes it."""
        taken = settling.take_help(self.site, self.act(who), who.roles, self.check)
        assert isinstance(taken, settling.Done), taken
        return self

    def settles_help(self, outcome: str, who: Somebody = RUTH) -> "Ward":
        """The third person says what follows."""
        settled = settling.settle_help(
            self.site, self.act(who), self.check, outcome=outcome, text="I looked."
        )
        assert isinstance(settled, settling.Done), settled
        return self

    def grants(self, code: str, who: Somebody = RUTH) -> "Ward":
        """The third person sets a rule aside, the prescriber named."""
        granted = settling.grant_exception(
            self.site,
            self.act(who),
            who.roles,
            self.check,
            finding=self.found(code).key,
            reason="pain team's plan",
            prescriber="Dr Brandt",
        )
        assert isinstance(granted, settling.Done), granted
        return self

    def observes(
        self, *, sedation: str = "0", respiratory_rate: str = "14 /min", spo2: str = "97 %"
    ) -> "Ward":
        """The first nurse observes the baseline."""
        seen = stepping.Observed(sedation=sedation, respiratory_rate=respiratory_rate, spo2=spo2)
        return self.takes(self.holder(FIRST), stepping.Given(observed=seen))

    def confirms(self, who: Somebody, *steps: str) -> "Ward":
        """Confirm steps in one's own part."""
        return self.takes(who, stepping.Given(ticked=steps))

    def takes(self, who: Somebody, given: stepping.Given) -> "Ward":
        """Take steps in one's own part."""
        taken = stepping.take_steps(self.site, self.act(who), self.check, given)
        assert isinstance(taken, stepping.Taken), taken
        return self

    def primes(self, first: str = "2.3 mL", second: str = "2.4 mL") -> "Ward":
        """Both read the primed volume, each without sight of the other's."""
        asked_in = self.state().priming_round
        for slot, volume in ((FIRST, first), (SECOND, second)):
            primed = stepping.PrimedVolume(volume=volume, round=asked_in)
            self.takes(self.holder(slot), stepping.Given(primed=primed))
        return self

    def confirms_group(self) -> "Ward":
        """Do and verify what is due in the group that is open."""
        state = self.state()
        assert state.plan is not None
        due = [step for step in state.plan.in_group(state.group) if not state.is_confirmed(step, "verified")]
        if any(step.entry == BASELINE for step in due):
            self.observes()
        if any(step.entry == PRIMED_VOLUME for step in due):
            self.primes()
        plain = [step.id for step in due if not step.entry]
        if plain:
            self.confirms(self.holder(FIRST), *plain)
        verified = [step.id for step in due if step.entry != PRIMED_VOLUME]
        if verified:
            self.confirms(self.holder(SECOND), *verified)
        return self

    def confirms_all(self) -> "Ward":
        """Group after group, to the last."""
        while self.phase is Phase.STEPS:
            self.confirms_group()
        return self

    def signs(self, who: Somebody) -> "Ward":
        """Sign with id and secret what stands."""
        signed = signing.sign_record(
            self.site,
            self.act(who),
            self.check,
            login=who.login,
            secret=who.secret,
            digest=self.state().frozen_digest,
        )
        assert isinstance(signed, signing.Signed), signed
        return self

    def both_sign(self) -> "Ward":
        """The second nurse first: the order does not matter."""
        return self.signs(self.holder(SECOND)).signs(self.holder(FIRST))

    def looks(self, who: Somebody, *, same: bool = True) -> "Ward":
        """Take a last look at the device."""
        looked = starting.take_last_look(self.site, self.act(who), self.check, same=same)
        assert isinstance(looked, starting.Looked if same else starting.NotTheSame), looked
        return self

    def starts(self, who: Somebody = NADIA) -> "Ward":
        """Note that the infusion was started."""
        started = starting.start_infusion(self.site, self.act(who), self.check)
        assert isinstance(started, starting.StartNoted), started
        return self

    def abandons(self, who: Somebody = NADIA) -> "Ward":
        """Give the check up."""
        done = settling.abandon(self.site, self.act(who), self.check, reason="order-withdrawn", text="")
        assert isinstance(done, settling.Done), done
        return self

    def holder(self, slot: int) -> Somebody:
        """Whoever holds a slot of the check at hand."""
        person = self.state().people[slot]
        return next(each for each in EVERYBODY if each.id == person)

    # -- stages

    def at_stage(self, phase: Phase) -> "Ward":
        """A fresh check, walked to a phase."""
        self.begins_at(phase.value, _WALKS[phase])
        assert self.phase is phase, self.phase
        return self


# A dose that a nurse may read ten times too high.
TENFOLD = {"demand_dose": "2 mg"}
SEDATED = {"sedatives": "charted"}

DIFFERING = changed(answers(), device=TENFOLD)
CAUTIONED = changed(answers(), chart=SEDATED)

_WALKS: dict[Phase, Callable[[Ward], Ward]] = {
    Phase.OPENED: lambda ward: ward.opens(),
    Phase.READING: lambda ward: ward.opens().joins(),
    Phase.BOTH_HANDED_IN: lambda ward: ward.opens().joins().both_read(),
    Phase.DISPUTED: lambda ward: ward.opens().joins().both_read(answers(), DIFFERING).compares(),
    Phase.ESCALATED: lambda ward: ward.at_stage(Phase.DISPUTED).asks_for_help(),
    Phase.AGREED: lambda ward: ward.opens().joins().both_read(CAUTIONED).compares(),
    Phase.STEPS: lambda ward: ward.at_stage(Phase.BOTH_HANDED_IN).compares(),
    Phase.SIGNING: lambda ward: ward.at_stage(Phase.STEPS).confirms_all(),
    Phase.CLEARED: lambda ward: ward.at_stage(Phase.SIGNING).both_sign(),
    Phase.LAPSED: lambda ward: ward.at_stage(Phase.CLEARED).looks(TOMAS, same=False),
    Phase.STARTED: lambda ward: ward.at_stage(Phase.CLEARED).looks(NADIA).looks(TOMAS).starts(),
    Phase.ABANDONED: lambda ward: ward.at_stage(Phase.DISPUTED).abandons(),
}


@contextmanager
def open_ward(database_url: str) -> Iterator[Ward]:
    """A ward on a migrated, empty database: rules published, everybody has an account."""
    site = _site(furnished(database_url, _furnish))
    try:
        yield Ward(site, database_url)
    finally:
        site.store.close()


def _furnish(database_url: str) -> None:
    site, day_before = _site(database_url), BEGAN - timedelta(days=1)
    install_seed(site, day_before, root() / "seed_data")
    enrol(site, day_before, [each.newcomer for each in EVERYBODY], tools=QUICK)
    site.store.close()


def _site(database_url: str) -> Site:
    return Site(store=open_store(database_url), key=ApplicationKey(content=b"k" * 32), site_keys=site_keys())
