"""What runs already for the same patient, or at the same bed, as a judge sees it."""

import pytest

from app.judging.elsewhere import agreed_patient, beside, runs_elsewhere, says_where
from app.records.followup import Follow, sources_of
from app.records.kinds import RE_CHECK, SET_UP, Kind
from app.records.known import Runs
from app.records.reading import Answers
from tests.factories.answers import answers

ME, OTHER = "DM-40417", "DM-51111"


def reads(identifier: str | None = ME) -> Answers:
    return answers(wristband={"identifier": identifier})


def runs(patient: str = ME, *, unit: str = "recovery", bed: str = "3", here: bool = False) -> Runs:
    return Runs(unit=unit, unit_name=unit.title(), bed=bed, here=here, patient=patient)


def found(*running: Runs, first: Answers | None = None, kind: Kind = SET_UP) -> dict[str, str]:
    """The codes of what is found, and what each says."""
    one, other = (reads() if first is None else first), reads()
    some = beside(kind, one, other, running)
    return {each.code: each.says for each in runs_elsewhere(some, one, other)}


# ---------------------------------------------------------------------------------------------------------
# Whose wristband it is


def test_a_patient_is_agreed_on_when_both_wristbands_say_the_same() -> None:
    assert agreed_patient(reads("dm40417"), reads()) == "dm40417"
    assert agreed_patient(reads(OTHER), reads()) == ""
    assert agreed_patient(reads(None), reads(None)) == ""
    assert agreed_patient({}, {}) == ""


# ---------------------------------------------------------------------------------------------------------
# What stands against a start


@pytest.mark.parametrize("kind", [SET_UP, RE_CHECK], ids=lambda kind: str(kind.name))
def test_an_infusion_of_the_same_patient_at_another_bed_is_a_stop(kind: Kind) -> None:
    says = found(runs("dm 40417"), kind=kind)

    assert says.keys() == {"runs-elsewhere"}
    assert says["runs-elsewhere"].startswith(
        "PCA runs already for this patient: Recovery, bed\N{NO-BREAK SPACE}3. "
    )


def test_a_stop_of_what_runs_has_both_wristbands_and_no_origin() -> None:
    some = beside(SET_UP, reads("dm40417"), reads(), [runs()])
    (stop,) = runs_elsewhere(some, reads("dm40417"), reads())

    assert (stop.readings, stop.origin) == ({"A.wristband": "dm40417", "B.wristband": ME}, "")


@pytest.mark.parametrize("patient", [OTHER, ""])
def test_another_patients_infusion_elsewhere_is_none_of_this_checks_business(patient: str) -> None:
    assert found(runs(patient)) == {}


@pytest.mark.parametrize("patient", [OTHER, ""], ids=["another's", "nobody has read whose"])
def test_whatever_runs_at_the_bed_of_a_set_up_stands_against_it(patient: str) -> None:
    says = found(runs(patient, here=True))

    assert says.keys() == {"bed-still-runs"}
    assert OTHER not in says["bed-still-runs"]


def test_the_same_patients_infusion_at_this_bed_is_called_so() -> None:
    says = found(runs(here=True))

    assert says.keys() == {"runs-elsewhere"}
    assert says["runs-elsewhere"].startswith("PCA runs already for this patient: this bed. ")


def test_a_re_check_asks_nothing_of_another_patients_infusion_at_its_bed() -> None:
    assert found(runs(OTHER, here=True), kind=RE_CHECK) == {}


def test_each_place_is_said_once_and_each_danger_by_itself() -> None:
    says = found(runs(), runs(), runs(bed="4"), runs(OTHER, here=True), runs(OTHER, bed="9"))

    assert says.keys() == {"runs-elsewhere", "bed-still-runs"}
    assert (
        ": Recovery, bed\N{NO-BREAK SPACE}3 and Recovery, bed\N{NO-BREAK SPACE}4. " in says["runs-elsewhere"]
    )


def test_while_the_wristbands_are_read_apart_nothing_is_said() -> None:
    assert found(runs(), runs(OTHER), runs(here=True), first=reads(OTHER)) == {}


def test_it_is_put_right_and_the_wristband_read_again_and_nobody_sets_it_aside() -> None:
    (each,) = runs_elsewhere(beside(SET_UP, reads(), reads(), [runs()]), reads(), reads())

    assert (each.severity, each.follow, sources_of(each)) == ("stop", Follow.PUT_RIGHT, ("wristband",))
    assert each.readings == {"A.wristband": ME, "B.wristband": ME}


def test_what_is_kept_of_it_says_where_and_never_whose() -> None:
    some = beside(SET_UP, reads(), reads(), [runs(), runs(OTHER, here=True)])

    place = {"unit": "recovery", "unit_name": "Recovery", "bed": "3"}
    assert [each.as_data() for each in some] == [
        {**place, "here": False, "same": True},
        {**place, "here": True, "same": False},
    ]


def test_where_it_runs_is_said_in_a_sentence_for_each_danger() -> None:
    some = beside(SET_UP, reads(), reads(), [runs(), runs(OTHER, here=True)])

    assert says_where(some) == (
        "PCA runs already for this patient: Recovery, bed\N{NO-BREAK SPACE}3. "
        "Another infusion still runs at this bed."
    )
    assert says_where(()) == ""
