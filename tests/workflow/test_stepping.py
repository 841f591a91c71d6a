"""The safety steps: in order, done by one and verified by the other, early where that is allowed."""

from dataclasses import replace
from datetime import timedelta

import pytest

from app.records.state import Phase
from app.workflow import stepping
from app.workflow.refusals import NotFound, NotNow, NotYours
from tests.factories.answers import answers
from tests.story.people import IMOGEN, NADIA, TOMAS
from tests.story.ward import Ward

EARLY = (
    "syringe-seated",
    "size-matches",
    "totals-begin",
    "label-visible",
    "cover-locked",
    "set-primed",
    "shared-part-cleared",
)
TAKEN = stepping.Taken(complete=False)
ALONE = {"carrier_fluid": "none", "carrier_rate": None}


# ---------------------------------------------------------------------------------------------------------
# Order


def test_a_group_opens_after_the_one_before_is_verified(ward: Ward) -> None:
    ward.at_stage(Phase.STEPS)

    assert ward.doing(NADIA, "anti-siphon") == stepping.OutOfTurn()
    ward.confirms_group()
    assert ward.state().group == 2
    assert ward.doing(NADIA, "button-understood") == stepping.OutOfTurn()
    ward.confirms_group().confirms_group()
    assert ward.phase is Phase.SIGNING


def test_verifying_waits_for_doing(ward: Ward) -> None:
    ward.at_stage(Phase.STEPS)

    assert ward.verifying(TOMAS, "cover-locked") == stepping.OutOfTurn()
    assert ward.doing(NADIA, "cover-locked") == TAKEN
    assert ward.verifying(TOMAS, "cover-locked") == TAKEN


def test_all_or_none_of_what_was_ticked_is_confirmed(one_ward: Ward) -> None:
    one_ward.at_stage(Phase.STEPS)

    assert one_ward.doing(NADIA, "cover-locked", "anti-siphon") == stepping.OutOfTurn()
    assert one_ward.doing(NADIA, "cover-locked", "no-such-step") == stepping.OutOfTurn()
    assert one_ward.doing(NADIA) == stepping.OutOfTurn()
    assert one_ward.state().confirmations == ()


def test_confirming_again_changes_nothing(one_ward: Ward) -> None:
    one_ward.at_stage(Phase.STEPS).does(NADIA, "cover-locked")
    before = one_ward.state().last_position

    assert one_ward.doing(NADIA, "cover-locked") == TAKEN
    assert one_ward.state().last_position == before


def test_the_last_step_freezes_the_record(ward: Ward) -> None:
    ward.at_stage(Phase.STEPS).confirms_group().confirms_group()
    ward.does(NADIA, "clamp-opened", "button-understood", "only-the-patient", "key-secured")

    assert ward.verifying(TOMAS, "clamp-opened", "button-understood", "only-the-patient") == TAKEN
    assert ward.verifying(TOMAS, "key-secured") == stepping.Taken(complete=True)
    with ward.site.store.read() as reader:
        (frozen,) = reader.frozen_records(ward.check)
    assert (frozen.edition, frozen.digest) == (1, ward.state().frozen_digest)
    assert ward.verifying(TOMAS, "key-secured") == NotNow(phase=Phase.SIGNING)


def test_only_the_two_confirm(one_ward: Ward) -> None:
    one_ward.at_stage(Phase.STEPS)

    assert one_ward.doing(IMOGEN, "cover-locked") == NotYours()
    assert one_ward.observing(IMOGEN) == NotYours()
    assert one_ward.reading_volume(IMOGEN, "2.3 mL") == NotYours()
    one_ward.check = "no-such-check"
    assert one_ward.doing(NADIA, "cover-locked") == NotFound()
    assert one_ward.observing(NADIA) == NotFound()
    assert one_ward.reading_volume(NADIA, "2.3 mL") == NotFound()


@pytest.mark.parametrize(
    "phase", [Phase.SIGNING, Phase.CLEARED, Phase.LAPSED, Phase.STARTED, Phase.ABANDONED]
)
def test_no_step_is_confirmed_when_it_is_too_late(one_ward: Ward, phase: Phase) -> None:
    one_ward.at_stage(phase)

    assert one_ward.doing(NADIA, "cover-locked") == NotNow(phase=phase)
    assert one_ward.observing(NADIA) == NotNow(phase=phase)
    assert one_ward.reading_volume(NADIA, "2.3 mL") == NotNow(phase=phase)


def test_a_line_of_its_own_has_steps_of_its_own(one_ward: Ward) -> None:
    own_line = answers(order=ALONE, device={**ALONE, "pack": "set-150-own"})
    one_ward.opens().joins().both_read(own_line).compares()
    plan = one_ward.state().plan
    assert plan is not None

    assert plan.name == "dedicated-line"
    assert one_ward.doing(NADIA, "set-primed") == stepping.OutOfTurn()
    assert one_ward.confirms_all().phase is Phase.SIGNING


