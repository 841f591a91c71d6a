"""The account in a round: what was told before, what can be made of nothing, what was set since."""

from collections.abc import Mapping
from datetime import timedelta
from typing import Any

from app.judging.account import judge_account
from app.records.kept import A, B
from app.records.known import Known
from app.records.sources import NONE
from tests.factories.answers import answers, changed
from tests.judging.test_account import BEGAN, KNOWN, LABEL, account_of, reading
from tests.story.events import Story


def read_at(minutes: int, left: str) -> dict[str, Any]:
    totals = {"amount": "2 mg", "presses": 13, "doses": 10}
    at = (BEGAN + timedelta(minutes=minutes)).isoformat()
    return {"kind": "read", "at": at, "totals": totals, "left": left}


def found_after(*read: Mapping[str, Any], left: str = "17.7 mL", settled: tuple[int, ...] = ()) -> list[str]:
    known = Known(account=(*KNOWN.account, *read), settled=settled)
    both = {A: reading(240, left=left), B: reading(241, left=left)}
    judged = judge_account(known, {"policy": {}}, both, {"display_step_amount": "0.1 mg"})
    return [each.code for each in judged.findings]


def test_what_an_earlier_check_found_and_two_signed_is_not_found_again_at_each_later_one() -> None:
    assert found_after() == []
    # 17.7 mL were misread as 12.7: less than predicted then, and more than before when it was read well.
    misread = read_at(200, "12.7 mL")
    assert "account-left-rose" in found_after(misread)
    assert found_after(misread, read_at(220, "17.7 mL")) == []
    # What came after the last reading nobody has signed yet.
    unseen = {"kind": "wasted", "syringe": "1", "volume": "1 mL", "witnessed": False}
    unseen["at"] = (BEGAN + timedelta(minutes=230)).isoformat()
    read = read_at(220, "17.7 mL")
    assert "account-not-witnessed" in found_after(read, unseen)
    # A third person has closed it with a reason since.
    assert "account-not-witnessed" not in found_after(read, unseen, settled=(len(KNOWN.account) + 1,))
    assert "account-not-witnessed" in found_after(read, unseen, settled=(len(KNOWN.account),))
    # What was well read meanwhile, and is not right again, is found of the new reading.
    well = read_at(220, "17.7 mL")
    assert found_after(misread, well, left="12.7 mL") == found_after(left="12.7 mL") != []


def test_a_difference_that_was_told_is_found_anew_only_where_more_is_gone() -> None:
    """5 mL more were gone than was given, and two signed it; then 1 mL was given for each of five doses.

    By hand, what may be off since: 5 % of 5 mL, two times half a division, a step of the totals (0.5 mL),
    and 0.05 mL of the scale: 1.8 mL.
    """
    told = read_at(200, "12.7 mL")
    for left, is_more in (
        ("7.7 mL", False),
        ("5.9 mL", False),
        ("5.8 mL", True),
    ):
        assert ("account-left-below-predicted" in found_later(told, left=left)) is is_more, left
    # A little more at each of two checks: what was told counts, and not what was read since.
    again = {**FIVE_MORE, "left": "6.2 mL"}
    assert "account-left-below-predicted" not in found_later(told, again, left="6.2 mL")
    assert "account-left-below-predicted" in found_later(told, again, left="5.7 mL")
    # What was told anew is told from then on.
    more = {**FIVE_MORE, "left": "4.2 mL"}
    assert "account-left-below-predicted" not in found_later(told, more, left="4.2 mL")


def test_more_left_is_not_what_was_told_of_less() -> None:
    assert "account-left-above-predicted" in found_later(read_at(200, "12.7 mL"), left="16.7 mL")


def test_what_was_told_of_one_syringe_is_not_told_of_another() -> None:
    off = {**read_at(200, "12.7 mL"), "kind": "removed"}
    at = (BEGAN + timedelta(minutes=201)).isoformat()
    another = (
        {"kind": "issued", "syringe": "2", **LABEL["issued"]},
        {"kind": "loaded", "syringe": "2"},
        {"kind": "started"},
    )
    account = (off, *({**each, "at": at} for each in another))
    assert "account-left-below-predicted" not in found_later(*account, left="25 mL")
    assert "account-left-below-predicted" in found_later(*account, left="20 mL")


# Fifteen doses in all.
FIFTEEN = {"total_amount": "3 mg", "presses": "18", "doses": "15"}
FIVE_MORE = {
    "kind": "read",
    "at": (BEGAN + timedelta(minutes=480)).isoformat(),
    "totals": {"amount": "3 mg", "presses": 18, "doses": 15},
}


def found_later(*read: Mapping[str, Any], left: str) -> list[str]:
    """After eight hours."""
    both = {A: reading(500, **FIFTEEN, left=left), B: reading(501, **FIFTEEN, left=left)}
    known = Known(account=(*KNOWN.account, *read))
    judged = judge_account(known, {"policy": {}}, both, {"display_step_amount": "0.1 mg"})
    return [each.code for each in judged.findings]


