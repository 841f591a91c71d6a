"""What is no account: every code, wherever it can be met, and which of two comes first."""

from typing import Any

import pytest

from tests.accounting.builders import (
    ABSENT,
    account,
    codes,
    entry,
    error_of,
    issued,
    put_at,
    result_of,
    set_up,
    settings,
)

CASE = account(
    *set_up(),
    entry(
        "read", "09:00", totals={"amount": "1 mg", "volume": "1 mL", "presses": 1, "doses": 1}, left="49 mL"
    ),
    entry("bolus", "09:10", amount="1 mg", loading=False),
    entry("cleared", "09:20", totals={"amount": "2 mg"}, after={"amount": "0 mg"}),
    entry("removed", "09:30", totals={"amount": "0 mg"}, left="48 mL"),
    entry("wasted", "09:40", syringe="S1", volume="1 mL", witnessed=True),
    entry("returned", "09:50", syringe="S1", volume="1 mL", received=True),
    policy={},
    now="10:00",
)


def test_the_case_itself_is_read() -> None:
    assert codes(result_of(*CASE["entries"])) == [("in-hand", None)]


@pytest.mark.parametrize(
    ("path", "value", "code"),
    [
        ("format", ABSENT, "missing-key"),
        ("format", None, "wrong-type"),
        ("policy", [], "wrong-type"),
        ("entries", None, "wrong-type"),
        ("entries", {}, "wrong-type"),
        ("entries[1]", None, "wrong-type"),
        ("entries[1].kind", None, "wrong-type"),
        ("entries[1].kind", "opened", "unknown-value"),
        ("entries[1].at", ABSENT, "missing-key"),
        ("entries[1].at", 8, "wrong-type"),
        ("entries[1].at", "2031-05-02T08:20", "bad-time"),
        ("entries[1].at", "3000-05-02T08:20Z", "bad-time"),
        ("entries[1].at", "2031-02-29T08:20Z", "bad-time"),
        ("entries[1].at", "2031-05-02T08:20-14:01", "bad-time"),
        ("entries[1].syringe", ABSENT, "missing-key"),
        ("entries[1].syringe", 1, "wrong-type"),
        ("entries[1].syringe", "\u2003", "missing-key"),
        ("entries[0].volume", None, "wrong-type"),
        ("entries[0].size", "1 mg", "wrong-dimension"),
        ("entries[2].mode", ABSENT, "missing-key"),
        ("entries[2].mode", "bolus", "unknown-value"),
        ("entries[2].limit", ABSENT, "missing-key"),
        ("entries[2].lockout", None, "wrong-type"),
        ("entries[2].lockout", "25 h", "out-of-range"),
        ("entries[4].totals.presses", True, "wrong-type"),
        ("entries[4].totals.presses", 1_000_000, "out-of-range"),
        ("entries[4].totals.presses", 10**30, "out-of-range"),
        ("entries[4].totals", [], "wrong-type"),
        ("entries[5].loading", ABSENT, "missing-key"),
        ("entries[5].loading", 0, "wrong-type"),
        ("entries[5].amount", "0 mg", "not-positive"),
        ("entries[6].after", ABSENT, "missing-key"),
        ("entries[8].witnessed", ABSENT, "missing-key"),
        ("entries[9].received", None, "wrong-type"),
        ("now", "2031-05-02", "bad-time"),
    ],
)
def test_refused_where_it_stands(path: str, value: object, code: str) -> None:
    assert error_of(put_at(CASE, path, value)) == (path, code)


@pytest.mark.parametrize(
    ("key", "value", "code"),
    [
        ("device_accuracy", "100.5 %", "out-of-range"),
        ("fill_accuracy", "101 %", "out-of-range"),
        ("prime_accuracy", "101 %", "out-of-range"),
        ("scale_division", "-1 mL", "not-a-number"),
        ("display_step_amount", "1 mL", "wrong-dimension"),
        ("display_step_volume", "1 mg", "wrong-dimension"),
        ("time_accuracy", "61 min", "out-of-range"),
        ("decide_by", 1, "wrong-type"),
        ("at_least", "1", "missing-unit"),
        ("totals_count_bolus", "yes", "wrong-type"),
        ("doses_count_bolus", 1, "wrong-type"),
        ("limit_counts_continuous", "no", "wrong-type"),
        ("presses_per_dose", 1_000_000, "out-of-range"),
        ("lead_time", "721 h", "out-of-range"),
        ("ask_at_full_use", 0, "wrong-type"),
        ("limit_counts_loading", True, "unknown-key"),
    ],
)
def test_refused_in_the_policy(key: str, value: object, code: str) -> None:
    assert error_of(put_at(CASE, "policy", {key: value})) == (f"policy.{key}", code)


ZEROS = {
    "device_accuracy": "0 %",
    "fill_accuracy": "100 %",
    "prime_accuracy": None,
    "scale_division": "0 L",
    "display_step_amount": "0 mcg",
    "display_step_volume": "0 mL",
    "time_accuracy": "0 s",
    "decide_by": None,
    "at_least": "0 mL",
    "presses_per_dose": 999_999,
    "lead_time": "720 h",
}


def test_bounds_zeros_and_nulls_of_the_policy_are_read() -> None:
    assert result_of(issued(), policy=ZEROS)["verdict"] == "agreed"


