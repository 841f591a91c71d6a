from datetime import UTC, date, datetime
from fractions import Fraction

import pytest

from app.records.change_events import DoseLowered, PatientTaken
from app.records.events import StartedWithoutCheck
from app.records.independence import Grade
from app.review.between import BetweenChart, g_chart
from app.review.charts import Chart, Subgroup, TooFewEvents, TooFewPoints, TooSmall, c_chart, side_by_side
from app.review.durations import Spread, spread
from app.review.signals import Signal
from app.review.single import SinglesChart, singles_chart
from app.words import trends as words


def chart(counts: list[int]) -> Chart:
    made = c_chart((f"2031-{month:02d}", count) for month, count in enumerate(counts, 1))
    assert isinstance(made, Chart)
    return made


def test_every_rule_and_every_cause_has_words() -> None:
    assert set(words.SIGNALS) == set(Signal)
    assert set(words.DUE_AFTER) == {StartedWithoutCheck.kind, DoseLowered.kind, PatientTaken.kind}


def test_a_rate_says_of_what_and_between_what() -> None:
    # Paul and others, Anesthesiology 2010;113:1427-32: 62 errors of 25,198 patients, 1.89 to 3.15 in 1,000.
    says = words.rate_words(62, 25198, "errors", "patients")

    assert says == "Errors: 62 in 25198 patients, 0.2 per 100 patients (0.2 to 0.3)."
    assert words.share_words(1, 29) == "1 of 29: 3 % (1 to 17)"
    assert (words.per_100(Fraction(1, 10)), words.per_100(Fraction(1, 7))) == ("10", "14.3")


def test_what_is_out_of_control_is_named_with_its_rule() -> None:
    calm, out = chart([16] * 9), chart([16, 15, 21] * 3 + [45])

    assert words.chart_words(calm) == "Nothing is out of control."
    assert words.chart_words(out) == "Out of control: 2031-10 (above the upper limit)."
    assert words.signal_words(out.points[-1]) == "above the upper limit"
    assert words.signal_words(out.points[0]) == ""
    assert words.limit_words(calm.points[0]) == "400 to 2800"
    assert words.limit_words(chart([1] * 9).points[0]) == "0 to 500, exact"


def test_what_is_out_by_one_rule_is_named_together_and_not_endlessly() -> None:
    says = words.chart_words(chart([10] * 40 + [30] * 40))

    assert says.count("the eighth or a later one in a row on one side of the middle") == 1
    assert "2031-08, 2031-09, 2031-10, 2031-11, 2031-12, 2031-13 and " in says
    assert " more (" in says


def test_devices_are_judged_only_where_there_is_enough_of_them() -> None:
    found = side_by_side([Subgroup(name=str(each), count=1, size=Fraction(20)) for each in range(9)])
    few = words.devices_words(TooFewPoints(points=3), few=2, least=8, of=5, shown=50)
    many = words.devices_words(found, few=0, least=8, of=60, shown=50)
    without = words.devices_words(TooFewEvents(events=2), few=0, least=8, of=9, shown=50)

    assert few == (
        "Too few to judge: 3 devices to go by, and a chart needs 8. Devices with fewer than 8 infusions, "
        "which are not judged: 2."
    )
    assert many == "Nothing is out of control. The first 50 of 60 are shown."
    assert without == "Too few to judge: 2 in all, and limits need 5."


def test_differences_are_told_with_their_sign_and_limits() -> None:
    found = singles_chart([(str(place), Fraction(place % 2, 5)) for place in range(10)])
    assert isinstance(found, SinglesChart)
    sign = "\N{MINUS SIGN}"

    assert words.singles_words(found) == (
        f"The last 10: in the middle +0.1 mL, limits {sign}0.4 mL to +0.6 mL. Nothing is out of control."
    )
    assert words.day_words(datetime(2031, 5, 2, tzinfo=UTC)) == "2031-05-02"


