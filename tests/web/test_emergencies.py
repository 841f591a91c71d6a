"""What is done in a hurry, on the pages: one tap, then what comes next, then the details."""

import re
from datetime import timedelta

import pytest

from app.people import Role
from app.records.events import SecurityNoted
from app.records.infusion import InfusionState
from app.records.kinds import RE_CHECK
from app.records.state import Phase
from app.site.loading import load_infusion
from app.workflow import opening
from tests.factories.answers import answers
from tests.story.pages import Pair, pair_of
from tests.support.browser import Browser, Page, words_of
from tests.support.world import UNIT, World

WRITE = "write it down"
FOR_BREATHING, FOR_ITCH = "For sedation or breathing", "For itch"


@pytest.fixture
def pair(world: World) -> Pair:
    return pair_of(world).at_stage(Phase.STARTED)


def infusion_of(pair: Pair) -> str:
    return pair.state.check.infusion


def state_of(pair: Pair) -> InfusionState:
    infusion = infusion_of(pair)
    with pair.world.site.store.read() as reader:
        return load_infusion(reader, infusion)


def main_of(page: Page) -> str:
    return words_of(page.with_id("main"))


def taps(pair: Pair, words: str, browser: Browser | None = None) -> Page:
    """From the infusion's page: what happened, in one tap."""
    who = browser or pair.first
    who.get(f"/infusion/{infusion_of(pair)}")
    who.follow("Reversal agent, overdose, key, device or away: write it down")
    return who.press(words)


def shows(pair: Pair, login: str = "r.calloway") -> str:
    return main_of(pair.world.at(login).get(f"/infusion/{infusion_of(pair)}"))


def test_a_reversal_agent_for_breathing_is_one_tap_and_what_comes_next_stands_after_it(pair: Pair) -> None:
    page = taps(pair, FOR_BREATHING)
    assert page.heading == "Written down: a reversal agent was given for sedation or breathing"
    said = main_of(page)
    for words in (
        "Take the button away",
        "Clamp the line",
        "at least every 15 min until",
        "2 h after the last dose",
        "The infusion is held",
    ):
        assert words in said, words
    assert state_of(pair).emergencies.hold is not None
    # Details are mandatory nowhere, and stand with the infusion afterwards.
    page = pair.first.press(
        "Write it down", agent="naloxone", dose="0.1 mg", response="wakes", given_at="14:05"
    )
    assert page.path == f"/infusion/{infusion_of(pair)}"
    said = main_of(page)
    assert "Dose: 0.1 mg" in said
    assert "How the patient answered to it: wakes" in said
    assert "Held: a reversal agent was given" in said
    page = pair.first.get("/")
    assert "held after a reversal agent" in main_of(page)
    assert "Open the" not in main_of(page)


def test_a_dead_device_at_another_bed_is_put_right_by_whoever_wrote_it_and_by_nobody_else(pair: Pair) -> None:
    page = taps(pair, "Device dead, or power lost")
    assert "Was it another bed? Then it counts here no longer" in main_of(page)
    colleague = pair.world.at("i.bexley")
    assert "Was it another bed?" not in main_of(colleague.get(page.path))

    page = pair.first.press("It was another bed")
    assert page.path == "/"
    assert "device dead" not in main_of(page)
    assert state_of(pair).pause is None
    said = shows(pair)
    assert said.count("An entry that stands here was written at the wrong bed: it counts not.") == 2


def test_what_had_to_start_all_the_same_is_said_to_be_held_and_to_run(pair: Pair) -> None:
    taps(pair, FOR_BREATHING)
    pair.first.get("/started-without-check")
    pair.first.press("Write it down", bed=pair.bed, reason="Nobody could come")
    page = pair.first.get("/")
    said = main_of(page)
    assert "RUNNING WITHOUT A CHECK" in said
    assert "Held: a reversal agent was given" in said
    assert "no prescriber has decided that it may: call one now, or stop it." in said

    opened = opening.open_on_infusion(pair.world.site, pair.act(pair.first), RE_CHECK, infusion_of(pair))
    assert isinstance(opened, opening.Opened)
    pair.check = opened.check
    pair.world.join(pair.second, pair.check)
    pair.read(answers())
    pair.sign()
    page = pair.first.get("/")
    assert "held after a reversal agent" in main_of(page)
    assert "call one now, or stop it." in main_of(page)
    # It runs, and so it is paused and handed over as what runs.
    assert "Pause the line" in page.links()
    assert "Handoff of what stands" not in main_of(page)


