"""What safety steps ask to be written down: the baseline before any dose, and the primed volume by each."""

import pytest

from app.records.kept import PRIMING, SOURCES
from app.records.state import Phase
from app.workflow import stepping
from tests.factories.answers import answers
from tests.story.people import NADIA, TOMAS, Somebody
from tests.story.script import Read
from tests.story.ward import Ward

TAKEN = stepping.Taken(complete=False)


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

    seen = one_ward.observing(NADIA, sedation=sedation, rate=rate, spo2=spo2)

    assert seen == TAKEN


@pytest.mark.parametrize(
    ("sedation", "rate", "spo2"),
    [("2", "14 /min", "97 %"), ("0", "9 /min", "97 %"), ("0", "14 /min", "91 %"), ("3", "6 /min", "80 %")],
)
def test_below_them_nothing_is_started(ward: Ward, sedation: str, rate: str, spo2: str) -> None:
    ward.at_stage(Phase.STEPS)

    assert ward.observing(NADIA, sedation=sedation, rate=rate, spo2=spo2) == stepping.DoNotStart()
    assert ward.state().baseline is not None
    # The step is not done: it cannot be verified, and no later group opens.
    assert ward.verifying(TOMAS, "baseline") == stepping.OutOfTurn()
    assert ward.doing(NADIA, "baseline") == stepping.OutOfTurn()
    assert ward.state().group == 1


def test_a_patient_who_became_drowsy_is_not_started_on_an_earlier_baseline(ward: Ward) -> None:
    ward.at_stage(Phase.STEPS).observes().verifies(TOMAS, "baseline")

    assert ward.observing(NADIA, sedation="2") == stepping.DoNotStart()
    assert ward.verifying(TOMAS, "baseline") == stepping.OutOfTurn()
    ward.observes(sedation="1")
    assert ward.confirms_all().phase is Phase.SIGNING


@pytest.mark.parametrize("given", ["", "4", "awake"])
def test_sedation_is_one_of_the_scales_levels(one_ward: Ward, given: str) -> None:
    one_ward.at_stage(Phase.STEPS)

    assert one_ward.observing(NADIA, sedation=given) == stepping.Malformed(
        faults={"sedation": "Choose the level."}
    )


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
    said = one_ward.observing(NADIA, rate=rate, spo2=spo2)
    assert isinstance(said, stepping.Malformed)

    assert said.faults.keys() == wrong
    assert all(said.faults.values())
    assert one_ward.state().baseline is None


@pytest.mark.parametrize(("one", "other"), [(NADIA, TOMAS), (TOMAS, NADIA)])
def test_whoever_writes_the_baseline_observed_it_and_the_other_verifies(
    one_ward: Ward, one: Somebody, other: Somebody
) -> None:
    one_ward.at_stage(Phase.STEPS)

    assert one_ward.observing(one) == TAKEN
    state = one_ward.state()
    assert state.baseline is not None
    assert state.baseline.by == one.id
    assert one_ward.verifying(one, "baseline") == stepping.OutOfTurn()
    assert one_ward.verifying(other, "baseline") == TAKEN


def test_who_observes_anew_is_verified_by_the_other(one_ward: Ward) -> None:
    one_ward.at_stage(Phase.STEPS).observes()

    assert one_ward.observing(TOMAS) == TAKEN
    assert one_ward.verifying(TOMAS, "baseline") == stepping.OutOfTurn()
    assert one_ward.verifying(NADIA, "baseline") == TAKEN


# ---------------------------------------------------------------------------------------------------------
# The primed volume


@pytest.mark.parametrize(("one", "other"), [(NADIA, TOMAS), (TOMAS, NADIA)])
def test_whoever_primed_reads_the_volume_and_the_other_verifies(
    one_ward: Ward, one: Somebody, other: Somebody
) -> None:
    one_ward.at_stage(Phase.STEPS)

    assert one_ward.reading_volume(one, "2.3 mL") == TAKEN
    assert one_ward.state().priming_settled
    assert one_ward.verifying(one, "primed-volume") == stepping.OutOfTurn()
    assert one_ward.verifying(other, "primed-volume") == TAKEN


def test_a_volume_that_comes_again_or_that_both_send_counts_once(ward: Ward) -> None:
    ward.at_stage(Phase.STEPS)
    ward.reading_volume(NADIA, "2.3 mL")
    before = ward.state().last_position

    assert ward.reading_volume(NADIA, "9 mL", asked_in=1) == TAKEN
    assert ward.reading_volume(TOMAS, "9 mL", asked_in=1) == TAKEN
    assert ward.state().last_position == before


def test_less_than_the_set_holds_is_primed_and_read_again(ward: Ward) -> None:
    ward.at_stage(Phase.STEPS)

    # The set in use holds 2.3 mL; the site tolerates 0.3 mL.
    assert ward.reading_volume(TOMAS, "1.99 mL") == TAKEN
    state = ward.state()
    assert (state.priming_settled, state.priming_handed_in) == (False, frozenset())
    assert ward.verifying(NADIA, "primed-volume") == stepping.OutOfTurn()
    ward.primes("2 mL")
    assert ward.state().priming_settled


def test_a_volume_that_is_written_anew_is_verified_anew(ward: Ward) -> None:
    ward.at_stage(Phase.STEPS).primes("2.3 mL").verifies(TOMAS, "primed-volume")

    ward.primes("2.4 mL", NADIA)
    step = next(each for each in stepping.open_steps(ward.state()) if each.id == "primed-volume")
    assert not ward.state().is_confirmed(step, "verified")
    ward.verifies(TOMAS, "primed-volume")
    assert ward.state().is_confirmed(step, "verified")


def test_a_volume_of_before_is_judged_once_the_readings_agree_and_not_before(ward: Ward) -> None:
    ward.at_stage(Phase.READING).primes("1.2 mL")
    ward.both_hand_in(Read.APART).compares()
    with ward.site.store.read() as reader:
        assert {each.subject for each in reader.comparisons(ward.check)} == {SOURCES}

    ward.reads_again().both_read().compares()
    with ward.site.store.read() as reader:
        (judged,) = (each for each in reader.comparisons(ward.check) if each.subject == PRIMING)
    assert (judged.told["within"], judged.opened["against"]) == (False, 2)


def test_another_set_that_is_read_later_judges_the_volume_anew(ward: Ward) -> None:
    ward.at_stage(Phase.STEPS).primes("2.3 mL")
    assert ward.state().priming_settled

    ward.reads_again(NADIA, "device")
    # This one holds 3 mL.
    other = answers(device={"pack": "set-200-y"})
    ward.both_read(other).compares()
    with ward.site.store.read() as reader:
        *_, judged = (each for each in reader.comparisons(ward.check) if each.subject == PRIMING)
    assert [each["code"] for each in judged.told["findings"]] == ["primed-volume-below-set"]
    assert not ward.state().priming_settled
