"""The account in a round: what was told before, what can be made of nothing, what was set since."""

from collections.abc import Mapping
from datetime import timedelta
from typing import Any

from app.judging.account import judge_account
from app.records.kept import A, B
from app.records.known import Known
from app.records.sources import NONE
from tests.factories.answers import answers, changed
from tests.judging.test_account import BEGAN, KNOWN, account_of, reading
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
    # What is still not right is found of the new reading.
    assert found_after(misread, left="12.7 mL") == found_after(left="12.7 mL") != []


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
