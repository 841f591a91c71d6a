"""How readings stand on a comparison: several limits, a device in mL, a bolus by staff, what decides."""

import pytest

from app.records.reading import Answers
from tests.factories.answers import answers
from tests.story.pages import compared
from tests.support.browser import Page, words_of
from tests.support.world import World, read_source

BOTH_LIMITS = {
    "limit_amount": "1 mg",
    "limit_window": "1 h",
    "limit_2_amount": "2 mg",
    "limit_2_window": "4 h",
}
IN_ML = {"strength": "in-millilitres", "amount": None, "volume": None, "demand_dose": "1 mL"}
ML_DEVICE = answers(device={**IN_ML, "limit_amount": "10 mL"})


def blocks(page: Page) -> list[str]:
    """What each block of values says: findings first, then what agrees, then the doses."""
    return [words_of(each) for each in page.all("div") if each.get("class", "").split(" ")[0] == "finding"]


def test_several_limits_are_one_answer_each_with_its_time(world: World) -> None:
    pair = compared(world, answers(order=BOTH_LIMITS, device=BOTH_LIMITS))
    page = pair.page(pair.first)
    assert page.heading == "Order, label and device agree"
    (limits,) = (each for each in blocks(page) if each.startswith("Limit "))
    assert "1 mg in 1 h" in limits
    assert "2 mg in 4 h" in limits
    assert "agrees" in limits


def test_limits_that_are_not_as_ordered_are_one_block_without_a_ratio(world: World) -> None:
    # By position the engine compares 1 mg in 1 h with 2 mg in 4 h; to people that is one limit too few.
    pair = compared(world, answers(order=BOTH_LIMITS))
    page = pair.page(pair.first)
    assert page.heading == (
        "Order and device do not agree on the limits: ordered 1 mg in 1 h and 2 mg in 4 h, set 2 mg in 4 h."
    )
    (limits,) = (each for each in blocks(page) if each.startswith("Limit"))
    assert limits.startswith("Limits Order 1 mg in 1 h")
    assert limits.endswith("DEVICE IS NOT THE ORDER")
    assert "TIMES" not in page.text
    assert "TWICE" not in page.text
    form, button = page.form_with("Device reprogrammed")
    assert button.words == "Device reprogrammed: read the device again"
    assert ("touched", "device") in form.held


def test_a_device_that_takes_its_doses_in_ml_is_held_against_the_order_by_mass(world: World) -> None:
    pair = compared(world, ML_DEVICE)
    page = pair.page(pair.first)
    assert page.heading == "Order, label and device agree"
    said = {each.split(" Order")[0]: each for each in blocks(page)}
    assert "Device 1 mL" in said["Demand dose"]
    assert "is 0.2 mg" in said["Demand dose"]
    assert "Device 10 mL in 4 h" in said["Limit"]
    assert "is 2 mg" in said["Limit"]
    assert "Device None set: doses in mL" in said["Concentration"]


def test_the_ordered_mg_set_as_ml_stops_with_the_mass_that_it_is(world: World) -> None:
    wrong: Answers = answers(device={**IN_ML, "limit_amount": "10 mL", "demand_dose": "0.2 mL"})
    pair = compared(world, wrong)
    page = pair.page(pair.first)
    assert page.heading == "Each demand would give 0.2 times the ordered dose."
    assert "Consistent with an amount of drug typed as a volume." in page.text
    assert "is 0.04 mg" in page.text


@pytest.mark.parametrize(
    ("device", "says"),
    [
        ({"demand_dose": "1 mL"}, "In mL only where the device has no concentration set."),
        ({"strength": "in-millilitres"}, "You said of the strength, above"),
    ],
)
def test_a_dose_of_the_other_kind_is_said_beside_it(world: World, device: dict[str, str], says: str) -> None:
    first, _, check = world.pair()
    first.get(f"/check/{check}/read/device")
    page = read_source(first, answers(device=device)["device"])
    assert page.status == 422
    assert says in page.text


def test_a_bolus_by_staff_is_shown_whole(world: World) -> None:
    bolus = {
        "staff_bolus_dose": "0.4 mg",
        "staff_bolus_interval": "10 min",
        "staff_bolus_most": "2 mg",
        "staff_bolus_window": "4 h",
    }
    pair = compared(world, answers(order=bolus))
    text = pair.page(pair.first).text
    assert "0.4 mg not more often than every 10 min, at most 2 mg in 4 h" in text


def test_another_syringe_size_says_why_no_dose_can_be_compared(world: World) -> None:
    pair = compared(world, answers(device={"syringe_size": "50 mL"}))
    page = pair.page(pair.first)
    assert page.heading == "The syringe is 30 mL, and the device is set for 50 mL."
    assert "The syringe is not of the size that the device is set for" in page.text
    assert "name the same drug" not in page.text
    _, button = page.form_with("Device reprogrammed")
    assert button.words == "Device reprogrammed: read the device again"


def test_a_strength_for_tolerant_patients_shows_what_each_read_of_the_patient(world: World) -> None:
    strong = {"drug": "morphine", "amount": "150 mg", "demand_dose": "1 mg", "limit_amount": "20 mg"}
    one = answers(
        order=strong,
        label={"drug": "morphine", "amount": "150 mg"},
        device=strong,
        chart={"opioid_tolerant": "yes"},
    )
    other = {**one, "chart": {**one["chart"], "opioid_tolerant": "unknown"}}
    pair = compared(world, one, other)
    (block,) = (each for each in blocks(pair.page(pair.first)) if "STRENGTH FOR TOLERANT" in each)
    assert "first nurse Yes" in block
    assert "second nurse Unknown" in block


@pytest.mark.parametrize("monitor", [{"low_spo2": "80 %"}, {"low_respiratory_rate": "none"}])
def test_an_alarm_that_is_off_its_bounds_leads_to_the_monitor(world: World, monitor: dict[str, str]) -> None:
    pair = compared(world, answers(monitor=monitor))
    _, button = pair.page(pair.first).form_with("Monitor put right")
    assert button.words == "Monitor put right: read the monitor again"
