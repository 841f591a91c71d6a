"""Two days of an infusion after its set-up, told act by act as the ward tells them: nothing of it is real."""

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

from app.cli.bedside import Bedside
from app.cli.demo_site import SEED
from app.records.kinds import END_OF_PCA, HANDOFF, SETTINGS_CHANGE, SYRINGE_CHANGE, TRANSFER
from app.records.reading import Answers
from app.records.sources import Source
from app.workflow import emergencies, pausing, stopping, transferring

NADIA, TOMAS, IMOGEN, RUTH, PETRA = "n.ferrow", "t.osmund", "i.bexley", "r.calloway", "p.varga"
AT_FIRST, LATER = ("ward-4-east", "12"), ("recovery", "3")
"""Unit and bed, before the transfer and after it."""
# Who orders what is ordered.
PRESCRIBER = "Dr Idris Holm (invented)"
SET_UP_AT = 12
"""The hour of the first day at which it was set up."""


@dataclass(kw_only=True)
class Scene:
    """What there is to be seen at the bed, as it changes, and what else is said there."""

    seen: dict[str, dict[str, str]]
    told: Mapping[str, Any] = field(default_factory=dict)

    def now(self, moment: str) -> Answers:
        """All that is to be seen from this moment on."""
        for source, read in self.told["seen"][moment].items():
            self.seen[source] = {**self.seen.get(source, {}), **read}
        return self.seen


def scene() -> Scene:
    """The bed of the walk, when its set-up is over."""
    base, told = (
        json.loads((SEED / name).read_text(encoding="utf-8")) for name in ("walk.json", "two_days.json")
    )
    sources = {each.value for each in Source}
    return Scene(seen={name: read for name, read in base.items() if name in sources}, told=told)


