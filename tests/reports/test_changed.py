"""What was changed of the settings in force, in words, on paper as on a page."""

from typing import Any

import pytest

from app.reports.changed import ChangeShown, changes_shown


def mass(exact: str, shown: str) -> dict[str, str]:
    return {"exact": exact, "unit": "mg", "shown": shown}


def change(what: str, before: Any, now: Any, factor: str = "") -> dict[str, Any]:  # noqa: ANN401  # or None
    ratio = {"exact": factor, "shown": factor} if factor else None
    return {"what": what, "before": before, "now": now, "factor": ratio}


RAISED = change("demand_dose", mass("0.2", "0.2 mg"), mass("0.3", "0.3 mg"), "1.5")


@pytest.mark.parametrize(
    ("told", "before", "now", "says"),
    [
        (RAISED, "0.2 mg", "0.3 mg", "more: 1.5 times as much"),
        (
            change("day", mass("12", "12 mg"), mass("6", "6 mg"), "0.5"),
            "12 mg",
            "6 mg",
            "less: 0.5 times as much",
        ),
        # In the unit of what it was: 80 mcg beside 0.2 mg would look the greater.
        (
            change("demand_dose", mass("0.2", "0.2 mg"), mass("0.08", "80 mcg"), "0.4"),
            "0.2 mg",
            "0.08 mg",
            "less: 0.4 times as much",
        ),
        (change("continuous_rate", None, mass("0.5", "0.5 mg")), "none", "0.5 mg", "new"),
        (change("continuous_rate", mass("0.5", "0.5 mg"), None), "0.5 mg", "none", "taken away"),
        (
            change(
                "lockout",
                {"exact": "10", "unit": "min", "shown": "10 min"},
                {"exact": "15", "unit": "min", "shown": "15 min"},
                "1.5",
            ),
            "10 min",
            "15 min",
            "longer: 1.5 times as long",
        ),
    ],
)
def test_by_how_much_is_said(told: dict[str, Any], before: str, now: str, says: str) -> None:
    (shown,) = changes_shown({"changed": [told]})

    assert (shown.before, shown.now, shown.says) == (before, now, says)


def test_what_is_as_before_stands_beside_what_is_changed() -> None:
    ten = {"exact": "10", "unit": "min", "shown": "10 min"}
    same = change("lockout", ten, ten, "1")

    assert changes_shown({"changed": [RAISED, same]})[1] == ChangeShown(
        label="Lockout", before="10 min", now="10 min", says=""
    )


@pytest.mark.parametrize("told", [{}, {"changed": None}, {"changed": []}])
def test_where_nothing_is_changed_nothing_is_said(told: dict[str, Any]) -> None:
    assert changes_shown(told) == ()


def test_where_all_is_as_it_was_nothing_is_said_either() -> None:
    same = change("demand_dose", mass("0.2", "0.2 mg"), mass("0.2", "0.2 mg"), "1")

    assert changes_shown({"changed": [same]}) == ()
