"""The safety steps: in order, done by the first and verified by the second, early where that is allowed."""

from dataclasses import replace
from datetime import timedelta

import pytest

from app.judging.priming import within_tolerance
from app.records.kept import PRIMING
from app.records.state import Phase
from app.workflow import stepping
from app.workflow.refusals import NotFound, NotNow, NotYours
from tests.factories.answers import answers
from tests.factories.ward import IMOGEN, NADIA, TOMAS, Somebody, Ward

EARLY = (
    "syringe-seated",
    "size-matches",
    "label-visible",
    "cover-locked",
    "set-primed",
    "shared-part-cleared",
)
TAKEN = stepping.Taken(complete=False)
ALONE = {"carrier_fluid": "none", "carrier_rate": None}


def confirms(ward: Ward, who: Somebody, *steps: str) -> object:
    return takes(ward, who, stepping.Given(ticked=steps))


def observes(
    ward: Ward, who: Somebody = NADIA, *, sedation: str = "0", rate: str = "14 /min", spo2: str = "97 %"
) -> object:
    seen = stepping.Observed(sedation=sedation, respiratory_rate=rate, spo2=spo2)
    return takes(ward, who, stepping.Given(observed=seen))


def reads_volume(ward: Ward, who: Somebody, volume: str, asked_in: int = 1) -> object:
    return takes(ward, who, stepping.Given(primed=stepping.PrimedVolume(volume=volume, round=asked_in)))


def takes(ward: Ward, who: Somebody, given: stepping.Given) -> object:
    return stepping.take_steps(ward.site, ward.act(who), ward.check, given)


# ---------------------------------------------------------------------------------------------------------
# Order


def test_a_group_opens_after_the_one_before_is_verified(ward: Ward) -> None:
    ward.at_stage(Phase.STEPS)

    assert confirms(ward, NADIA, "anti-siphon") == stepping.OutOfTurn()
    ward.confirms_group()
    assert ward.state().group == 2
    assert confirms(ward, NADIA, "button-understood") == stepping.OutOfTurn()
    ward.confirms_group().confirms_group()
    assert ward.phase is Phase.SIGNING


def test_verifying_waits_for_doing(ward: Ward) -> None:
    ward.at_stage(Phase.STEPS)

    assert confirms(ward, TOMAS, "cover-locked") == stepping.OutOfTurn()
    assert confirms(ward, NADIA, "cover-locked") == TAKEN
    assert confirms(ward, TOMAS, "cover-locked") == TAKEN


def test_all_or_none_of_what_was_ticked_is_confirmed(one_ward: Ward) -> None:
    one_ward.at_stage(Phase.STEPS)

    assert confirms(one_ward, NADIA, "cover-locked", "anti-siphon") == stepping.OutOfTurn()
    assert confirms(one_ward, NADIA, "cover-locked", "no-such-step") == stepping.OutOfTurn()
    assert confirms(one_ward, NADIA) == stepping.OutOfTurn()
    assert one_ward.state().confirmations == ()


def test_confirming_again_changes_nothing(one_ward: Ward) -> None:
    one_ward.at_stage(Phase.STEPS).confirms(NADIA, "cover-locked")
    before = one_ward.state().last_position

    assert confirms(one_ward, NADIA, "cover-locked") == TAKEN
    assert one_ward.state().last_position == before


def test_the_last_step_freezes_the_record(ward: Ward) -> None:
    ward.at_stage(Phase.STEPS).confirms_group().confirms_group()
    ward.confirms(NADIA, "button-understood", "only-the-patient", "key-secured")

    assert confirms(ward, TOMAS, "button-understood", "only-the-patient") == TAKEN
    assert confirms(ward, TOMAS, "key-secured") == stepping.Taken(complete=True)
    with ward.site.store.read() as reader:
        (frozen,) = reader.frozen_records(ward.check)
    assert (frozen.edition, frozen.digest) == (1, ward.state().frozen_digest)
    assert confirms(ward, TOMAS, "key-secured") == NotNow(phase=Phase.SIGNING)


def test_only_the_two_confirm(one_ward: Ward) -> None:
    one_ward.at_stage(Phase.STEPS)

    assert confirms(one_ward, IMOGEN, "cover-locked") == NotYours()
    assert observes(one_ward, IMOGEN) == NotYours()
    assert reads_volume(one_ward, IMOGEN, "2.3 mL") == NotYours()
    one_ward.check = "no-such-check"
    assert confirms(one_ward, NADIA, "cover-locked") == NotFound()
    assert observes(one_ward) == NotFound()
    assert reads_volume(one_ward, NADIA, "2.3 mL") == NotFound()


@pytest.mark.parametrize(
    "phase", [Phase.SIGNING, Phase.CLEARED, Phase.LAPSED, Phase.STARTED, Phase.ABANDONED]
)
def test_no_step_is_confirmed_when_it_is_too_late(one_ward: Ward, phase: Phase) -> None:
    one_ward.at_stage(phase)

    assert confirms(one_ward, NADIA, "cover-locked") == NotNow(phase=phase)
    assert observes(one_ward) == NotNow(phase=phase)
    assert reads_volume(one_ward, NADIA, "2.3 mL") == NotNow(phase=phase)


