"""Whoever tries whatever with the check at hand: what the workflow says to it, refusals too."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import timedelta
from types import MappingProxyType
from typing import Any, Self

from app.base import Act, Actor, Method
from app.records.followup import Found
from app.records.kept import A
from app.records.kinds import END_OF_PCA, HANDOFF, RE_CHECK, Kind
from app.records.reading import Answers, sources_in
from app.records.state import CheckState, Phase
from app.site.installation import Site
from app.site.loading import Loaded, load
from app.workflow import (
    comparing,
    helping,
    opening,
    pausing,
    reading,
    recounting,
    settling,
    signing,
    starting,
    stepping,
    stopping,
    taking_back,
)
from tests.factories.answers import as_read
from tests.story.beginning import Beginning
from tests.story.people import IMOGEN, Somebody

A_MOMENT = timedelta(seconds=20)
PRESCRIBER = "Dr Brandt"
_TAKEN_BACK = {
    "way": "wasted",
    "in_syringe": "27.7 mL",
    "in_line": "2.3 mL",
    "lot": "LK-2207",
    "stated_at": "",
}


class Trying(Beginning):
    """A site on one database, its people, and the check at hand; each act is one of the workflow's."""

    # -- who and when

    def new_id(self) -> str:
        """Ids in order, so that two wards in which the same is done are alike."""
        self._ids += 1
        return f"{self._ids:032x}"

    def wait(self, time: timedelta = A_MOMENT) -> Self:
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
            method=Method.SECRET,
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

    @property
    def patient(self) -> str:
        """The patient whom both have agreed on in the check at hand."""
        kept = self.loaded().last_comparison
        assert kept is not None
        return str(kept.opened["answers"][A]["wristband"]["identifier"])

    def codes(self) -> list[str]:
        """The codes of all findings of the comparison at hand."""
        return [each.code for each in self.state().findings]

    # -- what is tried

    def opening(self, who: Somebody, *, bed: str, cards: str = "") -> object:
        act = self.act(who)
        return opening.open_check(self.site, act, unit=act.by.unit, bed=bed, cards=cards)

    def joining(self, who: Somebody) -> object:
        return opening.join_check(self.site, self.act(who), self.check)

    def drafting(self, who: Somebody, read: Answers) -> object:
        """Keep a draft of every source that the round asks for; the desk, or what was refused."""
        site, desk = self.site, reading.open_desk(self.site, self.act(who), self.check)
        if not isinstance(desk, reading.Desk):
            return desk
        for source in sources_in(desk.round.scope):
            given = read.get(source.value, {})
            saved = reading.save_draft(
                site, self.act(who), self.check, source=source, read=as_read(given), page=desk.page
            )
            assert isinstance(saved, reading.Saved), saved
        return desk

    def reading(self, who: Somebody, read: Answers) -> object:
        """Draft every source and hand in."""
        desk = self.drafting(who, read)
        if not isinstance(desk, reading.Desk):
            return desk
        return reading.hand_in(self.site, self.act(who), self.check)

    def saying_danger(self, who: Somebody, *sources: str, why: str = "wrong-syringe") -> object:
        return reading.say_danger(self.site, self.act(who), self.check, why=why, sources=sources)

    def comparing(self) -> bool:
        return comparing.compare_round(self.site, self.check, self.wait().now)

    def reading_again(self, who: Somebody, *touched: str) -> object:
        return settling.read_again(self.site, self.act(who), self.check, touched=touched, why="read again")

    def recounting(self, who: Somebody) -> object:
        return recounting.recount(self.site, self.act(who), self.check)

    def acknowledging(self, who: Somebody, finding: str, *, named: str = PRESCRIBER) -> object:
        return settling.acknowledge(
            self.site,
            self.act(who),
            self.check,
            findings=(finding,),
            reasons=("prescriber-asked",),
            named=named,
            text="",
        )

    def asking_for_help(self, who: Somebody) -> object:
        return settling.ask_for_help(self.site, self.act(who), self.check, why="readings", text="")

    def taking_help(self, who: Somebody) -> object:
        """From whoever has it, where somebody has."""
        asked = self.state().open_help
        over = asked.taken_by if asked else ""
        return helping.take_help(self.site, self.act(who), who.roles, self.check, over=over)

    def settling_help(self, who: Somebody, outcome: str, *, text: str = "I looked.") -> object:
        return helping.settle_help(self.site, self.act(who), self.check, outcome=outcome, text=text)

    def granting(self, who: Somebody, finding: str) -> object:
        return helping.grant_exception(
            self.site,
            self.act(who),
            who.roles,
            self.check,
            finding=finding,
            reason="pain team's plan",
            prescriber=PRESCRIBER,
        )

    def taking_steps(self, who: Somebody, given: stepping.Given) -> object:
        return stepping.take_steps(self.site, self.act(who), self.check, given)

    def taking_back(
        self,
        who: Somebody,
        witness: Somebody = IMOGEN,
        *,
        secret: str = "",
        last: int | None = None,
        given: Mapping[str, str] = MappingProxyType({}),
        seen: Mapping[str, str] = MappingProxyType({}),
    ) -> object:
        """Read what is taken back, and have a witness read it, the same unless told otherwise."""
        said = self.reading_drug(who, last=last, given=given)
        if not isinstance(said, taking_back.FirstKept):
            return said
        return self.witnessing(who, witness, secret=secret, seen={**given, **seen})

    def reading_drug(
        self, who: Somebody, *, last: int | None = None, given: Mapping[str, str] = MappingProxyType({})
    ) -> object:
        """Read what is taken back, before the witness does."""
        stood = max((each.position for each in self.state().taken_back), default=0)
        told = {**_TAKEN_BACK, **given}
        return taking_back.take_back(
            self.site,
            self.act(who),
            self.check,
            taking_back.GivenBack(
                way=told["way"],
                lot=told["lot"],
                stated_at=told["stated_at"],
                volumes=self._volumes(told),
                last=stood if last is None else last,
                syringe=told.get("syringe", ""),
            ),
        )

    def witnessing(
        self,
        who: Somebody,
        witness: Somebody = IMOGEN,
        *,
        secret: str = "",
        seen: Mapping[str, str] = MappingProxyType({}),
    ) -> object:
        """At the screen of one of the two the witness reads it too."""
        return taking_back.witness(
            self.site,
            self.act(who),
            self.check,
            self._volumes({**_TAKEN_BACK, **seen}),
            login=witness.login,
            secret=secret or witness.secret,
        )

    def going_on_without(self, who: Somebody) -> object:
        """No witness could be had."""
        return taking_back.go_on_without(self.site, self.act(who), self.check)

    def _volumes(self, told: Mapping[str, str]) -> dict[str, str]:
        return {place: told[f"in_{place}"] for place in self.state().kind.portions}

    def doing(self, who: Somebody, *steps: str) -> object:
        return self.taking_steps(who, stepping.Given(done=steps))

    def naming(self, who: Somebody, *steps: str) -> object:
        """That the other did them."""
        return self.taking_steps(who, stepping.Given(named=steps))

    def verifying(self, who: Somebody, *steps: str) -> object:
        return self.taking_steps(who, stepping.Given(verified=steps))

    def observing(
        self, who: Somebody, *, sedation: str = "0", rate: str = "14 /min", spo2: str = "97 %"
    ) -> object:
        """What is seen before any dose."""
        seen = stepping.Observed(sedation=sedation, respiratory_rate=rate, spo2=spo2)
        return self.taking_steps(who, stepping.Given(observed=seen))

    def reading_volume(self, who: Somebody, volume: str, asked_in: int = 1) -> object:
        """The primed volume, as asked in a round."""
        primed = stepping.PrimedVolume(volume=volume, round=asked_in)
        return self.taking_steps(who, stepping.Given(primed=primed))

    def reading_wristband(self, who: Somebody, identifier: str) -> object:
        """Before connecting, at the patient."""
        return self.taking_steps(who, stepping.Given(patient=identifier))

    def signing(
        self, who: Somebody, *, digest: str = "", secret: str = "", screen: Somebody | None = None
    ) -> object:
        """With id and secret what stands, unless another digest, secret or screen is named."""
        return signing.sign_record(
            self.site,
            self.act(screen or who),
            self.check,
            login=who.login,
            secret=secret or who.secret,
            digest=digest or self.state().frozen_digest,
        )

    def looking(self, who: Somebody, *, same: bool) -> object:
        return starting.take_last_look(self.site, self.act(who), self.check, same=same)

    def starting(self, who: Somebody) -> object:
        return starting.start_infusion(self.site, self.act(who), self.check)

    def abandoning(self, who: Somebody, *, reason: str = "order-withdrawn") -> object:
        return settling.abandon(self.site, self.act(who), self.check, reason=reason, text="")

    def re_checking(self, who: Somebody) -> object:
        return self.opening_on(who, RE_CHECK)

    def opening_on(self, who: Somebody, kind: Kind) -> object:
        """Open a check of a kind on the infusion of the check at hand."""
        infusion = self.state().check.infusion
        return opening.open_on_infusion(self.site, self.act(who), kind, infusion)

    def handing_over(self, who: Somebody, *, in_place: bool = False) -> object:
        infusion = self.state().check.infusion
        return opening.open_on_infusion(self.site, self.act(who), HANDOFF, infusion, in_place=in_place)

    def ending(self, who: Somebody) -> object:
        """Open the check of the infusion's end."""
        infusion = self.state().check.infusion
        return opening.open_on_infusion(self.site, self.act(who), END_OF_PCA, infusion)

    def leading_on(self, who: Somebody) -> object:
        return settling.lead_on(self.site, self.act(who), self.check)

    def noting_a_stop(self, who: Somebody, *, why: str = "") -> object:
        stop = stopping.Stop(why=why)
        return stopping.note_stop(self.site, self.act(who), who.roles, self.check, stop=stop)

    def saying_misplaced(self, who: Somebody, note: int) -> object:
        return stopping.say_misplaced(self.site, self.act(who), note)

    def pausing_line(self, who: Somebody, *, why: str = "kink") -> object:
        infusion = self.state().check.infusion
        return pausing.pause_line(self.site, self.act(who), infusion, why=why)

    def a_look(self, **changed: Any) -> pausing.Look:  # noqa: ANN401  # fields of a look
        """Line, patient and device as they must be, unless told otherwise."""
        infusion = self.loaded().infusion
        whole = pausing.Look(
            pause=infusion.pause.position if infusion.pause else 0,
            in_force=infusion.in_force,
            pressure="let-out",
            sedation="1",
            respiratory_rate="12 /min",
            same=True,
        )
        return replace(whole, **changed)

    def resuming_line(self, who: Somebody, look: pausing.Look) -> object:
        infusion = self.state().check.infusion
        return pausing.resume_line(self.site, self.act(who), infusion, look=look)

    def starting_without_check(self, who: Somebody, *, bed: str, reason: str = "nobody free") -> object:
        return starting.note_start_without_check(
            self.site, self.act(who), unit=who.unit, bed=bed, reason=reason, started_at=""
        )


def kinds_of(site: Site, check: str) -> set[str]:
    """Of the events that stand in the log of a check."""
    with site.store.read() as reader:
        return {each.event.kind for each in reader.entries(check)}
