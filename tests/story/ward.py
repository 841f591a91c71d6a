"""A ward in which people act: the real workflow on a real database, walked to any stage of a check."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from typing import Self

from app.keys import ApplicationKey
from app.records.kept import FIRST, SECOND
from app.records.kinds import Kind
from app.records.reading import Answers
from app.records.state import Phase
from app.records.steps import BASELINE, PATIENT, PRIMED_VOLUME, TAKEN_BACK
from app.site.installation import Site
from app.storage import open_store
from app.workflow import (
    beds,
    opening,
    reading,
    recounting,
    settling,
    signing,
    starting,
    stepping,
    stopping,
    taking_back,
)
from app.workflow.enrolling import enrol
from tests.factories.answers import answers, changed, of_patient
from tests.factories.enrolled import QUICK
from tests.factories.exports import exports_folder
from tests.factories.seed import install_seed
from tests.factories.site_keys import site_keys
from tests.story.people import (
    EVERYBODY,
    NADIA,
    RUTH,
    TOMAS,
    WARD,
    Somebody,
)
from tests.story.script import Read, perform
from tests.story.trying import Trying
from tests.support.copies import furnished

BEGAN = datetime(2031, 5, 2, 12, 10, tzinfo=UTC)

# A dose that a nurse may read ten times too high.
TENFOLD = {"demand_dose": "2 mg"}
SEDATED = {"sedatives": "charted"}

# Who lies at the bed that was opened first, as in the answers.
_FIRST_PATIENT = 40417

DIFFERING = changed(answers(), device=TENFOLD)
CAUTIONED = changed(answers(), chart=SEDATED)

_ANSWERS: dict[Read, tuple[Answers, Answers]] = {
    Read.ALIKE: (answers(), answers()),
    Read.APART: (answers(), DIFFERING),
    Read.SET_OTHERWISE: (DIFFERING, DIFFERING),
    Read.TO_CONSIDER: (CAUTIONED, CAUTIONED),
}


class Ward(Trying):
    """Those who act and are not refused; the two nurses of a check are Nadia and Tomas."""

    first, second = NADIA, TOMAS
    everybody: tuple[Somebody, ...] = EVERYBODY

    def __init__(self, site: Site, address: str = "") -> None:
        super().__init__(site, address, BEGAN)

    def _came_to(self, wanted: type, said: object) -> Self:
        assert isinstance(said, wanted), said
        return self

    def opens(self, who: Somebody | None = None, *, bed: str = "") -> Self:
        """Open a check at the next free bed, or at a named one."""
        self.bed += 1
        opened = self.opening(who or self.first, bed=bed or str(self.bed))
        assert isinstance(opened, opening.Opened), opened
        self.check = opened.check
        return self

    def has_beds(self, *named: str) -> Self:
        """The ward has these beds too."""
        for bed in named:
            self._came_to(beds.BedKept, beds.add_bed(self.site, self.now, by="operator", unit=WARD, bed=bed))
        return self

    def joins(self, who: Somebody | None = None) -> Self:
        """Take the free slot."""
        return self._came_to(opening.Joined, self.joining(who or self.second))

    def drafts(self, who: Somebody, read: Answers) -> Self:
        """Keep a draft of every source that the round asks for."""
        return self._came_to(reading.Desk, self.drafting(who, read))

    def reads(self, who: Somebody, read: Answers | None = None) -> Self:
        """Draft every source and hand in; without answers, the complete set that agrees."""
        given = self.of_its_patient(answers()) if read is None else read
        return self._came_to(reading.HandedIn, self.reading(who, given))

    def both_read(self, first: Answers | None = None, second: Answers | None = None) -> Self:
        """The first reads, and the second reads the same unless told otherwise."""
        return self.reads(self.first, first).reads(self.second, first if second is None else second)

    def of_its_patient(self, read: Answers) -> Answers:
        """A reading of the patient who lies at the bed of the check at hand; at each bed lies another."""
        with self.site.store.read() as reader:
            opened = sorted(reader.rows("infusion"), key=lambda row: (row["opened_at"], row["id"]))
        beds = list(dict.fromkeys(each["bed"] for each in opened))
        place = beds.index(self.state().check.bed)
        return of_patient(f"DM-{_FIRST_PATIENT + place}", read) if place else read

    def what_is_read(self, read: Read) -> tuple[Answers, Answers]:
        """The answers of the two that come to this."""
        first, second = _ANSWERS[read]
        return self.of_its_patient(first), self.of_its_patient(second)

    def both_hand_in(self, read: Read) -> Self:
        """Each reads what comes to this."""
        return self.both_read(*self.what_is_read(read))

    def compares(self) -> Self:
        """The site compares."""
        assert self.comparing()
        return self

    def reads_again(self, who: Somebody | None = None, *touched: str) -> Self:
        """Open the next reading."""
        return self._came_to(settling.NextReading, self.reading_again(who or self.first, *touched))

    def recounts(self, who: Somebody | None = None) -> Self:
        """Open the reading in which both count together what does not add up."""
        return self._came_to(recounting.Recounting, self.recounting(who or self.first))

    def acknowledges(self, who: Somebody, code: str) -> Self:
        """Acknowledge every caution of this code, the prescriber having been asked."""
        slot = self.state().slot_of(who.id)
        assert slot is not None
        for each in [found for found in self.state().unacknowledged(slot) if found.code == code]:
            self._came_to(settling.Acknowledged, self.acknowledging(who, each.key))
        return self

    def asks_for_help(self, who: Somebody | None = None) -> Self:
        """Ask a third person to look."""
        return self._came_to(settling.Done, self.asking_for_help(who or self.first))

    def takes_help(self, who: Somebody = RUTH) -> Self:
        """A third person takes it."""
        return self._came_to(settling.Done, self.taking_help(who))

    def settles_help(self, outcome: str, who: Somebody = RUTH) -> Self:
        """The third person says what follows."""
        return self._came_to(settling.Done, self.settling_help(who, outcome))

    def grants(self, code: str, who: Somebody = RUTH) -> Self:
        """The third person sets a rule aside, the prescriber named."""
        return self._came_to(settling.Done, self.granting(who, self.found(code).key))

    def observes(self, *, sedation: str = "0", respiratory_rate: str = "14 /min", spo2: str = "97 %") -> Self:
        """The first nurse observes the baseline."""
        seen = stepping.Observed(sedation=sedation, respiratory_rate=respiratory_rate, spo2=spo2)
        return self.takes(self.holder(FIRST), stepping.Given(observed=seen))

    def reads_wristband(self, who: Somebody | None = None) -> Self:
        """Whoever connects, the first unless another is named, reads once more who the patient is."""
        return self.takes(who or self.holder(FIRST), stepping.Given(patient=self.patient))

    def does(self, who: Somebody, *steps: str) -> Self:
        """Say that one did steps."""
        return self.takes(who, stepping.Given(done=steps))

    def verifies(self, who: Somebody, *steps: str) -> Self:
        """Verify what the other did."""
        return self.takes(who, stepping.Given(verified=steps))

    def takes(self, who: Somebody, given: stepping.Given) -> Self:
        """Take steps in one's own part."""
        return self._came_to(stepping.Taken, self.taking_steps(who, given))

    def takes_back(self, who: Somebody | None = None) -> Self:
        """The first nurse writes down what was taken back, and a colleague has seen it."""
        return self._came_to(taking_back.Written, self.taking_back(who or self.holder(FIRST)))

    def primes(self, volume: str = "2.4 mL", who: Somebody | None = None) -> Self:
        """Who primed, the first unless told otherwise, reads the primed volume."""
        primed = stepping.PrimedVolume(volume=volume, round=self.state().priming_round)
        return self.takes(who or self.holder(FIRST), stepping.Given(primed=primed))

    def confirms_group(self) -> Self:
        """Do and verify what is due in the group that is open."""
        state = self.state()
        assert state.plan is not None
        due = [step for step in state.plan.in_group(state.group) if not state.is_confirmed(step, "verified")]
        if any(step.entry == BASELINE for step in due):
            self.observes()
        if any(step.entry == PRIMED_VOLUME and not state.is_confirmed(step, "done") for step in due):
            self.primes()
        if any(step.entry == PATIENT for step in due):
            self.reads_wristband()
        if any(step.entry == TAKEN_BACK and not state.is_confirmed(step, "done") for step in due):
            self.takes_back()
        plain = [step.id for step in due if not step.entry]
        if plain:
            self.does(self.holder(FIRST), *plain)
        return self.verifies(self.holder(SECOND), *(step.id for step in due))

    def confirms_all(self) -> Self:
        """Group after group, to the last."""
        while self.phase is Phase.STEPS:
            self.confirms_group()
        return self

    def signs(self, who: Somebody) -> Self:
        """Sign with id and secret what stands."""
        return self._came_to(signing.Signed, self.signing(who))

    def both_sign(self) -> Self:
        """The second nurse first: the order does not matter."""
        return self.signs(self.holder(SECOND)).signs(self.holder(FIRST))

    def looks(self, who: Somebody, *, same: bool = True) -> Self:
        """Take a last look at the device."""
        return self._came_to(starting.Looked if same else starting.NotTheSame, self.looking(who, same=same))

    def both_look(self) -> Self:
        """The device shows both what was agreed."""
        return self.looks(self.first).looks(self.second)

    def sees_it_differ(self) -> Self:
        """The second nurse takes the last look, and the device shows something else."""
        return self.looks(self.second, same=False)

    def starts(self, who: Somebody | None = None) -> Self:
        """Note that the infusion was started."""
        return self._came_to(starting.StartNoted, self.starting(who or self.first))

    def stops(self, who: Somebody | None = None, *, why: str = "") -> Self:
        """Write down that the device was stopped."""
        return self._came_to(stopping.StopNoted, self.noting_a_stop(who or self.first, why=why))

    def starts_without_check(self, who: Somebody | None = None, *, bed: str) -> Self:
        """Write down that an infusion had to start without a check."""
        return self._came_to(starting.StartNoted, self.starting_without_check(who or self.first, bed=bed))

    def stops_at(self, bed: str, *, why: str = "other") -> Self:
        """Write down that whatever runs at a bed was stopped."""
        by, stop = self.first, stopping.Stop(why=why)
        said = stopping.note_stop_at(self.site, self.act(by), by.roles, unit=by.unit, bed=bed, stop=stop)
        return self._came_to(stopping.StopNoted, said)

    def re_checks(self) -> Self:
        """Nadia opens a re-check of the infusion at hand, and Tomas joins."""
        opened = self.re_checking(NADIA)
        assert isinstance(opened, opening.Opened), opened
        self.check = opened.check
        return self.joins()

    def changes(self, kind: Kind) -> Self:
        """Nadia opens a change of the infusion at hand, and Tomas joins."""
        opened = self.opening_on(NADIA, kind)
        assert isinstance(opened, opening.Opened), opened
        self.check = opened.check
        return self.joins()

    def ends(self) -> Self:
        """Nadia opens the check of the end of the infusion at hand, and Tomas joins."""
        opened = self.ending(NADIA)
        assert isinstance(opened, opening.Opened), opened
        self.check = opened.check
        return self.joins()

    def hands_over(self, who: Somebody = NADIA, *, to: Somebody = TOMAS) -> Self:
        """Whoever answers for the infusion at hand opens a handoff, and another joins."""
        opened = self.handing_over(who)
        assert isinstance(opened, opening.Opened), opened
        self.check = opened.check
        return self.joins(to)

    def leads_on(self, who: Somebody = NADIA) -> Self:
        """End a check that puts nothing right itself."""
        return self._came_to(settling.Done, self.leading_on(who))

    def abandons(self, who: Somebody | None = None) -> Self:
        """Give the check up."""
        return self._came_to(settling.Done, self.abandoning(who or self.first))

    def holder(self, slot: int) -> Somebody:
        """Whoever holds a slot of the check at hand."""
        person = self.state().people[slot]
        return next(each for each in self.everybody if each.id == person)

    def at_stage(self, phase: Phase) -> Self:
        """A fresh check, walked to a phase."""
        self.begins_at(phase.value, lambda ward: perform(ward, phase))
        assert self.phase is phase, self.phase
        return self


@contextmanager
def open_ward(database_url: str) -> Iterator[Ward]:
    """A ward on a migrated, empty database: rules published, everybody has an account."""
    site = site_at(furnished(database_url, _furnish))
    try:
        yield Ward(site, database_url)
    finally:
        site.store.close()


@contextmanager
def written_anew(database_url: str) -> Iterator[Ward]:
    """The same with nothing of it copied, for whoever has it written otherwise than it is written now."""
    _furnish(database_url)
    site = site_at(database_url)
    try:
        yield Ward(site)
    finally:
        site.store.close()


def _furnish(database_url: str) -> None:
    site, day_before = site_at(database_url), BEGAN - timedelta(days=1)
    install_seed(site, day_before)
    enrol(site, day_before, [each.newcomer for each in EVERYBODY], tools=QUICK)
    site.store.close()


def site_at(database_url: str) -> Site:
    """The installation on a database, with the keys that all have in tests."""
    return Site(
        store=open_store(database_url),
        key=ApplicationKey(content=b"k" * 32),
        site_keys=site_keys(),
        exports=exports_folder(),
    )
