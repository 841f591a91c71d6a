"""The syringe's account by hand: counts, the budget of each stage, and what each finds."""

from fractions import Fraction
from typing import Any

import pytest

from app.accounting.budget import graduation_tolerance
from tests.accounting.builders import codes, entry, exact, finding, issued, result_of, set_up, totals

END = entry("end", "3T08:00")


def removed(time: str, left: str | None, amount: str | None = None, *counts: int) -> dict[str, Any]:
    shown = None if amount is None else totals(amount, *counts)
    return entry("removed", time, totals=shown, left=left)


def wasted(time: str, volume: str, syringe: str = "S1") -> dict[str, Any]:
    return entry("wasted", time, syringe=syringe, volume=volume, witnessed=True)


def stage(result: dict[str, Any], name: str) -> dict[str, Any]:
    found = result["syringes"][0][name]
    assert isinstance(found, dict)
    return found


def budget(result: dict[str, Any], name: str, part: str) -> str | None:
    return exact(stage(result, name)["budget"][part])


@pytest.mark.parametrize(
    ("size", "volume", "tolerance"),
    [
        # Phillips P, ISO 7886-1 tolerance worked examples (2016): 4 mL of a 10 mL syringe, 4.75 %.
        ("10", "4", "0.19"),
        # The same, by the rule for a 1 mL syringe below half: 0.4 mL.
        ("1", "0.4", "0.023"),
        # The same rule from half of the size on.
        ("1", "0.5", "0.025"),
        ("1", "0.499", "0.02498"),
        # From memory, as the contract says: 4 % from half of the size on.
        ("60", "30", "1.2"),
        ("60", "29", "1.19"),
        # The size from which on a barrel is a large one.
        ("5", "1", "0.085"),
        ("4.9", "1", "0.0935"),
        ("60", "0", "0.9"),
    ],
)
def test_graduation(size: str, volume: str, tolerance: str) -> None:
    assert graduation_tolerance(Fraction(size), Fraction(volume)) == Fraction(tolerance)


def test_a_syringe_that_nobody_touched_is_counted_by_its_label() -> None:
    result = result_of(issued(), policy={"fill_accuracy": "10 %"})
    (syringe,) = result["syringes"]
    assert (syringe["counted_at"], syringe["left_at"], exact(syringe["volume"]["left"])) == (0, 0, "50 mL")
    assert (budget(result, "in_use", "fill"), budget(result, "in_use", "graduation")) == ("5 mL", "0 mL")
    assert (budget(result, "in_use", "reading"), budget(result, "in_hand", "reading")) == ("0 mL", "0 mL")


def test_what_is_filled_on_the_ward_has_its_scale_in_the_place_of_the_fill_accuracy() -> None:
    result = result_of(issued(drawn_up=True), policy={"fill_accuracy": "10 %"})
    assert budget(result, "in_use", "fill") == "2 mL"


def test_primes_before_and_after_the_counts_are_shared_out_between_the_stages() -> None:
    result = result_of(
        *set_up(),
        entry("primed", "08:40", volume="1 mL"),
        entry("read", "09:30", totals=totals("4 mg", 4, 4), left="45 mL"),
        entry("primed", "09:40", volume="2 mL"),
        entry("read", "10:30", left="42 mL"),
        entry("primed", "10:40", volume="3 mL"),
        policy={"prime_accuracy": "10 %"},
    )
    places = result["syringes"][0]["volume"]
    # 45 - 2 - 42 = 1 mL is gone with no totals read.
    assert [exact(places[name]) for name in ("primed", "not_read", "left")] == ["6 mL", "1 mL", "39 mL"]
    assert (budget(result, "in_use", "prime"), budget(result, "in_hand", "prime")) == ("0.1 mL", "0.3 mL")
    assert (result["syringes"][0]["counted_at"], result["syringes"][0]["left_at"]) == (5, 7)


@pytest.mark.parametrize(
    ("volumes", "reading"), [((), "0.5"), (("0.2 mL",), "0.7"), (("5 mL", "5 mL", "5 mL"), "1.5")]
)
def test_what_is_poured_out_is_read_to_half_a_division_each_and_one_together(
    volumes: tuple[str, ...], reading: str
) -> None:
    result = result_of(
        *set_up(),
        removed("09:30", "46 mL", "4 mg", 4, 4),
        *(wasted("09:40", volume) for volume in volumes),
    )
    assert budget(result, "in_hand", "reading") == f"{reading} mL"
    before = result_of(
        *set_up(),
        *(wasted("09:00", volume) for volume in volumes),
        entry("read", "09:30", totals=totals("0 mg", 0, 0), left="30 mL"),
    )
    assert budget(before, "in_use", "reading") == f"{reading} mL"


