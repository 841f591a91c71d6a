"""The device's account by hand: series, intervals, stretches, spans, and what each finds."""

from typing import Any

import pytest

from tests.accounting.builders import (
    ABSENT,
    codes,
    entry,
    exact,
    finding,
    issued,
    result_of,
    set_up,
    settings,
    totals,
)

READ = totals("4 mg", 6, 4)


def read(time: str, amount: str, *counts: int, **keys: str) -> dict[str, Any]:
    return entry("read", time, totals=totals(amount, *counts), **keys)


def last_reading(*entries: dict[str, Any], policy: dict[str, Any] | None = None) -> dict[str, Any]:
    found = result_of(*entries, policy=policy)["readings"][-1]
    assert isinstance(found, dict)
    return found


def predicted(reading: dict[str, Any]) -> tuple[str | None, str | None]:
    return exact(reading["predicted"]["least"]), exact(reading["predicted"]["most"])


def test_the_first_series_begins_at_its_first_reading_if_nothing_was_started_before() -> None:
    result = result_of(
        issued(),
        read("08:10", "7 mg", 3, 2),
        *set_up()[1:],
        read("12:30", "11 mg", 9, 6),
    )
    (series,) = result["series"]
    assert (series["begins"], series["ends"], exact(series["amount"])) == (1, 5, "4 mg")
    assert codes(result) == [("series-not-from-zero", 1)]
    assert result["readings"][0]["since"] is None
    assert predicted(result["readings"][1]) == ("11 mg", "11 mg")
    # Half a step for each end: the beginning is not zero.
    assert exact(result["readings"][1]["tolerance"]) == "1 mg"


def test_the_first_series_begins_at_zero_where_nobody_reads_it_before_it_is_cleared() -> None:
    result = result_of(issued(), entry("cleared", "08:10", after=totals("0 mg")), *set_up()[1:])
    first, second = result["series"]
    assert (first["begins"], first["ends"], exact(first["volume"]), first["doses"]) == (0, 0, "0 mL", 0)
    assert (second["begins"], second["ends"], second["how"], second["volume"]) == (1, 1, "cleared", None)
    assert result["totals"]["volume"] is None
    assert exact(result["totals"]["amount"]) == "0 mg"


def test_a_reading_at_which_the_first_series_is_cleared_is_its_only_one() -> None:
    """The last patient's totals, read and cleared before anything ran."""
    result = result_of(
        issued(),
        entry("cleared", "08:10", totals=totals("7 mg", 3, 2), after=totals("0 mg", 0, 0)),
        *set_up()[1:],
    )
    assert [(each["begins"], each["ends"], each["how"]) for each in result["series"]] == [
        (1, 1, "first"),
        (1, 1, "cleared"),
    ]
    assert codes(result) == [("series-not-from-zero", 1)]


@pytest.mark.parametrize("lower", [totals("3 mg", 6, 4), totals("4 mg", 5, 4), totals("4 mg", 6, 3)])
def test_any_lower_value_is_a_new_series_from_zero_at_the_reading_before(lower: dict[str, Any]) -> None:
    result = result_of(*set_up(), entry("read", "10:30", totals=READ), entry("read", "11:30", totals=lower))
    assert [(each["how"], each["begins"]) for each in result["series"]] == [("first", 0), ("went-back", 4)]
    assert ("totals-went-back", 5) in codes(result)
    reading = result["readings"][-1]
    assert exact(reading["rise"]["amount"]) == f"{lower['amount'].split()[0]} mg"
    assert (reading["predicted"], reading["fits"], reading["possible_doses"]) == (None, None, None)


def test_a_value_is_compared_with_the_last_reading_that_gave_it() -> None:
    result = result_of(
        *set_up(), read("10:30", "4 mg", 6, 4), read("11:30", "5 mg"), read("12:30", "6 mg", 5, 6)
    )
    assert ("totals-went-back", 6) in codes(result)


def test_no_prediction_reaches_over_a_reading_that_went_back() -> None:
    result = result_of(
        *set_up(),
        read("10:30", "4 mg", 6, 4),
        read("11:30", "1 mg"),
        read("12:30", "2 mg", 2, 2),
        read("13:30", "3 mg", 3, 3),
    )
    _, back, over, after = result["readings"]
    assert (back["since"], back["predicted"]) == (4, None)
    # Its counts have the beginning alone before them: the span holds the reading that went back.
    assert (over["since"], over["predicted"], over["possible_doses"], over["rise"]["doses"]) == (
        4,
        None,
        None,
        2,
    )
    assert (after["since"], predicted(after), after["possible_doses"]) == (6, ("3 mg", "3 mg"), 8)


