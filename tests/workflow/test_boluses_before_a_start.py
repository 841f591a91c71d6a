"""A bolus that was given after a look, and is written down only once another start has come."""

from datetime import timedelta
from fractions import Fraction
from typing import Any

import pytest

from app.judging.account import balanced
from app.records.kinds import SETTINGS_CHANGE, SYRINGE_CHANGE
from app.site.loading import account_of
from app.workflow import bolus_looks, boluses
from app.workflow.infusions import InfusionSeen, see_infusion
from app.workflow.refusals import ReadsBlind
from tests.factories.answers import answers, changed
from tests.story.people import IMOGEN, NADIA
from tests.story.ward import Ward
from tests.workflow.test_boluses import (
    APART,
    ORDERED,
    WELL,
    does,
    gives,
    gives_late,
    infusion_of,
    load_state,
)


@pytest.fixture
def running(one_ward: Ward) -> Ward:
    """It runs under an order that lets staff give boluses."""
    read = answers(order=ORDERED)
    return one_ward.opens().joins().both_read(read).compares().confirms_all().both_sign().both_look().starts()


# Another order came: half of it, and of what each demand gives.
LOWER = {"demand_dose": "0.1 mg"}
HALF = answers(order={**ORDERED, "staff_bolus_dose": "0.2 mg", **LOWER}, device=LOWER)
SHOWN = {"total_amount": "0.4 mg", "presses": "0", "doses": "0", "left": "25.6 mL"}


def starts_anew(ward: Ward, how: str) -> None:
    """By another order, also after a stop; with another syringe; or with no check at all."""
    if how == "without a check":
        # What ran is stopped before it is said to have had to start.
        ward.stops(IMOGEN, why="other").starts_without_check(IMOGEN, bed=ward.state().check.bed)
        return
    if how == "after a stop":
        ward.stops(IMOGEN, why="other").wait(timedelta(minutes=2))
    if how == "syringe":
        # Two demands, as far as anybody has written down.
        totals = {**SHOWN, "presses": "2", "doses": "2"}
        read = changed(answers(order=ORDERED), label={"lot": "LOT-8"}, totals=totals)
        ward.changes(SYRINGE_CHANGE).both_read(ward.of_its_patient(read)).compares().primes("0.3 mL")
    else:
        ward.changes(SETTINGS_CHANGE).both_read(ward.of_its_patient(HALF)).compares()
    ward.confirms_all().both_sign().both_look().starts()


def account_told(ward: Ward) -> list[Any]:
    infusion = infusion_of(ward)
    with ward.site.store.read() as reader:
        return list(account_of(reader, infusion).entries)


@pytest.mark.parametrize("how", ["settings", "syringe", "after a stop", "without a check"])
def test_what_was_given_before_another_start_is_written_down_by_the_order_that_was_in_force(
    running: Ward, how: str
) -> None:
    """The new order says half as much; it is of the syringe that was on."""
    first = running.check
    running.wait(timedelta(minutes=30))
    does(running, boluses.look_before, NADIA, WELL)
    given_at = (running.now + timedelta(minutes=1)).isoformat()
    running.wait(timedelta(minutes=12))
    starts_anew(running, how)
    (look,) = load_state(running).boluses.looks
    running.wait(timedelta(minutes=5))

    seen = does(running, boluses.see_bolus)
    assert (seen.looked, seen.may_have_given, seen.started_at) == (False, look.at, look.started_at)
    for text in ("", "at night", look.started_at.isoformat(), running.now.isoformat()):
        assert gives_late(running, text) == bolus_looks.StartedSince(at=look.started_at)
    assert gives_late(running, given_at) == boluses.Given(calls=False)
    assert not isinstance(gives_late(running, given_at), boluses.Given)

    (given,) = load_state(running).boluses.given
    assert (given.in_force, given.at.isoformat()) == (first, given_at)
    entries = account_told(running)
    assert entries[5].data == {"kind": "bolus", "amount": "0.4 mg", "loading": False}
    assert entries[5].at.isoformat() == given_at
    after = "removed" if how == "syringe" else "paused"
    assert [each.data["kind"] for each in entries[4:7]] == ["started", "bolus", after]
    is_recounted(running, how)


