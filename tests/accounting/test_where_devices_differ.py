"""Devices in volumes, several limits, what a device's totals count, and what is kept as evidence."""

from typing import Any

import pytest

from tests.accounting.builders import (
    ABSENT,
    account,
    codes,
    entry,
    error_of,
    exact,
    finding,
    issued,
    result_of,
    set_up,
    settings,
    totals,
)

IN_VOLUMES: dict[str, object] = {"concentration": ABSENT, "demand_dose": "0.5 mL"}


def of_two_mg_in_a_ml(**keys: object) -> list[dict[str, Any]]:
    return [
        issued(amount="100 mg"),
        entry("loaded", "08:20", syringe="S1"),
        settings(**{**IN_VOLUMES, **keys}),
        entry("started", "08:30"),
    ]


def read(time: str, *counts: int, left: str | None = None, **shown: str) -> dict[str, Any]:
    given = totals(shown.get("amount"), *counts, volume=shown.get("volume"))
    return entry("read", time, totals=given, left=left)


def test_a_device_in_volumes_is_set_to_what_is_in_the_syringe() -> None:
    result = result_of(*of_two_mg_in_a_ml(), read("09:30", 4, 4, volume="2 mL", left="48 mL"))
    assert codes(result) == []
    (reading,) = result["readings"]
    assert exact(reading["predicted"]["most"]) == "2 mL"
    assert exact(result["syringes"][0]["amount"]["delivered_by_device"]) == "4 mg"
    assert exact(result["forecast"]["at_full_use"]["minutes"]) == "768 min"


def test_a_device_in_volumes_gives_the_same_figures_as_one_in_masses_with_the_right_strength() -> None:
    limits = [{"amount": "3 mL", "window": "4 h"}, {"amount": "1 mL", "window": "1 h"}]
    volumes = {"mode": "demand-and-continuous", "limit": limits, "continuous_rate": "0.25 mL/h"}
    masses = {
        "concentration": "2 mg/mL",
        "mode": "demand-and-continuous",
        "limit": [{"amount": "6 mg", "window": "4 h"}, {"amount": "2 mg", "window": "1 h"}],
        "continuous_rate": "0.5 mg/h",
    }
    entries = [read("16:30", 9, 7, volume="6.5 mL", left="43.5 mL")]
    in_volumes = result_of(
        *of_two_mg_in_a_ml(**volumes), entry("bolus", "08:40", amount="1 mL", loading=True), *entries
    )
    in_masses = result_of(
        *of_two_mg_in_a_ml(**{**masses, "demand_dose": "1 mg"}),
        entry("bolus", "08:40", amount="2 mg", loading=True),
        *entries,
    )
    assert in_volumes == in_masses
    assert codes(in_volumes) == []


def test_a_device_in_volumes_has_the_strength_of_whatever_syringe_is_on() -> None:
    """Set before a syringe was on, it gives 2 mg/mL of the first and 1 mg/mL of the second."""
    result = result_of(
        settings("08:00", **IN_VOLUMES),
        issued(amount="100 mg"),
        entry("loaded", "08:20", syringe="S1"),
        entry("started", "08:30"),
        entry("removed", "09:30", totals=totals(None, 4, 4, volume="2 mL"), left="48 mL"),
        issued("09:35", "S2"),
        entry("loaded", "09:40", syringe="S2"),
        entry("started", "09:45"),
        read("10:45", 8, 8, volume="4 mL", left="48 mL"),
    )
    assert codes(result) == [("in-hand", None)]
    amounts = [exact(each["amount"]["delivered_by_device"]) for each in result["syringes"]]
    assert amounts == ["4 mg", "2 mg"]


def test_a_device_in_volumes_without_a_syringe_gives_nothing_that_can_be_predicted() -> None:
    result = result_of(
        settings("08:00", **IN_VOLUMES),
        read("08:10", 0, 0, volume="0 mL"),
        read("08:20", 0, 0, volume="0 mL"),
    )
    assert (result["readings"][-1]["predicted"], result["readings"][-1]["possible_doses"]) == (None, 0)