@dataclass(frozen=True, kw_only=True)
class Story:
    """The two days of one infusion, which was set up at noon of the first."""

    bed: Bedside
    scene: Scene
    noon: datetime

    @property
    def chapters(self) -> tuple[Callable[[], None], ...]:
        """All that happens, in order."""
        return (
            self.first_evening,
            self.first_night,
            self.second_morning,
            self.next_syringe,
            self.reversal,
            self.lower_dose,
            self.transfer,
            self.second_evening,
            self.the_end,
        )

    def is_it(self, day: int, hour: int, words: str) -> None:
        """Let time pass until then."""
        self.bed.running.clock.stand_at(self.noon + timedelta(days=day - 1, hours=hour - SET_UP_AT))
        self.bed.say(f"\nDay {day}, {hour:02}:00. {words}")

    def first_evening(self) -> None:
        """The first handoff."""
        self.is_it(1, 19, "The day shift hands over")
        self.bed.comes(NADIA)
        self.bed.comes(TOMAS)
        self._hands_over(NADIA, TOMAS, "first evening")

    def first_night(self) -> None:
        """A pause, and a settings change that the check catches."""
        bed, scene = self.bed, self.scene
        self.is_it(1, 22, "The line is kinked")
        self._pauses(TOMAS)

        self.is_it(2, 1, "The pain is worse: a new order, and the device is set ten times too high")
        bed.comes(TOMAS)
        bed.comes(IMOGEN, AT_FIRST[0])
        bed.opens(SETTINGS_CHANGE, TOMAS, IMOGEN)
        bed.read(scene.now("order raised, device set wrong"))
        bed.finds("device-differs", "above-hard-limit")
        bed.puts_right(TOMAS, Source.DEVICE)
        bed.read(scene.now("device put right"))
        bed.finds()
        self._runs_on()

    def second_morning(self) -> None:
        """A handoff whose account does not add up until both have counted together."""
        bed, scene = self.bed, self.scene
        self.is_it(2, 7, "The night shift hands over, and what is left does not add up")
        bed.comes(NADIA)
        bed.opens(HANDOFF, TOMAS, NADIA)
        bed.read(scene.now("second morning"))
        bed.finds("account-left-below-predicted")
        bed.counts_together(scene.now("counted together"))
        bed.finds()
        self._signed_by_both(NADIA)

    def next_syringe(self) -> None:
        """The first syringe comes off while there is drug in it."""
        bed = self.bed
        self.is_it(2, 11, "The syringe has been on for almost a day: the next one")
        bed.comes(RUTH)
        bed.opens(SYRINGE_CHANGE, NADIA, RUTH)
        bed.read(self.scene.now("next syringe"))
        bed.finds()
        self._runs_on()

    def reversal(self) -> None:
        """Too sleepy, too slow a breath: a reversal agent; it is stopped, and held."""
        bed, told = self.bed, self.scene.told["reversal"]
        site, infusion = bed.running.site, bed.infusion
        self.is_it(2, 16, "Hard to wake, 7 breaths a minute")
        noted = bed.came_to(emergencies.Noted, emergencies.note_reversal(site, bed.act(NADIA), infusion))
        bed.tell(NADIA, "gives a reversal agent, and writes it down by one tap: it is stopped, and held")
        said = emergencies.tell_afterwards(site, bed.act(NADIA), infusion, position=noted.position, told=told)
        bed.came_to(emergencies.Noted, said)
        bed.tell(NADIA, f"tells afterwards: {', '.join(told.values())}")

    def lower_dose(self) -> None:
        """What a prescriber decided, and a settings change in full before it runs again."""
        bed = self.bed
        self.is_it(2, 18, "Awake for two hours: the prescriber decides")
        decided = emergencies.decide_restart(
            bed.running.site, bed.act(NADIA), bed.infusion, prescriber=PRESCRIBER
        )
        bed.came_to(emergencies.Noted, decided)
        bed.tell(NADIA, f"writes down who decided that it may run again, by a lower dose: {PRESCRIBER}")
        bed.opens(SETTINGS_CHANGE, NADIA, RUTH)
        bed.read(self.scene.now("order lowered after the reversal agent"))
        bed.finds()
        self._runs_on()

    def transfer(self) -> None:
        """Another unit takes the patient by one tap, and two read it once the patient is there."""
        bed = self.bed
        self.is_it(2, 19, "To recovery for the night, where a nurse watches each patient")
        bed.comes(IMOGEN)
        unit, there = LATER
        said = transferring.take_patient(
            bed.running.site, bed.act(IMOGEN), before=AT_FIRST, unit=unit, bed=there
        )
        bed.came_to(transferring.Taken, said)
        bed.tell(IMOGEN, "takes the patient by one tap, and answers for it from now on; it never stopped")
        bed.opens(TRANSFER, NADIA, IMOGEN)
        bed.read(self.scene.now("taken to recovery"))
        bed.finds()
        bed.signs()

    def second_evening(self) -> None:
        """The third handoff."""
        self.is_it(2, 20, "The day shift hands over")
        self.bed.comes(TOMAS, LATER[0])
        self._hands_over(IMOGEN, TOMAS, "second evening")

    def the_end(self) -> None:
        """Final totals by both, what is left of both syringes before a witness, and the account is closed."""
        bed, told = self.bed, self.scene.told
        self.is_it(3, 9, "Tablets from now on: the end of PCA")
        bed.comes(IMOGEN)
        bed.comes(TOMAS, LATER[0])
        why = stopping.Stop(why="end-of-therapy")
        stopped = stopping.note_stop_of_infusion(
            bed.running.site, bed.act(TOMAS), bed.roles(TOMAS), bed.infusion, stop=why
        )
        bed.came_to(stopping.StopNoted, stopped)
        bed.tell(TOMAS, "stops the device for good")
        bed.opens(END_OF_PCA, TOMAS, IMOGEN)
        bed.read(self.scene.now("the end"))
        bed.finds()
        bed.takes_steps({"remainders": told["remainders"], "witness": PETRA})
        bed.signs()

    def _hands_over(self, one: str, other: str, moment: str) -> None:
        self.bed.opens(HANDOFF, one, other)
        self.bed.read(self.scene.now(moment))
        self.bed.finds()
        self._signed_by_both(other)

    def _signed_by_both(self, incoming: str) -> None:
        self.bed.signs()
        self.bed.tell(incoming, "answers for it from now on")

    def _runs_on(self) -> None:
        self.bed.considers(PRESCRIBER)
        self.bed.takes_steps(self.scene.told["written"])
        self.bed.signs()
        self.bed.starts()

    def _pauses(self, login: str) -> None:
        bed = self.bed
        site, infusion = bed.running.site, bed.infusion
        bed.came_to(pausing.Paused, pausing.pause_line(site, bed.act(login), infusion, why="kink"))
        bed.tell(login, "pauses the line")
        course = bed.course
        look = pausing.Look(
            pause=course.pause.position if course.pause else 0,
            in_force=course.in_force,
            **self.scene.told["look"],
            same=True,
        )
        bed.came_to(pausing.Resumed, pausing.resume_line(site, bed.act(login), infusion, look=look))
        bed.tell(login, "lets the pressure out, looks at patient and device, and lets it run on")