def test_a_line_of_its_own_has_steps_of_its_own(one_ward: Ward) -> None:
    own_line = answers(order=ALONE, device={**ALONE, "pack": "set-150-own"})
    one_ward.opens().joins().both_read(own_line).compares()
    plan = one_ward.state().plan
    assert plan is not None

    assert plan.name == "dedicated-line"
    assert confirms(one_ward, NADIA, "set-primed") == stepping.OutOfTurn()
    assert one_ward.confirms_all().phase is Phase.SIGNING


def test_what_is_ticked_and_written_stands_together_or_not_at_all(one_ward: Ward) -> None:
    one_ward.at_stage(Phase.STEPS)
    well = stepping.Observed(sedation="0", respiratory_rate="14 /min", spo2="97 %")
    read = stepping.PrimedVolume(volume="2.3 mL", round=1)
    given = stepping.Given(ticked=("cover-locked",), observed=well, primed=read)
    before = one_ward.state().last_position

    for wrong in (
        replace(given, ticked=("cover-locked", "anti-siphon")),
        replace(given, observed=replace(well, spo2="97.0 %")),
        replace(given, observed=replace(well, sedation="9")),
        replace(given, primed=replace(read, volume=".5 mL")),
    ):
        assert isinstance(takes(one_ward, NADIA, wrong), stepping.OutOfTurn | stepping.Malformed)
        assert one_ward.state().last_position == before
    assert takes(one_ward, NADIA, given) == TAKEN
    state = one_ward.state()
    assert {each.step for each in state.confirmations} == {"baseline", "cover-locked"}
    assert state.priming_handed_in == {1}


