"""A check told as its events, in order, one minute after the other; the fold says what they add up to."""

import json
from dataclasses import replace
from datetime import UTC, datetime, timedelta

from app.config import root
from app.records import events
from app.records.added_up import Results
from app.records.ending_events import InfusionEnded
from app.records.events import Event
from app.records.fold import fold
from app.records.followup import Found
from app.records.infusion import InfusionState, fold_infusion
from app.records.kept import FIRST, PRIMING, SECOND, SOURCES, Entry, KeptCheck
from app.records.kinds import RE_CHECK, SET_UP, End, Kind
from app.records.reading import WHOLE, Scope
from app.records.state import CheckState, Phase
from app.records.steps import DONE, PRIMED_VOLUME, VERIFIED, WITH_CARRIER, Plan, plan_from
from app.records.taken_back import IN_LINE, WASTED
from app.records.ward_events import DrugTakenBack
from tests.factories.findings import CAUTION, DEVICE_WRONG, DIFFER
from tests.story.script import Read, perform

BEGAN = datetime(2031, 5, 2, 12, 10, tzinfo=UTC)
CLEARANCE = timedelta(minutes=15)
NADIA, TOMAS, RUTH = "nadia", "tomas", "ruth"

CHECK = KeptCheck(
    id="check-1",
    infusion="infusion-1",
    kind="set-up",
    unit="ward-4-east",
    bed="12",
    opened_by=NADIA,
    opened_at=BEGAN,
)


def the_plan(name: str = WITH_CARRIER, *facts: str) -> Plan:
    """A plan of the published safety steps, where no syringe was replaced unless told otherwise."""
    content = json.loads((root() / "seed_data" / "safety_steps.json").read_text(encoding="utf-8"))
    return plan_from(content, name).where(*facts)