@pytest.mark.parametrize(
    ("keys", "path", "code"),
    [
        # The first dose that is given decides, and without a volume a concentration is needed.
        ({"concentration": ABSENT}, "concentration", "missing-key"),
        ({"concentration": None}, "concentration", "wrong-type"),
        ({"concentration": ABSENT, "demand_dose": ABSENT, "mode": "continuous"},
         "concentration", "missing-key"),
        ({"concentration": ABSENT, "demand_dose": 1}, "concentration", "missing-key"),
        ({**IN_VOLUMES, "continuous_rate": "1 mg/h"}, "continuous_rate", "mixed-units"),
        ({**IN_VOLUMES, "limit": {"amount": "1 mg", "window": "1 h"}}, "limit.amount", "mixed-units"),
        ({**IN_VOLUMES, "demand_dose": "0.50 mL"}, "demand_dose", "trailing-zero"),
        ({**IN_VOLUMES, "continuous_rate": "1 mL"}, "continuous_rate", "wrong-dimension"),
        ({"demand_dose": "0.5 mL"}, "demand_dose", "mixed-units"),
        ({"demand_dose": "0.5 min"}, "demand_dose", "wrong-dimension"),
        ({"continuous_rate": "0.5 mL/h"}, "continuous_rate", "mixed-units"),
        ({"limit": {"amount": "1 mL", "window": "1 h"}}, "limit.amount", "mixed-units"),
        ({"limit": []}, "limit", "wrong-count"),
        ({"limit": [{"amount": "1 mg", "window": f"{hours} h"} for hours in (1, 2, 3, 4)]},
         "limit", "wrong-count"),
        ({"limit": [{"amount": "1 mg", "window": "1 h"}, {"amount": "2 mg", "window": "60 min"}]},
         "limit[1].window", "same-window"),
        ({"limit": [{"amount": "1 mg", "window": "1 h"}, {"amount": "2 mg"}]},
         "limit[1].window", "missing-key"),
        ({"limit": ["1 mg"]}, "limit[0]", "wrong-type"),
        ({"limit": "1 mg"}, "limit", "wrong-type"),
        ({"limit": {"amount": None, "window": "1 h"}}, "limit.amount", "wrong-type"),
        ({"totals_count_bolus": 1}, "totals_count_bolus", "wrong-type"),
    ],
)  # fmt: skip
def test_settings_that_are_refused(keys: dict[str, Any], path: str, code: str) -> None:
    assert error_of(account(settings("08:00", **keys))) == (f"entries[0].{path}", code)


@pytest.mark.parametrize(
    "keys",
    [
        {**IN_VOLUMES, "concentration": None},
        # What the mode does not use is read, and may decide.
        {"concentration": ABSENT, "mode": "continuous", "demand_dose": "1 mL", "continuous_rate": "0 mL/h"},
        {**IN_VOLUMES, "demand_dose": ABSENT, "mode": "continuous", "continuous_rate": "1 mL/min"},
        {"mode": "continuous", "demand_dose": None, "lockout": None, "continuous_rate": "0 mg/h"},
        {"limit": [{"amount": "1 mg", "window": "1 h"}]},
    ],
)
def test_settings_that_are_read(keys: dict[str, Any]) -> None:
    assert codes(result_of(settings("08:00", **keys))) == []


def test_a_limit_alone_can_say_that_a_device_is_in_volumes() -> None:
    limit = [{"amount": "1 mL", "window": "1 h"}]
    keys = {"concentration": ABSENT, "demand_dose": ABSENT, "mode": "continuous", "limit": limit}
    case = account(settings("08:00", **keys))
    assert error_of(case) == ("entries[0].continuous_rate", "missing-key")


def test_a_bolus_is_of_the_kind_that_is_set() -> None:
    volumes = [*of_two_mg_in_a_ml(), entry("bolus", "08:40", amount="1 mg", loading=True)]
    assert error_of(account(*volumes)) == ("entries[4].amount", "mixed-units")
    masses = [*set_up(), entry("bolus", "08:40", amount="1 mL", loading=True)]
    assert error_of(account(*masses)) == ("entries[4].amount", "wrong-dimension")


@pytest.mark.parametrize(("time", "found"), [("12:29", [("doses-above-possible", 4)]), ("12:30", [])])
def test_several_limits_hold_at_once(time: str, found: list[tuple[str, int]]) -> None:
    """By the hour two, by four hours five: at 0, 10, 60, 70 and 120 min, and the sixth at 240 min."""
    limits = [{"amount": "5 mg", "window": "4 h"}, {"amount": "2 mg", "window": "1 h"}]
    entries = [*set_up(limit=limits, lockout="10 min"), read(time, 9, 6, amount="6 mg")]
    assert codes(result_of(*entries, policy={"time_accuracy": "0 min"})) == found