def test_totals_that_count_from_several_devices_are_summed_up() -> None:
    result = result_of(
        *set_up(),
        entry("device", "10:30", totals=totals("4 mg", 6, 4), after=totals("2 mg", 0, 0)),
        settings("10:35"),
        entry("started", "10:40"),
        read("12:40", "5 mg", 3, 3),
    )
    assert [each["how"] for each in result["series"]] == ["first", "device"]
    assert exact(result["totals"]["amount"]) == "7 mg"
    assert (result["totals"]["presses"], result["totals"]["doses"]) == (9, 7)
    assert codes(result) == [("series-not-from-zero", 4)]


def test_an_equal_settings_entry_breaks_a_stretch_and_a_reading_does_not() -> None:
    # Two hours by themselves grant 15 demands and one at the end; 30 and 90 min grant 4 and 12.
    policy = {"time_accuracy": "0 min"}
    whole = last_reading(*set_up(), read("09:00", "0 mg"), read("10:30", "0 mg", 0, 0), policy=policy)
    broken = last_reading(*set_up(), settings("09:00"), read("10:30", "0 mg", 0, 0), policy=policy)
    assert (whole["since"], whole["possible_doses"]) == (0, 16)
    assert broken["possible_doses"] == 4 + 12


def test_a_stretch_of_no_length_grants_what_the_time_s_accuracy_lets_through() -> None:
    entries = [*set_up(), entry("paused", "08:30"), entry("started", "08:30"), read("08:30", "0 mg", 0, 0)]
    assert last_reading(*entries)["possible_doses"] == 2
    assert exact(last_reading(*entries)["minutes"]) == "0 min"


def test_the_minutes_are_of_the_interval_and_the_demands_of_the_span() -> None:
    reading = last_reading(*set_up(), read("09:30", "1 mg"), read("10:30", "2 mg", 2, 2))
    assert (reading["since"], exact(reading["minutes"]), exact(reading["rise"]["amount"])) == (
        0,
        "60 min",
        "1 mg",
    )
    assert predicted(reading) == ("2 mg", "2 mg")


def test_what_moved_with_two_syringes_on_belongs_to_none() -> None:
    result = result_of(
        *set_up(),
        issued("09:00", "S2"),
        entry("removed", "10:00", left="46 mL"),
        entry("loaded", "10:05", syringe="S2"),
        read("10:30", "4 mg", 4, 4),
    )
    assert codes(result) == [("reading-missing", 5), ("totals-not-attributed", 7), ("in-hand", None)]
    assert [each["counted_at"] for each in result["syringes"]] == [None, None]


def test_what_did_not_move_belongs_to_nobody_and_leaves_both_counted() -> None:
    result = result_of(
        *set_up(),
        issued("09:00", "S2"),
        entry("removed", "10:00", totals=totals("4 mg", 4, 4), left="46 mL"),
        entry("loaded", "10:05", syringe="S2"),
        entry("removed", "10:10", totals=totals("4 mg", 4, 4), left="50 mL"),
        entry("loaded", "10:15", syringe="S1"),
        read("10:30", "4 mg", 4, 4, left="46 mL"),
    )
    assert ("totals-not-attributed", 9) not in codes(result)
    assert [each["counted_at"] for each in result["syringes"]] == [9, 7]


def test_a_bolus_that_the_totals_do_not_count_moves_the_interval() -> None:
    policy = {"totals_count_bolus": False}
    result = result_of(
        *set_up(),
        entry("bolus", "09:00", amount="2 mg", loading=False),
        read("09:30", "0 mg", 0, 0, left="48 mL"),
        policy=policy,
    )
    assert codes(result) == []
    assert exact(result["syringes"][0]["volume"]["delivered_by_device"]) == "2 mL"
    assert exact(result["syringes"][0]["amount"]["delivered_by_device"]) == "2 mg"


def test_a_loading_dose_is_counted_by_a_rule_of_its_own() -> None:
    entries = [*set_up(), entry("bolus", "09:00", amount="2 mg", loading=True), read("09:30", "0 mg", 0, 0)]
    assert codes(result_of(*entries, policy={"totals_count_bolus": False})) == [("totals-below-predicted", 5)]
    assert codes(result_of(*entries, policy={"totals_count_loading": False})) == []


