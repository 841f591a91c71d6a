import pytest

from app.records.state import Phase
from tests.factories.answers import answers
from tests.story.pages import SECOND_NURSE, Pair, compared, joined, pair_of
from tests.support.browser import Browser, Page, words_of
from tests.support.world import World

CAUTIONED = answers(
    chart={"sedatives": "charted"}, order={"demand_dose": "0.5 mg"}, device={"demand_dose": "0.5 mg"}
)
ABOVE_HARD_LIMIT = answers(order={"demand_dose": "0.7 mg"}, device={"demand_dose": "0.7 mg"})
CONSIDERED = "I have considered"


def cautioned(world: World) -> Pair:
    """Two cautions: the dose is above the soft limit, and a sedative is charted."""
    return compared(world, CAUTIONED)


def ask(pair: Pair, why: str = "rule") -> None:
    """The first asks for help."""
    pair.page(pair.first, "/help")
    pair.first.press("Ask for help", why=why)


def helper_of(pair: Pair, login: str) -> Browser:
    """Somebody takes the request."""
    browser = pair.world.at(login)
    pair.page(browser)
    browser.press("Take this request")
    return browser


def grant(browser: Browser, **answers: str) -> Page:
    """Grant the first exception that is offered."""
    form, _ = browser.page.form_with("Set this rule aside")
    return browser.press("Set this rule aside", finding=form.choices["finding"][0], **answers)


# Cautions


def test_cautions_are_answered_worst_first_by_both(world: World) -> None:
    pair = cautioned(world)
    page = pair.page(pair.first)
    assert page.heading.startswith("Opioids are more dangerous for this patient")
    assert "Patient: why it may go on" in page.text
    page = pair.first.press(CONSIDERED, reason="stopped")
    assert "Demand dose: why it may go on" in page.text
    page = pair.first.press(CONSIDERED, reason="ordered-so")
    assert "Nadia Ferrow has considered everything. Waiting for Tomas Osmund." in page.text
    assert pair.phase() is Phase.AGREED
    pair.page(pair.second)
    pair.second.press(CONSIDERED, reason="stopped")
    pair.second.press(CONSIDERED, reason="ordered-so")
    assert pair.phase() is Phase.STEPS


def test_the_reasons_are_those_of_the_rule(world: World) -> None:
    pair = cautioned(world)
    form, _ = pair.page(pair.first).form_with(CONSIDERED)
    assert form.choices["reason"] == ["watched-closely", "stopped", "prescriber-asked"]


def test_whoever_was_asked_is_named_and_nothing_typed_is_lost(world: World) -> None:
    pair = cautioned(world)
    pair.page(pair.first)
    page = pair.first.press(CONSIDERED, reason="prescriber-asked", more="she rang back at once")
    assert page.status == 422
    assert "Name who was asked." in page.text
    assert "she rang back at once" in page.text
    chosen = [each for each in page.all("input") if each.get("checked") is not None]
    assert [each.get("value") for each in chosen] == ["prescriber-asked"]
    assert pair.first.press(CONSIDERED, named="Dr Invented").status == 200
    assert pair.state.acknowledgements[0].named == "Dr Invented"


def test_the_cautions_of_one_group_stand_on_one_answer_and_each_is_named(world: World) -> None:
    pair = compared(world, answers(chart={"sedatives": "charted", "allergy": "not-recorded"}))
    page = pair.page(pair.first)
    assert "The patient: why it may go on" in page.text
    form, button = page.form_with(CONSIDERED)
    assert button.words == "I have considered these 2"
    named = [value for name, value in form.held if name == "finding"]
    assert set(named) == {each.key for each in pair.state.cautions}
    assert form.choices["reason"].count("prescriber-asked") == 1, "what holds for both stands once"

    page = pair.first.press(CONSIDERED, reason="watched-closely")
    assert page.status == 422
    assert "Mark a reason for each of them." in page.text
    ticked = [each.get("value") for each in page.all("input") if each.get("checked") is not None]
    assert ticked == ["watched-closely"]
    page = pair.first.press(CONSIDERED, reason=["watched-closely", "patient-asked"])

    assert "Nadia Ferrow has considered everything." in page.text


