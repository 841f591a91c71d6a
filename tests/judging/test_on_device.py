"""Which syringe is on the device: the one that was put on before two, or one that nobody had checked."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from app.judging.judge import Judged, Read, judge
from app.judging.on_device import OnDevice, judge_on_device
from app.judging.unseen import with_unseen
from app.records.followup import OF_ACCOUNT, Follow
from app.records.kinds import RE_CHECK, SETTINGS_CHANGE, Kind
from app.records.known import Known
from app.records.reading import Answers, sources_in
from tests.factories.answers import answers, changed
from tests.judging.test_account import SETTINGS
from tests.judging.test_judge import RULES
from tests.judging.test_loaded_again import LABEL

AT = datetime(2031, 5, 3, 8, tzinfo=UTC)


def at(hours_ago: float) -> str:
    return (AT - timedelta(hours=hours_ago)).isoformat()


# By hand: of 30 mL, 2.3 mL filled the line and 8 doses of 1 mL were given.
OLD = {"totals": {"amount": "1.6 mg", "presses": 9, "doses": 8}, "left": "19.7 mL"}
ACCOUNT: tuple[dict[str, Any], ...] = (
    {"kind": "issued", "syringe": "1", **LABEL, "at": at(9)},
    {"kind": "loaded", "syringe": "1", "at": at(9)},
    {"kind": "primed", "volume": "2.3 mL", "at": at(9)},
    {**SETTINGS, "at": at(9)},
    {"kind": "started", "at": at(9)},
    {"kind": "read", **OLD, "at": at(1)},
)
ON = {"name": "1", "drug": "HYDROmorphone", "lot": "LOT-7", **LABEL}
KNOWN = Known(account=ACCOUNT, on=ON, next_name="2")
UNREAD = {"total_amount": "1.6 mg", "presses": "9", "doses": "8", "left": "19.7 mL"}
OTHER = {"lot": "LOT-9"}


def read(label: Mapping[str, str | None] = {}, totals: Mapping[str, str] = {}) -> Answers:
    shown = {"read_at": at(0.1), **UNREAD, **totals}
    return changed(answers(), label=label, totals=shown)


def judged(
    first: Answers, second: Answers | None = None, *, known: Known = KNOWN, kind: Kind = RE_CHECK
) -> Judged:
    both = [
        Read(answers={source.value: each[source.value] for source in sources_in(kind.reads)}, at=AT)
        for each in (first, first if second is None else second)
    ]
    return judge(kind, *both, known=known, rules=RULES)


def stops(found: Judged) -> set[str]:
    return {each.code for each in found.findings if each.severity == "stop"}


@pytest.mark.parametrize("label", [{}, {"lot": " lot 7 "}, {"lot": "none"}])
def test_the_one_that_was_put_on_is_known_by_drug_lot_and_strength(label: Mapping[str, str]) -> None:
    found = judged(read(label))
    assert (found.unseen, stops(found)) == ("", set())


@pytest.mark.parametrize("kind", [RE_CHECK, SETTINGS_CHANGE])
def test_another_one_is_the_charge_nurses_to_settle_and_in_the_account_from_then_on(kind: Kind) -> None:
    found = judged(read(OTHER), kind=kind)
    assert found.unseen == "2"
    (stop,) = (each for each in found.findings if each.code == "another-syringe")
    assert (stop.about, stop.follow, stop.is_recounted) == (OF_ACCOUNT, Follow.RECOUNT, False)
    assert "LOT-9" in stop.says
    assert "LOT-7" in stop.says


def test_of_the_one_that_went_nobody_knows_what_was_left_and_that_is_found_once() -> None:
    found = judged(read(OTHER, {"left": "30 mL"}))
    # Both codes stand in records that were signed, and come out the same when they are judged again.
    assert stops(found) == {"another-syringe", "account-reading-missing"}
    assert found.account is not None
    assert [each["syringe"] for each in found.account["syringes"]] == ["1", "2"]


def test_one_slip_of_the_pen_is_no_other_syringe() -> None:
    """One alone is asked for the lot: where it is another, both read it."""
    alone = read({"lot": None})
    found = judged(read(OTHER), alone)
    (stop,) = (each for each in found.findings if each.severity == "stop")
    assert (stop.code, stop.reads_apart, found.unseen) == ("not-in-force", True, "")
    # Another drug or strength both have read.
    assert judged(read({**OTHER, "amount": "3 mg"}), read({"lot": None, "amount": "3 mg"})).unseen == "2"


def test_one_of_its_own_that_was_put_on_again_keeps_its_name() -> None:
    off = {**ON, "name": "3", "lot": "LOT-9"}
    assert judged(read(OTHER), known=replace(KNOWN, syringes=(off,))).unseen == "3"
    # Which of two it is, nobody can say.
    twice = replace(KNOWN, syringes=(off, {**off, "name": "4"}))
    assert judged(read(OTHER), known=twice).unseen == "2"


def test_what_is_not_read_whole_is_read_again_first() -> None:
    found = judged(read({**OTHER, "syringe_size": None}))
    assert (found.unseen, stops(found)) == ("", {"reading-missing"})
    case = judged(read(OTHER)).case
    bare = {**case, "entries": [{**each, "label": {}} for each in case["entries"]]}
    assert judge_on_device(KNOWN, bare, {"A": {}, "B": {}}, {}) == OnDevice()
    begun = Known(begun=at(1))
    assert with_unseen(begun, bare, {"A": {}, "B": {}}, "") == begun


def test_where_no_syringe_is_in_an_account_there_is_none_to_be_held_beside() -> None:
    assert judged(read(OTHER), known=Known()).unseen == ""
    differs = judged(read(OTHER), read({"drug": "morphine"}))
    assert differs.unseen == ""


# ---------------------------------------------------------------------------------------------------------
# What had to start without a check


def started_again(**off: object) -> Known:
    """It stood, the old syringe was taken off, and it had to start without the check of the new one."""
    entries = (*ACCOUNT, {"kind": "paused", "at": at(0.9)}, {"kind": "started", "at": at(0.5)})
    removed = {"kind": "removed", "at": at(0.5), **off}
    return replace(KNOWN, account=entries, begun=at(0.5), place=7, off=removed)


def test_it_was_on_since_the_start_and_what_was_left_of_the_one_before_was_read() -> None:
    """Nothing is gone, and nobody is asked anything: the old one is off, and in hand."""
    found = judged(read(OTHER, {"left": "29.9 mL"}), known=started_again(**OLD))
    assert (found.unseen, stops(found)) == ("2", set())
    assert found.account is not None
    left = [each["volume"]["left"]["exact"] for each in found.account["syringes"]]
    assert left == ["19.7", "29.9"]


def test_another_one_of_the_same_lot_is_known_by_what_it_holds() -> None:
    """A syringe that was put back holds what it held, or less."""
    known = started_again(**OLD)
    for left, unseen in (("29.9 mL", "2"), ("20.7 mL", ""), ("19.7 mL", ""), ("none", "")):
        found = judged(read(totals={"left": left}), known=known)
        assert (found.unseen, stops(found)) == (unseen, set()), left
    nothing = dict.fromkeys(("total_amount", "total_volume", "presses", "doses", "left"), "none")
    assert judged(read(totals=nothing), known=known).unseen == ""
    # Of what nobody had read before, nobody can say it.
    assert judged(read(totals={"left": "29.9 mL"}), known=started_again()).unseen == ""


def test_where_nobody_read_what_was_left_that_is_found() -> None:
    assert "account-reading-missing" in stops(judged(read(OTHER), known=started_again()))


def test_what_was_settled_before_stays_settled() -> None:
    gone = {"kind": "wasted", "syringe": "1", "volume": "1 mL", "witnessed": False, "at": at(0.4)}
    known = started_again(**OLD)
    known = replace(known, account=(*known.account, gone), settled=(8,))
    assert stops(judged(read(OTHER, {"left": "29.9 mL"}), known=known)) == set()


def test_after_a_syringe_that_was_replaced_before_any_start_the_one_on_has_its_account() -> None:
    """Its line was filled from it, as where nothing was known before."""
    replaced = (
        {"kind": "issued", "syringe": "1", **LABEL, "at": at(2)},
        {"kind": "wasted", "syringe": "1", "volume": "30 mL", "witnessed": True, "at": at(1.5)},
    )
    known = Known(account=replaced, begun=at(1), place=2, next_name="2")
    fresh = {"total_amount": "0 mg", "presses": "0", "doses": "0", "left": "27.7 mL"}
    found = judged(read(OTHER, fresh), known=known)
    assert (found.unseen, stops(found)) == ("2", set())
    assert found.account is not None
    assert [each["syringe"] for each in found.account["syringes"]] == ["1", "2"]


def test_of_a_device_that_shows_nothing_nothing_is_read_of_either() -> None:
    nothing = dict.fromkeys(("total_amount", "total_volume", "presses", "doses", "left"), "none")
    found = judged(read(OTHER, nothing))
    assert (found.unseen, found.account) == ("2", None)


def test_on_a_device_that_stands_it_is_not_said_to_run() -> None:
    known = replace(KNOWN, account=(*ACCOUNT, {"kind": "paused", "at": at(0.9)}))
    found = judged(read(OTHER, {"left": "30 mL"}), known=known)
    assert "another-syringe" in stops(found)
    assert found.account is not None
    assert found.account["forecast"]["running"] is False
