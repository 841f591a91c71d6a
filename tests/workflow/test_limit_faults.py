"""What the limits of a drug library say across each other, each fault with its place, to the last word."""

from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest

from app.comparison.case import Bounds, ListedDrug
from app.records.rules import LIBRARY
from app.workflow.limit_faults import limit_faults
from app.workflow.rule_files import FILES


def row(field: str, **bounds: int | str) -> Bounds:
    given: dict[str, Any] = {name: Fraction(each) for name, each in bounds.items()}
    return Bounds(field=field, **given)


def row_of(field: str, *, tolerant: bool | None, hard_high: int) -> Bounds:
    return replace(row(field, hard_high=hard_high), tolerant=tolerant)


def faults(*rows: Bounds, names: tuple[str, ...] = ("morphine",)) -> list[tuple[str, str]]:
    listed = ListedDrug(
        concentrations={Fraction(1): "1 mg/mL"}, tolerant_only=frozenset(), limit_required=False, bounds=rows
    )
    found = [*limit_faults(names, {name.lower(): listed for name in names})]
    assert {each.file for each in found} <= {FILES[LIBRARY]}
    return [(each.path, each.why) for each in found]


def of(at: int | None, why: str) -> list[tuple[str, str]]:
    place = "drugs.morphine.limits"
    return [(place if at is None else f"{place}.{at}", why)]


def test_a_library_without_limits_says_nothing_across_them() -> None:
    assert faults() == []


# One row by itself.


def test_a_row_without_a_bound_is_named_and_those_after_it_are_still_looked_at() -> None:
    found = faults(
        row("demand_dose", hard_high=3), row("amount_per_hour"), row("lockout", hard_low=9, hard_high=8)
    )
    assert found == [
        *of(1, "amount per hour: no bound is set"),
        *of(2, "lockout: hard low lies above hard high"),
    ]


@pytest.mark.parametrize(
    ("lower", "higher"),
    [
        ("hard_low", "soft_low"),
        ("soft_low", "soft_high"),
        ("soft_high", "hard_high"),
        ("hard_low", "hard_high"),
    ],
)
def test_bounds_stand_by_their_height_and_may_be_the_same(lower: str, higher: str) -> None:
    assert faults(row("demand_dose", **{lower: 2, higher: 2})) == []
    says = f"demand dose: {lower} lies above {higher}".replace("_", " ")
    assert faults(row("demand_dose", **{lower: 3, higher: 2})) == of(0, says)


@pytest.mark.parametrize("bound", ["hard_low", "soft_low", "soft_high", "hard_high"])
def test_a_lockout_is_minutes_by_each_of_its_bounds(bound: str) -> None:
    says = "lockout: from 1 to 60 min is sensible"
    assert faults(row("lockout", **{bound: 1})) == faults(row("lockout", **{bound: 60})) == []
    assert faults(row("lockout", **{bound: "59/60"})) == of(0, says)
    assert faults(row("lockout", **{bound: "60.1"})) == of(0, says)
    # Of nothing else is that said.
    assert faults(row("demand_dose", **{bound: "60.1"})) == []


# Two rows of one field.


def test_one_field_is_bounded_once_for_the_same_patients() -> None:
    says = "demand dose: is bounded twice for the same patients"
    both = (row("demand_dose", hard_high=2), row_of("demand_dose", hard_high=2, tolerant=True))
    assert faults(*both) == []
    assert faults(*both, row("loading_dose", hard_high=2), row("demand_dose", hard_high=2)) == of(3, says)
    assert faults(*both, row_of("demand_dose", hard_high=2, tolerant=True)) == of(2, says)


# Across fields: at the bound, and just above it.

HOUR, FOUR, FIRST = "amount_per_hour", "amount_per_4_hours", "first_hour_with_loading"


def high(**highest: int | str) -> list[Bounds]:
    return [row(field, hard_high=most) for field, most in highest.items()]


