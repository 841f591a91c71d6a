"""Nobody gets two infusions at once: asked when compared, at the second signature and at the start."""

import pytest

from app.auditing.invariants import check_invariants
from app.records.course import Course
from app.records.kept import SECOND
from app.records.kinds import RE_CHECK
from app.records.reading import Answers
from app.records.state import Phase
from app.records.ward_events import StartRefused
from app.workflow import opening, signing, starting, stopping
from app.workflow.elsewhere import RunsElsewhere
from tests.factories.answers import answers, of_patient
from tests.story.people import NADIA, RUTH, TOMAS, WARD
from tests.story.ward import Ward
from tests.support.together import together

ROUNDS = 5
RUNS_AT_3 = "PCA runs already for this patient: Ward 4 East, bed\N{NO-BREAK SPACE}3."


def of(patient: str) -> Answers:
    """Everything read alike, of this patient."""
    return of_patient(patient, answers())


ME = of("DM-40417")


def cleared(ward: Ward, bed: str, read: Answers = ME) -> str:
    """A set-up that both have signed, both having looked; its check."""
    ward.opens(bed=bed).joins().both_read(read).compares().confirms_all().both_sign().both_look()
    return ward.check


def runs(ward: Ward, bed: str, read: Answers = ME) -> str:
    """An infusion that was set up and started."""
    cleared(ward, bed, read)
    return ward.starts().check


def compared(ward: Ward, bed: str, read: Answers = ME) -> Ward:
    """A set-up that was read by both and compared."""
    return ward.opens(bed=bed).joins().both_read(read).compares()


# ---------------------------------------------------------------------------------------------------------
# When it is compared


def test_a_set_up_of_a_patient_whose_infusion_runs_at_another_bed_is_stopped(ward: Ward) -> None:
    runs(ward, "3")
    compared(ward, "4", of("dm 40417"))

    assert ward.phase is Phase.DISPUTED
    assert ward.found("runs-elsewhere").says.startswith(RUNS_AT_3)


def test_another_patients_infusion_at_another_bed_changes_nothing(one_ward: Ward) -> None:
    runs(one_ward, "3", of("DM-51111"))
    compared(one_ward, "4")

    assert (one_ward.phase, one_ward.codes()) == (Phase.STEPS, [])


def test_what_an_open_check_read_never_counts(one_ward: Ward) -> None:
    """Not even one that both have signed: until it is started nothing runs."""
    cleared(one_ward, "3")
    compared(one_ward, "4")

    assert one_ward.phase is Phase.STEPS


def test_an_infusion_whose_patient_nobody_has_read_is_nobodys(one_ward: Ward) -> None:
    one_ward.starts_without_check(bed="3")
    one_ward.stops_at("3").opens(bed="3").joins().both_read(ME).compares()
    compared(one_ward, "4")

    assert one_ward.phase is Phase.STEPS


def test_once_the_stop_is_written_down_the_wristband_is_read_again_and_it_goes_on(ward: Ward) -> None:
    other = runs(ward, "3")
    here = compared(ward, "4").check
    ward.check = other
    ward.stops(RUTH, why="other")
    ward.check = here
    ward.reads_again(NADIA, "wristband").both_read(of("DM-40417")).compares()

    assert ward.phase is Phase.STEPS
    assert check_invariants(ward.site, ward.now) == ()
    ward.confirms_all().both_sign().both_look().starts()


def test_a_stop_at_the_wrong_bed_frees_nothing(one_ward: Ward) -> None:
    other = runs(one_ward, "3")
    one_ward.stops(RUTH)
    (note,) = one_ward.state(other).stop_notes
    one_ward.saying_misplaced(RUTH, note.note)
    compared(one_ward, "4")

    assert one_ward.codes() == ["runs-elsewhere"]


def test_the_same_patients_infusion_that_runs_here_stands_against_a_new_one(ward: Ward) -> None:
    runs(ward, "3")
    compared(ward, "3")

    assert ward.state().course == Course.STARTED
    assert ward.found("runs-elsewhere").says.startswith("PCA runs already for this patient: this bed.")
    ward.stops(why="other").reads_again(NADIA, "wristband").both_read(ME).compares()
    assert ward.phase is Phase.STEPS


def test_another_patients_infusion_that_runs_here_stands_against_a_new_one(ward: Ward) -> None:
    runs(ward, "3", of("DM-51111"))
    compared(ward, "3")

    assert ward.codes() == ["bed-still-runs"]
    told = ward.loaded().last_comparison
    assert told is not None
    # Whose it is, is nowhere in what is kept of this check.
    assert b"51111" not in told.result + told.case
    ward.stops(why="other").reads_again(NADIA, "wristband").both_read(ME).compares()
    assert ward.phase is Phase.STEPS


def test_the_infusion_itself_never_stands_against_its_own_check(one_ward: Ward) -> None:
    runs(one_ward, "3")
    one_ward.re_checks().both_read(ME).compares()

    assert (one_ward.phase, one_ward.codes()) == (Phase.SIGNING, [])