def test_both_values_of_a_device_that_shows_mass_and_volume_count() -> None:
    result = result_of(
        *set_up(), entry("read", "10:30", totals=totals("4 mg", 4, 4, volume="4.1 mL"), left="46 mL")
    )
    places = result["syringes"][0]
    assert exact(places["volume"]["delivered_by_device"]) == "4.1 mL"
    assert exact(places["amount"]["delivered_by_device"]) == "4 mg"
    assert exact(places["in_use"]["budget"]["display"]) == "0.1 mL"
    assert exact(places["amount"]["difference"]) == "0 mg"
    assert exact(places["volume"]["difference"]) == "-0.1 mL"


def test_an_interval_of_which_nothing_is_read_at_both_ends_is_not_attributed() -> None:
    """Mass at one end, volume at the other; nor can anything be predicted."""
    result = result_of(
        *set_up(), read("09:30", "1 mg", 1, 1), entry("read", "10:30", totals=totals(volume="2 mL"))
    )
    assert codes(result) == [("totals-not-attributed", 5)]
    reading = result["readings"][-1]
    assert reading["rise"] == {"amount": None, "volume": None, "presses": None, "doses": None}
    assert (reading["predicted"], reading["possible_doses"]) == (None, 8)


def test_without_a_stretch_that_took_time_the_settings_at_the_end_give_the_concentration() -> None:
    """A device that stood is read to have given 2 mL."""
    stood = [issued(), entry("loaded", "08:20", syringe="S1"), settings(concentration="2 mg/mL")]
    result = result_of(
        *stood, entry("started", "08:30"), entry("paused", "08:30"), read("09:30", "4 mg", 2, 2)
    )
    assert codes(result)[0] == ("strength-set-differs", 3)
    assert exact(result["syringes"][0]["volume"]["loaded"]) == "50 mL"
    read_again = result_of(
        *stood,
        entry("started", "08:30"),
        entry("paused", "08:30"),
        read("09:30", "4 mg", 2, 2, left="48 mL"),
    )
    assert exact(read_again["syringes"][0]["volume"]["delivered_by_device"]) == "2 mL"


def test_without_any_settings_nothing_is_attributed_and_no_volume_predicted() -> None:
    result = result_of(
        issued(),
        entry("loaded", "08:20", syringe="S1"),
        entry("read", "08:30", totals=totals(volume="0 mL")),
        entry("read", "09:30", totals=totals(volume="2 mL")),
    )
    assert codes(result) == [("totals-not-attributed", 3)]
    assert result["readings"][-1]["predicted"] is None


def test_nothing_is_predicted_where_a_prime_is_counted_and_no_concentration_is_known() -> None:
    policy = {"totals_count_prime": True}
    reading = last_reading(
        *set_up(),
        settings("09:00", concentration="2 mg/mL"),
        entry("primed", "09:10", volume="1 mL"),
        read("09:30", "1 mg"),
        policy=policy,
    )
    assert (reading["predicted"], reading["possible_doses"]) == (None, 10)


def test_nothing_is_predicted_where_demands_are_counted_and_no_stretch_has_a_dose() -> None:
    only = {"mode": "continuous", "demand_dose": ABSENT, "lockout": ABSENT, "continuous_rate": "1 mg/h"}
    counted = last_reading(*set_up(**only), read("09:30", "1 mg", 1, 1))
    assert (counted["predicted"], counted["possible_doses"]) == (None, 0)
    none = last_reading(*set_up(**only), read("09:30", "1 mg", 0, 0))
    assert predicted(none) == ("1 mg", "1 mg")


def test_without_counts_the_total_is_judged_by_what_was_possible() -> None:
    result = result_of(*set_up(), read("09:30", "9 mg"))
    assert codes(result) == [("totals-above-possible", 4)]
    assert exact(finding(result, "totals-above-possible")["difference"]) == "1 mg"
    # Without a dose that could be possible, by the prediction.
    only = {"mode": "continuous", "demand_dose": ABSENT, "lockout": ABSENT, "continuous_rate": "1 mg/h"}
    assert codes(result_of(*set_up(**only), read("09:30", "9 mg"))) == [("totals-above-predicted", 4)]


def test_demands_between_the_smallest_and_the_largest_dose_of_the_stretches_fit() -> None:
    entries = [*set_up(), settings("09:00", demand_dose="2 mg")]
    reading = last_reading(*entries, read("09:30", "7 mg", 4, 4))
    assert (predicted(reading), reading["fits"]) == (("4 mg", "8 mg"), True)
    assert codes(result_of(*entries, read("09:30", "3 mg", 4, 4))) == [("totals-below-predicted", 5)]