@pytest.mark.parametrize(
    ("just", "above", "says"),
    [
        # Six demand doses in an hour at ten minutes.
        (
            {"demand_dose": 2, "lockout": 10, HOUR: 12},
            {"demand_dose": "2.01", "lockout": 10, HOUR: 12},
            "the highest demand dose after each longest lockout passes the highest amount per hour",
        ),
        (
            {"continuous_rate": 3, HOUR: 3},
            {"continuous_rate": "3.01", HOUR: 3},
            "the highest continuous rate passes the highest amount per hour",
        ),
        (
            {"continuous_rate": 3, FOUR: 12},
            {"continuous_rate": "3.01", FOUR: 12},
            "the highest continuous rate passes the highest amount per 4 hours",
        ),
        (
            {HOUR: 12, FOUR: 12},
            {HOUR: "12.01", FOUR: 12},
            "the highest amount per hour lies above that per 4 hours",
        ),
        (
            {HOUR: 3, FOUR: 12},
            {HOUR: 3, FOUR: "12.01"},
            "the highest amount per 4 hours lies above four times that per hour",
        ),
        (
            {"loading_dose": 5, "demand_dose": 2, "lockout": 10, FIRST: 17},
            {"loading_dose": 5, "demand_dose": 2, "lockout": 10, FIRST: "16.99"},
            "the highest loading dose, with demand doses, passes the first hour's",
        ),
        (
            {"loading_dose": 5, HOUR: 12, FIRST: 17},
            {"loading_dose": 5, HOUR: 12, FIRST: "17.01"},
            "that of the first hour lies above loading dose and amount per hour",
        ),
    ],
)
def test_what_the_hard_highs_come_to(just: dict[str, Any], above: dict[str, Any], says: str) -> None:
    assert faults(*high(**just)) == []
    assert faults(*high(**above)) == of(None, says)
    # What is not set is not asked, and a soft bound is none.
    for left_out in above:
        assert faults(*high(**{name: each for name, each in above.items() if name != left_out})) == []
    assert faults(*(row(field, soft_high=most) for field, most in above.items() if field != "lockout")) == []


def test_each_kind_of_patient_is_asked_for_itself_and_a_fault_of_both_is_said_once() -> None:
    says = "the highest continuous rate passes the highest amount per hour"
    hour = row(HOUR, hard_high=3)
    for tolerant in (False, True, None):
        assert faults(hour, row_of("continuous_rate", hard_high=4, tolerant=tolerant)) == of(None, says)
    # A rate for the tolerant beside an amount for the others.
    apart = row_of(HOUR, hard_high=3, tolerant=False), row_of("continuous_rate", hard_high=4, tolerant=True)
    assert faults(*apart) == []


def test_of_two_rows_for_a_patient_the_lower_counts_whichever_stands_first() -> None:
    says = "the highest continuous rate passes the highest amount per hour"
    rows = [row(HOUR, hard_high=5), row_of(HOUR, hard_high=3, tolerant=True)]
    for each in (rows, rows[::-1]):
        assert faults(*each, row("continuous_rate", hard_high=4)) == of(None, says)
        assert faults(*each, row("continuous_rate", hard_high=3)) == []


# Names of drugs.


@pytest.mark.parametrize(
    "other", ["Morphine", "mor-phine", "morphine ", "\N{FULLWIDTH LATIN SMALL LETTER M}orphine", "MORPHINE"]
)
def test_two_spellings_of_one_drug_are_named_and_it_is_looked_at_once(other: str) -> None:
    listed = ListedDrug(
        concentrations={}, tolerant_only=frozenset(), limit_required=False, bounds=(row("demand_dose"),)
    )
    found = [*limit_faults(("morphine", other), {"morphine": listed})]
    assert [(each.path, each.why) for each in found] == [
        ("drugs", f"morphine and {other} are two spellings of one drug"),
        *of(0, "demand dose: no bound is set"),
    ]


def test_drugs_of_other_letters_are_two() -> None:
    rows = (row("demand_dose"),)
    found = faults(*rows, names=("morphine", "morphine2"))
    assert [path for path, _ in found] == ["drugs.morphine.limits.0", "drugs.morphine2.limits.0"]
