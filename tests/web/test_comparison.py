import pytest

from app.records.reading import Answers
from app.records.state import Phase
from app.web.models.findings import consequence_first
from app.web.models.spine import find_number, in_unit_of, spine_for
from tests.factories.answers import answers
from tests.story.pages import Pair, at_steps, compared, joined, pair_of
from tests.support.browser import Page, words_of
from tests.support.world import World

# A value that stands nowhere else on a page, in a rule or in a word.
CANARY = "7.3719"


def stacked(page: Page) -> list[str]:
    """The values below each other, each with where it was read."""
    return [words_of(each) for each in page.all("div") if each.get("class") == "line"]


def fivefold(world: World) -> Pair:
    """The syringe is five times stronger than ordered, and both read it so."""
    return compared(world, answers(label={"amount": "30 mg"}))


# Stage one


def differ_on_dose(world: World) -> Pair:
    """One nurse misreads the device; besides, everything that would make another finding."""
    second = answers(
        device={"demand_dose": f"{CANARY} mg"}, label={"amount": "30 mg"}, chart={"sedatives": "charted"}
    )
    return compared(world, answers(label={"amount": "30 mg"}, chart={"sedatives": "charted"}), second)


def test_while_readings_differ_only_field_and_source_are_shown(world: World) -> None:
    pair = differ_on_dose(world)
    for browser in pair.both:
        page = pair.page(browser)
        assert "DO NOT START" in page.text
        assert words_of(page.with_id("main")).count("Demand dose") == 1
        assert "Device" in page.text
        for hidden in (CANARY, "0.2", "mg", "TIMES", "Consistent", "Label", "sedative", "Concentration"):
            assert hidden not in words_of(page.with_id("main")), hidden
        assert CANARY not in page.body


def pictures(page: Page) -> list[str]:
    """What each picture of the worst case says to whoever does not see it."""
    return [
        words_of(each)
        for each in page.all("{http://www.w3.org/2000/svg}title")
        if "could be given" in words_of(each)
    ]


def test_the_worst_case_is_drawn_once_the_readings_agree_and_not_before(world: World) -> None:
    pair = compared(world, answers(label={"amount": "30 mg"}), answers(label={"amount": "6 mg"}))
    assert pictures(pair.page(pair.first)) == []

    pair.read_again(answers(label={"amount": "30 mg"}))
    page = pair.page(pair.first)
    # 0.2 mg every 10 min up to 2 mg in 4 h, from a syringe five times as strong.
    (says,) = pictures(page)
    assert "as ordered 1.2 mg in 1 h and 2 mg in 4 h" in says
    assert "as set, with this syringe 6 mg in 1 h and 10 mg in 4 h" in says
    table = next(each for each in page.all("table") if "As set, with this syringe" in words_of(each))
    assert "2 h 2 mg 10 mg" in words_of(table)
    assert "style=" not in page.body
    # All that a page carries with styles, script and fonts is to stay under 60 kB.
    assert len(page.body.encode()) < 40_000


def test_a_field_that_one_did_not_read_looks_like_one_that_differs(world: World) -> None:
    missing = compared(world, answers(), answers(device={"lockout": None}))
    page = words_of(missing.page(missing.first).with_id("main"))
    assert "Lockout" in page
    assert "10" not in page


def test_both_read_the_field_again_and_then_see_everything(world: World) -> None:
    pair = compared(world, answers(), answers(device={"demand_dose": "2 mg"}))
    pair.read_again(answers())
    page = pair.page(pair.first)
    assert page.heading == "Order, label and device agree"
    assert "reading 2" in page.text


def test_the_same_page_for_both_whoever_was_wrong(world: World) -> None:
    pair = compared(world, answers(), answers(device={"demand_dose": "2 mg"}))
    one, other = (words_of(pair.page(each).with_id("main")) for each in pair.both)
    assert one == other


def test_after_two_readings_more_only_help_is_offered(world: World) -> None:
    wrong = answers(device={"demand_dose": "2 mg"})
    pair = compared(world, answers(), wrong)
    pair.read_again(answers(), wrong)
    pair.read_again(answers(), wrong)
    page = pair.page(pair.second)
    assert "twice" in page.text
    assert "Ask for help" in page.links()
    with pytest.raises(LookupError):
        page.form_with("Read these again")


