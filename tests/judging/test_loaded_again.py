"""A part-used syringe that is loaded again: whose it is, how long it was in use, and what is left of it."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from app.judging.judge import Against, Judged, Read, judge
from app.records.account_entries import UNREAD
from app.records.followup import OF_ACCOUNT, Follow
from app.records.kinds import DEVICE_CHANGE, REPEAT_SET_UP, SYRINGE_CHANGE, Kind
from app.records.known import Known
from app.records.reading import Answers, sources_in
from tests.factories.answers import answers, changed
from tests.judging.test_account import SETTINGS
from tests.judging.test_judge import RULES

AT = datetime(2031, 5, 3, 8, tzinfo=UTC)
BEGAN = AT - timedelta(hours=20)
OLD = {"total_amount": "2 mg", "presses": "11", "doses": "10", "left": "27.7 mL"}
AGAIN = changed(answers(), label={"comes_as": "part-used", "part_left": "19.7 mL"}, totals=OLD)
LABEL = {"volume": "30 mL", "amount": "6 mg", "size": "30 mL"}


def at(hours: float) -> str:
    return (BEGAN + timedelta(hours=hours)).isoformat()


# By hand: of 30 mL, 2.3 mL filled the line and 8 doses of 1 mL were given; then the second syringe.
ACCOUNT: tuple[dict[str, Any], ...] = (
    {"kind": "issued", "syringe": "1", **LABEL, "at": at(0)},
    {"kind": "loaded", "syringe": "1", "at": at(0)},
    {"kind": "primed", "volume": "2.3 mL", "at": at(0)},
    {**SETTINGS, "at": at(0)},
    {"kind": "started", "at": at(0)},
    {
        "kind": "removed",
        "totals": {"amount": "1.6 mg", "presses": 9, "doses": 8},
        "left": "19.7 mL",
        "at": at(8),
    },
    {"kind": "issued", "syringe": "2", **LABEL, "at": at(8)},
    {"kind": "loaded", "syringe": "2", "at": at(8)},
    {"kind": "primed", "volume": "0.3 mL", "at": at(8)},
    {**SETTINGS, "at": at(8)},
    {"kind": "started", "at": at(8)},
)
FIRST = {"name": "1", "drug": "HYDROmorphone", "lot": "LOT-7"}
KNOWN = Known(account=ACCOUNT, syringes=(FIRST,))


def loaded(
    first: Answers = AGAIN,
    second: Answers | None = None,
    *,
    known: Known = KNOWN,
    in_use: timedelta = timedelta(hours=24),
    kind: Kind = SYRINGE_CHANGE,
) -> Judged:
    both = [_timed(each) for each in (first, first if second is None else second)]
    rules: Against = replace(RULES, in_use=in_use)
    return judge(kind, *(Read(answers=each, at=AT) for each in both), known=known, rules=rules)


def _timed(read: Answers) -> Answers:
    """What a syringe change reads of it, and when."""
    of_kind = {source.value: read[source.value] for source in sources_in(SYRINGE_CHANGE.reads)}
    return changed(of_kind, totals={"read_at": (AT - timedelta(minutes=5)).isoformat()})


def of_it(judged: Judged) -> set[str]:
    return {each.code for each in judged.findings if each.field in {"comes_as", "part_left"}}


def of_label(**other: str | None) -> Answers:
    return changed(AGAIN, label=other)


def test_one_of_its_own_that_is_as_it_was_left_is_loaded_again() -> None:
    judged = loaded()
    assert (judged.loaded_again, of_it(judged)) == ("1", set())
    assert not [each for each in judged.findings if each.severity == "stop"]


def test_a_new_one_is_none_of_it_whatever_was_left_of_another() -> None:
    new = of_label(comes_as="new", part_left=None)
    assert (loaded(new).loaded_again, of_it(loaded(new))) == ("", set())


@pytest.mark.parametrize(
    "other", [{"drug": "morphine"}, {"lot": "LOT-8"}, {"lot": "none"}, {"amount": "3 mg"}]
)
def test_one_with_another_drug_strength_or_lot_is_none_of_its_own(other: Mapping[str, str]) -> None:
    judged = loaded(of_label(**other))
    assert (judged.loaded_again, of_it(judged)) == ("", {"part-used-not-of-this"})
    (found,) = (each for each in judged.findings if each.code == "part-used-not-of-this")
    assert (found.follow, found.readings["A.label"]) == (Follow.PUT_RIGHT, "part-used")


@pytest.mark.parametrize(
    "known", [replace(KNOWN, syringes=()), Known()], ids=["gone or on the device", "no account"]
)
def test_one_that_is_not_in_hand_is_none_of_its_own(known: Known) -> None:
    assert of_it(loaded(known=known)) == {"part-used-not-of-this"}


def test_its_lot_is_one_however_it_is_set() -> None:
    assert loaded(of_label(lot=" lot-7 ")).loaded_again == "1"


def test_a_strength_is_one_however_it_is_written() -> None:
    per_ml = {"strength": "per-millilitre", "concentration": "0.2 mg/mL", "content_volume": "30 mL"}
    assert loaded(of_label(**per_ml, amount=None, volume=None)).loaded_again == "1"


def test_a_life_in_use_that_has_passed_counts_from_when_it_was_put_on_first() -> None:
    hours = [timedelta(hours=20), timedelta(hours=20, minutes=1)]
    assert [of_it(loaded(in_use=each)) for each in hours] == [{"part-used-too-long"}, set()]


@pytest.mark.parametrize(("left", "found"), [("18.7 mL", False), ("18.6 mL", True), ("20.8 mL", True)])
def test_what_its_scale_shows_is_what_was_left_within_a_division(left: str, found: bool) -> None:  # noqa: FBT001  # a row
    judged = loaded(of_label(part_left=left))
    assert of_it(judged) == ({"part-used-volume-differs"} if found else set())
    # It is loaded all the same, and both sign that the account is open.
    assert judged.loaded_again == "1"
    told = [each for each in judged.findings if each.field == "part_left"]
    assert [(each.about, each.is_of_account) for each in told] == [(OF_ACCOUNT, True)] * found


def test_of_one_of_which_nobody_read_what_was_left_the_account_is_open() -> None:
    removed = {key: each for key, each in ACCOUNT[5].items() if key != "left"}
    known = replace(KNOWN, account=(*ACCOUNT[:5], removed, *ACCOUNT[6:]))
    (found,) = (each for each in loaded(known=known).findings if each.field == "part_left")
    assert (found.code, "Nobody read" in found.says) == ("part-used-volume-differs", True)


def test_of_two_with_one_label_it_is_the_one_with_its_volume() -> None:
    third = (
        {"kind": "removed", "totals": OLD_SECOND, "left": "9.4 mL", "at": at(10)},
        {"kind": "issued", "syringe": "3", **LABEL, "at": at(10)},
        {"kind": "loaded", "syringe": "3", "at": at(10)},
    )
    known = Known(account=(*ACCOUNT, *third), syringes=(FIRST, {**FIRST, "name": "2"}))
    assert [loaded(of_label(part_left=each), known=known).loaded_again for each in ("19 mL", "9 mL")] == [
        "1",
        "2",
    ]


OLD_SECOND = {"amount": "5.6 mg", "presses": 29, "doses": 28}


def test_one_that_never_was_on_is_in_use_since_it_came_in() -> None:
    never_on = {"kind": "issued", "syringe": "3", **LABEL, "at": at(9)}
    spilt = {"kind": "wasted", "syringe": "3", "volume": "2 mL", "witnessed": True, "at": at(9)}
    known = Known(account=(*ACCOUNT, never_on, spilt), syringes=({**FIRST, "name": "3"},))
    hours = [timedelta(hours=11), timedelta(hours=12)]
    judged = [loaded(of_label(part_left="28 mL"), known=known, in_use=each) for each in hours]
    assert [(each.loaded_again, of_it(each)) for each in judged] == [
        ("3", {"part-used-too-long"}),
        ("3", set()),
    ]


def test_two_scales_read_a_division_apart_are_one_and_more_is_read_again() -> None:
    near, far = of_label(part_left="18.7 mL"), of_label(part_left="18.6 mL")
    assert (loaded(second=near).loaded_again, of_it(loaded(second=near))) == ("1", set())
    assert (loaded(second=far).loaded_again, of_it(loaded(second=far))) == ("", {"readings-differ"})
    # The volume of the one who does not handle the device counts.
    assert of_it(loaded(near, of_label(part_left="17.8 mL"))) == {"part-used-volume-differs"}


def test_until_both_read_alike_what_was_left_is_told_to_nobody() -> None:
    removed = {**ACCOUNT[5], "left": "9.7 mL"}
    other = replace(KNOWN, account=(*ACCOUNT[:5], removed, *ACCOUNT[6:]))
    far = of_label(part_left="12 mL")
    assert loaded(second=far).findings == loaded(second=far, known=other).findings
    # The twin that must fail: once they do, it is.
    assert loaded().findings != loaded(known=other).findings


def test_what_one_calls_new_and_the_other_part_used_is_read_again() -> None:
    judged = loaded(second=of_label(comes_as="new", part_left=None))
    assert (judged.loaded_again, of_it(judged)) == ("", {"readings-differ"})


def set_up_again(first: Answers = AGAIN, second: Answers | None = None, *, known: Known) -> Judged:
    both = [
        changed(each, totals={"read_at": (AT - timedelta(minutes=5)).isoformat()})
        for each in (first, first if second is None else second)
    ]
    rules: Against = replace(RULES, in_use=timedelta(hours=24))
    return judge(REPEAT_SET_UP, *(Read(answers=each, at=AT) for each in both), known=known, rules=rules)


ON = {"name": "1", "drug": "HYDROmorphone", "lot": "LOT-7"}
STOPPED = replace(KNOWN, account=(*ACCOUNT[:5], {"kind": "paused", "at": at(8)}), syringes=(), on=ON)


def test_where_what_ran_is_set_up_anew_the_one_that_was_on_may_be_put_on_again() -> None:
    left = {"total_amount": "1.6 mg", "presses": "9", "doses": "8", "left": "19.7 mL"}
    judged = set_up_again(changed(AGAIN, totals=left), known=STOPPED)
    assert (judged.loaded_again, of_it(judged)) == ("1", set())
    # As it was read when it came off, and not as the account has it.
    other = set_up_again(changed(AGAIN, totals={**left, "left": "17.7 mL"}), known=STOPPED)
    assert of_it(other) == {"part-used-volume-differs"}
    unread = set_up_again(changed(AGAIN, totals=dict.fromkeys(left, "none")), known=STOPPED)
    (found,) = (each for each in unread.findings if each.field == "part_left")
    assert (unread.loaded_again, "Nobody read" in found.says) == ("1", True)
    # In a change of syringe it is none of those in hand.
    assert of_it(loaded(known=STOPPED)) == {"part-used-not-of-this"}


def test_the_one_that_was_on_is_itself_in_whichever_way_each_writes_its_strength() -> None:
    left = {"total_amount": "1.6 mg", "presses": "9", "doses": "8", "left": "19.7 mL"}
    one, other = (
        changed(each, totals=left)
        for each in (
            AGAIN,
            of_label(
                strength="per-millilitre",
                concentration="0.2 mg/mL",
                content_volume="30 mL",
                amount=None,
                volume=None,
            ),
        )
    )
    for first, second in ((one, other), (other, one)):
        judged = set_up_again(first, second, known=STOPPED)
        assert (judged.loaded_again, of_it(judged)) == ("1", set())


BEGUN = Known(begun=at(0), next_name="1")


@pytest.mark.parametrize(
    ("read", "name"), [(AGAIN, UNREAD), (of_label(comes_as="new", part_left=None), "")], ids=["again", "new"]
)
def test_what_ran_and_nobody_had_read_is_the_charge_nurses(read: Answers, name: str) -> None:
    judged = set_up_again(read, known=BEGUN)
    (found,) = (each for each in judged.findings if each.field == "comes_as")
    assert (judged.loaded_again, found.code, found.is_of_account) == (name, "ran-unread", True)
    # Nothing of what is on now is taken for what ran.
    assert judged.account is None


def test_what_ran_unread_for_longer_than_a_syringe_may_be_in_use_is_not_put_on_again() -> None:
    known = replace(BEGUN, begun=(AT - timedelta(hours=24)).isoformat())
    assert of_it(set_up_again(AGAIN, known=known)) == {"part-used-too-long", "ran-unread"}


WENT = (*ACCOUNT[:5], {"kind": "paused", "at": at(8)}, {"kind": "removed", "at": at(8)})


@pytest.mark.parametrize("account", [ACCOUNT[:1], WENT], ids=["one came in, and was replaced", "one went"])
def test_that_it_ran_unread_is_found_whatever_else_the_account_has(
    account: tuple[dict[str, Any], ...],
) -> None:
    known = replace(BEGUN, account=account, place=len(account), next_name="2")
    new = of_label(comes_as="new", part_left=None)
    assert of_it(set_up_again(new, known=known)) == {"ran-unread"}
    again = set_up_again(AGAIN, known=known)
    assert (again.loaded_again, of_it(again)) == (UNREAD, {"ran-unread"})


def test_of_one_that_was_on_when_it_had_to_start_its_last_reading_tells() -> None:
    started = {"kind": "started", "at": at(7)}
    known = replace(BEGUN, begun=at(7), account=(*WENT[:5], started, *WENT[5:]), place=5, next_name="2")
    assert of_it(set_up_again(of_label(comes_as="new", part_left=None), known=known)) == set()


def test_one_that_is_in_hand_and_may_have_run_is_itself_and_not_as_it_was_left() -> None:
    known = replace(KNOWN, begun=at(8), place=len(KNOWN.account), on={})
    far = set_up_again(of_label(part_left="12 mL"), known=known)
    assert (far.loaded_again, of_it(far)) == ("1", {"part-used-volume-differs", "ran-unread"})


def test_two_scales_of_what_nobody_had_read_are_no_more_apart_than_any() -> None:
    near, far = of_label(part_left="18.7 mL"), of_label(part_left="18.6 mL")
    assert of_it(set_up_again(AGAIN, near, known=BEGUN)) == {"ran-unread"}
    assert of_it(set_up_again(AGAIN, far, known=BEGUN)) == {"readings-differ"}


@pytest.mark.parametrize("name", ["comes_as", "part_left"])
def test_what_is_asked_and_not_read_is_read_again(name: str) -> None:
    judged = loaded(of_label(**{name: None}))
    assert "reading-missing" in of_it(judged)
    assert judged.loaded_again == ""


def test_nothing_is_said_of_what_else_was_issued_with_its_number() -> None:
    issued = {"issue": "9", "number": "LOT-7", "volume": "50 mL", "sealed": False, "out": True, "here": True}
    known = replace(KNOWN, issued=(issued,))
    new = loaded(of_label(comes_as="new", part_left=None), known=known)
    assert "issued-unsealed" in {each.code for each in new.findings}
    assert "issued-unsealed" not in {each.code for each in loaded(known=known).findings}


def test_no_other_kind_asks_for_it() -> None:
    judged = loaded(kind=DEVICE_CHANGE)
    assert (judged.loaded_again, of_it(judged)) == ("", set())


def test_from_an_account_that_nobody_can_compute_none_is_loaded_again() -> None:
    known = replace(KNOWN, account=(*ACCOUNT, {"kind": "loaded", "syringe": "1", "at": at(9)}))

    assert of_it(loaded(known=known)) == {"part-used-not-of-this"}
    assert "part-left" not in {
        each.field for each in loaded(of_label(part_left="9 mL"), known=known).findings
    }
