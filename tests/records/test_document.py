"""The canonical record: what both sign."""

import json
from collections.abc import Iterator
from typing import Any

import pytest

from app.records import events
from app.records.canonical import canonical
from app.records.document import CAUTIONS, Names, build_document
from app.records.formats import COMPARISON, READ
from app.records.kept import PRIMING, SOURCES, KeptComparison
from app.records.kinds import RE_CHECK
from app.records.state import CheckState
from tests.factories.answers import answers
from tests.factories.findings import CAUTION, DIFFER, RULE
from tests.story.events import BEGAN, NADIA, RUTH, TOMAS, Story

NAMES = Names(
    unit="Ward 4 East",
    people={NADIA: "Nadia Ferrow", TOMAS: "Tomas Osmund", RUTH: "Ruth Calloway"},
    staff_numbers={NADIA: "DM-2001", TOMAS: "DM-2002", RUTH: "DM-2101"},
)


def compared(number: int, subject: str = SOURCES) -> KeptComparison:
    """A comparison as the workflow keeps it, with the round's number in it."""
    case: dict[str, object] = {
        "answers": {"A": answers(), "B": answers(device={"lockout": f"{number} min"})},
        "case": {"format": "countersign.case/2"},
        "versions": {"policy": "policy-1"},
    }
    result: dict[str, object] = {"verdict": "stopped", "findings": [], "math": {"demands_per_hour": 6}}
    if subject == PRIMING:
        case = {"reading": 1, "by": "A", "volume": "2.3 mL", "against": 3}
        result = {"within": True, "findings": [], "primed_drug": None}
    return KeptComparison(
        check="check-1",
        subject=subject,
        round=number,
        at=BEGAN,
        engine="0.1.0",
        case=canonical({"format": READ.newest, **case}),
        result=canonical({"format": COMPARISON.newest, **result}),
    )


def document(
    story: Story, *comparisons: KeptComparison, earlier: frozenset[str] = frozenset()
) -> dict[str, Any]:
    return build_document(
        story.state(),
        edition=1,
        comparisons=comparisons,
        names=NAMES,
        versions={"policy": "policy-1"},
        line_sets={"set-150-y": "150 cm set", "set-200-y": "200 cm set"},
        site="Larkmoor General Hospital (invented)",
        zone="Europe/Dublin",
        invented=True,
        earlier_looks=earlier,
        with_name=False,
    )


def told() -> Story:
    """Differing readings, a voided round, a rule set aside with help, a caution, and all steps."""
    return (
        Story()
        .found(DIFFER)
        .next_reading()
        .voided()
        .both_handed_in()
        .compared(RULE, CAUTION)
        .asked_for_help()
        .help_taken()
        .excepted(RULE)
        .help_settled("other")
        .acknowledged(CAUTION)
        .steps_confirmed()
    )


def whole() -> dict[str, Any]:
    return document(told(), compared(1), compared(3), compared(1, PRIMING))


def leaves(value: object) -> Iterator[object]:
    if isinstance(value, dict):
        for key, each in value.items():
            assert isinstance(key, str)
            yield from leaves(each)
    elif isinstance(value, list):
        for each in value:
            yield from leaves(each)
    else:
        yield value


def test_it_holds_text_small_counts_and_plain_yes_or_no_and_nothing_inexact() -> None:
    found = list(leaves(whole()))

    assert {type(each) for each in found} <= {str, int, bool, type(None)}
    assert all(abs(each) < 10_000 for each in found if isinstance(each, int))


def test_its_bytes_are_canonical_and_read_back_to_the_same() -> None:
    written = canonical(whole())

    assert json.loads(written) == whole()
    assert canonical(json.loads(written)) == written


def test_every_compared_round_is_in_it_and_no_other_reading() -> None:
    rounds = whole()["rounds"]

    assert [each["round"] for each in rounds] == [1, 2, 3]
    assert [each["round"] for each in rounds if "readings" in each] == [1, 3]
    assert rounds[0]["readings"]["B"]["device"]["lockout"] == "1 min"
    assert rounds[2]["readings"]["B"]["device"]["lockout"] == "3 min"


def test_a_round_that_was_not_compared_says_only_that_it_was() -> None:
    voided = whole()["rounds"][1]

    assert voided == {
        "round": 2,
        "scope": {each: [] for each in ("wristband", "chart", "order", "label", "device", "monitor")},
        "touched": [],
        "voided": "danger",
        "independence": {
            "grade": "voided: not blind",
            "unlocked": [],
            "unlocked_together": False,
            "earlier_look": False,
        },
    }


def test_it_says_who_and_with_which_number() -> None:
    assert whole()["clinicians"] == [
        {
            "letter": "A",
            "part": "first nurse",
            "person": NADIA,
            "printed_name": "Nadia Ferrow",
            "staff_number": "DM-2001",
        },
        {
            "letter": "B",
            "part": "second nurse",
            "person": TOMAS,
            "printed_name": "Tomas Osmund",
            "staff_number": "DM-2002",
        },
    ]