def test_a_reason_must_be_chosen(world: World) -> None:
    pair = cautioned(world)
    pair.page(pair.first)
    page = pair.first.press(CONSIDERED)
    assert page.status == 422
    assert "Mark a reason for each of them." in page.text


def test_a_caution_answered_in_another_window_is_not_answered_twice(world: World) -> None:
    pair = cautioned(world)
    form, _ = pair.page(pair.first).form_with(CONSIDERED)
    sent = [*form.held, ("reason", "stopped")]
    assert pair.first.post(form.action, sent).status == 200
    again = pair.first.post(form.action, sent)
    assert again.status == 409
    assert "answered or changed in the meantime" in again.text
    assert len(pair.state.acknowledgements) == 1


# The other nurse on the same screen


def test_the_other_confirms_on_this_screen_with_a_credential(world: World) -> None:
    pair = cautioned(world)
    page = pair.page(pair.first, "?by=2")
    assert "Tomas Osmund, second nurse, on this screen" in page.text
    page = pair.first.press(
        CONSIDERED, reason="stopped", login=SECOND_NURSE, secret=world.secrets[SECOND_NURSE]
    )
    assert page.status == 200
    (answer,) = pair.state.acknowledgements
    assert answer.slot == 2


def test_a_wrong_credential_keeps_what_was_typed_but_not_the_secret(world: World) -> None:
    pair = cautioned(world)
    pair.page(pair.first, "?by=2")
    page = pair.first.press(
        CONSIDERED, reason="stopped", more="kept", login=SECOND_NURSE, secret="not her secret"
    )
    assert page.status == 422
    assert "Id and secret do not belong together." in page.text
    assert "kept" in page.text
    assert SECOND_NURSE in page.body
    assert "not her secret" not in page.body
    assert pair.state.acknowledgements == ()


def test_after_many_wrong_secrets_the_other_waits(world: World) -> None:
    pair = cautioned(world)
    for _ in range(4):
        pair.page(pair.first, "?by=2")
        pair.first.press(CONSIDERED, reason="stopped", login=SECOND_NURSE, secret="wrong")
    page = pair.first.press(CONSIDERED, login=SECOND_NURSE, secret=world.secrets[SECOND_NURSE])
    assert page.status == 422
    assert "Too many tries with this id. Wait" in page.text


def test_nobody_but_the_other_nurse_confirms_in_her_place(world: World) -> None:
    pair = cautioned(world)
    for login in ("n.ferrow", "r.calloway"):
        pair.page(pair.first, "?by=2")
        page = pair.first.press(CONSIDERED, reason="stopped", login=login, secret=world.secrets[login])
        assert page.status == 422
        assert "This is not the nurse whose part this is." in page.text
    assert pair.state.acknowledgements == ()


def test_a_third_persons_form_confirms_nothing(world: World) -> None:
    pair = cautioned(world)
    form, _ = pair.page(pair.first).form_with(CONSIDERED)
    charge = world.at("r.calloway")
    held = [(name, value) for name, value in form.held if name != "csrf_token"]
    sent = [*held, ("csrf_token", charge.token()), ("reason", "stopped")]
    assert charge.post(form.action, sent).status in (404, 422)
    assert pair.state.acknowledgements == ()


# Help


def test_help_is_asked_for_in_two_taps_and_both_see_it(world: World) -> None:
    pair = compared(world, ABOVE_HARD_LIMIT)
    ask(pair)
    for browser in pair.both:
        assert "From another unit too: whoever comes signs in on this unit." in pair.page(browser).text


def test_why_must_be_said(world: World) -> None:
    pair = compared(world, ABOVE_HARD_LIMIT)
    pair.page(pair.first, "/help")
    page = pair.first.press("Ask for help", more="kept")
    assert page.status == 422
    assert "kept" in page.text