def test_a_dose_that_ran_at_the_reading_may_be_shown_by_the_next_one_across_a_clearing() -> None:
    """A dose is counted when it begins: 0.6 mg of the fifth are shown after the totals were cleared."""
    step = {"display_step_amount": "0.1 mg"}
    entries = [
        *set_up(),
        entry("cleared", "09:30", totals=totals("4.4 mg", 5, 5), after=totals("0 mg", 0, 0)),
        read("10:30", "1.6 mg", 1, 1),
    ]
    result = result_of(*entries, policy=step)
    assert codes(result) == [("totals-below-predicted", 4)]
    assert exact(result["readings"][-1]["tolerance"]) == "0.65 mg"
    assert result["readings"][-1]["fits"]


def test_no_more_than_one_dose_is_in_arrears() -> None:
    step = {"display_step_amount": "0.1 mg"}
    reading = last_reading(*set_up(), read("09:30", "3 mg", 5, 5), read("10:30", "5 mg", 6, 6), policy=step)
    assert (exact(reading["tolerance"]), reading["fits"]) == ("1.1 mg", True)


def test_arrears_of_a_mass_are_a_volume_on_a_device_that_shows_volumes() -> None:
    """Of a dose of 1 mg at 2 mg/mL 0.3 mL of 0.5 mL are shown: 0.2 mL come later."""
    entries = [
        issued(amount="100 mg"),
        entry("loaded", "08:20", syringe="S1"),
        settings(concentration="2 mg/mL"),
        entry("started", "08:30"),
        entry("read", "09:30", totals=totals(None, 1, 1, volume="0.3 mL")),
        entry("read", "10:30", totals=totals(None, 2, 2, volume="1 mL")),
    ]
    reading = last_reading(*entries)
    assert (predicted(reading), exact(reading["tolerance"])) == (("0.8 mL", "0.8 mL"), "0.3 mL")


def test_a_wrong_strength_is_found_whenever_something_is_given_by_it() -> None:
    result = result_of(
        *set_up(concentration="2 mg/mL"),
        settings("09:00"),
        settings("09:10", concentration="5 mg/mL"),
        entry("bolus", "09:20", amount="1 mg", loading=False),
        entry("paused", "09:30"),
        settings("09:40", concentration="4 mg/mL"),
    )
    assert codes(result) == [("strength-set-differs", place) for place in (3, 5, 6)]
    assert [each["factor"]["exact"] for each in result["findings"]] == ["0.5", "0.2", "0.2"]


def test_a_clearing_needs_no_reading_where_nothing_can_have_been_counted() -> None:
    zero = totals("0 mg", 0, 0)
    assert codes(result_of(issued(), entry("cleared", "08:05", after=zero))) == []
    primed = [issued(), entry("loaded", "08:20", syringe="S1"), entry("primed", "08:22", volume="1 mL")]
    assert codes(result_of(*primed, entry("cleared", "08:30", after=zero))) == [("reading-missing", 3)]
    running = [*set_up(), entry("cleared", "09:00", totals=zero, after=zero)]
    assert codes(result_of(*running, entry("cleared", "09:30", after=zero))) == [("reading-missing", 5)]
    paused = [*running, entry("device", "09:30", totals=zero, after=zero)]
    assert codes(result_of(*paused, entry("cleared", "09:40", after=zero))) == []


def test_a_reading_that_is_not_made_without_a_syringe_on_uncounts_none() -> None:
    zero = totals("0 mg", 0, 0)
    result = result_of(
        *set_up(), entry("removed", "09:00", totals=zero, left="50 mL"), entry("cleared", "09:10", after=zero)
    )
    assert codes(result) == [("reading-missing", 5), ("in-hand", None)]
    assert finding(result, "reading-missing")["syringe"] is None
    assert result["syringes"][0]["counted_at"] == 4


def test_a_time_before_an_earlier_one_is_taken_as_that_one_s() -> None:
    result = result_of(
        *set_up(), read("09:30", "1 mg", 1, 1), entry("read", "09:10", totals=totals("1 mg", 1, 1))
    )
    assert codes(result) == [("time-disorder", 5)]
    assert exact(result["readings"][-1]["minutes"]) == "0 min"
    assert finding(result, "time-disorder")["says"].startswith("The time stated here is 20 min before")


def test_the_span_of_the_first_counts_of_a_series_is_their_interval() -> None:
    """The totals were cleared, and nobody read the counts after that."""
    result = result_of(
        *set_up(),
        entry("cleared", "09:00", totals=totals("0 mg", 0, 0), after=totals("0 mg")),
        read("09:30", "1 mg"),
        read("10:30", "2 mg", 3, 1),
    )
    reading = result["readings"][-1]
    assert (reading["since"], reading["rise"]["presses"], reading["rise"]["doses"]) == (5, None, None)
    assert predicted(reading) == ("1 mg", "9 mg")
    assert codes(result) == []