@pytest.mark.parametrize(
    ("value", "path", "code"),
    [
        # The kind before unknown keys, unknown keys before known ones, `at` before the rest.
        ({"kind": "opened", "note": 1}, ".kind", "unknown-value"),
        ({"kind": "read", "note": 1, "at": 1}, ".note", "unknown-key"),
        ({"kind": "read", "at": "08:00", "totals": 1}, ".at", "bad-time"),
        ({"kind": "end", "at": "2031-05-02T08:00Z", "syringe": "S1"}, ".syringe", "unknown-key"),
        # Amount and volume before the counts, unknown keys before both.
        ({"kind": "read", "at": "2031-05-02T08:00Z", "totals": {"presses": -1}},
         ".totals.amount", "missing-key"),
        ({"kind": "read", "at": "2031-05-02T08:00Z", "totals": {"x": -1}}, ".totals.x", "unknown-key"),
        ({"kind": "read", "at": "2031-05-02T08:00Z", "totals": {"volume": "1 ml"}, "left": 1},
         ".totals.volume", "unsafe-unit"),
    ],
)  # fmt: skip
def test_which_of_two_comes_first(value: dict[str, Any], path: str, code: str) -> None:
    assert error_of(account(value)) == (f"entries[0]{path}", code)


def test_the_label_s_own_order() -> None:
    """Read before it is compared: amount and concentration, then the size, then the volume above it."""
    both = issued(concentration="1 mg/mL", amount="50 mg", size="1 mL")
    assert error_of(account(both)) == ("entries[0].concentration", "out-of-place")
    neither = issued(concentration=None)
    assert error_of(account(neither)) == ("entries[0].amount", "missing-key")
    bad = issued(concentration="1 mg/ml", amount="50 mg")
    assert error_of(account(bad)) == ("entries[0].concentration", "unsafe-unit")
    small = issued(size="40 mL", drawn_up="yes")
    assert error_of(account(small)) == ("entries[0].volume", "out-of-range")
    assert codes(result_of(issued(concentration="50 mg/30 mL", amount=None, size="50 mL"))) == []


def test_all_shapes_are_looked_at_before_any_place() -> None:
    ended = [entry("end", "08:00"), entry("end", "08:10"), entry("end", "bad")]
    assert error_of(account(*ended)) == ("entries[2].at", "bad-time")
    assert error_of(account(*ended[:2])) == ("entries[1]", "out-of-place")


@pytest.mark.parametrize(
    ("entries", "code", "path"),
    [
        ([issued(), issued(syringe="\u2002s1")], "syringe-twice", "entries[1].syringe"),
        ([entry("loaded", "08:00", syringe="S1")], "unknown-syringe", "entries[0].syringe"),
        ([issued(), entry("end", "08:00"), issued(syringe="S2")], "out-of-place", "entries[2]"),
        ([*set_up(), entry("loaded", "08:40", syringe="S1")], "out-of-place", "entries[4]"),
        ([*set_up(), entry("end", "08:40")], "out-of-place", "entries[4]"),
        ([entry("primed", "08:00", volume="1 mL")], "out-of-place", "entries[0]"),
        ([settings("08:00"), entry("started", "08:10")], "out-of-place", "entries[1]"),
        (
            [settings("08:00"), entry("bolus", "08:10", amount="1 mg", loading=True)],
            "out-of-place",
            "entries[1]",
        ),
        ([entry("removed", "08:00")], "out-of-place", "entries[0]"),
        ([entry("read", "08:00", left="1 mL")], "out-of-place", "entries[0]"),
        ([*set_up()[:2], entry("started", "08:40")], "out-of-place", "entries[2]"),
        (
            [*set_up(), entry("device", "08:40", after={"amount": "0 mg"}), entry("started", "08:50")],
            "out-of-place",
            "entries[5]",
        ),
        (
            [*set_up(), entry("returned", "08:40", syringe="S1", volume="1 mL", received=True)],
            "out-of-place",
            "entries[4]",
        ),
        (
            [issued(), {**issued(syringe="S2"), "at": "2032-05-02T08:00:01+02:00"}],
            "out-of-range",
            "entries[1].at",
        ),
    ],
)
def test_what_cannot_stand_where_it_stands(entries: list[dict[str, Any]], code: str, path: str) -> None:
    assert error_of(account(*entries)) == (path, code)


def test_what_can_stand_anywhere() -> None:
    """A reading of totals, a pause, a clearing without a syringe; a waste of the syringe now on."""
    entries = [
        entry("paused", "08:00"),
        entry("read", "08:00"),
        entry("read", "08:00", totals={"amount": "0 mg"}),
        entry("cleared", "08:00", after={"amount": "0 mg"}),
        *set_up(),
        entry("wasted", "08:40", syringe="S1", volume="1 mL", witnessed=True),
    ]
    assert codes(result_of(*entries)) == []


@pytest.mark.parametrize(
    ("now", "is_read"),
    [
        ("2031-05-02T08:09:59+02:00", False),
        ("2031-05-02T08:10+02:00", True),
        # 366 days after the first entry; 2032 is a leap year.
        ("2032-05-02T08:00+02:00", True),
        ("2032-05-02T08:00:00.000000000001+02:00", False),
    ],
)
def test_now_is_at_or_after_every_entry(now: str, is_read: bool) -> None:  # noqa: FBT001  # a row
    case = account(issued("08:00"), issued("08:10", "S2"), issued("08:05", "S3"))
    case["now"] = now
    if is_read:
        assert result_of(*case["entries"])["verdict"] == "stopped"
    else:
        assert error_of(case) == ("now", "out-of-range")


def test_the_last_entry_may_be_366_days_after_the_first() -> None:
    late = {**issued(syringe="S2"), "at": "2032-05-02T08:00:00.0+02:00"}
    assert codes(result_of(issued(), late)) == []
