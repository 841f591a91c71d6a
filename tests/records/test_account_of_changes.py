"""What the changes of an infusion enter into its account: syringes, devices, totals that are cleared."""

from dataclasses import replace
from datetime import timedelta

import pytest

from app.judging.in_hand import off_the_device
from app.records.account_entries import UNREAD
from app.records.canonical import canonical
from app.records.change_events import DoseLowered
from app.records.emergency_events import EvidenceKept
from app.records.events import CheckDone, DeviceStopped, LedToCheck, Started, StartedWithoutCheck
from app.records.kept import KeptComparison
from app.records.kinds import CLEARING, DEVICE_CHANGE, REPEAT_SET_UP, SETTINGS_CHANGE, SYRINGE_CHANGE, Kind
from app.records.ward_events import LinePaused
from tests.factories.answers import Changes, answers, changed
from tests.judging.test_account import told
from tests.records.test_account import BEGUN, Course
from tests.story.events import BEGAN

# By hand: of 27.7 mL after priming, 8 doses of 1 mL each.
OLD = {"total_amount": "1.6 mg", "presses": "9", "doses": "8", "left": "19.7 mL"}


def after(kind: Kind, totals: Changes = OLD, label: Changes | None = None) -> Course:
    """A set-up ran, and then a change of a kind was started; both had read what is given."""
    course = Course().starts("check-1")
    at = (course.now - timedelta(minutes=1)).isoformat()
    given = changed(answers(), totals={"read_at": at, **totals}, label=label or {})
    course.reads("check-2", given, volume="0.3 mL" if kind is not SETTINGS_CHANGE else "")
    return course.tell(Started(check_kind=kind.name), "check-2")


def again(kept: KeptComparison, name: str) -> KeptComparison:
    """The same, judged to be of a syringe of the account that is loaded again."""
    return replace(kept, result=canonical({**kept.told, "loaded_again": name}))


def reads_again(name: str = "1") -> Course:
    """The second syringe was on, and both read that the first is to be loaded again."""
    course = after(SYRINGE_CHANGE, label={"lot": "LOT-8"})
    at = (course.now - timedelta(minutes=1)).isoformat()
    left = {**OLD, "total_amount": "2.6 mg", "presses": "15", "doses": "13", "left": "24.7 mL"}
    course.reads("check-3", changed(answers(), totals={"read_at": at, **left}), volume="0.3 mL")
    course.read["check-3"] = [again(each, name) for each in course.read["check-3"]]
    return course


def kinds_of(course: Course) -> list[str]:
    return course.kinds()[len(BEGUN) :]


def test_new_settings_stand_on_the_syringe_that_was_on_however_its_label_was_typed() -> None:
    assert kinds_of(after(SETTINGS_CHANGE, label={"lot": "lot-7"})) == ["settings", "started"]


def test_another_syringe_is_another_one_though_its_label_is_the_same() -> None:
    course = after(SYRINGE_CHANGE)

    assert kinds_of(course) == ["removed", "issued 2", "loaded 2", "primed", "settings", "started"]
    removed = told(course.account())[len(BEGUN)]
    assert (removed["left"], removed["totals"]) == (
        "19.7 mL",
        {"amount": "1.6 mg", "presses": 9, "doses": 8},
    )


def test_a_part_used_one_is_loaded_again_and_comes_in_no_second_time() -> None:
    course = reads_again().tell(Started(check_kind=SYRINGE_CHANGE.name), "check-3")
    account = course.account()

    assert kinds_of(course)[6:] == ["removed", "loaded 1", "primed", "settings", "started"]
    assert (account.on, account.lots) == ("1", {"1": "LOT-7", "2": "LOT-8"})
    assert [each["name"] for each in off_the_device(account)] == ["2"]
    # It goes by its name as before: at the end it comes off once more.
    assert reads_again("9").tell(Started(check_kind=SYRINGE_CHANGE.name), "check-3").account().on == "3"


def test_what_is_left_of_a_part_used_one_that_was_replaced_before_it_ran_goes_from_that_one() -> None:
    course = reads_again().takes_back("check-3", volume="19.7 mL")
    account = course.account()

    assert kinds_of(course)[6:] == ["wasted 1"]
    assert (account.on, set(account.gone)) == ("2", {"1"})


def test_where_nothing_of_the_old_one_could_be_read_it_is_removed_all_the_same() -> None:
    none = dict.fromkeys(OLD, "none")
    course = after(SYRINGE_CHANGE, totals=none)

    removed = told(course.account())[len(BEGUN)]
    assert (removed["kind"], removed.keys() & {"left", "totals"}) == ("removed", set())


def test_another_device_begins_at_zero_after_what_the_old_one_showed() -> None:
    course = after(DEVICE_CHANGE)

    assert kinds_of(course) == ["read", "device", "primed", "settings", "started"]
    device = told(course.account())[len(BEGUN) + 1]
    assert device["totals"] == {"amount": "1.6 mg", "presses": 9, "doses": 8}
    assert device["after"] == {"amount": "0 mg", "volume": "0 mL", "presses": 0, "doses": 0}