def test_a_re_check_of_an_infusion_that_had_to_start_finds_the_one_that_ran_before(ward: Ward) -> None:
    runs(ward, "3")
    ward.starts_without_check(bed="4")
    with ward.site.store.read() as reader:
        (unchecked,) = reader.infusions_at(WARD, "4")
    opened = opening.open_on_infusion(ward.site, ward.act(NADIA), RE_CHECK, unchecked.id)
    assert isinstance(opened, opening.Opened)
    ward.check = opened.check
    ward.joins().both_read(ME).compares()

    assert ward.found("runs-elsewhere").says.startswith(RUNS_AT_3)


def test_while_the_wristbands_are_read_apart_only_that_is_said(one_ward: Ward) -> None:
    runs(one_ward, "3")
    one_ward.opens(bed="4").joins().both_read(answers(), answers(wristband={"identifier": "DM-1"})).compares()

    assert "runs-elsewhere" not in one_ward.codes()
    assert one_ward.state().must_read_again


# ---------------------------------------------------------------------------------------------------------
# When it is signed, looked at, and started


def refused(ward: Ward) -> list[tuple[str, str]]:
    """What the log has of refusals at the check at hand: what, and to whom."""
    with ward.site.store.read() as reader:
        told = reader.entries(ward.check)
    return [(each.event.what, each.by) for each in told if isinstance(each.event, StartRefused)]


def test_the_second_signature_is_refused_while_it_runs_elsewhere(ward: Ward) -> None:
    here = compared(ward, "4").confirms_all().signs(TOMAS).check
    other = runs(ward, "3")
    ward.check = here

    said = ward.signing(NADIA)

    assert said == RunsElsewhere(says=RUNS_AT_3)
    assert (ward.phase, set(ward.state().signatures)) == (Phase.SIGNING, {SECOND})
    assert refused(ward) == [(StartRefused.SIGNATURE, NADIA.id)]
    ward.check = other
    ward.stops(RUTH, why="other")
    ward.check = here
    assert isinstance(ward.signing(NADIA), signing.Signed)


def test_the_first_signature_means_nothing_yet_and_stands(one_ward: Ward) -> None:
    here = compared(one_ward, "4").confirms_all().check
    runs(one_ward, "3")
    one_ward.check = here

    assert isinstance(one_ward.signing(TOMAS), signing.Signed)


def test_a_start_is_refused_while_it_runs_elsewhere(one_ward: Ward) -> None:
    ready = cleared(one_ward, "5")
    runs(one_ward, "3")
    one_ward.check = ready

    assert one_ward.starting(NADIA) == RunsElsewhere(says=RUNS_AT_3)
    assert one_ward.phase is Phase.CLEARED
    assert refused(one_ward) == [(StartRefused.START, NADIA.id)]


def test_a_last_look_is_refused_before_the_device_is_started(one_ward: Ward) -> None:
    not_looked = compared(one_ward, "5").confirms_all().both_sign().check
    runs(one_ward, "3")
    one_ward.check = not_looked

    assert one_ward.looking(NADIA, same=True) == RunsElsewhere(says=RUNS_AT_3)
    assert refused(one_ward) == [(StartRefused.LAST_LOOK, NADIA.id)]
    assert one_ward.state().last_looks == frozenset()
    # That the device differs may be said at any time.
    assert isinstance(one_ward.looking(NADIA, same=False), starting.NotTheSame)


def test_what_runs_here_for_another_is_refused_at_the_start_too(one_ward: Ward) -> None:
    runs(one_ward, "5", of("DM-50001"))
    stop = one_ward.noting_a_stop(RUTH, why="end-of-therapy")
    assert isinstance(stop, stopping.StopNoted)
    cleared(one_ward, "5")
    one_ward.saying_misplaced(RUTH, stop.note)

    assert one_ward.starting(NADIA) == RunsElsewhere(says="Another infusion still runs at this bed.")


@pytest.mark.parametrize("turn", range(ROUNDS))
def test_of_two_checks_of_one_patient_that_start_at_the_same_instant_exactly_one_does(
    ward: Ward, turn: int
) -> None:
    checks = [cleared(ward, "3"), cleared(ward, "4")]
    acts = [ward.act(NADIA) for _ in checks]

    said = together(
        lambda: starting.start_infusion(ward.site, acts[0], checks[0]),
        lambda: starting.start_infusion(ward.site, acts[1], checks[1]),
    )

    assert sorted(type(each).__name__ for each in said) == ["RunsElsewhere", "StartNoted"], turn
    assert sorted(ward.state(each).phase for each in checks) == [Phase.CLEARED, Phase.STARTED]
    with ward.site.store.read() as reader:
        assert len(reader.running()) == 1


def test_a_start_at_the_instant_of_the_second_signature_leaves_one_that_may_start(ward: Ward) -> None:
    ready = cleared(ward, "3")
    here = compared(ward, "4").confirms_all().signs(TOMAS).check
    acts = {who: ward.act(who) for who in (NADIA, TOMAS)}
    digest = ward.state().frozen_digest

    started, signed = together(
        lambda: starting.start_infusion(ward.site, acts[TOMAS], ready),
        lambda: signing.sign_record(
            ward.site, acts[NADIA], here, login=NADIA.login, secret=NADIA.secret, digest=digest
        ),
    )

    assert isinstance(started, starting.StartNoted)
    ward.check = here
    if isinstance(signed, signing.Signed):
        # Whoever was first: the last look and the start ask again.
        assert isinstance(ward.looking(NADIA, same=True), RunsElsewhere)
    else:
        assert signed == RunsElsewhere(says=RUNS_AT_3)
