"""No bolus while a check that changes or ends what runs is open: its two read what was given."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime, timedelta

import pytest

from app.auditing.invariants import check_invariants
from app.auditing.recounting import differing_accounts
from app.records.kinds import CLEARING, DEVICE_CHANGE, SETTINGS_CHANGE, SYRINGE_CHANGE, Kind
from app.workflow import bolus_looks, boluses
from app.workflow.infusions import InfusionSeen, see_infusion
from app.workflow.refusals import ReadsBlind
from tests.factories.answers import answers, changed
from tests.story.people import IMOGEN, NADIA, TOMAS
from tests.story.ward import Ward, open_ward
from tests.workflow.test_boluses import ORDERED, WELL, does, gives, gives_late, load_state

MINUTE = timedelta(minutes=1)
SHOWN = {"total_amount": "0.4 mg", "presses": "0", "doses": "0", "left": "25.6 mL"}
# The first syringe gave one bolus of 0.4 mg, and another is loaded.
ANOTHER = changed(answers(order=ORDERED), label={"lot": "LOT-8"}, totals=SHOWN)
# It gave two demands, as far as anybody has written down.
BY_DEMAND = changed(ANOTHER, totals={**SHOWN, "presses": "2", "doses": "2"})


@pytest.fixture
def running(database_url: str) -> Iterator[Ward]:
    """It runs under an order that lets staff give boluses; its account computes at the end of each test."""
    with open_ward(database_url) as ward:
        read = answers(order=ORDERED)
        ward.opens().joins().both_read(read).compares().confirms_all().both_sign().both_look().starts()
        yield ward.wait(30 * MINUTE)
        with ward.site.store.read() as reader:
            assert list(differing_accounts(reader, ward.now)) == []
        assert check_invariants(ward.site, ward.now) == ()


def opened_at(ward: Ward) -> datetime:
    return ward.state().check.opened_at


def goes_on(ward: Ward) -> Ward:
    """What a syringe change asks for once both have read."""
    return ward.compares().primes("0.3 mL").confirms_all().both_sign().both_look().starts()


@pytest.mark.parametrize("kind", [SYRINGE_CHANGE, SETTINGS_CHANGE, DEVICE_CHANGE, CLEARING])
def test_while_a_change_is_open_none_is_looked_for(running: Ward, kind: Kind) -> None:
    running.changes(kind)
    at = opened_at(running)
    assert gives(running, IMOGEN) == bolus_looks.CheckOpen(at=at)
    seen, page = does(running, boluses.see_bolus, IMOGEN), does(running, see_infusion, IMOGEN)
    assert (seen.refused, seen.opened_at) == (bolus_looks.CheckOpen(at=at), at)
    assert isinstance(page, InfusionSeen)
    assert page.stands_since == at
    assert does(running, boluses.give_bolus, IMOGEN) == bolus_looks.CheckOpen(at=at)
    # The two who read there are told what they were.
    assert gives(running, NADIA) == ReadsBlind()
    # Given up, it changed nothing.
    running.abandons()
    assert does(running, see_infusion, IMOGEN).stands_since is None
    assert gives(running, IMOGEN) == boluses.Given(calls=False)


def test_while_an_end_is_open_none_is_looked_for(running: Ward) -> None:
    running.ends()
    assert gives(running, IMOGEN) == bolus_looks.CheckOpen(at=opened_at(running))


@pytest.mark.parametrize("what", ["handoff", "re-check"])
def test_a_check_that_changes_nothing_stands_in_no_way(running: Ward, what: str) -> None:
    answers_for = load_state(running).responsible
    gives_over, takes = (NADIA, TOMAS) if answers_for == NADIA.id else (TOMAS, NADIA)
    _ = running.hands_over(gives_over, to=takes) if what == "handoff" else running.re_checks()
    assert does(running, see_infusion, IMOGEN).stands_since is None
    assert gives(running, IMOGEN) == boluses.Given(calls=False)


def test_nor_does_one_at_its_bed_that_is_of_another_infusion(running: Ward) -> None:
    running.changes(SYRINGE_CHANGE)
    check = running.state().check
    with running.site.store.read() as reader:
        kept = reader.find_infusion(check.infusion)
        assert kept is not None
        assert bolus_looks.stands_since(reader, kept) == check.opened_at
        assert bolus_looks.stands_since(reader, replace(kept, id="another")) is None


def test_one_that_was_given_once_both_had_read_is_not_written_down_and_its_account_computes(
    running: Ward,
) -> None:
    """It would stand in the account behind the syringe that was taken off when it was read."""
    does(running, boluses.look_before, IMOGEN, WELL)
    looked_at = running.now
    running.wait(4 * MINUTE).changes(SYRINGE_CHANGE)
    at = opened_at(running)
    # Also before anybody has read, so that the refusal tells nobody of that.
    running.wait(MINUTE)
    assert gives_late(running, running.now.isoformat(), IMOGEN) == bolus_looks.OpenedSince(at=at)
    running.both_read(BY_DEMAND).wait(MINUTE)
    for text in ("at night", (at + MINUTE).isoformat(), running.now.isoformat()):
        assert gives_late(running, text, IMOGEN) == bolus_looks.OpenedSince(at=at)
    assert does(running, boluses.see_bolus, IMOGEN).may_have_given == looked_at
    assert load_state(running).boluses.given == ()
    goes_on(running)


@pytest.mark.parametrize("stated", ["", "with its time"])
def test_one_that_was_given_before_the_opening_is_written_down_at_any_time(
    running: Ward, stated: str
) -> None:
    """Blank, it was given at the latest when the check was opened; the totals that were read have it."""
    does(running, boluses.look_before, IMOGEN, WELL)
    given_at = running.now + MINUTE
    running.wait(4 * MINUTE).changes(SYRINGE_CHANGE)
    at = opened_at(running)
    running.both_read(ANOTHER).wait(MINUTE)
    text = given_at.isoformat() if stated else ""
    assert gives_late(running, text, IMOGEN) == boluses.Given(calls=False)
    (given,) = load_state(running).boluses.given
    assert given.at == (given_at if stated else at.replace(microsecond=0))
    goes_on(running)


def test_whoever_looked_and_reads_there_now_writes_down_what_was_before_and_is_told_of_nothing_after(
    running: Ward,
) -> None:
    does(running, boluses.look_before, NADIA, WELL)
    running.wait(2 * MINUTE).changes(SYRINGE_CHANGE).wait(MINUTE)
    assert gives_late(running, running.now.isoformat()) == ReadsBlind()
    assert gives_late(running, "") == boluses.Given(calls=False)
    running.both_read(ANOTHER)
    goes_on(running)


def test_one_that_was_given_while_a_change_was_open_is_written_down_once_that_was_given_up(
    running: Ward,
) -> None:
    does(running, boluses.look_before, IMOGEN, WELL)
    running.wait(MINUTE).changes(SYRINGE_CHANGE).both_read(ANOTHER).wait(2 * MINUTE)
    given_at = running.now.isoformat()
    assert isinstance(gives_late(running, given_at, IMOGEN), bolus_looks.OpenedSince)
    running.abandons()
    assert gives_late(running, given_at, IMOGEN) == boluses.Given(calls=False)
    assert load_state(running).boluses.given[-1].at.isoformat() == given_at


def test_once_it_was_started_the_syringe_that_was_counted_says_no(running: Ward) -> None:
    does(running, boluses.look_before, IMOGEN, WELL)
    running.wait(MINUTE).changes(SYRINGE_CHANGE).both_read(BY_DEMAND)
    given_at = running.wait(timedelta(seconds=1)).now.isoformat()
    goes_on(running)
    assert isinstance(gives_late(running, given_at, IMOGEN), bolus_looks.TakenOffBefore)


def test_a_set_up_to_which_a_check_led_has_it_stand_too(running: Ward) -> None:
    """The look of before is not ended, and the syringe may be another one."""
    does(running, boluses.look_before, IMOGEN, WELL)
    wrong = changed(answers(order=ORDERED), device={"demand_dose": "2 mg"})
    running.re_checks().both_read(wrong).compares().leads_on()
    running.opens(bed=running.state().check.bed)
    running.wait(MINUTE)
    at = opened_at(running)
    assert does(running, boluses.look_before, IMOGEN, WELL) == boluses.NotRunning()
    assert gives_late(running, running.now.isoformat(), IMOGEN) == bolus_looks.OpenedSince(at=at)