class Story:
    """Events of one check; every method tells one thing and returns the story."""

    def __init__(self, *, kind: Kind = SET_UP, plan: Plan | None = None) -> None:
        self.entries: list[Entry] = []
        self._is_of(kind, plan)
        self._findings: dict[int, tuple[Found, ...]] = {}
        self._priming: dict[int, bool] = {}
        self._comes_to: tuple[Found, ...] = ()
        self._round = 0
        self._priming_round = 1

    def _is_of(self, kind: Kind, plan: Plan | None = None) -> None:
        self.kind = kind
        self.plan = plan or (the_plan() if kind.plans else None)

    @property
    def now(self) -> datetime:
        """The time of the last event."""
        return self.entries[-1].at if self.entries else BEGAN

    def tell(
        self, event: Event, *, by: str = "", device: str = "", signed_in_at: datetime | None = None
    ) -> "Story":
        """Any event, a minute after the one before."""
        self.entries.append(
            Entry(
                position=len(self.entries) + 1,
                at=self.now + timedelta(minutes=1),
                by=by,
                infusion=CHECK.infusion,
                check=CHECK.id,
                session=f"session of {by}",
                device=device or f"device of {by}",
                signed_in_at=signed_in_at or BEGAN,
                event=event,
                canonical=b"",
            )
        )
        return self

    def opened(self, *, rereadings_before: int = 0, line_primed: bool = False) -> "Story":
        """Nadia opens and joins as the first nurse."""
        self._round = 1
        self.tell(
            events.CheckOpened(
                check_kind=self.kind.name,
                unit=CHECK.unit,
                bed=CHECK.bed,
                rereadings_before=rereadings_before,
                line_primed=line_primed,
            ),
            by=NADIA,
        )
        return self.tell(events.Joined(slot=FIRST), by=NADIA)

    def joined(self) -> "Story":
        """Tomas joins as the second nurse."""
        return self.tell(events.Joined(slot=SECOND), by=TOMAS)

    def handed_in(
        self, slot: int, *, device: str = "", signed_in_at: datetime | None = None, method: str = "secret"
    ) -> "Story":
        """One of the two hands in the current round."""
        event = events.HandedIn(subject=SOURCES, round=self._round, slot=slot, commitment="c", method=method)
        return self.tell(event, by=_who(slot), device=device, signed_in_at=signed_in_at)

    def both_handed_in(self) -> "Story":
        """Both hand in the current round."""
        return self.handed_in(FIRST).handed_in(SECOND)

    def voided(self, *sources: str, why: str = "danger") -> "Story":
        """Tomas sees danger, in some sources or in any, and says so."""
        self.tell(events.RoundVoided(round=self._round, why=why, sources=sources), by=TOMAS)
        self._round += 1
        return self

    def put_right_meanwhile(self, *sources: str, outcome: str) -> "Story":
        """Ruth settles it while they read; the first source is the one that was put right."""
        told = events.RoundVoided(
            round=self._round, why="", sources=sources, touched=sources[:1], outcome=outcome
        )
        self._round += 1
        return self.tell(told, by=RUTH)

    def compared(self, *findings: Found) -> "Story":
        """The site compares the current round."""
        self._findings[self._round] = findings
        return self.tell(events.Compared(subject=SOURCES, round=self._round))

    def found(self, *findings: Found) -> "Story":
        """Opened, joined, read by both, compared."""
        return self.opened().joined().both_handed_in().compared(*findings)

    def next_reading(
        self, *touched: str, scope: Scope | None = None, why: str = "", outcome: str = ""
    ) -> "Story":
        """The two read again."""
        self._round += 1
        asked = tuple((name, ()) for name in touched) or WHOLE if scope is None else scope
        return self.tell(
            events.NextReadingOpened(
                round=self._round, scope=asked, touched=touched, why=why, outcome=outcome
            ),
            by=RUTH if outcome else NADIA,
        )

    def read_again(self, *findings: Found, touched: tuple[str, ...] = ()) -> "Story":
        """The two read again, hand in, and it is compared."""
        return self.next_reading(*touched).both_handed_in().compared(*findings)

    def acknowledged(self, finding: Found, *slots: int) -> "Story":
        """A caution is acknowledged, by both unless said otherwise."""
        for slot in slots or (FIRST, SECOND):
            event = events.CautionAcknowledged(
                slot=slot, finding=finding.key, reason="prescriber-asked", named="Dr Brandt", text=""
            )
            self.tell(event, by=_who(slot))
        return self

    def asked_for_help(self, name: str = "help-1", *, text: str = "") -> "Story":
        """Nadia asks for help."""
        return self.tell(events.HelpAsked(help=name, why="readings", text=text), by=NADIA)

    def help_taken(self, name: str = "help-1", *, turn: int = 1, by: str = RUTH) -> "Story":
        """Ruth, a third person, takes it, or another takes it over."""
        return self.tell(events.HelpTaken(help=name, turn=turn), by=by)

    def help_settled(self, outcome: str, name: str = "help-1") -> "Story":
        """Ruth says what follows."""
        return self.tell(events.HelpSettled(help=name, outcome=outcome, text="I looked."), by=RUTH)

    def excepted(self, finding: Found) -> "Story":
        """Ruth sets a rule aside."""
        return self.tell(
            events.ExceptionGranted(
                finding=finding.key,
                code=finding.code,
                field=finding.field,
                reason="r",
                prescriber="Dr Brandt",
            ),
            by=RUTH,
        )

    def observed(self, *, below: bool = False) -> "Story":
        """Nadia observes the baseline."""
        return self.tell(
            events.BaselineObserved(
                slot=FIRST, scale="0 to 3", sedation="0", respiratory_rate="14 /min", spo2="97 %", below=below
            ),
            by=NADIA,
        )

    def confirmed(self, slot: int, *steps: str) -> "Story":
        """One of the two confirms steps, in one's own part."""
        part = DONE if slot == FIRST else VERIFIED
        return self.tell(events.StepsConfirmed(slot=slot, group=1, part=part, steps=steps), by=_who(slot))

    def primed(self, *, within: bool = True) -> "Story":
        """Nadia reads the primed volume, it is judged, and where it stands Tomas verifies it."""
        assert self.plan is not None
        (step,) = (each.id for each in self.plan.steps if each.entry == PRIMED_VOLUME)
        event = events.HandedIn(subject=PRIMING, round=self._priming_round, slot=FIRST, commitment="c")
        self.tell(event, by=NADIA).confirmed(FIRST, step)
        self._priming[self._priming_round] = within
        self.tell(events.Compared(subject=PRIMING, round=self._priming_round))
        self._priming_round += 1
        return self.confirmed(SECOND, step) if within else self

    def taken_back(
        self,
        volume: str = "2.3 mL",
        *,
        number: int = 2,
        held_in: str = IN_LINE,
        way: str = WASTED,
        stated_at: str = "",
    ) -> "Story":
        """Nadia writes down what was wasted, which Ruth saw."""
        taken = DrugTakenBack(
            slot=FIRST,
            round=number,
            way=way,
            syringe="reading 1",
            held_in=held_in,
            volume=volume,
            exact=volume,
            lot="LK-2207",
            stated_at=stated_at,
            witness=RUTH,
            received=False,
            first=volume,
            not_witnessed="",
        )
        return self.tell(taken, by=NADIA)

    def steps_confirmed(self, *groups: int) -> "Story":
        """The steps of some groups, or of all, done and verified."""
        assert self.plan is not None
        for number in groups or self.plan.groups:
            steps = self.plan.in_group(number)
            named = [step.id for step in steps if step.entry != PRIMED_VOLUME]
            if number == self.plan.groups[0]:
                self.observed()
            self.confirmed(FIRST, *named).confirmed(SECOND, *named)
            if len(named) < len(steps):
                self.primed()
        return self

    def frozen(self, edition: int = 1) -> "Story":
        """The record is frozen."""
        return self.tell(events.RecordFrozen(edition=edition, digest=f"digest-{edition}"), by=TOMAS)

    def signed(self, *slots: int, edition: int = 1) -> "Story":
        """The record is signed, by both unless said otherwise."""
        for slot in slots or (FIRST, SECOND):
            event = events.Signed(edition=edition, slot=slot, digest=f"digest-{edition}", meaning="agreed")
            self.tell(event, by=_who(slot))
        return self

    def cleared(self) -> "Story":
        """A set-up without a finding, up to both signatures."""
        return self.at_stage(Phase.CLEARED)

    def looked(self, *slots: int, same: bool = True) -> "Story":
        """Last looks, by both unless said otherwise."""
        for slot in slots or (FIRST, SECOND):
            self.tell(events.LastLookTaken(edition=1, slot=slot, same=same), by=_who(slot))
        return self

    def lapsed(self) -> "Story":
        """A last look differed."""
        return self.tell(events.ClearanceLapsed(why="last-look-differs"), by=NADIA)

    def started(self) -> "Story":
        """The infusion is started."""
        return self.tell(events.Started(), by=NADIA)

    def stopped(self, totals: str = "", *, why: str = "", stopped_at: str = "") -> "Story":
        """Ruth writes down that the device was stopped."""
        return self.tell(events.DeviceStopped(stopped_at=stopped_at, why=why, totals=totals), by=RUTH)

    def misplaced(self) -> "Story":
        """She says that what she wrote last was written at the wrong bed."""
        *_, last = (each for each in self.entries if isinstance(each.event, events.DeviceStopped))
        return self.tell(events.StopMisplaced(stop=str(last.position)), by=RUTH)

    def done(self) -> "Story":
        """With the second signature it was done."""
        done = InfusionEnded if self.kind.ends else events.CheckDone
        return self.tell(done(check_kind=self.kind.name), by=TOMAS)

    def led_on(self) -> "Story":
        """Nadia says that what was found needs a check of another kind."""
        return self.tell(events.LedToCheck(check_kind=self.kind.leads_to), by=NADIA)

    def abandoned(self) -> "Story":
        """Nadia abandons the check."""
        return self.tell(events.Abandoned(reason="order-withdrawn", text=""), by=NADIA)

    # -- the acts of tests/story/script.py

    def opens(self) -> "Story":
        return self.opened()

    def joins(self) -> "Story":
        return self.joined()

    def both_hand_in(self, read: Read) -> "Story":
        """What it comes to is found when it is compared."""
        self._comes_to = {
            Read.ALIKE: (),
            Read.APART: (DIFFER,),
            Read.SET_OTHERWISE: (DEVICE_WRONG,),
            Read.TO_CONSIDER: (CAUTION,),
        }[read]
        return self.both_handed_in()

    def compares(self) -> "Story":
        """Where there are no steps and nothing was found, the record is frozen at once."""
        self.compared(*self._comes_to)
        return self if self.kind.plans or self._comes_to else self.frozen()

    def asks_for_help(self) -> "Story":
        return self.asked_for_help()

    def confirms_all(self) -> "Story":
        """With the last step the record is frozen."""
        return self.steps_confirmed().frozen()

    def both_sign(self) -> "Story":
        return self.signed() if self.kind.end is End.CLEARED else self.signed().done()

    def sees_it_differ(self) -> "Story":
        return self.looked(SECOND, same=False).lapsed()

    def both_look(self) -> "Story":
        return self.looked()

    def starts(self) -> "Story":
        return self.started()

    def re_checks(self) -> "Story":
        """From now on the story is of the re-check."""
        self.entries = []
        self._is_of(RE_CHECK)
        return self.opened().joined()

    def leads_on(self) -> "Story":
        return self.led_on()

    def abandons(self) -> "Story":
        return self.abandoned()

    def at_stage(self, phase: Phase) -> "Story":
        """Told up to a phase of a set-up."""
        perform(self, phase)
        return self

    def state(
        self, *, later: timedelta = timedelta(0), other_syringe: frozenset[int] = frozenset()
    ) -> CheckState:
        """What it adds up to, at the last event or some time later.

        `other_syringe`: the entries that tell of another syringe, of which nobody had said so.
        """
        return fold(
            replace(CHECK, kind=self.kind.name),
            self.entries,
            Results(findings=self._findings, priming=self._priming, other_syringe=other_syringe),
            plan=self.plan,
            now=self.now + later,
            clearance=CLEARANCE,
        )

    def infusion(self) -> InfusionState:
        """What it adds up to for its infusion, of which it is the only check."""
        return fold_infusion(CHECK.infusion, self.entries)


def _who(slot: int) -> str:
    return NADIA if slot == FIRST else TOMAS