def test_what_a_device_counts_stands_in_its_settings_and_holds_from_its_beginning() -> None:
    """Primed before anybody set it: the totals of this device count the 2 mL."""
    entries = [
        issued(),
        entry("loaded", "08:20", syringe="S1"),
        entry("primed", "08:22", volume="2 mL"),
        settings(totals_count_prime=True),
        entry("started", "08:30"),
        read("09:30", 4, 4, amount="6 mg", left="44 mL"),
    ]
    result = result_of(*entries)
    assert codes(result) == []
    assert exact(result["syringes"][0]["volume"]["delivered_by_device"]) == "4 mL"
    del entries[3]["totals_count_prime"]
    assert codes(result_of(*entries)) == [("totals-above-predicted", 5)]
    assert codes(result_of(*entries, policy={"totals_count_prime": True})) == []


def test_later_settings_of_a_device_may_count_otherwise_and_else_count_as_before() -> None:
    def with_boluses(**later: bool) -> list[dict[str, Any]]:
        return [
            *set_up(totals_count_bolus=False),
            entry("bolus", "08:40", amount="2 mg", loading=False),
            settings("08:50", **later),
            entry("bolus", "08:55", amount="2 mg", loading=False),
            read("09:30", 4, 4, amount="4 mg", left="42 mL"),
        ]

    assert codes(result_of(*with_boluses())) == []
    assert codes(result_of(*with_boluses(totals_count_bolus=True))) == [("totals-below-predicted", 7)]


def test_another_device_counts_as_its_own_entries_say_or_as_the_policy_does() -> None:
    def with_device(**keys: bool) -> list[dict[str, Any]]:
        return [
            *set_up(totals_count_bolus=False, doses_count_bolus=True),
            entry("device", "08:40", totals=totals("0 mg", 0, 0), after=totals("0 mg", 0, 0), **keys),
            settings("08:45"),
            entry("started", "08:50"),
            entry("bolus", "08:55", amount="2 mg", loading=False),
            read("09:50", 1, 1, amount="1 mg"),
        ]

    assert codes(result_of(*with_device())) == [("totals-below-predicted", 8)]
    assert codes(result_of(*with_device(totals_count_bolus=False))) == []
    doses = with_device(totals_count_bolus=False, doses_count_bolus=True)
    assert codes(result_of(*doses)) == [("totals-above-predicted", 8)]


def kept(time: str = "09:40", *, received: bool = True, **keys: object) -> dict[str, Any]:
    return entry(
        "kept", time, **{"syringe": "S1", "volume": "46 mL", "seal": "A 17", "received": received, **keys}
    )


def test_what_is_kept_as_evidence_has_a_place_of_its_own_and_is_explained_after_the_end() -> None:
    entries = [
        *set_up(),
        entry("removed", "09:30", totals=totals("4 mg", 4, 4), left="46 mL"),
        kept(),
        entry("end", "10:00"),
    ]
    result = result_of(*entries)
    assert (codes(result), result["verdict"]) == ([], "agreed")
    for part in (result["syringes"][0], result["infusion"]):
        assert list(part["volume"])[6:] == ["returned", "kept", "left", "difference"]
        assert (exact(part["volume"]["kept"]), exact(part["amount"]["kept"])) == ("46 mL", "46 mg")
        assert exact(part["volume"]["difference"]) == "0 mL"
    assert exact(result["syringes"][0]["in_hand"]["budget"]["reading"]) == "1 mL"


def test_without_anything_kept_the_place_is_not_there() -> None:
    assert "kept" not in result_of(*set_up())["infusion"]["volume"]


def test_what_is_kept_and_nobody_signed_for() -> None:
    result = result_of(issued(), kept(received=False))
    assert codes(result) == [("not-received", 1)]
    assert finding(result, "not-received")["says"] == "46 mL is kept under seal, and nobody signed for it."


def test_more_kept_than_was_left() -> None:
    result = result_of(issued(), kept(volume="53 mL"))
    assert codes(result) == [("more-than-left", 1)]


@pytest.mark.parametrize(
    ("keys", "path", "code"),
    [
        ({"syringe": "S2"}, ".syringe", "unknown-syringe"),
        ({"seal": " "}, ".seal", "missing-key"),
        ({"seal": None}, ".seal", "wrong-type"),
        ({"volume": "0 mL"}, ".volume", "not-positive"),
        ({"received": None}, ".received", "wrong-type"),
        ({"witnessed": True}, ".witnessed", "unknown-key"),
        ({}, "", "out-of-place"),
    ],
)
def test_kept_that_is_refused(keys: dict[str, Any], path: str, code: str) -> None:
    """The last: of the syringe now on."""
    assert error_of(account(*set_up(), kept(**keys))) == (f"entries[4]{path}", code)