def test_a_display_is_rounded_once_for_each_series_and_loading() -> None:
    zero = totals("0 mg", 0, 0)
    entries = [
        *set_up(),
        entry("read", "09:30", totals=totals("2 mg", 2, 2), left="48 mL"),
        entry("read", "10:30", totals=totals("4 mg", 4, 4), left="46 mL"),
    ]
    policy = {"display_step_amount": "0.2 mg", "display_step_volume": "0.1 mL"}
    assert budget(result_of(*entries, policy=policy), "in_use", "display") == "0.2 mL"
    entries += [
        entry("cleared", "10:40", totals=totals("4 mg", 4, 4), after=zero),
        removed("10:50", "46 mL", "0 mg", 0, 0),
        entry("loaded", "10:55", syringe="S1"),
        entry("read", "11:30", totals=totals("0 mg", 0, 0, volume="0 mL"), left="46 mL"),
    ]
    # The first series by one loading, the second by two.
    assert budget(result_of(*entries, policy=policy), "in_use", "display") == "0.6 mL"


def test_each_display_of_a_series_that_reads_mass_here_and_volume_there_counts() -> None:
    result = result_of(
        *set_up(),
        entry("read", "09:30", totals=totals("2 mg", 2, 2, volume="2 mL")),
        entry("read", "10:30", totals=totals("4 mg", 4, 4), left="46 mL"),
        policy={"display_step_amount": "0.2 mg", "display_step_volume": "0.1 mL"},
    )
    assert budget(result, "in_use", "display") == "0.3 mL"


def test_the_display_s_step_is_the_finest_last_digit_of_the_case() -> None:
    entries = [*set_up(), entry("read", "09:30", totals=totals("2 mg", 2, 2), left="48 mL")]
    assert budget(result_of(*entries), "in_use", "display") == "1 mL"
    finer = entry("read", "10:30", totals=totals("2.05 mg", 2, 2))
    assert budget(result_of(*entries, finer), "in_use", "display") == "0.01 mL"
    in_grams = [*set_up(), entry("read", "09:30", totals=totals("0.002 g", 2, 2), left="48 mL")]
    assert budget(result_of(*in_grams), "in_use", "display") == "1 mL"


def test_after_a_removal_at_which_nothing_was_left_to_read_the_hand_is_not_known() -> None:
    entries = [*set_up(), removed("09:30", None, "4 mg", 4, 4)]
    result = result_of(*entries)
    assert codes(result) == [("reading-missing", 4)]
    assert finding(result, "reading-missing")["says"].startswith("Nobody read what was left here")
    (syringe,) = result["syringes"]
    assert (syringe["counted_at"], syringe["left_at"], syringe["volume"]["left"]) == (None, None, None)
    assert syringe["in_hand"] == {"volume": None, "budget": None, "verdict": None}
    assert result["infusion"]["volume"]["left"] is None
    # The next reading makes the hand known again; it is not counted in use any more.
    again = [
        entry("loaded", "09:40", syringe="S1"),
        entry("read", "09:50", totals=totals("4 mg", 4, 4), left="46 mL"),
    ]
    (syringe,) = result_of(*entries, *again)["syringes"]
    assert (syringe["counted_at"], syringe["left_at"], exact(syringe["volume"]["left"])) == (None, 6, "46 mL")
    assert syringe["in_hand"]["verdict"] == "balances"


def test_neither_reading_at_a_removal() -> None:
    result = result_of(*set_up(), removed("09:30", None))
    assert finding(result, "reading-missing")["says"].startswith(
        "Nobody read the totals and what was left here"
    )


def test_a_count_at_a_removal_is_closed_until_the_syringe_is_loaded_again() -> None:
    off = [*set_up(), removed("09:30", "40 mL", "4 mg", 4, 4)]
    result = result_of(*off)
    assert codes(result) == [("unexplained", 4), ("in-hand", None)]
    assert (stage(result, "in_use")["verdict"], result["readings"][-1]["verdict"]) == ("unexplained",) * 2
    # The whole is closed by the end alone.
    assert result["infusion"]["in_use"]["verdict"] == "does-not-fit"
    again = result_of(*off, entry("loaded", "09:40", syringe="S1"))
    assert codes(again) == [("left-below-predicted", 4)]
    assert again["readings"][-1]["verdict"] == "unexplained"