# Stage two


def test_the_worst_consequence_stands_on_top_and_in_dose(world: World) -> None:
    # The published fatal case was fivefold too: 5 mg/mL run as 1 mg/mL (psnet.ahrq.gov/webmm/case/291).
    pair = fivefold(world)
    page = pair.page(pair.second)
    assert page.heading == "As the device is set, each dose given would be 5 times the dose set."
    assert "FIVE TIMES" in page.text
    assert "Each demand would give 1 mg, not 0.2 mg." in page.text
    assert "its manual" not in page.text
    assert "The device's manual and local policy rule." in page.text
    assert "Two readings of one label cannot find a label that is itself wrong." in page.text


def test_values_of_a_stop_are_stacked_with_their_sources(world: World) -> None:
    pair = fivefold(world)
    lines = stacked(pair.page(pair.first))
    assert lines[0].startswith("Order 0.2 mg/mL")
    assert lines[1].startswith("Label 1 mg/mL")
    assert lines[2].startswith("Device 0.2 mg/mL")
    assert lines[1].endswith("30 mg in 30 mL")


def test_agreement_is_said_once_for_all_sources(world: World) -> None:
    page = at_steps(world).page
    text = words_of(page(world.at("r.calloway")).with_id("main"))
    assert "agrees" not in text, "nobody else sees values yet"


def test_two_actions_when_one_thing_is_likely(world: World) -> None:
    pair = fivefold(world)
    page = pair.page(pair.first)
    form, button = page.form_with("Syringe replaced")
    assert button.words == "Syringe replaced: read the label again"
    assert ("touched", "label") in form.held
    assert "Ask for help" in page.links()


def test_where_nothing_is_likely_they_say_what_was_put_right(world: World) -> None:
    pair = compared(world, answers(chart={"able_to_use_button": "no"}))
    page = pair.page(pair.first)
    form, _ = page.form_with("Put right")
    assert form.choices["touched"] == ["wristband", "chart", "order", "label", "device", "monitor"]
    refused = pair.first.press("Put right")
    assert refused.status == 422
    assert "Say what was put right" in refused.text


def test_a_source_that_was_put_right_is_read_as_a_whole_and_the_rest_is_not(world: World) -> None:
    pair = fivefold(world)
    pair.page(pair.first)
    page = pair.first.press("Syringe replaced")
    assert page.path.endswith("/read/label")
    pair.read(answers())
    assert pair.page(pair.first).heading == "Order, label and device agree"


def test_two_stops_are_both_shown_the_worst_first(world: World) -> None:
    wrong = answers(label={"amount": "30 mg"}, device={"limit_amount": "20 mg"})
    pair = compared(world, wrong)
    text = pair.page(pair.first).text
    assert text.index("FIVE TIMES") < text.index("TEN TIMES")
    assert "The limit would let through 10 times the ordered amount." in text


def test_beside_the_consequence_stand_the_doses_and_the_rest_is_folded(world: World) -> None:
    pair = fivefold(world)
    page = pair.page(pair.first)
    doses = [line for line in stacked(page) if line.startswith("as ")]
    assert [line.split(" mg")[0] for line in doses] == [
        "as ordered 0.2",
        "as set, with this syringe 1",
        "as ordered 1.2",
        "as set, with this syringe 6",
        "as ordered 2",
        "as set, with this syringe 10",
    ]
    folded = next(each for each in page.all("details") if "More figures" in words_of(each))
    assert folded.get("open") is None
    assert "Longest wait" in words_of(folded)
    assert page.text.count("Longest wait, pressed") == 1


def test_what_holds_whatever_the_dose_leads_the_ratio(world: World) -> None:
    wrong = answers(chart={"allergy": "to-this-drug-or-its-family"}, label={"amount": "30 mg"})
    pair = compared(world, wrong)
    page = pair.page(pair.first)
    assert page.heading == "An allergy to this drug or its family is charted."
    shouted = [words_of(each) for each in page.all("strong") if "loud" in (each.get("class") or "")]
    assert shouted[:3] == ["DO NOT START", "ALLERGY IS CHARTED", "×5FIVE TIMES THE DOSE"]  # noqa: RUF001