def test_it_says_how_independent_each_round_was() -> None:
    made = document(
        Story().found().steps_confirmed(), compared(1), compared(1, PRIMING), earlier=frozenset({NADIA})
    )

    assert made["rounds"][0]["independence"] == {
        "unlocked": [],
        "unlocked_together": False,
        "grade": "two devices, overlapping in time",
        "earlier_look": True,
    }
    assert made["rounds"][0]["handed_in"]["A"]["device"] == f"device of {NADIA}"


def test_it_says_how_what_differed_was_settled() -> None:
    made = whole()

    assert [(each["clinician"], each["finding"]) for each in made["acknowledgements"]] == [
        ("A", CAUTION.key),
        ("B", CAUTION.key),
    ]
    assert [(each["code"], each["by"]) for each in made["exceptions"]] == [
        ("above-hard-limit", "Ruth Calloway")
    ]
    assert [(each["taken"][0]["by"], each["outcome"]) for each in made["help"]] == [
        ("Ruth Calloway", "other")
    ]


def test_every_step_says_who_did_it_and_who_verified_it() -> None:
    steps = {each["id"]: each for each in whole()["safety_steps"]["steps"]}

    assert (steps["traced"]["done"]["clinician"], steps["traced"]["verified"]["clinician"]) == ("A", "B")
    primed = steps["primed-volume"]
    assert (primed["done"]["clinician"], primed["verified"]["clinician"]) == ("A", "B")
    assert whole()["priming"] == [
        {
            "judged": 1,
            "reading": 1,
            "by": "A",
            "volume": "2.3 mL",
            "against": 3,
            "within": True,
            "findings": [],
            "primed_drug": None,
        }
    ]


def test_it_holds_the_baseline_where_there_is_one() -> None:
    assert whole()["baseline"]["by"] == "Nadia Ferrow"
    assert document(Story().found(), compared(1))["baseline"] is None


def test_it_holds_every_baseline_and_says_which_one_stands() -> None:
    story = Story().found().observed(below=True).observed().stopped().observed()
    made = document(story, compared(1))

    assert [(each["forbids_start"], each["stands"]) for each in made["baselines"]] == [
        (True, False),
        (False, False),
        (False, True),
    ]
    assert made["baseline"] == {
        name: text for name, text in made["baselines"][-1].items() if name not in {"forbids_start", "stands"}
    }
    assert document(Story().found(), compared(1))["baselines"] == []


def test_it_holds_every_stop_and_who_wrote_it_down() -> None:
    story = Story().found().stopped("23 presses", why="wrong-patient").stopped().misplaced()
    written, misplaced = document(story, compared(1))["stops"]

    assert (written["why"], written["totals"], written["by"], written["person"]) == (
        "wrong-patient",
        "23 presses",
        "Ruth Calloway",
        RUTH,
    )
    assert [each["at_another_bed"] for each in (written, misplaced)] == [False, True]
    # Of a kind without safety steps too, and where nobody stopped anything.
    assert document(Story(kind=RE_CHECK).found().frozen().stopped(), compared(1))["stops"] != []
    assert whole()["stops"] == []


def test_it_holds_no_signature_and_says_its_own_limits() -> None:
    made = whole()

    assert made["format"] == "countersign.record/2"
    assert not [key for key in made if "sign" in key]
    assert made["cautions"] == list(CAUTIONS)
    assert any("cannot find a label that is itself wrong" in each for each in made["cautions"])


def test_a_step_that_was_due_again_shows_its_last_confirmation() -> None:
    again = told().tell(events.StepsConfirmed(slot=1, group=3, part="done", steps=("key-secured",)), by=NADIA)
    made = document(again, compared(1), compared(3), compared(1, PRIMING))
    steps = {each["id"]: each for each in made["safety_steps"]["steps"]}

    assert steps["key-secured"]["done"]["at"] == again.now.isoformat(timespec="seconds")


def test_it_says_what_the_line_sets_that_were_read_are_called() -> None:
    assert whole()["line_sets"] == {"set-150-y": "150 cm set"}


def test_a_record_without_a_plan_is_a_bug() -> None:
    state = Story().found().state()
    without = CheckState(**{**vars(state), "plan": None})

    with pytest.raises(AssertionError):
        build_document(
            without,
            edition=1,
            comparisons=[compared(1)],
            names=NAMES,
            versions={},
            line_sets={},
            site="",
            zone="",
            invented=False,
            earlier_looks=frozenset(),
            with_name=False,
        )


def test_it_says_who_put_a_source_right_and_when() -> None:
    story = Story().found(DIFFER).next_reading("device").both_handed_in().compared().steps_confirmed()

    rounds = document(story, compared(1), compared(2), compared(1, PRIMING))["rounds"]

    assert "put_right" not in rounds[0]
    assert rounds[1]["put_right"]["by"] == "Nadia Ferrow"
    assert rounds[1]["put_right"]["at"] > rounds[0]["compared_at"]


def test_a_round_that_was_voided_after_it_names_nobody_again() -> None:
    story = Story().found(DIFFER).next_reading("device").voided().both_handed_in().compared()

    rounds = document(story.steps_confirmed(), compared(1), compared(3), compared(1, PRIMING))["rounds"]

    assert ["put_right" in each for each in rounds] == [False, True, False]
