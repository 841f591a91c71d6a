"""What lapsed stays lapsed: whoever meets it first writes it down, and no clock revives it."""

from datetime import timedelta

import pytest

from app.auditing.access_digest import changed_accesses
from app.auditing.invariants import check_invariants
from app.auditing.verifying_store import Wanted, verify_store
from app.records import events
from app.records.state import Phase
from app.records.store_verification import Tally
from app.records.verification import NotReadable
from app.web.sweeper import EVERY_SECONDS
from app.workflow import starting
from app.workflow.refusals import NotNow
from app.workflow.sweeping import LEASE_TIME, sweep_once
from tests.story.people import NADIA, TOMAS
from tests.story.ward import Ward
from tests.support.together import together

A_SECOND = timedelta(seconds=1)
A_QUARTER = timedelta(minutes=15)
A_DAY = timedelta(days=1)


def lapses(ward: Ward) -> list[str]:
    with ward.site.store.read() as reader:
        entries = reader.entries(ward.check)
    return [each.event.why for each in entries if isinstance(each.event, events.ClearanceLapsed)]


def sweeps(ward: Ward, *, holder: str = "one") -> int:
    swept = sweep_once(ward.site, ward.now, holder=holder)
    assert swept is not None
    assert not swept.failed
    return swept.lapsed


def starts(ward: Ward) -> object:
    return starting.start_infusion(ward.site, ward.act(NADIA), ward.check)


def ready(ward: Ward) -> None:
    ward.at_stage(Phase.CLEARED).looks(NADIA).looks(TOMAS)


@pytest.mark.usefixtures("quick_pdf")
def test_the_sweeper_writes_down_what_lapsed_once(ward: Ward) -> None:
    ready(ward)
    assert sweeps(ward) == 0
    ward.wait(A_QUARTER)

    assert [sweeps(ward), sweeps(ward)] == [1, 0]
    assert lapses(ward) == ["time"]


@pytest.mark.usefixtures("quick_pdf")
def test_a_clock_that_is_set_back_revives_nothing_that_the_sweeper_has_met(ward: Ward) -> None:
    ready(ward)
    ward.wait(A_QUARTER)
    sweeps(ward)
    ward.wait(-A_QUARTER)

    assert starts(ward) == NotNow(phase=Phase.LAPSED)


def test_nor_what_an_act_has_met_first(ward: Ward) -> None:
    ready(ward)
    ward.wait(A_QUARTER)
    assert starts(ward) == NotNow(phase=Phase.LAPSED)
    assert lapses(ward) == ["time"]
    ward.wait(-A_QUARTER)

    assert starts(ward) == NotNow(phase=Phase.LAPSED)
    assert lapses(ward) == ["time"]


def test_by_a_clock_before_the_clearance_itself_nobody_starts(ward: Ward) -> None:
    ready(ward)
    ward.wait(-timedelta(hours=1))

    assert starts(ward) == NotNow(phase=Phase.LAPSED)
    # And once it is right again neither.
    ward.wait(timedelta(hours=1))
    assert starts(ward) == NotNow(phase=Phase.LAPSED)


def test_two_machines_whose_clocks_are_seconds_apart_start_it(ward: Ward) -> None:
    ready(ward)
    ward.wait(-timedelta(seconds=50))

    assert starts(ward) == starting.StartNoted()


def test_of_many_who_meet_it_at_the_same_instant_one_writes_it_down(ward: Ward) -> None:
    ready(ward)
    ward.wait(A_QUARTER)
    acts = [ward.act(each) for each in (NADIA, TOMAS, NADIA)]

    together(*(lambda act=act: starting.start_infusion(ward.site, act, ward.check) for act in acts))

    assert lapses(ward) == ["time"]


@pytest.mark.usefixtures("quick_pdf")
def test_after_it_the_device_is_read_again_and_a_second_time_may_lapse(ward: Ward) -> None:
    ready(ward)
    ward.wait(A_QUARTER).reads_again(NADIA, "device").both_read().compares().confirms_all().both_sign()
    assert lapses(ward) == ["time"]
    ward.wait(A_QUARTER + A_SECOND)

    assert sweeps(ward) == 1
    assert lapses(ward) == ["time", "time"]


@pytest.mark.usefixtures("quick_pdf")
@pytest.mark.parametrize("jump", [A_DAY, -A_DAY])
def test_the_sweeper_works_on_after_a_clock_that_jumped(ward: Ward, jump: timedelta) -> None:
    """A lease that was taken by a clock a day ahead held every other process for a day."""
    sweeps(ward, holder="before it crashed")
    ward.wait(jump)
    sweeps(ward, holder="by the moved clock")
    ward.wait(-jump)
    ward.at_stage(Phase.BOTH_HANDED_IN)
    ward.wait(LEASE_TIME)

    sweeps(ward, holder="another process")
    assert ward.phase is Phase.STEPS


def test_what_a_crash_left_is_taken_up_within_five_seconds(ward: Ward) -> None:
    ward.at_stage(Phase.BOTH_HANDED_IN)
    sweep_once(ward.site, ward.now - A_SECOND, holder="crashed")
    ward.at_stage(Phase.BOTH_HANDED_IN)
    assert LEASE_TIME + timedelta(seconds=EVERY_SECONDS) < timedelta(seconds=5)
    ward.wait(LEASE_TIME)

    sweeps(ward, holder="another")
    assert ward.phase is Phase.STEPS


@pytest.mark.parametrize("jump", [A_DAY, -A_DAY])
@pytest.mark.parametrize("phase", [Phase.BOTH_HANDED_IN, Phase.CLEARED])
def test_a_moved_clock_is_to_be_known_and_no_fault(one_ward: Ward, phase: Phase, jump: timedelta) -> None:
    one_ward.at_stage(phase).wait(jump)
    sweeps(one_ward)
    one_ward.at_stage(phase).wait(-jump)
    sweeps(one_ward)
    one_ward.at_stage(Phase.STARTED)
    sweeps(one_ward)

    steps = verify_store(one_ward.site, one_ward.now, Wanted(pages=False))
    assert not isinstance(steps, NotReadable)
    tally = Tally(pages=False)
    for each in steps:
        tally.add(each)
    assert [each.says for each in tally.failing] == []
    assert tally.noted
    assert check_invariants(one_ward.site, one_ward.now) == ()
    with one_ward.site.store.read() as reader:
        assert changed_accesses(reader) == ()
