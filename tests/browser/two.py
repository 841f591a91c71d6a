"""Two nurses at two devices, who perform the script in Chromium."""

from dataclasses import dataclass
from typing import Self

from app.records.reading import Answers
from app.records.state import Phase
from tests.browser.people import Nurse
from tests.browser.ward import Scene, Ward
from tests.story.script import Read, perform

_MOST_TURNS = 20


@dataclass(kw_only=True)
class Two:
    """One opens the check, the other joins it; each finds it in the own list before each act."""

    one: Nurse
    other: Nurse
    scene: Scene
    code: str = ""

    @property
    def both(self) -> tuple[Nurse, Nurse]:
        """The two."""
        return self.one, self.other

    @property
    def check(self) -> str:
        """The id of the check, as the addresses of its pages say it."""
        return self.one.page.url.partition("/check/")[2].partition("/")[0]

    def opens(self) -> None:
        """One opens the check and begins to read."""
        self.code = self.one.open_check(self.scene.bed)
        self.one.begin_reading()

    def joins(self) -> None:
        """The other joins by the code."""
        self.other.join_by_code(self.code)

    def both_hand_in(self, read: Read) -> None:
        """Each reads what comes to this."""
        self.read(*self.scene.that_comes_to(read))

    def read(self, *readings: Answers) -> None:
        """Both read what the check asks for: the same, or each something else."""
        for nurse, answers in zip(self.both, (readings[0], readings[-1]), strict=True):
            nurse.look_at_check(self.scene.place)
            nurse.read_and_hand_in(answers)

    def compares(self) -> None:
        """The answer to the second hand-in is the comparison; one sees it too."""
        self.one.look_at_check(self.scene.place)

    def acknowledge(self) -> None:
        """Both answer every caution."""
        for nurse in self.both:
            nurse.look_at_check(self.scene.place)
            nurse.acknowledge_all("The prescriber was asked", asked="Dr Holm (invented)")

    def asks_for_help(self) -> None:
        """One asks a third person to look."""
        self.one.look_at_check(self.scene.place)
        self.one.ask_for_help("Our readings do not come together")

    def confirms_all(self) -> None:
        """Both confirm what is theirs."""
        self.take_the_steps()

    def take_the_steps(self) -> list[tuple[str, list[str]]]:
        """Both in turn confirm what is open until nothing is left; who ticked what, in the order of time."""
        turns: list[tuple[str, list[str]]] = []
        for turn in range(_MOST_TURNS):
            nurse, volume = self.both[turn % 2], self.scene.primed
            nurse.look_at_check(self.scene.place)
            go_on = nurse.page.get_by_role("link", name="Go on: safety steps")
            if not go_on.count():
                return turns
            go_on.click()
            nurse.device.look()
            turns.append((nurse.who.login, nurse.confirm_what_can_be(self.scene.baseline, volume)))
        raise AssertionError(turns)

    def both_sign(self) -> None:
        """Each signs at the own device."""
        for nurse in self.both:
            nurse.look_at_check(self.scene.place)
            nurse.follow("Go on: sign")
            nurse.sign()

    def both_look(self) -> None:
        """Each takes the last look."""
        for nurse in self.both:
            self._last_look(nurse, same=True)

    def sees_it_differ(self) -> None:
        """The device shows the other something else."""
        self._last_look(self.other, same=False)

    def _last_look(self, nurse: Nurse, *, same: bool) -> None:
        nurse.look_at_check(self.scene.place)
        nurse.follow("Ready to start: last look")
        nurse.last_look(same=same)

    def starts(self) -> None:
        """Whoever looked last has the button before her."""
        self.other.start()

    def re_checks(self) -> None:
        """One opens a re-check of what runs, the other joins from the list."""
        self.one.go("/")
        self.one.page.get_by_role("link", name=f"Check or change: {self.scene.place}").click()
        self.one.press("Open a re-check")
        self.other.join_from_the_list(self.scene.place)

    def ends(self) -> None:
        """One opens the check of the end from the line of what was stopped, the other joins by the code."""
        self.one.go("/")
        self.one.page.get_by_role("button", name=f"End of PCA: {self.scene.place}").click()
        self.code = self.one.read_code()
        self.one.begin_reading()
        self.joins()

    def leads_on(self) -> None:
        """One ends the check: it leads to a settings change."""
        self.one.look_at_check(self.scene.place)
        self.one.press("This check leads to a settings change")

    def abandons(self) -> None:
        """One ends the check."""
        self.one.look_at_check(self.scene.place)
        self.one.follow("Give this check up")
        self.one.page.get_by_role("radio").first.check()
        self.one.press("Give this check up")

    def at_stage(self, phase: Phase) -> Self:
        """Every act in Chromium, the first ones too."""
        perform(self, phase)
        return self


def two(ward: Ward, scene: Scene, *, scripts: bool = True) -> Two:
    """Two nurses, signed in at two devices."""
    one, other = ward.two(scripts=scripts)
    return Two(one=one, other=other, scene=scene)