def test_what_came_between_a_reading_and_its_hand_in_is_not_judged_by_it() -> None:
    """A colleague paused it, and a spill was written, while two read what ran: no time is out of order."""
    paused = {"kind": "paused", "at": (BEGAN + timedelta(minutes=245)).isoformat()}
    spilt = {"kind": "wasted", "syringe": "1", "volume": "2 mL", "witnessed": True, "at": paused["at"]}
    earlier = {**paused, "at": (BEGAN + timedelta(minutes=239)).isoformat()}
    assert found_after(paused) == found_after(spilt, paused) == found_after(earlier) == []
    # A reading of another check was not made meanwhile.
    assert "account-time-disorder" in found_after(read_at(245, "17.7 mL"), paused)


def test_of_what_no_account_can_be_made_both_sign_that_it_is_open() -> None:
    """Whatever was written: the check goes on, and a third person is told; nothing is counted again."""
    ended = {"kind": "wasted", "at": BEGAN.isoformat(), "syringe": "9", "volume": "1 mL", "witnessed": True}
    known = Known(account=(*KNOWN.account, ended))
    judged = judge_account(known, {"policy": {}}, {A: reading(), B: reading(241)}, {})

    assert judged.result is None
    ((code, about),) = [(each.code, each.about) for each in judged.findings]
    assert (code, about) == ("account-not-computed", "account")
    (found,) = judged.findings
    assert found.is_of_account
    assert not found.is_recounted
    assert not found.is_open(())


def test_a_loading_dose_that_was_ordered_and_given_is_nothing_to_look_at_the_patient_for() -> None:
    """0.4 mg at the start, and no demand yet: 2 mL of the 27.7 that were left."""
    dose = {"loading_dose": "0.4 mg"}
    account = account_of(Story().opened().started(), answers(order=dose, device=dose))
    began = account.entries[-1].at
    shows = {"total_amount": "0.4 mg", "presses": "0", "doses": "0", "left": "25.7 mL"}
    read_at = (began + timedelta(minutes=5)).isoformat()
    both = dict.fromkeys((A, B), changed(answers(), totals={**shows, "read_at": read_at}))

    judged = judge_account(Known(account=account.written()), {"policy": {}}, both, {})
    assert judged.result is not None
    assert judged.findings == ()


# ---------------------------------------------------------------------------------------------------------
# A dose that was lowered for safety, in one tap

LESS = {"drug": "morphine", "amount": "6 mg", "volume": "30 mL", "mode": "demand", "demand_dose": "0.1 mg"}
LESS |= {"lockout": "10 min"}


def found_lowered(*, lowered: str, device: Mapping[str, Any]) -> list[str]:
    """Five doses of 0.2 mg, and after two hours five of 0.1 mg: 1.5 mg, and 7.5 mL of 30 are gone."""
    gave = {"total_amount": "1.5 mg", "left": "20.2 mL"}
    both = {A: reading(240, **gave), B: reading(241, **gave)}
    case = {"policy": {}, "entries": [{"device": device}, {"device": device}]}
    unseen = {"kind": "wasted", "at": _two_hours(3), "syringe": "1", "volume": "1 mL", "witnessed": False}
    known = Known(account=(*KNOWN.account, unseen), settled=(len(KNOWN.account),), lowered=lowered)
    judged = judge_account(known, case, both, {"display_step_amount": "0.1 mg"})
    return [each.code for each in judged.findings]


def _two_hours(hours: int = 2) -> str:
    return (BEGAN + timedelta(hours=hours)).isoformat()


def test_lowered_for_safety_its_totals_are_judged_by_what_two_read_on_it_now() -> None:
    device = {**LESS, "limit": {"amount": "2 mg", "window": "4 h"}}
    assert "account-totals-below-predicted" in found_lowered(lowered="", device=device)
    found = found_lowered(lowered=_two_hours(), device=device)
    assert not {each for each in found if each.startswith("account-totals")}
    # What was settled is known again, whichever place it has now.
    assert "account-not-witnessed" not in found


def test_lowered_by_nobody_knows_how_much_nothing_follows_from_less() -> None:
    found = found_lowered(lowered=_two_hours(), device={})
    assert "account-totals-below-predicted" not in found
    of_another_strength = {**LESS, "amount": "60 mg", "limit": None}
    assert found_lowered(lowered=_two_hours(), device=of_another_strength) == found


def test_of_a_syringe_that_is_kept_under_seal_nothing_is_read_on_the_device() -> None:
    removed = {"kind": "removed", "at": _two_hours(3), "left": "17.7 mL"}
    both = {A: reading(240), B: reading(241)}
    known = Known(account=(*KNOWN.account, removed))
    judged = judge_account(known, {"policy": {}}, both, {"display_step_amount": "0.1 mg"})
    assert judged.result is not None
    assert "left" not in {each.field.removeprefix("totals.") for each in judged.findings}
    only_left = {letter: reading(240, total_amount=NONE) for letter in (A, B)}
    assert judge_account(known, {"policy": {}}, only_left, {}).result is None
