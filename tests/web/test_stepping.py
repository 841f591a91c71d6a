import pytest

from app.records.state import Phase
from app.records.steps import DONE, VERIFIED
from tests.factories.answers import answers
from tests.story.pages import (
    DONE_BUTTON,
    SECOND_NURSE,
    VERIFIED_BUTTON,
    Pair,
    at_steps,
    compared,
    joined,
)
from tests.support.browser import Page, words_of
from tests.support.world import IDLE, UNIT, World


def boxes(page: Page, part: str = DONE) -> list[str]:
    """The steps that can be ticked: as done, or as seen done by the other."""
    return [each.get("value", "") for each in page.all("input") if each.get("name") == part]


def confirmed(pair: Pair, part: str) -> set[str]:
    """The steps whose part stands."""
    return {each.step for each in pair.state.confirmations if each.part == part}


def test_whoever_did_it_says_so_and_the_other_verifies_it(world: World) -> None:
    pair = at_steps(world)
    assert boxes(pair.page(pair.second, "/steps"), VERIFIED) == []
    pair.page(pair.first, "/steps")
    page = pair.first.press(DONE_BUTTON, done=["syringe-seated", "cover-locked"])
    assert confirmed(pair, DONE) == {"syringe-seated", "cover-locked"}
    assert "Waits for Tomas Osmund to verify it." in page.text
    assert boxes(pair.page(pair.second, "/steps"), VERIFIED) == ["syringe-seated", "cover-locked"]
    assert "The syringe is whole; barrel, flange and plunger are held by the device." in pair.second.page.text
    assert "Done by Nadia Ferrow. Verify:" in pair.second.page.text
    pair.second.press(VERIFIED_BUTTON, verified="syringe-seated")
    assert confirmed(pair, VERIFIED) == {"syringe-seated"}


def test_one_press_says_that_the_other_did_it(world: World) -> None:
    pair = at_steps(world)
    pair.page(pair.first, "/steps")
    page = pair.first.press("Tomas Osmund did it", done="set-primed")
    assert "Waits for Tomas Osmund to say so." in page.text
    assert "set-primed" not in boxes(page)
    page = pair.page(pair.second, "/steps")
    assert "Nadia Ferrow says that Tomas Osmund did this." in page.text
    pair.second.press(DONE_BUTTON, done="set-primed")
    assert boxes(pair.page(pair.first, "/steps"), VERIFIED) == ["set-primed"]


def test_two_who_contradict_each_other_are_told_and_settle_it(world: World) -> None:
    pair = at_steps(world)
    for browser in pair.both:
        pair.page(browser, "/steps")
    # Both have the page in front of them from before either said anything.
    pair.first.press(DONE_BUTTON, done="set-primed")
    pair.second.press(DONE_BUTTON, done="set-primed")
    for browser in pair.both:
        page = pair.page(browser, "/steps")
        assert "You both say that you did this. Settle it between you" in page.text
        assert "set-primed" in boxes(page)
    pair.second.press("Nadia Ferrow did it", done="set-primed")
    assert boxes(pair.second.page, VERIFIED) == ["set-primed"]


def test_what_is_written_is_by_whoever_writes_it(world: World) -> None:
    pair = at_steps(world)
    pair.page(pair.first, "/steps")
    page = pair.first.press("Tomas Osmund did it", done="cover-locked", volume="2.3")
    assert page.status == 422
    assert "What is written is by whoever writes it" in page.text
    assert dict(page.form_with(DONE_BUTTON)[0].held)["volume"] == "2.3"
    assert pair.state.priming_handed_in == frozenset()


def begins(page: Page) -> list[str]:
    """Where the keyboard begins."""
    return [
        f"{each.get('name')} {each.get('value')}"
        for each in page.all("input")
        if each.get("autofocus") is not None
    ]


def test_the_keyboard_begins_at_the_own_turn_unless_something_above_it_waits(world: World) -> None:
    pair = at_steps(world)
    assert begins(pair.page(pair.first, "/steps")) == ["sedation 0"]
    pair.observe()
    assert begins(pair.page(pair.first, "/steps")) == ["done syringe-seated"]
    assert begins(pair.page(pair.second, "/steps")) == ["verified baseline"]