def test_how_many_lie_between_and_which_gap_is_out() -> None:
    made = g_chart([(f"2031-05-{day:02d}", gap) for day, gap in enumerate([3, 15] * 8 + [200], 1)])
    assert isinstance(made, BetweenChart)

    says = words.between_words(made, "checks without one")
    assert says.startswith("In the middle 14 checks without one lie between two.")
    assert says.endswith("Out of control: 2031-05-17 (above the upper limit).")


def test_too_little_to_judge_says_how_much_is_needed() -> None:
    assert words.too_few_words(TooFewPoints(points=3)) == (
        "Too few to judge: 3 to go by, and a chart needs 8."
    )
    assert "neither all nor none" in words.too_few_words(TooSmall())
    assert words.too_few_words(TooFewEvents(events=2)) == "Too few to judge: 2 in all, and limits need 5."


def test_durations_are_said_in_whole_minutes() -> None:
    found = spread([60 * each for each in (2, 4, 6, 8, 10)])
    assert isinstance(found, Spread)

    assert words.spread_words(found) == "half within 6 min, nine of ten within 9 min"
    assert words.took_words(Fraction(20)) == "a minute"


def test_of_few_durations_nothing_is_said_but_how_many() -> None:
    found = spread([600] * 10)
    assert isinstance(found, Spread)

    assert words.times_words([("Set-up", found)], ["Transfer"]) == (
        "Set-up: half within 10 min, nine of ten within 10 min. Too few to say, under 10: Transfer."
    )
    assert words.times_words([], []) == "Nothing came so far in this time."


def test_how_independent_readings_were_is_told_from_the_best_grade_down() -> None:
    codes = [each.code for each in Grade]

    assert sorted(codes, key=words.grade_place) == codes
    assert words.grade_place("") == len(codes)
    assert words.independence_trend_words(1, 2, 29) == (
        "Two screens, overlapping in time, the best grade: 1 of 29: 3 % (1 to 17). "
        "Somebody had looked at earlier values of the infusion before: 2 of 29: 7 % (2 to 22)."
    )


def test_a_share_is_never_more_than_all() -> None:
    said = words.share_of_words(19, 19, "accounts that did not add up", "infusions")

    assert said == "Accounts that did not add up: 19 of 19 infusions, 100 % (83 to 100)."
    assert words.on_device_words("SN7") == ", on device SN7"
    assert words.on_device_words("") == ""


def test_the_few_that_make_most_are_named() -> None:
    assert words.most_words([("Label", 7), ("Device", 2), ("Order", 1)]) == (
        "Most of 10: Label (7) and Device (2)."
    )
    assert words.most_words([("Label", 1)]) == "Most of 1: Label (1)."


def test_differences_are_summed_by_their_sign() -> None:
    amounts = [(Fraction(-3, 10), 2), (Fraction(1, 7), 7), (Fraction(2), 1), (Fraction(0), 9)]

    assert words.differences_words(amounts) == "\N{MINUS SIGN}0.6 mL and +3 mL"


def test_a_caution_that_is_always_acknowledged_is_a_finding_about_its_rule() -> None:
    assert "finding about its rule" in words.always_words(["Patient at risk"])
    assert "No caution" in words.always_words([])


def test_what_is_due_is_a_share_or_nothing() -> None:
    assert words.due_words(0, 0) == "Nothing became due in this time."
    assert words.due_words(29, 1).startswith("Had in time: 1 of 29: 3 %")


@pytest.mark.parametrize("grade", list(Grade))
def test_each_grade_is_told_as_people_are_told_it(grade: Grade) -> None:
    assert "device" not in words.grade_words(grade.code)
    assert words.grade_words(grade.code) != "Not graded"


def test_a_month_sorts_and_a_check_without_a_grade_says_so() -> None:
    assert words.month_words(date(2031, 5, 1)) == "2031-05"
    assert words.grade_words("") == "Not graded"
