"""What the engine says, and how it writes figures that `evaluate` has not: negative ones and roots."""

import json
import re
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.accounting import balance
from app.accounting.findings import SEVERITIES
from app.accounting.writing import quantity, root
from app.quantities import Dimension, show_number
from tests.accounting.builders import EXAMPLES, entry, finding, read, result_of, set_up, totals
from tests.accounting.random_accounts import accounts
from tests.accounting.recounted import RECOUNTED
from tests.support.sampling import examples

FORBIDDEN = re.compile(
    r"steal|stole|theft|thieve|divert|diver[st]ion|suspect|suspic|missing|\bmiss|\bloss|\blost|\blose|\blosing"
    r"|tamper|falsif|blam",
    re.IGNORECASE,
)
SAID = [
    each
    for path in sorted(EXAMPLES.glob("*.case.json"))
    for each in balance(read(path.read_text())).as_json()["findings"]
]


@pytest.mark.parametrize("each", SAID, ids=range(len(SAID)))
def test_says_is_a_sentence_without_a_word_of_suspicion(each: dict[str, Any]) -> None:
    assert re.fullmatch(r"[A-Z0-9].*\.", each["says"])
    assert not FORBIDDEN.search(each["says"])
    assert each["says"].startswith("Recount together. ") == (each["code"] in RECOUNTED)
    # No sign stands before a figure: more and less are words.
    assert " -" not in each["says"]


def test_the_examples_find_every_code_but_one() -> None:
    """That one has its own test by hand."""
    assert SEVERITIES.keys() - {each["code"] for each in SAID} == {"presses-far-above-doses"}


@pytest.mark.no_cover
@settings(max_examples=examples(sample=50, whole=2000))
@given(accounts())
def test_nothing_that_is_ever_said_holds_such_a_word(case: dict[str, Any]) -> None:
    for each in balance(read(case)).as_json()["findings"]:
        assert not FORBIDDEN.search(each["says"])


@pytest.mark.parametrize(
    ("policy", "allowed"),
    [
        ({}, "2.48 mL"),
        ({"at_least": "4 mL"}, "4 mL"),
        ({"decide_by": "root-sum-square"}, "1.5 mL"),
        ({"decide_by": "root-sum-square", "at_least": "1.5 mL"}, "1.5 mL"),
        ({"decide_by": "root-sum-square", "at_least": "1.6 mL"}, "1.6 mL"),
    ],
)
def test_how_much_can_differ_is_what_decides(policy: dict[str, str], allowed: str) -> None:
    """12 mL given, 32 of 50 read: 0.6 device, 0.1 display, 1.28 graduation, 0.5 reading; root of 2.2584."""
    shown = {"totals": totals("12 mg", 12, 12), "left": "32 mL"}
    result = result_of(
        *set_up(), entry("read", "12:30", **shown), policy={"display_step_amount": "0.1 mg", **policy}
    )
    assert finding(result, "left-below-predicted")["says"] == (
        "Recount together. 6 mL more is gone from the syringe than the device gave by its totals;"
        f" {allowed} can come from how exactly all of this can be read."
    )


@pytest.mark.parametrize(
    ("value", "dimension", "exact", "shown"),
    [
        ("-0.6", Dimension.MASS, "-0.6", "-0.6 mg"),
        ("-0.05", Dimension.MASS, "-0.05", "-50 mcg"),
        ("-1/3", Dimension.VOLUME, "-1/3", "-0.333 mL"),
        ("-1234.5", Dimension.VOLUME, "-1234.5", "-1,234 mL"),
        ("0", Dimension.VOLUME, "0", "0 mL"),
    ],
)
def test_a_negative_figure_has_its_sign_before_its_magnitude(
    value: str, dimension: Dimension, exact: str, shown: str
) -> None:
    written = quantity(Fraction(value), dimension)
    assert written == {"exact": exact, "unit": dimension.value, "shown": shown}


@pytest.mark.parametrize(
    ("square", "shown"),
    [
        ("0", "0 mL"),
        ("1", "1 mL"),
        ("1.1125", "1.05 mL"),
        ("2", "1.41 mL"),
        ("1/3", "0.577 mL"),
        # Roots that end in a half: to the even one.
        ("1.177225", "1.08 mL"),
        ("1.155625", "1.08 mL"),
        ("0.000001", "0.001 mL"),
        ("0.00000144", "0.0012 mL"),
        ("999999", "1,000 mL"),
        ("998001", "999 mL"),
        ("99.95", "10 mL"),
        ("1234321", "1,111 mL"),
        ("152399025", "12,345 mL"),
    ],
)
def test_a_root_is_rounded_like_every_figure(square: str, shown: str) -> None:
    assert root(Fraction(square))["shown"] == shown


@pytest.mark.no_cover
@given(st.fractions(min_value=0, max_value=10**7, max_denominator=10**6))
def test_a_root_that_has_an_end_is_shown_as_that_number(value: Fraction) -> None:
    assert root(value * value)["shown"] == f"{show_number(value)} mL"


def test_a_result_is_json() -> None:
    case = read((EXAMPLES / "16-syringe-change.case.json").read_text())
    assert json.loads(json.dumps(balance(case).as_json())) == balance(case).as_json()
