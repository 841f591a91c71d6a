"""How a finding came to rest, and when."""

from datetime import datetime, timedelta

import pytest

from app.records.followup import Found
from app.records.settled import How, Later, Settled, findings_of, later_round, settle, settle_in
from tests.factories.findings import CAUTION, DEVICE_WRONG, DIFFER, NOTE, RULE, a_finding
from tests.story.events import BEGAN

A_MINUTE = timedelta(minutes=1)
# The same field, read otherwise again.
DIFFER_AGAIN = a_finding(
    "readings-differ",
    readings={"A.order": "1 mg", "B.order": "1 mg", "A.device": "1 mg", "B.device": "2 mg"},
)
MISSING = a_finding("reading-missing", readings={"A.device": "1 mg", "B.device": None})


def later(number: int, *findings: Found, touched: frozenset[str] = frozenset()) -> Later:
    return later_round(number, at(number), touched=touched, findings=findings)


def at(number: int) -> datetime:
    return BEGAN + number * A_MINUTE


DEVICE = frozenset({"device"})
LABEL = frozenset({"label"})

TABLE: dict[str, tuple[Found, list[Later], Settled]] = {
    "nothing came after": (DIFFER, [], Settled(how=How.NOT_SETTLED)),
    "gone in the next reading": (DIFFER, [later(2)], Settled(how=How.READ_AGAIN, at=at(2), round=2)),
    "still there, then gone": (
        DIFFER,
        [later(2, DIFFER), later(3)],
        Settled(how=How.READ_AGAIN, at=at(3), round=3),
    ),
    # Read otherwise again is not settled, though it is another finding.
    "otherwise again, then gone": (
        DIFFER,
        [later(2, DIFFER_AGAIN), later(3)],
        Settled(how=How.READ_AGAIN, at=at(3), round=3),
    ),
    "not read, then gone": (
        DIFFER,
        [later(2, MISSING), later(3)],
        Settled(how=How.READ_AGAIN, at=at(3), round=3),
    ),
    "read otherwise to the end": (DIFFER, [later(2, DIFFER_AGAIN)], Settled(how=How.NOT_SETTLED)),
    "the device was put right": (
        DEVICE_WRONG,
        [later(2, touched=DEVICE)],
        Settled(how=How.PUT_RIGHT, at=at(2), round=2),
    ),
    "another source was put right at the same time": (
        DIFFER,
        [later(2, touched=LABEL)],
        Settled(how=How.READ_AGAIN, at=at(2), round=2),
    ),
    "a finding that names no source": (
        a_finding("above-hard-limit", "amount_per_hour", {}),
        [later(2, touched=DEVICE)],
        Settled(how=How.PUT_RIGHT, at=at(2), round=2),
    ),
    "a note": (NOTE, [later(2)], Settled(how=How.FOR_INFORMATION)),
    "a caution that nobody acknowledged": (CAUTION, [later(2, CAUTION)], Settled(how=How.NOT_SETTLED)),
}


@pytest.mark.parametrize("case", TABLE)
def test_how_a_finding_came_to_rest(case: str) -> None:
    found, rounds, wanted = TABLE[case]

    assert settle(found, exempt=None, acknowledged=(), later=rounds) == wanted


@pytest.mark.parametrize(
    ("acknowledged", "wanted"),
    [
        ((at(5), at(4)), Settled(how=How.ACKNOWLEDGED, at=at(5))),
        # One of two is not both.
        ((at(4),), Settled(how=How.NOT_SETTLED)),
    ],
)
def test_a_caution_rests_when_both_have_acknowledged_it(
    acknowledged: tuple[datetime, ...], wanted: Settled
) -> None:
    assert settle(CAUTION, exempt=None, acknowledged=acknowledged, later=()) == wanted


def test_a_rule_rests_when_it_is_set_aside() -> None:
    assert settle(RULE, exempt=at(3), acknowledged=(), later=[later(2)]) == Settled(
        how=How.EXCEPTION, at=at(3)
    )


def a_round(number: int, *findings: Found, touched: tuple[str, ...] = ()) -> dict[str, object]:
    return {
        "round": number,
        "touched": list(touched),
        "compared_at": at(number).isoformat(),
        "comparison": {"findings": [vars(each) for each in findings]},
    }


def a_record(*rounds: dict[str, object]) -> dict[str, object]:
    return {
        "rounds": rounds,
        "exceptions": [{"finding": RULE.key, "at": at(9).isoformat()}],
        "acknowledgements": [
            {"finding": CAUTION.key, "clinician": clinician, "at": at(minute).isoformat()}
            for clinician, minute in (("A", 6), ("B", 7))
        ],
    }


def test_the_same_is_read_from_a_canonical_record() -> None:
    voided = {"round": 2, "touched": [], "voided": "danger"}
    record = a_record(a_round(1, DIFFER), voided, a_round(3, RULE, CAUTION, touched=("device",)))

    assert settle_in(record, 1, DIFFER) == Settled(how=How.PUT_RIGHT, at=at(3), round=3)
    assert settle_in(record, 3, RULE) == Settled(how=How.EXCEPTION, at=at(9))
    assert settle_in(record, 3, CAUTION) == Settled(how=How.ACKNOWLEDGED, at=at(7))
    assert settle_in(record, 3, DEVICE_WRONG) == Settled(how=How.NOT_SETTLED)


def test_the_findings_of_a_round_are_read_back() -> None:
    assert findings_of(a_round(1, DIFFER, NOTE)) == (DIFFER, NOTE)
    assert findings_of({"round": 2}) == ()
