"""A check that ends between both hand-ins and the comparison leaves what it found, as after it."""

from collections.abc import Callable
from functools import partial

import pytest

from app.records.account_events import AccountLeftOpen
from app.records.infusion import InfusionState
from app.records.kinds import SETTINGS_CHANGE
from app.records.state import Phase
from app.site.loading import load_infusion
from app.workflow import comparing, settling, starting, transferring
from app.workflow.refusals import NotYours
from app.workflow.sweeping import sweep_once
from tests.factories.answers import SHORT, answers
from tests.story.people import IMOGEN, INES, NADIA, RECOVERY, RUTH, TOMAS, WARD
from tests.story.ward import Ward
from tests.support.together import together

# What both read alike on the device is not what is ordered.
WRONG = answers(device={"demand_dose": "2 mg"})


@pytest.fixture
def running(ward: Ward) -> Ward:
    return ward.at_stage(Phase.STARTED)


def gives_up(ward: Ward) -> None:
    ward.abandons()


def starts(ward: Ward) -> None:
    said = starting.note_start_despite_check(ward.site, ward.act(IMOGEN), ward.check, reason="pain")
    assert said == starting.StartNoted()


def starts_at_its_bed(ward: Ward) -> None:
    ward.starts_without_check(IMOGEN, bed=ward.state().check.bed)


def takes(ward: Ward) -> None:
    before = (WARD, ward.state().check.bed)
    said = transferring.take_patient(
        ward.site, ward.act(INES), before=before, unit=RECOVERY, bed="1", gives_up=ward.check
    )
    assert isinstance(said, transferring.Taken), said


def is_ended_by_help(ward: Ward) -> None:
    ward.asks_for_help(TOMAS).takes_help(RUTH).settles_help("abandon")


ENDS: tuple[Callable[[Ward], None], ...] = (gives_up, starts, starts_at_its_bed, takes, is_ended_by_help)


def infusion_of(ward: Ward) -> InfusionState:
    infusion = ward.state().check.infusion
    with ward.site.store.read() as reader:
        return load_infusion(reader, infusion)


def compared(ward: Ward) -> int:
    with ward.site.store.read() as reader:
        kept = reader.comparisons(ward.check)
        told = [each for each in reader.entries(ward.check) if each.event.kind == "compared"]
    assert len(kept) == len(told)
    return len(kept)


@pytest.fixture(autouse=True)
def _quick(quick_pdf: None) -> None:
    """The sweeper makes the record of the set-up meanwhile."""


def sweeps(ward: Ward) -> int:
    """How many rounds the sweeper compared."""
    swept = sweep_once(ward.site, ward.wait().now, holder="sweeper")
    assert swept is not None
    return swept.compared


@pytest.mark.parametrize("ends", ENDS)
def test_what_does_not_add_up_is_the_charge_nurses(running: Ward, ends: Callable[[Ward], None]) -> None:
    running.re_checks().both_read(SHORT)
    assert running.phase is Phase.BOTH_HANDED_IN
    ends(running)

    assert (running.phase, compared(running)) == (Phase.ABANDONED, 1)
    infusion = running.state().check.infusion
    with running.site.store.read() as reader:
        course = reader.course(infusion)
    assert [each.check for each in course if isinstance(each.event, AccountLeftOpen)] == [running.check]
    # The sweeper comes later, and finds nothing to do.
    assert sweeps(running) == 0
    assert compared(running) == 1


def test_what_both_read_alike_of_what_runs_and_is_wrong_leads_to_the_check_that_puts_it_right(
    running: Ward,
) -> None:
    running.re_checks().both_read(WRONG).abandons()
    assert infusion_of(running).led_to == SETTINGS_CHANGE.name


def test_a_comparison_that_cannot_be_made_keeps_nobody_from_giving_it_up(
    running: Ward, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    running.re_checks().both_read(SHORT)

    def fails(*_given: object, **_named: object) -> None:
        message = "the limits of the site are no limits"
        raise ValueError(message)

    with monkeypatch.context() as broken:
        broken.setattr(comparing, "make_comparison", fails)
        running.abandons()
    assert (running.phase, compared(running), infusion_of(running).all_left_open) == (Phase.ABANDONED, 0, ())
    # Whoever runs the program learns of it, and nothing that was read.
    assert [each.getMessage() for each in caplog.records] == [
        "a check ends, and was not compared before: ValueError"
    ]
    # What was never compared stays closed.
    assert sweeps(running) == 0
    assert compared(running) == 0


def test_whoever_may_not_end_it_has_nothing_compared(running: Ward) -> None:
    running.re_checks().both_read(SHORT)
    act = running.act(IMOGEN)
    said = settling.abandon(running.site, act, running.check, reason="time", text="")
    assert said == NotYours()
    said = settling.abandon(running.site, running.act(NADIA), running.check, reason="no reason", text="")
    assert type(said).__name__ == "Incomplete"
    assert (running.phase, compared(running)) == (Phase.BOTH_HANDED_IN, 0)


def test_however_many_give_it_up_and_compare_at_the_same_instant_there_is_one_comparison(
    running: Ward,
) -> None:
    running.re_checks().both_read(SHORT)
    acts = [running.act(each) for each in (NADIA, TOMAS, RUTH)]
    site, check = running.site, running.check

    said = together(
        *(partial(settling.abandon, site, each, check, reason="time", text="") for each in acts),
        partial(comparing.compare_round, site, check, acts[0].now),
    )
    assert [each for each in said if isinstance(each, settling.Done)] == [settling.Done()]
    assert (running.phase, compared(running)) == (Phase.ABANDONED, 1)
    assert len(infusion_of(running).all_left_open) == 1