@pytest.mark.parametrize(
    ("label", "says"),
    # Stronger than ordered: more would be given. Weaker: less, though the number of the strength is greater.
    [("30 mg", "FIVE TIMES THE DOSE"), ("3 mg", "HALF THE DOSE"), ("1.2 mg", "A FIFTH OF THE DOSE")],
)
def test_a_ratio_of_strengths_is_said_of_the_dose(world: World, label: str, says: str) -> None:
    pair = compared(world, answers(label={"amount": label}))
    assert says in pair.page(pair.first).text


def test_a_ratio_of_values_is_said_as_it_is(world: World) -> None:
    pair = compared(world, answers(device={"demand_dose": "2 mg"}))
    text = pair.page(pair.first).text
    assert "TEN TIMES" in text
    assert "THE DOSE" not in text


def test_a_small_ratio_is_said_and_not_shouted(world: World) -> None:
    pair = compared(world, answers(device={"lockout": "6 min"}))
    page = pair.page(pair.first)
    shouted = [words_of(each) for each in page.all("strong") if "loud" in (each.get("class") or "")]
    assert shouted == ["DO NOT START"]
    assert "DEVICE IS NOT THE ORDER 0.6 times" in page.text


def test_numbers_stand_on_one_spine(world: World) -> None:
    pair = fivefold(world)
    page = pair.page(pair.first)
    classes = [each.get("class") or "" for each in page.all("span")]
    spines = [each for each in classes if each.startswith("digits ")]
    assert len(spines) > 2
    assert len(set(spines)) == 1, "every number has as much room before its point"


# Who sees what


def test_who_still_reads_is_sent_to_the_reading(world: World) -> None:
    pair = joined(world)
    assert "/read/wristband" in pair.page(pair.first).path


@pytest.mark.parametrize("login", ["r.calloway", "p.varga"])
def test_others_see_only_how_far_it_is(world: World, login: str) -> None:
    pair = fivefold(world)
    page = pair.page(world.at(login))
    text = words_of(page.with_id("main"))
    assert "In progress" in text
    for hidden in ("FIVE", "mg", "DM-40417", "DO NOT START"):
        assert hidden not in text


@pytest.mark.parametrize(("login", "status"), [("q.lindqvist", 404), ("a.moreau", 403), ("i.bexley", 404)])
def test_for_others_an_open_check_is_not_there(world: World, login: str, status: int) -> None:
    pair = fivefold(world)
    unit = "recovery" if login == "i.bexley" else "ward-4-east"
    assert pair.page(world.at(login, unit)).status == status


def test_a_check_that_was_ended_is_open_to_quality(world: World) -> None:
    pair = fivefold(world)
    pair.page(pair.first, "/abandon")
    pair.first.press("Give this check up", reason="supply-fault")
    page = pair.page(world.at("q.lindqvist"))
    assert "FIVE TIMES" in page.text
    assert "The syringe or the line set has a fault" in page.text
    assert [form for form in page.forms() if "sign-out" not in form.action] == []


def test_there_is_no_such_check(world: World) -> None:
    assert world.at("n.ferrow").get("/check/0000").status == 404


# The parts of the page


@pytest.mark.parametrize(
    ("says", "text", "lead"),
    [
        ("One thing.", "One thing.", ""),
        ("It was read. It would harm.", "It would harm.", "It was read."),
        (
            "It was read. It would harm. Consistent with a digit left out.",
            "It would harm.",
            "It was read. Consistent with a digit left out.",
        ),
        (
            "Two were read: 1.5 mg and 2 mg. Consistent with a mix-up of units.",
            "Two were read: 1.5 mg and 2 mg.",
            "Consistent with a mix-up of units.",
        ),
    ],
)
def test_the_consequence_comes_first(says: str, text: str, lead: str) -> None:
    assert consequence_first(says) == (text, lead)


@pytest.mark.parametrize("text", ["", "none", "HYDROmorphone", "1e3 mg", "0.2", "-1 mg", "1.x mg"])
def test_what_is_no_number_has_no_place_on_the_spine(text: str) -> None:
    assert find_number(text) is None


def test_the_longest_whole_part_makes_the_spine() -> None:
    numbers = [number for text in ("1,250 mcg", "0.125 mg") if (number := find_number(text))]
    assert spine_for(numbers) == 4