def test_only_whoever_takes_the_request_sees_everything(world: World) -> None:
    pair = compared(world, answers(), answers(device={"demand_dose": "2 mg"}))
    ask(pair, "readings")
    helper = helper_of(pair, "r.calloway")
    text = words_of(helper.page.with_id("main"))
    assert "Device, first nurse" in text
    assert "2 mg" in text
    for other in (pair.world.at("p.varga"), pair.first, pair.second):
        assert "2 mg" not in words_of(pair.page(other).with_id("main"))


def test_who_is_on_shift_elsewhere_takes_the_request_after_signing_in_on_this_unit(world: World) -> None:
    pair = compared(world, ABOVE_HARD_LIMIT)
    ask(pair)
    elsewhere = world.at("r.calloway", "recovery")
    assert pair.page(elsewhere).status == 404
    assert elsewhere.post(f"/check/{pair.check}/help/take", [("csrf_token", elsewhere.token())]).status == 404
    here = world.at("r.calloway", "ward-4-east")
    pair.page(here)
    here.press("Take this request")
    assert pair.state.open_help is not None
    assert pair.state.open_help.taken_by == world.person("r.calloway").id


def test_a_nurse_may_not_take_a_request(world: World) -> None:
    pair = compared(world, ABOVE_HARD_LIMIT)
    ask(pair)
    nurse = world.at("i.bexley")
    page = pair.page(nurse)
    assert "Take this request" not in page.text
    sent = [("csrf_token", nurse.token())]
    assert nurse.post(f"/check/{pair.check}/help/take", sent).status == 403


def test_one_of_the_two_never_helps(world: World) -> None:
    pair = pair_of(world, logins=("n.ferrow", "r.calloway")).at_stage(Phase.READING)
    pair.read(ABOVE_HARD_LIMIT)
    ask(pair)
    pair.page(pair.second)
    page = pair.second.post(f"/check/{pair.check}/help/take", [("csrf_token", pair.second.token())])
    assert page.status == 409
    assert "Whoever helps is a third person" in page.text
    assert pair.state.open_help is not None
    assert pair.state.open_help.taken_by == ""


def test_a_request_is_taken_once(world: World) -> None:
    pair = compared(world, ABOVE_HARD_LIMIT)
    ask(pair)
    late = world.at("p.varga")
    pair.page(late)
    form, _ = late.page.form_with("Take this request")
    helper_of(pair, "r.calloway")
    page = late.post(form.action, form.held)
    assert page.status == 409
    assert "Somebody else has taken this request." in page.text


@pytest.mark.parametrize(
    ("outcome", "phase"),
    [("device-reprogrammed", Phase.READING), ("other", Phase.DISPUTED), ("abandon", Phase.ABANDONED)],
)
def test_the_third_person_says_what_follows(world: World, outcome: str, phase: Phase) -> None:
    pair = compared(world, ABOVE_HARD_LIMIT)
    ask(pair)
    helper = helper_of(pair, "r.calloway")
    helper.press("Give the check back", outcome=outcome, more="we looked together")
    assert pair.phase() is phase
    assert pair.state.help[0].settled_text == "we looked together"


def test_what_follows_must_be_chosen(world: World) -> None:
    pair = compared(world, ABOVE_HARD_LIMIT)
    ask(pair)
    helper = helper_of(pair, "r.calloway")
    page = helper.press("Give the check back", more="kept")
    assert page.status == 422
    assert "kept" in page.text


# Exceptions


def test_a_pharmacist_sets_a_rule_aside_once(world: World) -> None:
    pair = compared(world, ABOVE_HARD_LIMIT)
    ask(pair)
    helper = helper_of(pair, "p.varga")
    page = grant(helper, reason="tolerant since years, prescriber rang")
    assert "SET ASIDE" in page.text
    helper.press("Give the check back", outcome="other", more="looked")
    page = pair.page(pair.first)
    assert "Set aside once by Petra Varga: tolerant since years, prescriber rang" in page.text
    assert pair.phase() in (Phase.AGREED, Phase.STEPS)


