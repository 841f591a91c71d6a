"""A stop that was of another bed: what runs again is held against what was started in between."""

from datetime import timedelta

import pytest

from app.records.ranking import Standing
from app.records.ward_events import RunsAgainBeside
from app.workflow import stopping
from app.workflow.listing import Running, unit_list
from tests.story.people import NADIA, RUTH, TOMAS, Somebody
from tests.story.ward import Ward
from tests.workflow.test_elsewhere import ME, of, runs

AT_4 = "PCA runs already for this patient: Ward 4 East, bed\N{NO-BREAK SPACE}4."


def stopped_by_mistake(ward: Ward, bed: str) -> int:
    """Ruth writes down a stop at a bed, which was of another; its number."""
    ward.stops(RUTH, why="other")
    (note,) = ward.state().stop_notes
    assert ward.state().check.bed == bed
    return note.note


def says_so(ward: Ward, note: int) -> str:
    """She says that it was another bed; what she is told of what runs now."""
    said = stopping.say_misplaced(ward.site, ward.act(RUTH), note)
    assert isinstance(said, stopping.SaidMisplaced)
    found = stopping.find_two_run(ward.site, ward.act(RUTH), note)
    assert (found.says if found else "") == said.says
    assert found is None or (found.unit, found.bed) == ("Ward 4 East", "3")
    return said.says


def listed(ward: Ward, who: Somebody = RUTH) -> list[tuple[str, Standing, tuple[str, ...]]]:
    """What runs as the unit's list has it."""
    found: tuple[Running, ...] = unit_list(ward.site, ward.act(who)).running
    return [(each.bed, each.standing, tuple(bed for _, bed in each.against)) for each in found]


def contradictions(ward: Ward) -> int:
    """How often it was written down."""
    with ward.site.store.read() as reader:
        return len(reader.entries_of_kind(RunsAgainBeside.kind))


BOTH_RUN = [("3", Standing.TWO_RUN, ("4",)), ("4", Standing.TWO_RUN, ("3",))]


def test_the_same_patients_next_infusion_is_told_to_the_author_and_tops_the_list(ward: Ward) -> None:
    runs(ward, "3")
    note = stopped_by_mistake(ward, "3")
    runs(ward, "4", of("dm 40417"))
    assert [standing for _, standing, _ in listed(ward)] == [Standing.STOPPED, Standing.RUNNING]

    assert says_so(ward, note) == AT_4
    # For whoever is in charge as for the two.
    assert listed(ward) == listed(ward, NADIA) == listed(ward, TOMAS) == BOTH_RUN
    # Said twice it is written down once, with each of the two.
    assert (says_so(ward, note), contradictions(ward)) == (AT_4, 2)


@pytest.mark.parametrize("bed", ["3", "4"])
def test_it_is_settled_by_the_stop_of_either(ward: Ward, bed: str) -> None:
    checks = {"3": runs(ward, "3")}
    note = stopped_by_mistake(ward, "3")
    checks["4"] = runs(ward, "4")
    says_so(ward, note)
    ward.check = checks[bed]
    ward.stops(RUTH, why="other")

    other = "4" if bed == "3" else "3"
    assert {(one, standing) for one, standing, _ in listed(ward)} == {
        (bed, Standing.STOPPED),
        (other, Standing.RUNNING),
    }
    assert stopping.find_two_run(ward.site, ward.act(RUTH), note) is None


def test_another_patients_infusion_at_another_bed_is_no_contradiction(one_ward: Ward) -> None:
    runs(one_ward, "3", of("DM-51111"))
    note = stopped_by_mistake(one_ward, "3")
    runs(one_ward, "4")

    assert says_so(one_ward, note) == ""
    assert (contradictions(one_ward), len(listed(one_ward))) == (0, 2)


def test_at_the_same_bed_whosever_it_is_one_is(one_ward: Ward) -> None:
    """After the site's time a set-up at the bed begins another infusion."""
    runs(one_ward, "3", of("DM-51111"))
    note = stopped_by_mistake(one_ward, "3")
    one_ward.wait(timedelta(hours=13))
    runs(one_ward, "3", ME)

    assert says_so(one_ward, note) == "Another infusion still runs at this bed."
    assert [standing for _, standing, _ in listed(one_ward)] == [Standing.TWO_RUN] * 2


def test_nobody_but_the_author_is_told_by_the_number_of_the_stop(one_ward: Ward) -> None:
    runs(one_ward, "3")
    note = stopped_by_mistake(one_ward, "3")
    runs(one_ward, "4")
    says_so(one_ward, note)

    assert stopping.find_two_run(one_ward.site, one_ward.act(NADIA), note) is None
    assert stopping.find_two_run(one_ward.site, one_ward.act(RUTH), note + 10_000) is None