@pytest.mark.parametrize(
    ("first", "other", "unit", "said"),
    [
        ("0.2 mg", "20 mcg", "", "0.02 mg"),
        ("1,500 mcg", "2 mg", "", "2,000 mcg"),
        ("0.2 mg", "0.3 mg", "", "0.3 mg"),
        ("0.2 mg", "4 min", "", "4 min"),
        ("4 mg", "2,000 mcg", "mcg in 4 h", "2 mg in 4 h"),
    ],
)
def test_values_of_one_row_stand_in_one_unit(first: str, other: str, unit: str, said: str) -> None:
    beside, number = find_number(first), find_number(other, unit)
    assert beside is not None
    assert number is not None
    assert in_unit_of(beside, number).text == said


def test_what_was_read_in_another_unit_stands_beside(world: World) -> None:
    pair = compared(world, answers(device={"demand_dose": "20 mcg"}))
    text = pair.page(pair.first).text
    assert "0.02 mg" in text
    assert "read as 20 mcg" in text
    assert "Each demand would give 0.02 mg, not 0.2 mg." in text


def test_a_dose_that_is_not_read_is_left_out(world: World) -> None:
    continuous: Answers = answers(
        order={"mode": "demand-and-continuous", "continuous_rate": "0.1 mg/h"},
        device={"mode": "demand-and-continuous", "continuous_rate": "0.2 mg/h"},
        chart={"opioid_tolerant": "yes"},
    )
    pair = compared(world, continuous)
    text = pair.page(pair.first).text
    assert "The continuous part would give 0.2 mg/h, not 0.1 mg/h." in text
    assert "Loading dose" in text


def test_thousands_are_set_off_however_they_were_typed(world: World) -> None:
    # The browser of the tests refuses every page with a number that can be misread; here is one to misread.
    typed = answers(
        label={"amount": "6000 mcg"}, order={"limit_amount": "2000 mcg", "limit_window": "60 min"}
    )
    pair = joined(world)
    pair.draft(pair.first, typed)
    assert "6,000 mcg" in pair.page(pair.first, "/read").text
    pair.read(typed)
    text = pair.page(pair.first).text
    assert "6,000 mcg" in text
    assert "2,000 mcg" in text


def test_a_patient_at_risk_is_one_finding_with_each_answer_that_says_so(world: World) -> None:
    risky = answers(chart={"sedatives": "charted", "sleep_apnea": "charted", "weight": "44 kg"})
    pair = compared(world, risky)
    page = pair.page(pair.first)
    found = [each for each in page.all("div") if each.get("class") == "finding found"]
    assert len(found) == 1
    block = words_of(found[0])
    assert block.startswith("Patient")
    for line in ("Weight 44 kg", "Sleep apnea Charted", "Sedatives charted Charted"):
        assert line in block
    assert "Not judged here" not in page.text, "the site has set everything, and all is read"


def test_what_nobody_looked_at_is_said_beside_what_agrees(world: World) -> None:
    # A re-check reads no chart.
    pair = pair_of(world).at_stage(Phase.DONE)
    page = pair.page(pair.first)
    assert page.heading == "This check is done: order, label and device agree"
    assert "Not judged here: what the chart says." in page.text
    assert "Not judged here: what the chart says." in pair.page(pair.first, "/record").text


def test_what_one_read_alone_is_said_with_who_read_it(world: World) -> None:
    alone = answers(label={"lot": None}, chart={"weight": None})
    pair = compared(world, answers(), alone)
    page = pair.page(pair.first)
    assert page.heading == "Order, label and device agree"
    assert "Lot Label, first nurse LOT-7" in page.text
    assert "Weight Chart, first nurse 82 kg" in page.text
    assert "NOT ENTERED" not in page.text


def test_where_two_read_a_risk_differently_nothing_says_that_they_agree(world: World) -> None:
    pair = compared(world, answers(), answers(chart={"weight": "81 kg"}))
    page = pair.page(pair.first)
    (row,) = (
        each for each in page.all("div") if each.get("class") == "finding" and "Weight" in words_of(each)
    )
    assert "agrees" not in words_of(row)
    assert "the riskier counts" in words_of(row)