def test_more_left_than_the_device_leaves() -> None:
    result = result_of(*set_up(), entry("read", "12:30", totals=totals("20 mg", 20, 20), left="40 mL"))
    found = finding(result, "left-above-predicted")
    assert (exact(found["difference"]), found["factor"]["exact"], found["stage"]) == (
        "-10 mL",
        "0.5",
        "in_use",
    )
    assert "10 mL less is gone" in found["says"]


def test_no_factor_where_the_device_says_that_it_gave_nothing() -> None:
    result = result_of(*set_up(), entry("read", "12:30", totals=totals("0 mg", 0, 0), left="40 mL"))
    assert finding(result, "left-below-predicted")["factor"] is None


def test_what_is_in_hand_at_the_end_is_unexplained() -> None:
    off = [*set_up(), removed("09:30", "46 mL", "4 mg", 4, 4), wasted("09:40", "40 mL")]
    assert codes(result_of(*off)) == [("in-hand", None)]
    result = result_of(*off, END)
    found = finding(result, "unexplained")
    assert (found["entry"], found["stage"], exact(found["difference"])) == (6, "in_hand", "6 mL")
    assert exact(result["syringes"][0]["volume"]["left"]) == "0 mL"
    assert exact(result["syringes"][0]["volume"]["difference"]) == "6 mL"


def test_more_wasted_than_there_was_is_found_at_the_last_of_it() -> None:
    off = [
        *set_up(),
        removed("09:30", "46 mL", "4 mg", 4, 4),
        wasted("09:40", "45 mL"),
        wasted("09:50", "4 mL"),
    ]
    result = result_of(*off)
    found = finding(result, "more-than-left")
    assert (found["entry"], exact(found["difference"])) == (6, "-3 mL")
    assert exact(result["syringes"][0]["volume"]["left"]) == "0 mL"
    assert ("unexplained", 7) in codes(result_of(*off, END))


@pytest.mark.parametrize(("policy", "verdict"), [
    ({}, "does-not-fit"),
    ({"at_least": "3 mL"}, "within-tolerance"),
    ({"at_least": "2 mL"}, "does-not-fit"),
    ({"at_least": "3 mL", "decide_by": "root-sum-square"}, "within-tolerance"),
    ({"device_accuracy": "50 %", "decide_by": "root-sum-square"}, "does-not-fit"),
    ({"device_accuracy": "50 %"}, "within-tolerance"),
])  # fmt: skip
def test_what_decides(policy: dict[str, str], verdict: str) -> None:
    """50 - 1.2 - 45.8 = 3 mL; 0.06 + 0.1 + 1.832 + 0.5, with 50 % 3.032; their roots are less."""
    result = result_of(
        *set_up(), entry("read", "09:30", totals=totals("1.2 mg", 1, 1), left="45.8 mL"), policy=policy
    )
    assert stage(result, "in_use")["verdict"] == verdict


def test_equal_is_inside() -> None:
    exactly = {"device_accuracy": "0 %", "display_step_amount": "0 mg", "scale_division": "0 mL"}
    at = [*set_up(), entry("read", "09:30", totals=totals("1 mg", 1, 1), left="47.1154 mL")]
    assert stage(result_of(*at, policy=exactly), "in_use")["verdict"] == "within-tolerance"
    below = [*set_up(), entry("read", "09:30", totals=totals("1 mg", 1, 1), left="47.1153 mL")]
    assert stage(result_of(*below, policy=exactly), "in_use")["verdict"] == "does-not-fit"


def two_syringes(first_left: str, second_left: str) -> list[dict[str, Any]]:
    """Two syringes, 10 mg out of each by the totals; what is left of each is wasted."""
    return [
        *set_up(),
        removed("10:30", first_left, "10 mg", 10, 10),
        issued("10:35", "S2"),
        entry("loaded", "10:40", syringe="S2"),
        entry("started", "10:45"),
        removed("12:30", second_left, "20 mg", 20, 20),
        wasted("12:40", first_left),
        wasted("12:45", second_left, "S2"),
    ]


