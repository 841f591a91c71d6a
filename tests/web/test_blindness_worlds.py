"""Two worlds that differ only in what one nurse read must look the same to everybody else, byte for byte.

Non-interference after Goguen and Meseguer, "Security Policies and Security Models", IEEE Symposium on
Security and Privacy, 1982: until both have handed in, nothing that anybody else observes depends on what the
first one read.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import pytest

from app.records.reading import Answers
from app.records.state import Phase
from app.workflow import pausing, stopping
from app.workflow.sweeping import sweep_once
from tests.factories.answers import answers, changed, of_patient
from tests.story.pages import DONE_BUTTON, FIRST_NURSE, SECOND_NURSE, Pair, cleared, joined, started
from tests.support.observers import (
    LATER,
    NOBODY,
    OTHERS,
    Scene,
    assert_same,
    heard,
    lock_screen,
    looked_again,
    looked_and_pressed,
    looked_everywhere,
    pressed_everything,
    routes,
    token_of,
)
from tests.support.sampling import cases
from tests.support.world import World

Stage = Callable[[Scene, Answers], None]


# What the first nurse has done when the others look


def drafted(scene: Scene, read: Answers) -> None:
    """The first nurse has written everything down and handed in nothing."""
    scene.pair.draft(scene.pair.first, read)


def handed_in(scene: Scene, read: Answers) -> None:
    """The first nurse has handed in; the second has not."""
    scene.pair.hand_in(scene.pair.first, read)


def handed_in_while_the_other_writes(scene: Scene, read: Answers) -> None:
    """The first nurse has handed in; the second is in the middle of it."""
    scene.pair.hand_in(scene.pair.first, read)
    scene.pair.draft(scene.pair.second, answers())


def handed_in_with_help_at_hand(scene: Scene, read: Answers) -> None:
    """Help was asked for while reading, and the charge nurse has taken the request."""
    scene.pair.page(scene.pair.second, "/help")
    scene.pair.second.press("Ask for help", why="patient")
    charge = scene.observers["r.calloway"]
    scene.pair.page(charge)
    charge.press("Take this request")
    scene.pair.hand_in(scene.pair.first, read)


def danger_in_the_label(scene: Scene, read: Answers) -> None:
    """The first nurse has written everything down, and the second has seen danger in the label."""
    scene.pair.draft(scene.pair.first, read)
    scene.pair.sees_danger("label")


def danger_after_handing_in(scene: Scene, read: Answers) -> None:
    """The same when the first nurse had handed in, who has begun once more."""
    scene.pair.hand_in(scene.pair.first, answers())
    scene.pair.sees_danger("label")
    scene.pair.draft(scene.pair.first, read)


def disputed(scene: Scene, read: Answers) -> None:
    """Both have handed in, and what they read does not come together."""
    scene.pair.read(read, answers())
    assert scene.pair.phase() is Phase.DISPUTED


def handed_in_again(scene: Scene, read: Answers) -> None:
    """A disputed reading is repeated, and the first nurse has handed in the repetition."""
    scene.pair.read(answers(device={"demand_dose": "4 mg"}), answers())
    scene.pair.page(scene.pair.first)
    scene.pair.first.press("Read these again")
    scene.pair.hand_in(scene.pair.first, read)


def disputed_again(scene: Scene, read: Answers) -> None:
    """The repetition does not come together either, and the count of repetitions is used up."""
    scene.pair.read(answers(device={"demand_dose": "4 mg"}), answers())
    for _ in range(2):
        scene.pair.read_again(read, answers())
    assert scene.pair.state.needs_help


def handed_in_after_a_lapse(scene: Scene, read: Answers) -> None:
    """A cleared check has lapsed, and the first nurse has read the device again."""
    scene.pair.page(scene.pair.first, "/start")
    scene.pair.first.press("It differs")
    scene.pair.first.press("Read the device again")
    scene.pair.hand_in(scene.pair.first, read)


def re_checking(world: World) -> Pair:
    """What runs is checked again, and both have joined."""
    pair = started(world)
    pair.re_checks()
    return pair


def beside_one_that_runs(world: World) -> Pair:
    """PCA runs for a patient at another bed; here the same two have joined a set-up."""
    elsewhere = started(world)
    sweep_once(world.site, world.clock.now, holder="test")
    here = replace(elsewhere, bed="13")
    here.check = world.open_check(here.first, here.bed)
    here.joins()
    return here


@dataclass(frozen=True, kw_only=True)
class Case:
    """A stage, where the check begins, and what the first nurse reads in each of two worlds."""

    stage: Stage
    worlds: tuple[Answers, Answers]
    begin: Callable[[World], Pair] = joined
    # Whoever takes a request for help after a comparison may see it: that is no leak.
    not_pressed: frozenset[str] = frozenset()


TENFOLD = (answers(), answers(device={"demand_dose": "2 mg"}))
NOTHING: tuple[Answers, Answers] = ({}, answers())
OTHERWISE = (
    answers(label={"lot": "1"}, wristband={"identifier": "1"}, order={"prescriber": "Bo"}),
    answers(
        wristband={"identifier": "I" * 190, "patient_name": "\N{CYRILLIC SMALL LETTER SHA}" * 80},
        order={"drug": "morphine", "carrier_fluid": "none", "carrier_rate": None, "order_number": "7" * 40},
        label={"drug": "fentaNYL", "amount": "30 mg", "lot": "L" * 190},
        chart={"allergy": "to-this-drug-or-its-family", "sedatives": "charted"},
        monitor={"capnography": "off"},
        totals={"total_amount": "11.9 mg", "presses": "999999", "doses": "21", "left": "none"},
    ),
)
# Readings that differ from the second nurse's in the same fields.
SAME_FIELDS = (
    answers(device={"demand_dose": "2 mg"}, label={"lot": "A"}, totals={"doses": "12"}),
    answers(device={"demand_dose": "7.3719 mg"}, label={"lot": "B" * 150}, totals={"doses": "21"}),
)
WHOSE = (answers(), of_patient("DM-51111", answers()))  # PCA runs already for the first of them
# The plan of the safety steps follows from the carrier, and must not tell what one nurse read.
CARRIERS = (
    answers(order={"carrier_fluid": "none", "carrier_rate": None}),
    answers(order={"carrier_fluid": "glucose 5%"}),
)

_NO_HELPER = frozenset({"settling.take_help"})

CASES = {
    "draft": Case(stage=drafted, begin=lambda world: joined(world.asks_for_more()), worlds=OTHERWISE),
    "handed in: nothing or all": Case(stage=handed_in, worlds=NOTHING),
    "handed in, the other writes": Case(stage=handed_in_while_the_other_writes, worlds=OTHERWISE),
    "handed in, help at hand": Case(stage=handed_in_with_help_at_hand, worlds=OTHERWISE),
    "danger in one source": Case(stage=danger_in_the_label, worlds=OTHERWISE),
    "danger in one source: nothing or all": Case(stage=danger_in_the_label, worlds=NOTHING),
    "danger after handing in": Case(stage=danger_after_handing_in, worlds=OTHERWISE),
    "disputed: same fields": Case(stage=disputed, worlds=SAME_FIELDS, not_pressed=_NO_HELPER),
    "disputed: carriers": Case(stage=disputed, worlds=CARRIERS, not_pressed=_NO_HELPER),
    "handed in again": Case(stage=handed_in_again, worlds=TENFOLD),
    "disputed again": Case(stage=disputed_again, worlds=SAME_FIELDS, not_pressed=_NO_HELPER),
    "handed in after a lapse": Case(stage=handed_in_after_a_lapse, begin=cleared, worlds=TENFOLD),
    "the patient may run elsewhere": Case(
        stage=handed_in_while_the_other_writes, begin=beside_one_that_runs, worlds=WHOSE
    ),
    "the patient may run elsewhere: disputed": Case(
        stage=disputed, begin=beside_one_that_runs, worlds=SAME_FIELDS, not_pressed=_NO_HELPER
    ),
    "re-check: handed in, the other writes": Case(
        stage=handed_in_while_the_other_writes, begin=re_checking, worlds=OTHERWISE
    ),
    "re-check: disputed": Case(stage=disputed, begin=re_checking, worlds=SAME_FIELDS, not_pressed=_NO_HELPER),
}


# Asking


def scene_at(world: World, case: Case, read: Answers) -> Scene:
    """A world brought to a stage; everybody is signed in before the first nurse reads."""
    pair = case.begin(world)
    # A record made later holds a root of the log that covers salted commitments, and may differ by them.
    sweep_once(world.site, world.clock.now, holder="test")
    locked = lock_screen(world, "q.lindqvist")
    observers = {
        login: world.at(login, "recovery" if login == "i.bexley" else "ward-4-east") for login in OTHERS
    }
    scene = Scene(
        pair=pair,
        observers={**observers, SECOND_NURSE: pair.second, NOBODY: locked},
        # In each case another one asks the same question.
        turn=list(CASES.values()).index(case) if case in CASES.values() else 0,
    )
    for browser in scene.observers.values():
        browser.get("/")
    case.stage(scene, read)
    sweep_once(world.site, world.clock.now, holder="test")
    return scene


@pytest.mark.timeout(900)
@pytest.mark.parametrize("case", cases(CASES.values(), one_in=2), ids=cases(CASES, one_in=2))
def test_nobody_can_tell_the_worlds_apart(worlds: Callable[[], World], case: Case) -> None:
    answered = []
    for read in case.worlds:
        scene = scene_at(worlds(), case, read)
        answered.append(
            [
                *looked_everywhere(scene),
                *pressed_everything(scene, case.not_pressed),
                *looked_again(scene),
            ]
        )
    assert_same(*answered)
    assert any(each.who == SECOND_NURSE and b"Ward 4 East" in each.body for each in answered[0])


# What an earlier check of the same infusion found, and put in force


def set_to(dose: str, patient: str, lot: str) -> Answers:
    """An order, a device set to it, a patient and a syringe."""
    ordered = {"demand_dose": dose}
    named = {"identifier": patient}
    return answers(order={**ordered, **named}, device=ordered, wristband=named, label={**named, "lot": lot})


IN_FORCE = (set_to("0.2 mg", "H-1", "A"), set_to("0.3 mg", "H" * 40, "L" * 90))


def nothing_read(scene: Scene, read: Answers) -> None:
    """Both have joined, and nobody has read."""


def one_handed_in(scene: Scene, read: Answers) -> None:
    """The first has handed in, the second writes."""
    scene.pair.hand_in(scene.pair.first, read)
    scene.pair.draft(scene.pair.second, read)


def read_apart(scene: Scene, read: Answers) -> None:
    """Both have handed in; two readings differ, so that they are to be read again."""
    scene.pair.read(read, changed(read, device={"lockout": "7 min"}))
    assert scene.pair.phase() is Phase.DISPUTED


def the_re_check_of(world: World, in_force: Answers) -> Scene:
    """An infusion was set up, runs and has its line paused; the same two have joined its re-check."""
    pair = set_up_and_started(world, in_force)
    earlier, infusion = pair.check, pair.state.check.infusion
    paused = pausing.pause_line(world.site, pair.act(pair.first), infusion, why="walk")
    assert isinstance(paused, pausing.Paused)
    pair.re_checks()
    observers = {FIRST_NURSE: pair.first, SECOND_NURSE: pair.second}
    return Scene(pair=pair, observers=observers, earlier=(earlier,))


def set_up_and_started(world: World, in_force: Answers) -> Pair:
    """What both read alike is in force."""
    pair = joined(world)
    pair.read(in_force)
    pair.take_steps()
    pair.sign()
    pair.look()
    pair.start()
    sweep_once(world.site, world.clock.now, holder="test")
    return pair


def the_next_check_of(world: World, in_force: Answers) -> Scene:
    """An infusion was set up, started and stopped; the same two have joined its next check."""
    pair = set_up_and_started(world, in_force)
    note = stopping.Stop(why="other", totals=in_force["order"]["demand_dose"])
    roles = world.person(FIRST_NURSE).roles
    noted = stopping.note_stop(world.site, pair.act(pair.first), roles, pair.check, stop=note)
    assert isinstance(noted, stopping.StopNoted)
    earlier, infusion = pair.check, pair.state.check.infusion
    pair.check = world.open_check(pair.first)
    world.join(pair.second, pair.check)
    assert pair.state.check.infusion == infusion
    return Scene(
        pair=pair, observers={FIRST_NURSE: pair.first, SECOND_NURSE: pair.second}, earlier=(earlier,)
    )


@pytest.mark.timeout(900)
@pytest.mark.parametrize("stage", cases([one_handed_in, nothing_read, read_apart], one_in=2))
@pytest.mark.parametrize("begun", [the_next_check_of, the_re_check_of])
def test_the_next_two_cannot_tell_what_is_in_force(
    worlds: Callable[[], World], stage: Stage, begun: Callable[[World, Answers], Scene]
) -> None:
    answered = []
    for in_force in IN_FORCE:
        scene = begun(worlds(), in_force)
        stage(scene, set_to("0.4 mg", "H-9", "C"))
        answered.append(looked_and_pressed(scene, _NO_HELPER))
    assert_same(*answered)


@pytest.mark.parametrize("begun", [the_next_check_of, the_re_check_of])
def test_they_are_told_once_their_readings_agree(
    worlds: Callable[[], World], begun: Callable[[World, Answers], Scene]
) -> None:
    """The twin that must fail: what was closed is open then, and their own comparison knows it."""
    answered, checks = [], set()
    for in_force in IN_FORCE:
        scene = begun(worlds(), in_force)
        scene.pair.read(set_to("0.4 mg", "H-9", "C"))
        checks |= {scene.pair.check, *scene.earlier}
        answered.append(looked_everywhere(scene))
        codes = {each.code for each in scene.pair.state.findings}
        assert "patient-differs" in codes
    for check in checks:
        pages = [[each for each in said if f"/check/{check}" in each.asked] for said in answered]
        with pytest.raises(AssertionError, match="can tell the worlds apart"):
            assert_same(*pages)


@pytest.mark.timeout(900)
@pytest.mark.parametrize("ending", cases(sorted(LATER - {"reading.hand_in"}), one_in=2))
def test_a_reading_that_was_never_compared_is_never_shown(worlds: Callable[[], World], ending: str) -> None:
    case, answered = Case(stage=handed_in, worlds=OTHERWISE), []
    for read in case.worlds:
        scene = scene_at(worlds(), case, read)
        path = next(path for endpoint, path in routes(scene, "POST") if endpoint == ending)
        token = token_of(scene.pair.second)
        said = heard(scene, SECOND_NURSE, f"POST {path}", [("csrf_token", token), ("reason", "time")])
        sweep_once(scene.world.site, scene.world.clock.now, holder="test")
        answered.append([said, *looked_everywhere(scene)])
    assert_same(*answered)


def test_the_second_hand_in_itself_tells_nothing(worlds: Callable[[], World]) -> None:
    case, answered = Case(stage=handed_in_while_the_other_writes, worlds=OTHERWISE), []
    for read in case.worlds:
        scene = scene_at(worlds(), case, read)
        form, _ = scene.pair.page(scene.pair.second, "/read").form_with("Hand in")
        said = heard(scene, SECOND_NURSE, f"POST {form.action}", list(form.held))
        assert said.status == 303
        waiting = heard(scene, SECOND_NURSE, f"GET /check/{scene.pair.check}/waiting")
        answered.append([said, waiting])
    assert_same(*answered)


def test_when_the_first_handed_in_is_not_told(worlds: Callable[[], World]) -> None:
    answered = []
    for early in (60, 240):
        scene = scene_at(worlds(), Case(stage=_nothing_yet, worlds=TENFOLD), answers())
        scene.world.clock.pass_(seconds=early)
        scene.pair.hand_in(scene.pair.first, answers())
        scene.world.clock.pass_(seconds=300 - early)
        answered.append(looked_again(scene))
    assert_same(*answered)


def _nothing_yet(scene: Scene, read: Answers) -> None:
    """Both have joined."""


def test_nobody_but_the_two_can_tell_the_primed_volume(worlds: Callable[[], World]) -> None:
    """One of the two reads it and the other, who verifies it, sees what was read."""
    answered = []
    for volume in ("2.3", "7.3719"):
        scene = scene_at(worlds(), Case(stage=agreed, worlds=TENFOLD), answers())
        scene.pair.page(scene.pair.first, "/steps")
        scene.pair.first.press(DONE_BUTTON, volume=volume)
        answered.append([each for each in looked_everywhere(scene) if each.who != "t.osmund"])
    assert_same(*answered)


def agreed(scene: Scene, read: Answers) -> None:
    """Both have read the same."""
    scene.pair.read(read)


def test_the_worlds_are_told_apart_once_they_may_be(worlds: Callable[[], World]) -> None:
    """The twin that must fail: without it, equal answers could mean that nothing was asked."""
    answered = []
    for read in TENFOLD:
        scene = scene_at(worlds(), Case(stage=agreed, worlds=TENFOLD), read)
        answered.append(looked_everywhere(scene))
    with pytest.raises(AssertionError, match=r"t\.osmund can tell the worlds apart by GET /check/"):
        assert_same(*answered)