def test_one_group_after_the_other(world: World) -> None:
    pair = at_steps(world)
    page = pair.page(pair.first, "/steps")
    assert "Group 1 of 3: patient, syringe and line" in page.text
    assert "Group 2, line to the patient, monitoring: 9 steps, after the group before." in page.text
    assert "traced" not in boxes(page)
    pair.observe()
    pair.prime()
    pair.tick(pair.first, DONE_BUTTON)
    assert boxes(pair.page(pair.first, "/steps")) == boxes(pair.first.page, VERIFIED) == []
    pair.tick(pair.second, VERIFIED_BUTTON)
    page = pair.page(pair.first, "/steps")
    assert "drug-line-clamped" in boxes(page)
    # Nothing is traced before it is connected.
    assert "traced" not in boxes(page)
    assert "After: Connected at the port nearest the vein, still clamped." in page.text
    assert "Group 1, patient, syringe and line: all 9 steps done and verified." in page.text


def test_a_step_out_of_turn_is_refused(world: World) -> None:
    pair = at_steps(world)
    pair.page(pair.first, "/steps")
    page = pair.first.post(
        f"/check/{pair.check}/steps", [("csrf_token", pair.first.token()), ("by", "1"), ("done", "traced")]
    )
    assert page.status == 409
    assert "One of these waits" in page.text
    assert pair.state.confirmations == ()


def test_something_must_be_ticked(world: World) -> None:
    pair = at_steps(world)
    pair.page(pair.first, "/steps")
    page = pair.first.press(DONE_BUTTON)
    assert page.status == 422
    assert "with your own eyes" in page.text


def test_the_last_step_makes_the_record_ready_to_sign(world: World) -> None:
    pair = at_steps(world)
    pair.take_steps()
    assert pair.phase() is Phase.SIGNING
    # Whoever is at the steps goes straight on to sign.
    assert pair.page(pair.first, "/steps").path == f"/check/{pair.check}/sign"


def test_the_second_confirms_on_the_firsts_screen(world: World) -> None:
    pair = at_steps(world)
    pair.page(pair.first, "/steps")
    pair.first.press(DONE_BUTTON, done="cover-locked")
    page = pair.page(pair.first, "/steps?by=2")
    assert boxes(page, VERIFIED) == ["cover-locked"]
    page = pair.first.press(VERIFIED_BUTTON, verified="cover-locked", login=SECOND_NURSE, secret="wrong")
    assert page.status == 422
    ticked = [each for each in page.all("input") if each.get("checked") is not None]
    assert [each.get("value") for each in ticked] == ["cover-locked"], "what was ticked stays"
    pair.first.press(VERIFIED_BUTTON, login=SECOND_NURSE, secret=world.secrets[SECOND_NURSE])
    (last,) = [each for each in pair.state.confirmations if each.part == VERIFIED]
    assert last.by == world.person(SECOND_NURSE).id


# Before any dose


def test_what_was_observed_is_shown_to_the_second(world: World) -> None:
    pair = at_steps(world)
    pair.observe(sedation="1", rate="14", spo2="96")
    text = pair.page(pair.second, "/steps").text
    assert "Written: sedation 1: drowsy, easy to wake; breathing 14 /min; SpO2 96 %." in text


@pytest.mark.parametrize(
    "observed",
    [{"sedation": "3"}, {"rate": "8"}, {"spo2": "90"}],
    ids=["sedation", "breathing", "saturation"],
)
def test_outside_the_protocol_nothing_is_started(world: World, observed: dict[str, str]) -> None:
    pair = at_steps(world)
    page = pair.observe(**observed)
    assert "DO NOT START" in page.text
    # What is done now are the words of the site's own protocol.
    assert "This hospital's protocol says:" in page.text
    assert {"Rouse the patient and stay.", "Give oxygen."} <= {words_of(each) for each in page.all("li")}
    assert confirmed(pair, DONE) == set()
    assert "DO NOT START" not in pair.observe().text
    assert confirmed(pair, DONE) == {"baseline"}


@pytest.mark.parametrize(("typed", "says"), [("16.0", "zero"), ("", "Write the rate."), ("often", "")])
def test_a_rate_that_is_no_number_keeps_what_was_typed(world: World, typed: str, says: str) -> None:
    pair = at_steps(world)
    page = pair.observe(rate=typed, spo2="98")
    assert page.status == 422
    assert says in page.text
    held = dict(page.form_with(DONE_BUTTON)[0].held)
    assert held["respiratory_rate"] == typed
    assert held["spo2"] == "98"
    assert held["sedation"] == "0"