def test_every_fault_is_told_at_once(one_ward: Ward) -> None:
    one_ward.at_stage(Phase.STEPS)
    said = takes(
        one_ward,
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

    one_ward.confirms(NADIA, *EARLY).confirms(TOMAS, *EARLY).primes()
    assert one_ward.state().priming_settled
    # Nothing that touches the patient may.
    for step in ("baseline", "connected", "key-secured"):
        assert confirms(one_ward, NADIA, step) == stepping.OutOfTurn()
    assert observes(one_ward) == stepping.OutOfTurn()


def test_what_was_confirmed_early_need_not_be_confirmed_again(ward: Ward) -> None:
    ward.at_stage(Phase.READING).confirms(NADIA, *EARLY).confirms(TOMAS, *EARLY).primes()
    ward.both_read().compares().observes().confirms(TOMAS, "baseline")

    assert ward.state().group == 2


def test_a_syringe_that_was_replaced_is_seated_and_primed_again(one_ward: Ward) -> None:
    one_ward.at_stage(Phase.READING).confirms(NADIA, *EARLY).confirms(TOMAS, *EARLY).primes()
    one_ward.both_read().compares().reads_again(NADIA, "label").both_read().compares()

    assert not one_ward.state().priming_settled
    assert confirms(one_ward, TOMAS, "set-primed") == stepping.OutOfTurn()
    assert one_ward.confirms_all().phase is Phase.SIGNING


# ---------------------------------------------------------------------------------------------------------
# The baseline


@pytest.mark.parametrize(
    ("sedation", "rate", "spo2"),
    [
        # At the site's thresholds: 10 /min, 92 %, easy to wake.
        ("1", "10 /min", "92 %"),
        ("0", "14 /min", "97 %"),
    ],
)
def test_at_the_thresholds_the_infusion_may_start(
    one_ward: Ward, sedation: str, rate: str, spo2: str
) -> None:
    one_ward.at_stage(Phase.STEPS)

    seen = observes(one_ward, sedation=sedation, rate=rate, spo2=spo2)

    assert seen == TAKEN


@pytest.mark.parametrize(
    ("sedation", "rate", "spo2"),
    [("2", "14 /min", "97 %"), ("0", "9 /min", "97 %"), ("0", "14 /min", "91 %"), ("3", "6 /min", "80 %")],
)
def test_below_them_nothing_is_started(ward: Ward, sedation: str, rate: str, spo2: str) -> None:
    ward.at_stage(Phase.STEPS)

    assert observes(ward, sedation=sedation, rate=rate, spo2=spo2) == stepping.DoNotStart()
    assert ward.state().baseline is not None
    # The step is not done: it cannot be verified, and no later group opens.
    assert confirms(ward, TOMAS, "baseline") == stepping.OutOfTurn()
    assert confirms(ward, NADIA, "baseline") == stepping.OutOfTurn()
    assert ward.state().group == 1


def test_a_patient_who_became_drowsy_is_not_started_on_an_earlier_baseline(ward: Ward) -> None:
    ward.at_stage(Phase.STEPS).observes().confirms(TOMAS, "baseline")

    assert observes(ward, sedation="2") == stepping.DoNotStart()
    assert confirms(ward, TOMAS, "baseline") == stepping.OutOfTurn()
    ward.observes(sedation="1")
    assert ward.confirms_all().phase is Phase.SIGNING


@pytest.mark.parametrize("given", ["", "4", "awake"])
def test_sedation_is_one_of_the_scales_levels(one_ward: Ward, given: str) -> None:
    one_ward.at_stage(Phase.STEPS)

    assert observes(one_ward, sedation=given) == stepping.Malformed(faults={"sedation": "Choose the level."})


@pytest.mark.parametrize(
    ("rate", "spo2", "wrong"),
    [
        ("14", "97 %", {"respiratory_rate"}),
        ("14 /min", ".97 %", {"spo2"}),
        ("", "97", {"respiratory_rate", "spo2"}),
    ],
)
def test_what_is_observed_is_written_as_a_quantity(
    one_ward: Ward, rate: str, spo2: str, wrong: set[str]
) -> None:
    one_ward.at_stage(Phase.STEPS)
    said = observes(one_ward, rate=rate, spo2=spo2)
    assert isinstance(said, stepping.Malformed)

    assert said.faults.keys() == wrong
    assert all(said.faults.values())
    assert one_ward.state().baseline is None


def test_the_baseline_is_the_first_nurses(one_ward: Ward) -> None:
    one_ward.at_stage(Phase.STEPS)

    assert observes(one_ward, TOMAS) == stepping.OutOfTurn()


# ---------------------------------------------------------------------------------------------------------
# The primed volume


def test_the_primed_volume_is_read_by_each_without_sight_of_the_others(ward: Ward) -> None:
    ward.at_stage(Phase.STEPS)

    assert reads_volume(ward, NADIA, "2.3 mL") == TAKEN
    with ward.site.store.read() as reader:
        assert reader.find_comparison(ward.check, PRIMING, 1) is None
    assert reads_volume(ward, TOMAS, "2.6 mL") == TAKEN
    assert ward.state().priming_settled


def test_a_volume_that_is_handed_in_stays(ward: Ward) -> None:
    ward.at_stage(Phase.STEPS)
    reads_volume(ward, NADIA, "2.3 mL")
    before = ward.state().last_position

    assert reads_volume(ward, NADIA, "9 mL") == TAKEN
    assert ward.state().last_position == before
    reads_volume(ward, TOMAS, "2.6 mL")
    assert ward.state().priming_settled, "the first volume counts"
    assert reads_volume(ward, TOMAS, "9 mL") == TAKEN
    assert ward.state().priming_settled


def test_a_volume_that_comes_again_does_not_count_in_the_next_round(ward: Ward) -> None:
    ward.at_stage(Phase.STEPS)
    reads_volume(ward, NADIA, "2.3 mL")
    reads_volume(ward, TOMAS, "1.9 mL")
    assert ward.state().priming_round == 2

    assert reads_volume(ward, NADIA, "2.3 mL", asked_in=1) == TAKEN
    assert ward.state().priming_handed_in == frozenset()
    assert reads_volume(ward, NADIA, "2.3 mL", asked_in=2) == TAKEN
    assert ward.state().priming_handed_in == {1}


def test_out_of_tolerance_both_read_it_again(ward: Ward) -> None:
    ward.at_stage(Phase.STEPS)

    assert reads_volume(ward, TOMAS, "2.3 mL") == TAKEN
    # 0.31 mL apart; the site tolerates 0.3 mL.
    assert reads_volume(ward, NADIA, "2.61 mL") == TAKEN
    assert not ward.state().priming_settled
    assert ward.state().priming_round == 2
    ward.primes("2.3 mL", "2.6 mL")
    assert ward.state().priming_settled


@pytest.mark.parametrize(("volume", "says"), [("2.3", "unit"), ("2.30 mL", "zero"), ("", "number")])
def test_the_volume_is_written_as_a_quantity(one_ward: Ward, volume: str, says: str) -> None:
    one_ward.at_stage(Phase.STEPS)
    said = reads_volume(one_ward, NADIA, volume)
    assert isinstance(said, stepping.Malformed)

    assert says in said.faults["volume"]


def test_the_volume_is_not_asked_after_its_group(one_ward: Ward) -> None:
    one_ward.at_stage(Phase.STEPS).confirms_group()

    assert reads_volume(one_ward, NADIA, "2.3 mL") == stepping.OutOfTurn()


@pytest.mark.parametrize(
    ("first", "second", "within"),
    [
        ("2.3 mL", "2.3 mL", True),
        ("2.3 mL", "2.6 mL", True),
        ("2.6 mL", "2.3 mL", True),
        # A thousandth over, and a binary floating number would not know it.
        ("2.3 mL", "2.601 mL", False),
        ("0 mL", "0.3 mL", True),
        ("0.0023 L", "2.3 mL", True),
    ],
)
def test_the_tolerance_is_exact(first: str, second: str, within: bool) -> None:  # noqa: FBT001  # expected
    assert within_tolerance(first, second, "0.3 mL") is within


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
    assert second["versions"]["safety_steps"] == "steps-1"