def test_one_that_shows_nothing_any_more_has_no_totals() -> None:
    dead = dict.fromkeys(OLD, "none") | {"left": "19.7 mL"}
    course = after(DEVICE_CHANGE, totals=dead)

    assert kinds_of(course) == ["read", "device", "primed", "settings", "started"]
    assert "totals" not in told(course.account())[len(BEGUN) + 1]


def test_of_one_of_which_nothing_could_be_read_only_the_change_is_told() -> None:
    course = after(DEVICE_CHANGE, totals=dict.fromkeys(OLD, "none"))

    assert kinds_of(course) == ["device", "primed", "settings", "started"]


def test_totals_that_were_cleared_are_told_as_they_were_before() -> None:
    assert kinds_of(after(CLEARING)) == ["read", "cleared", "primed", "settings", "started"]


def test_a_change_of_what_has_no_account_begins_none() -> None:
    course = Course().reads("check-1", answers())

    assert course.tell(Started(check_kind=SETTINGS_CHANGE.name), "check-1").account().entries == ()


# ---------------------------------------------------------------------------------------------------------
# What ran is set up anew


def set_up_again(name: str = "", totals: Changes = OLD, *, after_stop: bool = True) -> Course:
    """A set-up ran, it was stopped, and a repeat set-up started it; `name` is of the one put on again."""
    course = Course().starts("check-1")
    if after_stop:
        course.tell(DeviceStopped(stopped_at="", why="other", totals=""))
    at = (course.now - timedelta(minutes=1)).isoformat()
    course.reads("check-2", changed(answers(), totals={"read_at": at, **totals}), volume="2.3 mL")
    course.read["check-2"] = [again(each, name) for each in course.read["check-2"]]
    return course.tell(Started(check_kind=REPEAT_SET_UP.name), "check-2")


PUT_ON = ["primed", "settings", "started"]


def test_set_up_anew_what_is_on_comes_off_and_totals_begin_before_one_is_put_on() -> None:
    assert kinds_of(set_up_again("1")) == ["paused", "removed", "device", "loaded 1", *PUT_ON]
    assert kinds_of(set_up_again()) == ["paused", "removed", "device", "issued 2", "loaded 2", *PUT_ON]
    removed, device = told(set_up_again("1").account())[len(BEGUN) + 1 : len(BEGUN) + 3]
    assert removed["totals"] == device["totals"] == {"amount": "1.6 mg", "presses": 9, "doses": 8}
    assert device["after"] == {"amount": "0 mg", "volume": "0 mL", "presses": 0, "doses": 0}


def test_what_nobody_read_as_it_came_off_nobody_read_of_the_device() -> None:
    course = set_up_again("1", dict.fromkeys(OLD, "none"))
    device = told(course.account())[len(BEGUN) + 2]
    assert (device["kind"], "totals" in device) == ("device", False)


def test_of_what_was_kept_as_evidence_the_totals_are_those_of_when_it_was_taken() -> None:
    course = Course().starts("check-1")
    course.tell(EvidenceKept(harm="9", left="19.7 mL", total_amount="1.6 mg", doses="8", presses="9"))
    course.reads("check-2", changed(answers(), totals=dict.fromkeys(OLD, "none")), volume="2.3 mL")
    course.read["check-2"] = [again(each, "") for each in course.read["check-2"]]
    course.tell(Started(check_kind=REPEAT_SET_UP.name), "check-2")
    assert kinds_of(course) == ["removed", "device", "issued 2", "loaded 2", *PUT_ON]
    device = next(each for each in told(course.account()) if each["kind"] == "device")
    assert device["totals"] == {"amount": "1.6 mg", "presses": 9, "doses": 8}


@pytest.mark.parametrize(
    ("strength", "concentration"),
    [
        ({}, "6 mg/30 mL"),
        (
            {
                "strength": "per-millilitre",
                "concentration": "0.2 mg/mL",
                "content_volume": "30 mL",
                "amount": None,
                "volume": None,
            },
            "0.2 mg/mL",
        ),
    ],
)
def test_what_ran_and_was_never_read_comes_in_with_what_both_saw_in_it(
    strength: Changes, concentration: str
) -> None:
    course = Course().tell(StartedWithoutCheck(reason="pain", started_at=""))
    seen = {"comes_as": "part-used", "part_left": "19.7 mL", **strength}
    shown = {"read_at": course.now.isoformat(), **OLD}
    course.reads("check-1", changed(answers(), totals=shown, label=seen), volume="2.3 mL")
    course.read["check-1"] = [again(each, UNREAD) for each in course.read["check-1"]]
    account = course.tell(Started(check_kind=REPEAT_SET_UP.name), "check-1").account()
    assert course.kinds() == ["issued 1", "loaded 1", *PUT_ON]
    issued = told(account)[0]
    assert (issued["volume"], issued["concentration"], issued["size"]) == ("19.7 mL", concentration, "30 mL")
    assert account.begun is None