def test_either_writes_down_what_was_observed_and_the_other_verifies_it(world: World) -> None:
    pair = at_steps(world)
    pair.page(pair.second, "/steps")
    pair.second.press(DONE_BUTTON, sedation="0", respiratory_rate="16", spo2="98")
    assert confirmed(pair, DONE) == {"baseline"}
    page = pair.page(pair.first, "/steps")
    assert "Done by Tomas Osmund. Verify:" in page.text
    assert boxes(page, VERIFIED) == ["baseline"]


def test_a_patient_who_has_changed_is_observed_anew(world: World) -> None:
    pair = at_steps(world)
    pair.observe()
    assert "The patient has changed: write it down anew" in pair.page(pair.first, "/steps").text
    assert "DO NOT START" in pair.observe(sedation="3").text
    assert "DO NOT START" not in pair.observe(sedation="1").text
    # Whoever sees the change writes it down.
    assert "The patient has changed" in pair.page(pair.second, "/steps").text


def test_what_is_ticked_and_what_is_written_go_together(world: World) -> None:
    pair = at_steps(world)
    pair.page(pair.first, "/steps")
    typed = {"sedation": "0", "respiratory_rate": "16", "spo2": "98", "done": ["cover-locked"]}
    page = pair.first.press(DONE_BUTTON, **typed, volume="2.30")
    assert page.status == 422
    page = pair.first.press(DONE_BUTTON, spo2="", volume=".5")
    assert {"field-spo2", "field-volume"} <= {each.get("href", "")[1:] for each in page.all("a")}, (
        "all at once"
    )
    page = pair.first.press(DONE_BUTTON, spo2="98", volume="2.30")
    ticked = [each.get("value") for each in page.all("input") if each.get("checked") is not None]
    assert ticked == ["0", "cover-locked"], "nothing that was typed or ticked is lost"
    assert dict(page.form_with(DONE_BUTTON)[0].held)["volume"] == "2.30"
    assert pair.state.confirmations == ()
    pair.first.press(DONE_BUTTON, volume="2.3")
    assert confirmed(pair, DONE) == {"baseline", "cover-locked", "primed-volume"}
    assert pair.state.priming_handed_in == {1}


# The primed volume


def test_one_reads_the_primed_volume_and_the_other_sees_it_and_what_it_comes_to(world: World) -> None:
    pair = at_steps(world)
    pair.prime("2.37")
    page = pair.page(pair.second, "/steps")
    assert "Written: 2.37 mL ran out, with 0.474 mg of drug." in page.text
    assert "primed-volume" in boxes(page, VERIFIED)
    pair.second.press(VERIFIED_BUTTON, verified="primed-volume")
    assert "done and verified" in pair.page(pair.second, "/steps").text


def test_what_ran_out_beside_the_line_is_said_to_both_and_less_is_primed_again(world: World) -> None:
    pair = at_steps(world)
    pair.prime("1.9")
    for browser in pair.both:
        page = pair.page(browser, "/steps")
        assert "1.9 mL ran out at priming, and the line set in use holds 2.3 mL." in page.text
        assert "a gap may be left in the line" in page.text
    pair.prime("2.7")
    page = pair.page(pair.second, "/steps")
    assert "What ran out beside it is missing from the syringe." in page.text
    assert "primed-volume" in boxes(page, VERIFIED)


def test_a_volume_sent_twice_does_not_count_in_the_next_reading(world: World) -> None:
    pair = at_steps(world)
    pair.page(pair.first, "/steps")
    form, _ = pair.first.page.form_with(DONE_BUTTON)
    sent = [*((name, held) for name, held in form.held if name != "volume"), ("volume", "1.9")]
    pair.first.post(form.action, sent)
    pair.first.post(form.action, sent)
    assert pair.state.priming_handed_in == frozenset()
    assert pair.state.priming_round == 2


def test_a_volume_that_is_not_written_safely_is_refused_and_kept(world: World) -> None:
    pair = at_steps(world)
    pair.page(pair.first, "/steps")
    page = pair.first.press(DONE_BUTTON, volume=".5")
    assert page.status == 422
    assert dict(page.form_with(DONE_BUTTON)[0].held)["volume"] == ".5"
    assert pair.state.priming_handed_in == frozenset()


# Figures, and what may be done early


def test_the_engines_figures_stand_beside_their_steps(world: World) -> None:
    # Common practice, no source: 2.3 mL of priming at 0.2 mg/mL cost 0.46 mg.
    pair = at_steps(world)
    steps = pair.page(pair.first, "/steps").text
    # What priming should take is told to nobody who is still to read it.
    assert "Priming takes" not in steps
    pair.prime()
    steps = pair.page(pair.first, "/steps").text
    assert "Priming takes 0.46 mg of drug out of the syringe." in steps
    assert "With drug past the junction, up to 0.1 mg would be pushed into the patient at once." in steps
    assert "The device's manual and local policy rule." in steps