def test_what_no_syringe_shows_by_itself_the_whole_can() -> None:
    """3 mL each is always allowed; 6 mL are more than the root of 1 + 4 + 8.7616 + 1."""
    root = {"decide_by": "root-sum-square", "at_least": "3 mL"}
    entries = two_syringes("37 mL", "37 mL")
    assert codes(result_of(*entries, policy=root)) == []
    result = result_of(*entries, END, policy=root)
    found = finding(result, "unexplained")
    assert (found["entry"], found["syringe"], found["factor"]) == (11, None, None)
    assert (found["stage"], exact(found["difference"])) == ("in_use", "6 mL")
    assert "All syringes together: 6 mL more is gone" in found["says"]


def test_the_whole_says_less_where_less_is_gone() -> None:
    root = {"decide_by": "root-sum-square", "at_least": "3 mL"}
    found = finding(result_of(*two_syringes("43 mL", "43 mL"), END, policy=root), "unexplained")
    assert "6 mL less is gone" in found["says"]


def test_the_whole_is_silent_where_a_syringe_has_it_in_that_stage() -> None:
    result = result_of(*two_syringes("30 mL", "37 mL"), END)
    assert [(each["syringe"], each["stage"]) for each in result["findings"]] == [("S1", "in_use")]


def test_the_whole_adds_differences_and_parts_of_one_name() -> None:
    result = result_of(*two_syringes("37 mL", "42 mL"))
    whole, parts = result["infusion"]["in_use"], [each["in_use"] for each in result["syringes"]]
    for name in ("device", "display", "graduation", "reading", "worst_case"):
        each = sum(Fraction(part["budget"][name]["exact"]) for part in parts)
        assert Fraction(whole["budget"][name]["exact"]) == each
    # 3 and -2.
    assert exact(whole["volume"]) == "1 mL"


def test_an_infusion_without_a_syringe_balances() -> None:
    result = result_of(entry("paused", "08:00"))
    assert (result["verdict"], result["infusion"]["in_use"]["verdict"]) == ("agreed", "balances")
    assert exact(result["infusion"]["amount"]["loaded"]) == "0 mg"


def test_a_rise_of_what_is_left_is_beside_the_last_reading_and_not_the_label() -> None:
    label = [*set_up(), entry("read", "09:30", left="52 mL")]
    assert codes(result_of(*label)) == []
    one_division = [*set_up(), entry("read", "09:30", left="45 mL"), entry("read", "10:30", left="46 mL")]
    assert codes(result_of(*one_division)) == []
    more = [*set_up(), entry("read", "09:30", left="45 mL"), entry("read", "10:30", left="46.1 mL")]
    assert codes(result_of(*more)) == [("left-rose", 5)]
    # Whenever it was read: before it was taken off and loaded again.
    again = [
        *set_up(),
        removed("09:30", "45 mL", "5 mg", 5, 5),
        entry("loaded", "09:40", syringe="S1"),
        entry("read", "10:30", left="47 mL"),
    ]
    assert codes(result_of(*again)) == [("left-rose", 6)]


def test_a_waste_that_nobody_saw_and_a_return_that_nobody_took() -> None:
    result = result_of(
        issued(),
        entry("wasted", "08:10", syringe=" s1 ", volume="10 mL", witnessed=False),
        entry("returned", "08:20", syringe="S1", volume="40 mL", received=False),
    )
    assert codes(result) == [("not-witnessed", 1), ("not-received", 2)]
    assert [each["syringe"] for each in result["findings"]] == ["S1", "S1"]
    places = result["syringes"][0]["volume"]
    assert [exact(places[name]) for name in ("wasted", "returned", "left")] == ["10 mL", "40 mL", "0 mL"]


def test_a_syringe_is_named_as_its_issue_names_it() -> None:
    result = result_of(issued(syringe=" Syringe A"), entry("loaded", "08:20", syringe="SYRINGE a "))
    assert result["syringes"][0]["syringe"] == " Syringe A"


def test_the_mass_is_the_syringe_s_and_the_device_s_by_the_concentration_set() -> None:
    """5 mg/mL in the barrel, 1 mg/mL set: 10 mL gone are 50 mg, of which the device says 10."""
    result = result_of(
        issued(amount="250 mg"),
        *set_up()[1:],
        entry("read", "12:30", totals=totals("10 mg", 10, 10), left="40 mL"),
    )
    amount = result["syringes"][0]["amount"]
    places = ("delivered_by_device", "delivered_by_syringe", "difference")
    assert [exact(amount[name]) for name in places] == ["10 mg", "50 mg", "40 mg"]
    assert exact(result["syringes"][0]["volume"]["difference"]) == "0 mL"
