"""The account over a whole infusion: syringes, re-checks, pauses, and what was taken back."""

from dataclasses import dataclass, field
from datetime import datetime, timedelta

import pytest

from app.accounting import read_account
from app.comparison import CaseError
from app.records import events
from app.records.account import fold_account
from app.records.account_so_far import Account
from app.records.bolus_amount import bolus_amount
from app.records.bolus_events import StaffBolusGiven
from app.records.check_read import CheckRead
from app.records.events import Event
from app.records.kept import Entry, KeptComparison
from app.records.reading import Answers
from app.records.taken_back import IN_SYRINGE, RETURNED, WASTED
from app.records.ward_events import DrugTakenBack, LinePaused, LineResumed
from tests.factories.answers import answers, changed
from tests.judging.test_account import document, kept, primed, told
from tests.story.events import BEGAN

NO_VOLUME = {"strength": "per-millilitre", "concentration": "0.2 mg/mL", "amount": None, "volume": None}


@dataclass(kw_only=True)
class Course:
    """What happens to an infusion, an hour after the other; each check reads what is given.

    `put_back` is by how much the server's clock was put back.
    """

    entries: list[Entry] = field(default_factory=list)
    read: dict[str, list[KeptComparison]] = field(default_factory=dict)
    volumes: dict[str, KeptComparison] = field(default_factory=dict)
    put_back: timedelta = timedelta(0)

    @property
    def now(self) -> datetime:
        return BEGAN + timedelta(hours=len(self.entries)) - self.put_back

    def tell(self, event: Event, check: str = "") -> "Course":
        self.entries.append(
            Entry(
                position=len(self.entries) + 1,
                at=self.now,
                by="nadia",
                infusion="infusion-1",
                check=check,
                session="",
                device="",
                signed_in_at=BEGAN,
                event=event,
                canonical=b"",
            )
        )
        return self

    def reads(self, check: str, read: Answers, *, volume: str = "2.3 mL") -> "Course":
        """Both read the same in one more round of a check."""
        rounds = self.read.setdefault(check, [])
        rounds.append(kept(read, at=self.now, number=len(rounds) + 1, check=check))
        if volume:
            self.volumes[check] = primed(volume, rounds[-1])
        return self

    def starts(self, check: str, read: Answers | None = None, *, volume: str = "2.3 mL") -> "Course":
        """A check was cleared and started."""
        self.reads(check, answers() if read is None else read, volume=volume)
        return self.tell(events.Started(), check)

    def done(self, check: str, **totals: str | None) -> "Course":
        """A re-check was done, in which the second read these totals a minute ago."""
        at = (self.now - timedelta(minutes=1)).isoformat()
        self.reads(check, changed(answers(), totals={"read_at": at, **totals}), volume="")
        return self.tell(events.CheckDone(check_kind="re-check"), check)

    def takes_back(
        self,
        check: str,
        *,
        way: str = WASTED,
        volume: str = "20 mL",
        number: int = 1,
        is_told_apart: bool = False,
    ) -> "Course":
        """What was in the syringe of the label of this reading was taken back."""
        event = DrugTakenBack(
            slot=1,
            round=number + 1,
            way=way,
            syringe=f"reading {number}",
            held_in=IN_SYRINGE,
            volume=volume,
            exact=volume,
            lot="LOT-7",
            stated_at="",
            witness="ruth",
            received=way == RETURNED,
            first=volume,
            not_witnessed="",
            is_told_apart=is_told_apart,
        )
        return self.tell(event, check)

    def account(self) -> Account:
        made = fold_account(
            self.entries,
            {
                each: CheckRead(rounds=tuple(self.read.get(each, ())), primed=self.volumes.get(each))
                for each in {entry.check for entry in self.entries}
            },
        )
        if made.entries:
            read = read_account(document(made.written()))
            assert not isinstance(read, CaseError), read
        return made

    def kinds(self) -> list[str]:
        return [f"{each['kind']} {each.get('syringe', '')}".strip() for each in told(self.account())]


BEGUN = ["issued 1", "loaded 1", "primed", "settings", "started"]
OTHER_LOT = {"label": {"lot": "LOT-8"}}


def test_what_runs_on_keeps_its_syringe() -> None:
    course = Course().starts("a").tell(LinePaused(why="walk")).tell(LineResumed(pause="2"))

    assert course.kinds() == [*BEGUN, "paused", "started"]
    # Resumed twice, or stopped where it stands already: no effect.
    assert course.tell(LineResumed(pause="2")).kinds() == [*BEGUN, "paused", "started"]


def test_a_pause_at_the_wrong_bed_is_none() -> None:
    """Of what was stopped or lost at another bed this ran all the while."""
    course = Course().starts("a").tell(LinePaused(why="other")).tell(events.StopMisplaced(stop="2"))

    assert course.kinds() == BEGUN


def test_settings_changed_on_the_same_syringe_issue_none() -> None:
    set_otherwise = changed(answers(), device={"demand_dose": "0.3 mg"}, order={"demand_dose": "0.3 mg"})
    course = Course().starts("a").starts("b", set_otherwise, volume="")

    assert course.kinds() == [*BEGUN, "settings", "started"]