def test_another_dose_is_one_tap_more_and_counts_from_then(pair: Pair) -> None:
    taps(pair, FOR_BREATHING)
    pair.world.clock.pass_(minutes=4)
    page = pair.first.press("Another dose was given now")
    assert page.heading.startswith("Written down: a reversal agent")
    hold = state_of(pair).emergencies.hold
    assert hold is not None
    assert hold.last_dose_at - hold.first.at == timedelta(minutes=4)
    assert main_of(page).count("Written down") == 1


def test_nothing_to_write_says_so_and_loses_nothing(pair: Pair) -> None:
    taps(pair, FOR_BREATHING)
    page = pair.first.press("Write it down")
    assert page.status == 422
    assert "fill in at least one line" in page.text
    page = pair.first.press("Write it down", response="x" * 201, dose="0.4 mg")
    assert page.status == 422
    assert page.with_id("field-dose").get("value") == "0.4 mg"


def test_for_itch_it_runs_on_and_one_tap_puts_it_right(pair: Pair) -> None:
    page = taps(pair, FOR_ITCH)
    assert "Nothing is held" in main_of(page)
    assert state_of(pair).is_running
    pair.first.press("It was for sedation or breathing")
    assert not state_of(pair).is_running


def test_it_is_set_anew_only_once_a_prescriber_has_decided(pair: Pair) -> None:
    taps(pair, FOR_BREATHING)
    nurse = pair.first
    nurse.get("/open")
    page = nurse.press("Open the check", unit="ward-4-east", bed=pair.bed)
    assert page.status == 409
    assert "This infusion is held: a reversal agent was given. A prescriber decides first" in page.text
    assert "More of it, and what comes next, is under Show." in main_of(nurse.get("/"))
    nurse.get(f"/infusion/{infusion_of(pair)}")
    nurse.follow("A prescriber decided that PCA goes on")
    page = nurse.press("This prescriber decided")
    assert page.status == 422
    assert "Write who decided." in page.text
    page = nurse.press("This prescriber decided", prescriber="Dr Hale")
    assert "A prescriber decided that PCA goes on: Dr Hale" in main_of(page)
    assert "by two nurses" in main_of(page)
    # And the list opens it.
    nurse.get("/")
    assert nurse.press("Open the settings change").status == 200


def test_after_suspected_overdose_nothing_is_cleared_until_quality_gives_it_free(pair: Pair) -> None:
    page = taps(pair, "Suspected overdose")
    said = main_of(page)
    assert said.index("Care first") < said.index("clear nothing, empty nothing, switch nothing off")
    typed = {"seal": "7701", "presses": "9", "left": "many", "total_amount": "1.60"}
    page = pair.first.press("Write it down", **typed, total_amount_unit="mg")
    assert page.status == 422
    # Each is named, beside its field and above, and nothing that was typed is lost.
    faults = words_of(page.with_id("faults"))
    assert "Total given, as mass: Leave out zeros" in faults
    assert "Volume left in the syringe: " in faults
    assert {name: page.with_id(f"field-{name}").get("value") for name in typed} == typed
    page = pair.first.press("Write it down", left="26", total_amount="1.6")
    assert "Volume left in the syringe: 26 mL. " in main_of(page)
    # What shows only later, or was written wrongly, is written again.
    pair.first.follow("Write down more")
    assert "Number of the seal: 7701" in main_of(pair.first.page)
    pair.first.press("Write it down", total_amount="1.4", total_amount_unit="mg", total_volume_none="none")
    pair.first.follow("Write down more")
    told = "Total given, as mass: 1.4 mg Total given, as volume: Not shown Presses of the button: 9"
    assert told in main_of(pair.first.page)
    page = pair.first.get(f"/infusion/{infusion_of(pair)}")
    assert "Give it free" not in page.text
    assert "Suspected overdose: kept as it is" in main_of(pair.world.at("r.calloway").get("/"))

    quality = pair.world.at("q.lindqvist")
    assert "kept as it is" in main_of(quality.get("/"))
    quality.follow("Show")
    quality.press("Give it free")
    assert state_of(pair).emergencies.evidence is None
    assert "was given free by the site's investigator" in shows(pair)