def test_what_is_ticked_and_written_stands_together_or_not_at_all(one_ward: Ward) -> None:
    one_ward.at_stage(Phase.STEPS)
    well = stepping.Observed(sedation="0", respiratory_rate="14 /min", spo2="97 %")
    read = stepping.PrimedVolume(volume="2.3 mL", round=1)
    given = stepping.Given(done=("cover-locked",), observed=well, primed=read)
    before = one_ward.state().last_position

    for wrong in (
        replace(given, done=("cover-locked", "anti-siphon")),
        replace(given, observed=replace(well, spo2="97.0 %")),
        replace(given, observed=replace(well, sedation="9")),
        replace(given, primed=replace(read, volume=".5 mL")),
    ):
        assert isinstance(one_ward.taking_steps(NADIA, wrong), stepping.OutOfTurn | stepping.Malformed)
        assert one_ward.state().last_position == before
    assert one_ward.taking_steps(NADIA, given) == TAKEN
    state = one_ward.state()
    assert {each.step for each in state.confirmations} == {"baseline", "cover-locked", "primed-volume"}
    assert state.priming_handed_in == {1}


def test_every_fault_is_told_at_once(one_ward: Ward) -> None:
    one_ward.at_stage(Phase.STEPS)
    said = one_ward.taking_steps(
        NADIA,
        stepping.Given(
            observed=stepping.Observed(sedation="0", respiratory_rate=".9 /min", spo2="97.0 %"),
            primed=stepping.PrimedVolume(volume="1,5 mL", round=1),
        ),
    )
    assert isinstance(said, stepping.Malformed)
    assert said.faults.keys() == {"respiratory_rate", "spo2", "volume"}


# ---------------------------------------------------------------------------------------------------------
# Early


@pytest.mark.parametrize(
    "phase",
    [Phase.READING, Phase.BOTH_HANDED_IN, Phase.DISPUTED, Phase.ESCALATED, Phase.AGREED],
)
def test_priming_may_come_before_the_readings_agree(one_ward: Ward, phase: Phase) -> None:
    one_ward.at_stage(phase)

    one_ward.does(NADIA, *EARLY).verifies(TOMAS, *EARLY).primes()
    assert one_ward.state().priming_handed_in == {1}
    # It is judged beside what both read, and verified after that.
    assert one_ward.state().priming_settled is (phase is Phase.AGREED)
    # Nothing that touches the patient may.
    for step in ("baseline", "connected", "key-secured"):
        assert one_ward.doing(NADIA, step) == stepping.OutOfTurn()
    assert one_ward.observing(NADIA) == stepping.OutOfTurn()


def test_what_was_confirmed_early_need_not_be_confirmed_again(ward: Ward) -> None:
    ward.at_stage(Phase.READING).does(NADIA, *EARLY).verifies(TOMAS, *EARLY).primes()
    ward.both_read().compares().observes().verifies(TOMAS, "baseline", "primed-volume")

    assert ward.state().group == 2


def test_a_syringe_that_was_replaced_is_seated_and_primed_again(one_ward: Ward) -> None:
    one_ward.at_stage(Phase.READING).does(NADIA, *EARLY).verifies(TOMAS, *EARLY).primes()
    one_ward.both_read().compares().reads_again(NADIA, "label").both_read().compares()

    assert not one_ward.state().priming_settled
    assert one_ward.verifying(TOMAS, "set-primed") == stepping.OutOfTurn()
    assert one_ward.confirms_all().phase is Phase.SIGNING


# ---------------------------------------------------------------------------------------------------------
# A later edition


def test_every_source_that_is_put_right_leads_to_another_edition(one_ward: Ward) -> None:
    one_ward.at_stage(Phase.SIGNING)
    for edition, source in enumerate(("wristband", "chart", "order", "label", "device", "monitor"), start=2):
        one_ward.reads_again(NADIA, source).both_read().compares().confirms_all()
        assert (one_ward.phase, one_ward.state().edition) == (Phase.SIGNING, edition)


def test_the_record_of_a_later_edition_holds_every_compared_round(one_ward: Ward) -> None:
    import json

    one_ward.at_stage(Phase.CLEARED).wait(timedelta(hours=1))
    one_ward.reads_again(NADIA, "device").both_read().compares().confirms_all()
    with one_ward.site.store.read() as reader:
        first, second = (json.loads(each.document) for each in reader.frozen_records(one_ward.check))

    assert [each["round"] for each in first["rounds"]] == [1]
    assert [(each["round"], each["touched"]) for each in second["rounds"]] == [(1, []), (2, ["device"])]
    assert second["rounds"][0] == first["rounds"][0]
    assert second["versions"]["safety_steps"] == "steps-7"


def test_the_line_is_traced_once_it_is_connected_or_with_the_same_press(ward: Ward) -> None:
    ward.at_stage(Phase.STEPS).confirms_group()
    # Before the wristband is read nothing is connected, and so nothing traced.
    assert ward.doing(NADIA, "traced") == stepping.OutOfTurn()
    ward.reads_wristband(NADIA)
    first = "This comes first, or with it: Connected at the port nearest the vein, still clamped."
    assert ward.doing(NADIA, "traced") == stepping.Malformed(faults={"step": first})
    assert ward.doing(NADIA, "connected", "traced") == TAKEN
    ward.verifies(TOMAS, "traced")
    # Whoever reads the wristband anew connects anew, and what was traced is another line.
    ward.reads_wristband(TOMAS)
    said = {each.step for each in ward.state().confirmations}
    assert {"connected", "traced"} & said == set()


def test_whoever_did_not_read_the_wristband_may_trace_once_it_is_connected(one_ward: Ward) -> None:
    one_ward.at_stage(Phase.STEPS).confirms_group().reads_wristband(NADIA)
    one_ward.does(NADIA, "connected")

    assert one_ward.doing(TOMAS, "traced") == TAKEN