def test_another_label_is_another_syringe_and_the_one_before_is_removed() -> None:
    course = Course().starts("a").starts("b", changed(answers(), **OTHER_LOT))

    assert course.kinds() == [*BEGUN, "removed", "issued 2", "loaded 2", "primed", "settings", "started"]


def test_a_label_that_does_not_say_what_is_in_it_begins_no_account() -> None:
    read = answers(label=NO_VOLUME, device=NO_VOLUME, order=NO_VOLUME)

    assert Course().starts("a", read, volume="").account() == Account(entries=(), begun=None)


def test_a_check_that_was_never_compared_tells_nothing() -> None:
    assert Course().tell(events.Started(), "a").kinds() == []
    assert Course().starts("a").tell(events.CheckDone(check_kind="re-check"), "b").kinds() == BEGUN


def test_the_second_ones_totals_enter_at_the_moment_they_were_read() -> None:
    course = Course().starts("a").done("b", presses="3", doses="2")
    entry = course.account().entries[-1]

    assert entry.data["totals"] == {"amount": "0 mg", "presses": 3, "doses": 2}
    assert entry.data["left"] == "27.7 mL"
    assert (entry.check, entry.round) == ("b", 1)
    assert entry.at == BEGAN + timedelta(minutes=59)


def test_what_a_device_does_not_show_is_no_reading() -> None:
    nothing = dict.fromkeys(("total_amount", "total_volume", "presses", "doses", "left"), "none")

    assert Course().starts("a").done("b", **nothing).kinds() == BEGUN
    assert told(Course().starts("a").done("b", **{**nothing, "left": "20 mL"}).account())[-1] == {
        "kind": "read",
        "left": "20 mL",
    }


def begun() -> Course:
    event = events.StartedWithoutCheck(reason="urgent", started_at=(BEGAN - timedelta(hours=2)).isoformat())
    return Course().tell(event)


def test_what_was_started_without_a_check_has_no_account_until_it_is_read() -> None:
    course = begun()

    assert course.account() == Account(entries=(), begun=BEGAN - timedelta(hours=2))
    course.done("b")
    account = course.account()
    # Nobody read the primed volume, and the case of this reading names no set.
    assert [each.data["kind"] for each in account.entries if each.data["kind"] != "primed"] == [
        "issued",
        "loaded",
        "settings",
        "started",
        "read",
    ]
    assert {each.at for each in account.entries[:4]} == {BEGAN - timedelta(hours=2)}
    assert account.begun is None


def test_what_is_said_to_have_begun_in_another_year_began_when_that_was_written() -> None:
    """A year that was mistyped; the engine takes nothing that lasted so long. A week is told as it was."""
    for days, is_believed in ((7, True), (2 * 365, False)):
        at = BEGAN - timedelta(days=days)
        course = Course().tell(events.StartedWithoutCheck(reason="urgent", started_at=at.isoformat()))
        course.done("b")
        assert course.account().entries[0].at == (at if is_believed else BEGAN)


def test_a_second_word_of_a_start_without_a_check_changes_nothing() -> None:
    course = begun()
    course.tell(events.StartedWithoutCheck(reason="urgent", started_at=""))

    assert course.account().begun == BEGAN - timedelta(hours=2)


def test_where_its_label_or_its_settings_are_not_read_whole_there_is_still_none() -> None:
    for otherwise in (
        {"label": {"syringe_size": None}},
        {"device": {"lockout": None}},
        {"device": {"mode": None}},
    ):
        course = begun()
        course.reads("b", changed(answers(), totals={"read_at": BEGAN.isoformat()}, **otherwise), volume="")
        course.tell(events.CheckDone(check_kind="re-check"), "b")
        assert course.account().entries == ()


def test_a_check_done_before_anything_was_started_begins_nothing() -> None:
    assert Course().done("b").kinds() == []


def test_what_was_stopped_before_it_has_an_account_is_not_paused() -> None:
    assert begun().tell(LinePaused(why="walk")).kinds() == []


# What was taken back


def test_of_the_syringe_that_is_on_what_is_taken_back_takes_it_off() -> None:
    course = Course().starts("a").tell(events.DeviceStopped(stopped_at="", why="", totals=""))
    course.reads("b", answers(), volume="").takes_back("b")

    assert course.kinds() == [*BEGUN, "paused", "removed", "wasted 1"]
    entry = course.account().entries[-1]
    assert entry.data == {"kind": "wasted", "syringe": "1", "volume": "20 mL", "witnessed": True}


def test_of_one_that_was_never_started_it_is_issued_and_gone() -> None:
    course = Course().reads("a", answers(), volume="").takes_back("a", way=RETURNED, volume="30 mL")

    assert course.kinds() == ["issued 1", "returned 1"]
    assert told(course.account())[-1]["received"] is True


def test_of_one_that_held_nothing_nothing_is_gone() -> None:
    course = Course().reads("a", answers(), volume="").takes_back("a", volume="0 mL")

    assert course.kinds() == ["issued 1"]