def test_one_of_the_two_who_investigates_too_is_told_who_gives_it_free(pair: Pair) -> None:
    taps(pair, "Suspected overdose")
    nurse = pair.world.person(pair.logins[0])
    with pair.world.site.store.write() as tx:
        tx.set_roles(nurse.id, {*nurse.roles, Role.QUALITY})
        tx.append(SecurityNoted(person=nurse.id, what="roles"), at=pair.world.clock())
    browser = pair.world.at(pair.logins[0])
    browser.get(f"/infusion/{infusion_of(pair)}")
    page = browser.press("Give it free")
    assert page.status == 409
    assert "somebody else who investigates for the site gives it free" in main_of(page)
    assert state_of(pair).emergencies.evidence is not None


def test_a_lost_key_is_told_on_the_next_page_of_charge_nurse_and_pharmacist(pair: Pair) -> None:
    others = {login: pair.world.at(login) for login in ("r.calloway", "p.varga", "i.bexley", "t.osmund")}
    page = taps(pair, "The key")
    assert "Two nurses count the syringe now" in main_of(page)
    told = "A key or a code of a device is not found."
    assert {login: told in each.get("/keys").text for login, each in others.items()} == {
        "r.calloway": True,
        "p.varga": True,
        "i.bexley": False,
        "t.osmund": False,
    }
    # Nothing stands before what protects a patient.
    charge = others["r.calloway"]
    assert told not in charge.get("/stop").text
    charge.get("/keys")
    charge.follow("See at which bed")
    assert "The key is not found" in main_of(charge.page)
    charge.follow("Show")
    charge.press("Lock, key or code was changed")
    assert state_of(pair).emergencies.key is None
    assert told not in charge.get("/keys").text


def test_a_dead_device_is_on_the_page_of_a_pause_too(pair: Pair) -> None:
    pair.first.get("/")
    pair.first.follow("Pause the line")
    page = pair.first.press("Device dead, or power lost")
    assert page.heading == "Written down: device dead, or power lost"
    assert state_of(pair).emergencies.dead is not None
    assert "device dead, or power lost" in main_of(pair.first.get("/"))
    page = pair.first.get(f"/infusion/{infusion_of(pair)}/resume")
    assert "A check comes first: it is in the unit's list" in page.text


def offered(page: Page) -> list[str]:
    """The kinds of check that are opened from a page, on an infusion or at its bed."""
    return [each.action.rpartition("/")[2] for each in page.forms() if "/open/" in each.action]


def test_of_a_dead_device_every_page_offers_what_fits_and_refuses_the_rest(pair: Pair) -> None:
    infusion = infusion_of(pair)
    page = pair.first.get("/")
    assert offered(page) == ["handoff"]
    before = next(each for each in page.forms() if each.action.endswith("handoff"))
    taps(pair, "Device dead, or power lost")
    assert offered(pair.first.get("/")) == ["device-change", "handoff-standing"]
    # A page that was open before offers it still.
    page = pair.first.post(before.action, before.held)
    assert page.status == 409
    assert "Its device is dead and shows nothing: another device comes first" in page.text

    page = pair.first.get(f"/infusion/{infusion}")
    assert "Let the line run on" not in page.links()
    page = pair.first.follow("Check or change")
    assert offered(page) == ["device-change", "handoff-standing", "end-of-pca"]
    assert main_of(page).count("another device comes first, or it is handed over as it stands") == 1
    assert "takes over what is stopped, held, away or has a dead device" in main_of(page)


def test_what_runs_without_a_check_and_whose_device_died_is_set_up_and_not_read(world: World) -> None:
    browser = world.at("n.ferrow")
    browser.follow("had to start without a check")
    browser.press("Write it down", unit=UNIT, bed="7", reason="nobody was free")
    assert offered(browser.get("/")) == ["re-check"]
    browser.follow("Pause the line")
    browser.press("Device dead, or power lost")
    page = browser.get("/")
    assert "Before it runs again: a repeat set-up, by two nurses" in main_of(page)
    assert offered(page) == []
    assert "Open the check that is due" in [button.words for form in page.forms() for button in form.buttons]
    assert browser.press("Open the check that is due").heading == "Give this code to your colleague"