def test_a_charge_nurse_names_the_prescriber(world: World) -> None:
    pair = compared(world, ABOVE_HARD_LIMIT)
    ask(pair)
    helper = helper_of(pair, "r.calloway")
    page = grant(helper, reason="asked at the bedside")
    assert page.status == 422
    assert "A charge nurse names the prescriber who was asked." in page.text
    assert "asked at the bedside" in page.text
    assert grant(helper, reason="asked at the bedside", prescriber="Dr Invented").status == 200
    assert pair.state.exemptions[0].prescriber == "Dr Invented"


def test_no_exception_for_what_is_put_right(world: World) -> None:
    pair = compared(world, answers(label={"amount": "30 mg"}))
    ask(pair, "sources")
    helper = helper_of(pair, "p.varga")
    with pytest.raises(LookupError):
        helper.page.form_with("Set this rule aside")
    (stop,) = pair.state.open_stops
    sent = [("csrf_token", helper.token()), ("finding", stop.key), ("reason", "please")]
    page = helper.post(f"/check/{pair.check}/exception", sent)
    assert page.status == 409
    assert "put right or read again" in page.text
    assert pair.state.exemptions == ()


def test_an_exception_needs_a_reason(world: World) -> None:
    pair = compared(world, ABOVE_HARD_LIMIT)
    ask(pair)
    helper = helper_of(pair, "p.varga")
    page = grant(helper)
    assert page.status == 422
    assert "Write the reason." in page.text


def test_whoever_has_not_taken_the_request_grants_nothing(world: World) -> None:
    pair = compared(world, ABOVE_HARD_LIMIT)
    ask(pair)
    helper_of(pair, "r.calloway")
    other = world.at("p.varga")
    (stop,) = pair.state.open_stops
    sent = [("csrf_token", other.token()), ("finding", stop.key), ("reason", "please")]
    assert other.post(f"/check/{pair.check}/exception", sent).status in (403, 422)
    assert pair.state.exemptions == ()


# The end


def test_a_check_is_ended_with_a_reason(world: World) -> None:
    pair = joined(world)
    pair.page(pair.first, "/abandon")
    page = pair.first.press("Give this check up", more="kept")
    assert page.status == 422
    assert "kept" in page.text
    assert pair.first.press("Give this check up", reason="time").path == "/"
    assert pair.state.abandoned == "time"


def test_the_charge_nurse_ends_what_its_two_have_left_and_they_are_told(world: World) -> None:
    pair = joined(world)
    pair.draft(pair.first, answers())
    charge = world.at("r.calloway")
    page = charge.get("/")
    assert "Give this check up" in page.links()
    page = charge.get(page.links()["Give this check up"])
    assert "told that you gave it up" in page.text
    page = charge.press("Give this check up", reason="left")
    assert (page.path, "bed 12" in page.text.replace("\N{NO-BREAK SPACE}", " ")) == ("/", False)
    for browser in (pair.first, pair.second):
        for tail in ("/read/device", "/waiting", "/code", ""):
            page = pair.page(browser, tail)
            assert page.path == f"/check/{pair.check}"
            assert "given up by Ruth Calloway. The two cannot go on with it." in page.text
        assert "given up by Ruth Calloway" in browser.get("/").text
    assert "0.2" not in pair.page(charge).text


def test_who_is_neither_of_the_two_ends_nothing(world: World) -> None:
    pair = joined(world)
    for tail in ("/abandon", "/help"):
        assert pair.page(world.at("i.bexley"), tail).status == 404


def test_a_change_after_agreement_is_read_again(world: World) -> None:
    pair = cautioned(world)
    pair.page(pair.second)
    page = pair.second.press("Read all of it again, each alone", touched=["order", "device"])
    assert page.path.endswith("/read/order")
    assert pair.phase() is Phase.READING