def test_priming_may_come_before_the_readings_and_shows_no_figure(world: World) -> None:
    pair = joined(world)
    page = pair.page(pair.first, "/steps")
    assert "Free end in the hand, not on the patient" in page.text
    assert "baseline" not in boxes(page)
    assert "Priming takes" not in page.text
    pair.first.press(DONE_BUTTON, done="set-primed")
    assert confirmed(pair, DONE) == {"set-primed"}
    pair.prime()
    assert "Written. It is judged once your readings agree." in pair.page(pair.second, "/steps").text
    assert "2.3" not in pair.second.page.text


def test_before_agreement_nobody_confirms_on_anothers_screen(world: World) -> None:
    pair = joined(world)
    pair.page(pair.first, "/steps")
    pair.first.press(DONE_BUTTON, done="set-primed")
    page = pair.first.post(
        f"/check/{pair.check}/steps",
        [
            ("csrf_token", pair.first.token()),
            ("by", "2"),
            ("verified", "set-primed"),
            ("login", SECOND_NURSE),
            ("secret", world.secrets[SECOND_NURSE]),
        ],
    )
    assert page.status == 422
    assert "Until the readings agree, each confirms where signed in." in page.text
    assert confirmed(pair, VERIFIED) == set()


def test_while_readings_differ_the_steps_show_no_figure_and_no_plan_of_one_nurse(world: World) -> None:
    own_line = answers(order={"carrier_fluid": "none"}, device={"carrier_fluid": "none"})
    pair = compared(world, own_line, answers())
    text = words_of(pair.page(pair.second, "/steps").with_id("main"))
    assert "Priming takes" not in text
    assert "drug to the junction only" in text


def test_a_line_of_its_own_has_its_own_steps(world: World) -> None:
    own_line = answers(
        order={"carrier_fluid": "none"}, device={"carrier_fluid": "none", "pack": "set-150-own"}
    )
    pair = compared(world, own_line)
    text = pair.page(pair.first, "/steps").text
    assert "primed on the device to the free end" in text
    assert "junction" not in words_of(pair.first.page.with_id("main"))
    # Beside the step before it, what priming should take would tell what to expect as well.
    assert "Priming takes" not in text
    pair.prime()
    assert "Priming takes" in pair.page(pair.first, "/steps").text


def test_the_steps_are_the_two_nurses(world: World) -> None:
    pair = at_steps(world)
    assert pair.page(world.at("r.calloway"), "/steps").status == 404


def test_what_is_signed_says_who_did_which_step_and_who_verified_it(world: World) -> None:
    pair = at_steps(world)
    pair.page(pair.second, "/steps")
    pair.second.press(DONE_BUTTON, done="set-primed")
    pair.page(pair.first, "/steps")
    pair.first.press(VERIFIED_BUTTON, verified="set-primed")
    pair.take_steps()
    rows = {words_of(each): each for each in pair.page(pair.first, "/sign").all("tr")}
    (primed,) = (each for each in rows if each.startswith("Free end in the hand"))
    assert primed.index("second nurse, ") < primed.index("first nurse, ")
    (seated,) = (each for each in rows if each.startswith("The syringe is whole"))
    assert seated.index("first nurse, ") < seated.index("second nurse, ")


def test_what_came_after_the_session_ran_out_is_there_after_signing_in_again(world: World) -> None:
    pair = at_steps(world)
    pair.page(pair.first, "/steps")
    world.clock.pass_(seconds=int(IDLE.total_seconds()) + 1)
    page = pair.first.press(DONE_BUTTON, volume="2.", respiratory_rate="14", done="cover-locked")
    assert page.heading == "Sign in"

    pair.first.press("Sign in", login="n.ferrow", secret=world.secrets["n.ferrow"], unit=UNIT)
    page = pair.page(pair.first, "/steps")

    assert "is back. Look whether it still holds; it counts only once you say so." in page.text
    form, _ = page.form_with(DONE_BUTTON)
    held = dict(form.held)
    assert (held["volume"], held["respiratory_rate"]) == ("2.", "14")
    # What eyes have seen is said again.
    assert confirmed(pair, DONE) == set()
    assert "done" not in held
    assert "is back." not in pair.page(world.at("t.osmund"), "/steps").text