def test_away_and_back(pair: Pair) -> None:
    page = taps(pair, "Theatre")
    assert "Running again within 4 h of being capped, the same set may be gone on with" in main_of(page)
    page = pair.first.press(
        "Write it down", holder="Imogen", place="drug cupboard", left="31 mL", responsible="theatre team"
    )
    said = main_of(page)
    assert "Who is responsible meanwhile: theatre team" in said
    assert "Away without PCA: theatre" in said
    assert re.search(r"Started by \d\d:\d\d[^,]*, it may be with the same set", said)
    # What is checked next waits for the patient.
    assert "Open the settings change" not in pair.first.get("/").text
    pair.first.get(page.path)
    pair.first.follow("The patient is back")
    said = main_of(pair.first.page)
    for words in ("Two identifiers", "Read the order again", "Flush the line off the patient"):
        assert words in said
    page = pair.first.press("Some were given")
    assert "The patient is back. Opioids meanwhile: some were given" in main_of(page)
    assert "The patient is back" not in page.links()
    assert "Open the settings change" in pair.first.get("/").text


def test_it_was_another_bed(pair: Pair) -> None:
    taps(pair, FOR_BREATHING)
    pair.first.follow("Was it another bed?")
    pair.first.press("It was another bed")
    assert state_of(pair).is_running
    assert "Done in a hurry" not in shows(pair)


def test_the_page_of_a_stop_leads_to_it_from_a_check_and_from_an_infusion(pair: Pair) -> None:
    for address in (f"/check/{pair.check}/stop", f"/infusion/{infusion_of(pair)}/stop"):
        pair.first.get(address)
        page = pair.first.follow(
            "A reversal agent was given, or overdose or death is suspected: write that down"
        )
        assert page.path == f"/infusion/{infusion_of(pair)}/emergency"
    assert "A reversal agent was given, or" not in pair.first.get("/stop").text


def test_what_no_button_sends_is_asked_for_again(pair: Pair) -> None:
    nurse, address = pair.first, f"/infusion/{infusion_of(pair)}/emergency"
    nurse.get(address)
    page = nurse.post(address, [("csrf_token", nurse.token()), ("what", "?")])
    assert page.status == 422
    assert "Press what happened." in page.text
    assert state_of(pair).is_running


# ---------------------------------------------------------------------------------------------------------
# Running without a check


@pytest.mark.parametrize(
    "phase",
    [Phase.OPENED, Phase.READING, Phase.DISPUTED, Phase.ESCALATED, Phase.STEPS, Phase.SIGNING, Phase.CLEARED],
)
def test_it_had_to_start_is_two_taps_from_every_page_that_waits(world: World, phase: Phase) -> None:
    pair = pair_of(world).at_stage(phase)
    infusion = infusion_of(pair)
    pair.page(pair.first, "")
    pair.first.follow("It had to start without this check")
    page = pair.first.press("The patient could not wait")
    assert page.path == "/"
    said = main_of(page)
    assert said.index("RUNNING WITHOUT A CHECK") < said.index("Mine")
    assert "The patient could not wait" in said
    assert pair.state.phase is Phase.ABANDONED
    # And the blind check that is due opens from there, of the same infusion.
    page = pair.first.press("Open the check that is due")
    check = str(page.links()["Begin my reading"]).split("/")[2]
    with world.site.store.read() as reader:
        found = reader.find_check(check)
    assert found is not None
    assert (found.kind, found.infusion) == ("re-check", infusion)


def test_an_infusion_that_was_checked_before_is_unchecked_again(pair: Pair) -> None:
    """Stopped, set up again, and it could not wait: what both signed before counts no longer."""
    pair.first.get(f"/check/{pair.check}/stop")
    pair.first.press("The device was stopped: write it down")
    pair.first.get("/open")
    pair.first.press("Open the check", unit="ward-4-east", bed=pair.bed)
    pair.first.follow("It had to start without this check")
    pair.first.press("No second nurse could come in time")
    assert "RUNNING WITHOUT A CHECK" in main_of(pair.first.page)