def is_recounted(ward: Ward, how: str) -> None:
    """2 mL of the first syringe, as SQL has it; 2 mL more by a device whose totals leave it out."""
    if how != "syringe":
        read = answers(order=ORDERED) if how == "without a check" else HALF
        ward.re_checks().both_read(ward.of_its_patient(changed(read, totals=SHOWN))).compares().both_sign()
    infusion, told = infusion_of(ward), account_told(ward)
    written = [each.written() for each in told]
    for counts, volume in ((True, 2), (False, 4)):
        folded = balanced(written, {"totals_count_bolus": counts})["syringes"]
        with ward.site.store.read() as reader:
            counted = reader.recounted([infusion], **{**APART, "counts_bolus": counts})[infusion]
        assert folded[0]["volume"]["delivered_by_device"]["exact"] == str(volume)
        assert [each.delivered_by_device for each in counted] == [
            Fraction(each["volume"]["delivered_by_device"]["exact"]) for each in folded
        ]


def test_what_was_given_since_that_start_stands_in_no_way_of_what_was_given_before_it(running: Ward) -> None:
    """Each within its order's interval of the other; of the two the later is the last."""
    first = running.check
    does(running, boluses.look_before, NADIA, WELL)
    given_at = (running.now + timedelta(minutes=1)).isoformat()
    running.wait(timedelta(minutes=2))
    starts_anew(running, "settings")
    running.wait(timedelta(minutes=6))
    assert isinstance(gives(running, IMOGEN), boluses.Given)
    (later,) = load_state(running).boluses.given
    assert gives_late(running, given_at) == boluses.Given(calls=True)
    assert does(running, boluses.see_bolus).last == later
    assert [each.in_force for each in load_state(running).boluses.given] == [running.check, first]


def test_one_is_of_no_syringe_that_came_on_after_the_look(running: Ward) -> None:
    """It is said to have been given once the old one had been counted; the account takes none of it then."""
    running.wait(timedelta(minutes=30))
    does(running, boluses.look_before, IMOGEN, WELL)
    running.wait(timedelta(minutes=2))
    starts_anew(running, "syringe")
    counted_at, loaded_at = counted_and_loaded(running)
    before, during = counted_at - timedelta(seconds=1), loaded_at + timedelta(seconds=1)
    assert during < load_state(running).boluses.looks[0].started_at
    assert gives_late(running, during.isoformat(), IMOGEN) == bolus_looks.TakenOffBefore(at=counted_at)
    assert gives_late(running, counted_at.isoformat(), IMOGEN) == bolus_looks.TakenOffBefore(at=counted_at)
    assert gives_late(running, before.isoformat(), IMOGEN) == boluses.Given(calls=False)


def counted_and_loaded(ward: Ward) -> tuple[Any, Any]:
    """When by the account the first syringe was counted and came off, and the second came on."""
    told = account_told(ward)
    (counted_at,) = (each.at for each in told if each.data["kind"] == "removed")
    return counted_at, [each.at for each in told if each.data["kind"] == "loaded"][-1]


def test_after_a_start_it_is_asked_for_a_day(running: Ward) -> None:
    does(running, boluses.look_before, NADIA, WELL)
    looked_at = running.now
    given_at = (looked_at + timedelta(minutes=1)).isoformat()
    running.wait(timedelta(minutes=5))
    starts_anew(running, "settings")
    running.wait(looked_at + timedelta(hours=24) - running.now - timedelta(minutes=1))
    assert infusion_page(running).looked
    running.wait(timedelta(minutes=2))
    assert not infusion_page(running).looked
    seen = does(running, boluses.see_bolus)
    assert (seen.may_have_given, seen.started_at) == (None, None)
    assert gives_late(running, given_at) == boluses.LookFirst()


def infusion_page(ward: Ward) -> InfusionSeen:
    seen = does(ward, see_infusion)
    assert isinstance(seen, InfusionSeen)
    return seen


def test_whoever_reads_there_by_then_is_told_of_the_start_and_of_nothing_that_was_counted(
    running: Ward,
) -> None:
    running.wait(timedelta(minutes=30))
    does(running, boluses.look_before, NADIA, WELL)
    running.wait(timedelta(minutes=2))
    starts_anew(running, "syringe")
    counted_at, _ = counted_and_loaded(running)
    (look,) = load_state(running).boluses.looks
    running.re_checks()
    assert does(running, boluses.see_bolus).started_at == look.started_at
    assert gives_late(running, "") == bolus_looks.StartedSince(at=look.started_at)
    assert gives_late(running, (counted_at + timedelta(seconds=1)).isoformat()) == ReadsBlind()
    assert gives_late(running, look.at.isoformat()) == boluses.Given(calls=False)
