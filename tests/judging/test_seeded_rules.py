"""The rules that come with the program are of one piece: no number of theirs contradicts another."""

import json
import re
from fractions import Fraction
from typing import Any

import pytest

from app.comparison.fields import LIBRARY_MEASURES
from app.config import root
from app.quantities import Dimension, Quantity, parse_quantity
from app.records.steps import DEDICATED_LINE, WITH_CARRIER, plan_from


def seeded(name: str) -> dict[str, Any]:
    content: dict[str, Any] = json.loads((root() / "seed_data" / f"{name}.json").read_text(encoding="utf-8"))
    return content


DRUGS = seeded("library")["drugs"]
SETS = seeded("packs")["packs"]
POLICY = seeded("policy")
STEPS = seeded("safety_steps")
BOUNDS = ("hard_low", "soft_low", "soft_high", "hard_high")
EVERY_DRUG = pytest.mark.parametrize("drug", DRUGS)


def value(text: str, dimension: Dimension) -> Fraction:
    """In the base unit of its dimension."""
    read = parse_quantity(text, dimension, zero_allowed=True)
    assert isinstance(read, Quantity), text
    return read.value


def rows(drug: str, field: str) -> list[dict[str, str]]:
    return [each for each in DRUGS[drug]["limits"] if each["field"] == field]


def bound(drug: str, field: str, which: str) -> Fraction:
    (row,) = rows(drug, field)
    return value(row[which], LIBRARY_MEASURES[field].dimension)


# ---------------------------------------------------------------------------------------------------------
# The drug library


@EVERY_DRUG
def test_every_drug_has_bounds_for_everything_that_a_library_bounds(drug: str) -> None:
    assert [each for each in LIBRARY_MEASURES if not rows(drug, each)] == []


@EVERY_DRUG
def test_the_bounds_of_a_field_are_in_their_order(drug: str) -> None:
    for row in DRUGS[drug]["limits"]:
        measured = LIBRARY_MEASURES[row["field"]].dimension
        found = [value(row[each], measured) for each in BOUNDS if each in row]
        assert found == sorted(found), row


@EVERY_DRUG
@pytest.mark.parametrize("which", ["soft_high", "hard_high"])
def test_four_hours_take_no_less_than_one_and_no_more_than_four(drug: str, which: str) -> None:
    hour, four = (bound(drug, each, which) for each in ("amount_per_hour", "amount_per_4_hours"))

    assert hour <= four <= 4 * hour


@EVERY_DRUG
def test_a_loading_dose_is_one_step_of_a_titration_and_not_its_total(drug: str) -> None:
    largest = bound(drug, "demand_dose", "hard_high")

    # A step is as large as a large demand, and never more than two of them.
    assert bound(drug, "loading_dose", "soft_high") <= largest
    assert bound(drug, "loading_dose", "hard_high") <= 2 * largest


@EVERY_DRUG
@pytest.mark.parametrize("which", ["soft_high", "hard_high"])
def test_the_first_hour_is_an_hour_and_one_step(drug: str, which: str) -> None:
    parts = (bound(drug, each, which) for each in ("amount_per_hour", "loading_dose"))

    assert bound(drug, "first_hour_with_loading", which) == sum(parts)


# ---------------------------------------------------------------------------------------------------------
# Line sets


def length(pack: dict[str, str]) -> int:
    (found,) = re.findall(r"([0-9]+) cm set", pack["words"])
    return int(found)


def test_a_longer_set_has_no_smaller_prime() -> None:
    for joined in ("joins the carrier", "line of its own"):
        alike = sorted((each for each in SETS if joined in each["words"]), key=length)
        volumes = [value(each["prime_volume"], Dimension.VOLUME) for each in alike]
        assert alike
        assert volumes == sorted(volumes)


def test_what_is_beyond_the_junction_is_less_than_the_whole_set() -> None:
    for each in SETS:
        dead, prime = (value(each[name], Dimension.VOLUME) for name in ("dead_volume", "prime_volume"))
        assert dead < prime, each["key"]


# ---------------------------------------------------------------------------------------------------------
# Safety steps


@pytest.mark.parametrize(
    ("plan", "opened"), [(WITH_CARRIER, "clamp-opened"), (DEDICATED_LINE, "clamp-opened-own-line")]
)
def test_the_line_is_traced_and_that_is_verified_before_the_clamp_is_opened(plan: str, opened: str) -> None:
    steps = plan_from(STEPS, plan).steps
    group = {step.id: step.group for step in steps}

    # A group opens once all of the one before is verified.
    assert group["traced"] < group[opened]
    says_open = [step.id for step in steps if re.search(r"clamp is open", f"{step.do} {step.verify}")]
    assert says_open == [opened]


def test_the_line_is_clamped_before_it_is_joined_to_the_patient() -> None:
    for plan in (WITH_CARRIER, DEDICATED_LINE):
        order = [step.id for step in plan_from(STEPS, plan).steps]
        (connected,) = (each for each in order if each.startswith("connected"))
        assert order.index("drug-line-clamped") < order.index(connected) < order.index("traced")


# ---------------------------------------------------------------------------------------------------------
# Where the values come from


def test_every_value_says_where_it_comes_from() -> None:
    strengths = [each for drug in DRUGS.values() for each in drug["concentrations"]]
    limits = [each for drug in DRUGS.values() for each in drug["limits"]]

    for each in (*strengths, *limits, *SETS, *STEPS["steps"], *POLICY["units"].values()):
        assert each["source"].strip(), each
    in_policy = {*POLICY, *POLICY["engine"], *POLICY["account"]} - {
        "format",
        "version",
        "site",
        "zone",
        "invented",
        "caution",
        "engine",
        "account",
        "units",
        "sources",
    }
    assert {name for name, source in POLICY["sources"].items() if source.strip()} == in_policy
