# ruff: noqa: ANN401  # any JSON value
"""Published rules in words: a row a value, with whence it comes, and what differs between two sets."""

import copy
from collections.abc import Iterator
from typing import Any

import pytest

from app.words.rules import DOCUMENTS, RuleRow, rule_changes, rule_rows
from tests.factories.seeded import seeded

POLICY: dict[str, Any] = {
    "format": "countersign.policy/1",
    "version": "policy-1",
    "clearance_minutes": 15,
    "labels_are_scanned": False,
    "also_read": [],
    "witnesses": ["nurse", "pharmacist"],
    "baseline": {"scale": "0 to 3", "levels": [{"key": "0", "words": "0: awake"}]},
    "engine": {"pharmacist_required": True},
    "sources": {"clearance_minutes": "common practice, no source"},
    "units": {"recovery": {"pharmacist_required": False, "source": "common practice, no source"}},
}
LIBRARY: dict[str, Any] = {
    "drugs": {
        "morphine": {
            "concentrations": ["1 mg/mL", {"is": "5 mg/mL", "tolerant_only": True, "source": "a standard"}],
            "limit_required": True,
            "limits": [
                {"field": "demand_dose", "soft_low": "0.5 mg", "hard_high": "3 mg", "source": "a handbook"},
                {"field": "continuous_rate", "for": "tolerant", "soft_high": "2 mg/h"},
            ],
        },
        "fentaNYL": {"concentrations": [], "limit_required": False, "limits": []},
        "SUFentanil": {"concentrations": [], "limits": []},
    }
}
PACKS = {
    "packs": [
        {"words": "long set", "prime_volume": "2.4 mL", "dead_volume": "0.3 mL", "source": "the maker"}
    ],
    "invented": True,
}
STEPS = {
    "steps": [{"id": "trace", "group": 2, "do": "Trace the line", "verify": "It was traced", "source": "x"}]
}


def says(**published: dict[str, Any]) -> list[str]:
    named = {name.replace("_", "-"): content for name, content in published.items()}
    return [f"{each.head} | {each.says}" for each in rule_rows(named, {"recovery": "Recovery"})]


def test_a_policy_is_a_row_for_each_value() -> None:
    assert says(policy=POLICY) == [
        "Policy | ready to start, minutes: 15  [common practice, no source]",
        "Policy | labels are scanned: no",
        "Policy | also read: nothing",
        "Policy | witnesses: nurse; pharmacist",
        "Policy | baseline, scale: 0 to 3",
        "Policy | baseline, levels: 0: awake",
        "Policy | baseline, levels, in data: 0",
        "Policy | pharmacist required: yes",
        "Policy, otherwise on Recovery | pharmacist required: no  [common practice, no source]",
    ]


def test_a_unit_without_a_name_is_called_by_its_id() -> None:
    rows = rule_rows({"policy": POLICY}, {})
    assert rows[-1].head == "Policy, otherwise on recovery"


def test_a_library_is_a_row_for_each_strength_and_limit() -> None:
    assert says(library=LIBRARY) == [
        "morphine | 1 mg/mL",
        "morphine | 5 mg/mL: for tolerant patients only  [a standard]",
        "morphine | limit on the device: required",
        "morphine | demand dose: soft low 0.5 mg, hard high 3 mg  [a handbook]",
        "morphine | continuous rate (tolerant): soft high 2 mg/h",
        "fentaNYL | limit on the device: not required",
    ]


def test_line_sets_and_steps_and_what_is_invented() -> None:
    assert says(packs=PACKS, safety_steps=STEPS) == [
        "Line sets | long set: holds 2.4 mL, 0.3 mL past the junction  [the maker]  [invented: set your own]",
        "Step trace | done, and verified: Trace the line / It was traced  [x]",
        "Step trace | comes: first",
        "Step trace | group: 2",
    ]


def row(name: str, value: str) -> RuleRow:
    return RuleRow(head="morphine", name=name, value=value, source="", invented=False)


@pytest.mark.parametrize(
    ("before", "now", "said"),
    [
        ([row("lockout", "5 min")], [row("lockout", "5 min")], []),
        ([row("lockout", "5 min")], [row("lockout", "6 min")], ["~ morphine: lockout: 5 min -> 6 min"]),
        ([row("1 mg/mL", "")], [row("1 mg/mL", "x")], ["~ morphine: 1 mg/mL: without a word -> x"]),
        ([row("1 mg/mL", "x")], [row("1 mg/mL", "")], ["~ morphine: 1 mg/mL: x -> without a word"]),
        ([], [row("lockout", "6 min")], ["+ morphine: lockout: 6 min"]),
        ([], [row("1 mg/mL", "")], ["+ morphine: 1 mg/mL"]),
        ([row("lockout", "6 min")], [], ["- morphine: lockout: 6 min"]),
        ([row("1 mg/mL", "")], [], ["- morphine: 1 mg/mL"]),
        # In the order of the newer; what is gone comes last.
        (
            [row("a", "1"), row("b", "2")],
            [row("c", "3"), row("b", "4")],
            ["+ morphine: c: 3", "~ morphine: b: 2 -> 4", "- morphine: a: 1"],
        ),
    ],
)
def test_what_differs_is_said_in_one_line_each(
    before: list[RuleRow], now: list[RuleRow], said: list[str]
) -> None:
    assert [each.says for each in rule_changes(tuple(before), tuple(now))] == said


def test_when_a_drug_acts_most_is_a_row() -> None:
    timed = {**LIBRARY, "peak_effects": {"morphine": "20 min"}}
    assert says(library=timed) == ["morphine | greatest effect after: 20 min", *says(library=LIBRARY)]


# What whoever compares is not asked about: it is said in the head, or tells where a value comes from.
_SAID_ELSEWHERE = {"format", "version", "invented", "caution", "note", "source", "sources"}


def leaves(value: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    named = enumerate(value) if isinstance(value, list) else None
    parts = value.items() if isinstance(value, dict) else named
    if parts is None:
        yield path
        return
    for name, each in parts:
        if name not in _SAID_ELSEWHERE or (name == "version" and path):
            yield from leaves(each, (*path, name))


def changed_at(content: Any, path: tuple[Any, ...]) -> Any:
    made = copy.deepcopy(content)
    at = made
    for name in path[:-1]:
        at = at[name]
    old = at[path[-1]]
    at[path[-1]] = not old if isinstance(old, bool) else old + 1 if isinstance(old, int) else f"{old}, other"
    return made


@pytest.mark.parametrize("what", DOCUMENTS)
def test_no_value_of_a_document_changes_without_a_word(what: str) -> None:
    content = seeded(what.replace("-", "_"))
    before = rule_rows({what: content}, {})
    unsaid = [
        path
        for path in leaves(content)
        if not rule_changes(before, rule_rows({what: changed_at(content, path)}, {}))
    ]
    assert unsaid == []