@pytest.mark.parametrize(("number", "kinds"), [(1, [*BEGUN, "read"]), (0, [])])
def test_a_check_that_led_on_counts_where_its_two_had_agreed(number: int, kinds: list[str]) -> None:
    course = Course().tell(StartedWithoutCheck(reason="pain", started_at=""))
    at = (course.now + timedelta(minutes=1)).isoformat()
    course.reads("check-1", changed(answers(), totals={"read_at": at, **OLD}), volume="")
    course.tell(LedToCheck(check_kind=REPEAT_SET_UP.name, round=number), "check-1")
    assert course.kinds() == kinds


def test_one_that_was_replaced_before_it_ran_is_another_though_its_label_is_the_same() -> None:
    course = set_up_again()
    at = (course.now - timedelta(minutes=1)).isoformat()
    course.reads("check-3", changed(answers(), totals={"read_at": at, **OLD}), volume="2.3 mL")
    course.read["check-3"] = [again(each, "") for each in course.read["check-3"]]
    account = course.takes_back("check-3", volume="30 mL", is_told_apart=True).account()
    assert (account.on, set(account.gone)) == ("2", {"3"})


def test_the_one_that_was_on_and_is_wasted_before_it_runs_again_is_off_with_what_was_read_of_it() -> None:
    course = Course().starts("check-1").tell(DeviceStopped(stopped_at="", why="other", totals=""))
    at = (course.now - timedelta(minutes=1)).isoformat()
    course.reads("check-2", changed(answers(), totals={"read_at": at, **OLD}), volume="2.3 mL")
    course.read["check-2"] = [again(each, "1") for each in course.read["check-2"]]
    account = course.takes_back("check-2", volume="19.7 mL", is_told_apart=True).account()
    assert (account.on, set(account.gone)) == ("", {"1"})
    assert kinds_of(course) == ["paused", "removed", "wasted 1"]
    assert told(account)[-2]["left"] == OLD["left"]
    # Written anew it is of the same.
    account = course.takes_back("check-2", volume="19.6 mL", is_told_apart=True).account()
    assert [each["volume"] for each in told(account) if each["kind"] == "wasted"] == ["19.6 mL"]


def test_what_1_1_0_wrote_of_one_that_was_replaced_adds_up_as_it_did() -> None:
    """It did not say which one that was; comparisons that were signed hold what it came to."""
    course = Course().starts("check-1")
    at = (course.now - timedelta(minutes=1)).isoformat()
    course.reads("check-2", changed(answers(), totals={"read_at": at, **OLD}), volume="2.3 mL")
    course.read["check-2"] = [again(each, "") for each in course.read["check-2"]]
    account = course.takes_back("check-2", volume="30 mL").account()
    assert (account.on, set(account.gone)) == ("", {"1"})


def test_that_a_dose_was_lowered_moves_no_drug() -> None:
    assert Course().starts("check-1").tell(DoseLowered(why="sedation")).kinds() == BEGUN


LESS = {"demand_dose": "0.1 mg"}
READ_AT = {"read_at": (BEGAN + timedelta(hours=3)).isoformat()}


def lowered_and(*, device: Changes, kind: Kind = SETTINGS_CHANGE) -> Course:
    """Lowered in one tap while it runs, and the next change starts with this on the device."""
    course = Course().starts("check-1").tell(DoseLowered(why="sedation"))
    read = changed(answers(), device=device, order=device, totals=READ_AT)
    course.reads("check-2", read, volume="")
    return course.tell(Started(check_kind=kind.name), "check-2")


def test_lowered_for_safety_less_is_in_force_from_that_moment_on() -> None:
    course = lowered_and(device=LESS)
    account = course.account()
    assert kinds_of(course) == ["settings", "settings", "started"]
    first, second = account.entries[len(BEGUN) : len(BEGUN) + 2]
    assert first.data == second.data
    assert (first.data["demand_dose"], first.at) == ("0.1 mg", course.entries[1].at)
    assert account.lowered is None


def test_lowered_twice_it_counts_from_the_first_time_and_until_two_have_read_it_is_open() -> None:
    course = Course().starts("check-1").tell(DoseLowered(why="sedation")).tell(DoseLowered(why="other"))
    account = course.account()
    assert (account.lowered, course.kinds()) == (course.entries[1].at, BEGUN)


def test_a_check_of_what_runs_reads_what_it_was_lowered_to_and_a_handoff_puts_nothing_in_force() -> None:
    read = changed(answers(), device=LESS, order=LESS, totals=READ_AT)
    for kind, wanted in (("re-check", 1), ("handoff", 0)):
        course = Course().starts("check-1").tell(DoseLowered(why="sedation")).reads("check-2", read)
        course.tell(CheckDone(check_kind=kind), "check-2")
        assert kinds_of(course).count("settings") == wanted


def test_of_another_strength_nobody_knows_what_it_was_lowered_to() -> None:
    course = lowered_and(device={**LESS, "amount": "60 mg"}, kind=SYRINGE_CHANGE)
    assert kinds_of(course).count("settings") == 1


def test_what_stood_was_not_lowered() -> None:
    course = Course().starts("check-1").tell(LinePaused(why="walk")).tell(DoseLowered(why="sedation"))
    assert course.account().lowered is None