def test_what_is_written_anew_counts_once_and_the_last_counts() -> None:
    course = (
        Course()
        .reads("a", answers(), volume="")
        .takes_back("a", volume="3 mL")
        .takes_back("a", volume="30 mL")
    )

    assert [each.get("volume") for each in told(course.account())] == ["30 mL", "30 mL"]


def test_what_is_written_anew_after_a_start_is_of_the_syringe_of_which_it_was_told_first() -> None:
    """Names do not change, and what is on stays on, even where both labels say the same."""
    for second in (changed(answers(), **OTHER_LOT), answers()):
        course = Course().reads("1", answers(), volume="").takes_back("1").reads("1", second)
        course.tell(events.Started(), "1")
        before = course.account()
        after = course.takes_back("1", volume="19 mL").account()

        assert before.lots == after.lots
        assert after.on == before.on == "2"
        assert [each.data["volume"] for each in after.entries if each.data["kind"] == WASTED] == ["19 mL"]


def test_syringes_are_counted_without_a_gap() -> None:
    course = Course().starts("1").takes_back("1").starts("2", changed(answers(), **OTHER_LOT))

    assert [*course.account().lots] == ["1", "2"]


def test_of_one_whose_label_nobody_can_read_nothing_can_be_written() -> None:
    read = answers(label=NO_VOLUME, device=NO_VOLUME, order=NO_VOLUME)

    assert Course().reads("a", read, volume="").takes_back("a").kinds() == []
    assert Course().takes_back("a").kinds() == []


@pytest.mark.parametrize("number", [1, 2])
def test_of_two_readings_of_a_label_each_is_its_own(number: int) -> None:
    course = Course().reads("a", answers(), volume="").reads("a", changed(answers(), **OTHER_LOT), volume="")
    course.takes_back("a", number=number)

    assert course.kinds() == ["issued 1", "wasted 1"]
    assert course.account().entries[0].round == number


def test_twice_of_one_syringe_it_is_issued_once() -> None:
    course = Course().reads("a", answers(), volume="").takes_back("a")
    course.entries.append(course.entries[-1])
    line = course.entries.pop()
    event = line.event
    assert isinstance(event, DrugTakenBack)
    course.tell(DrugTakenBack(**{**vars(event), "held_in": "line", "volume": "2 mL", "exact": "2 mL"}), "a")

    assert course.kinds() == ["issued 1", "wasted 1", "wasted 1"]


# ---------------------------------------------------------------------------------------------------------
# A bolus given by staff, and what had to start without a check


BOLUS = {
    "staff_bolus_dose": "0.4 mg",
    "staff_bolus_interval": "10 min",
    "staff_bolus_most": "1.2 mg",
    "staff_bolus_window": "4 h",
}
IN_VOLUMES = {
    "strength": "in-millilitres",
    "amount": None,
    "volume": None,
    "demand_dose": "1 mL",
    "limit_amount": "10 mL",
}


def last_two(course: Course) -> list[dict[str, object]]:
    return [dict(each.data) for each in course.account().entries[-2:]]


def test_a_bolus_is_what_the_order_in_force_says_and_no_loading_dose() -> None:
    course = Course().starts("1", changed(answers(), order=BOLUS))
    course.tell(StaffBolusGiven(look="1", in_force="1"))
    assert last_two(course)[-1] == {"kind": "bolus", "amount": "0.4 mg", "loading": False}


def test_on_a_device_in_volumes_it_is_the_volume_of_it() -> None:
    """0.4 mg of 6 mg in 30 mL are 2 mL; 0.4 mg of 7 mg in 30 mL have no finite number of mL."""
    device = {"demand_dose": "1 mL"}
    order = {"dose": "0.4 mg"}
    assert bolus_amount(order, device, {"amount": "6 mg", "volume": "30 mL"}) == "2 mL"
    assert bolus_amount(order, device, {"concentration": "0.2 mg/mL"}) == "2 mL"
    assert bolus_amount(order, device, {"amount": "7 mg", "volume": "30 mL"}) == ""
    assert bolus_amount(order, {"demand_dose": "1 mg"}, {}) == "0.4 mg"
    assert bolus_amount(None, device, {}) == ""


def test_a_bolus_of_which_nobody_can_say_how_much_is_not_in_it() -> None:
    course = Course().starts("1").tell(StaffBolusGiven(look="1", in_force="1"))
    assert course.account().entries[-1].data["kind"] == "started"
    course.read["2"] = []
    course.tell(StaffBolusGiven(look="1", in_force="2"), "2")
    assert course.account().entries[-1].data["kind"] == "started"
    assert Course().tell(StaffBolusGiven(look="1", in_force="1")).account().entries == ()


def test_what_had_to_start_without_a_check_after_one_runs_on_in_its_account() -> None:
    course = Course().starts("1").tell(events.DeviceStopped(stopped_at="", why="", totals=""))
    course.tell(events.StartedWithoutCheck(reason="pain", started_at=""))
    assert last_two(course) == [{"kind": "paused"}, {"kind": "started"}]
