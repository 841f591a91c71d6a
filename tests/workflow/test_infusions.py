"""An infusion that was started: what is in force is one look further, which is written down."""

from app.records.kept import Access
from app.records.kinds import RE_CHECK
from app.records.state import Phase
from app.workflow import opening
from app.workflow.infusion_told import see_whole_infusion
from app.workflow.infusions import InfusionSeen, see_infusion
from app.workflow.refusals import NotFound
from tests.story.people import ADELE, IMOGEN, INES, NADIA, PETRA, QUILL, RUTH, TOMAS, Somebody
from tests.story.ward import Ward


def sees(ward: Ward, who: Somebody, infusion: str) -> InfusionSeen:
    seen = see_infusion(ward.site, ward.act(who), infusion)
    assert isinstance(seen, InfusionSeen)
    return seen


def looks(ward: Ward, infusion: str) -> list[tuple[str, str]]:
    with ward.site.store.read() as reader:
        found: tuple[Access, ...] = reader.accesses_of_infusion(infusion)
    return [(each.person, each.what) for each in found if each.what == "infusion"]


def test_what_is_in_force_is_seen_by_the_unit_and_each_look_is_written_down(one_ward: Ward) -> None:
    check = one_ward.at_stage(Phase.STARTED).check
    infusion = one_ward.state().check.infusion
    for who in (IMOGEN, RUTH, PETRA, QUILL):
        seen = sees(one_ward, who, infusion)
        assert (seen.check, seen.progress) == (check, "running")
        assert seen.in_force is not None
        assert seen.in_force.state.check.id == check

    assert looks(one_ward, infusion) == [(who.id, "infusion") for who in (IMOGEN, RUTH, PETRA, QUILL)]


def test_elsewhere_and_before_the_start_there_is_nothing_to_see(one_ward: Ward) -> None:
    one_ward.at_stage(Phase.CLEARED)
    ready = one_ward.state().check.infusion
    one_ward.at_stage(Phase.STARTED)
    runs = one_ward.state().check.infusion

    for who, infusion in ((RUTH, ready), (RUTH, "no such"), (INES, runs), (ADELE, runs)):
        assert see_infusion(one_ward.site, one_ward.act(who), infusion) == NotFound()
    assert looks(one_ward, runs) == []


def test_what_is_in_force_is_closed_to_the_two_who_read_and_to_nobody_else(one_ward: Ward) -> None:
    infusion = one_ward.at_stage(Phase.STARTED).state().check.infusion
    one_ward.re_checks()
    for who in (NADIA, TOMAS):
        seen = sees(one_ward, who, infusion)
        assert seen.in_force is None
        assert seen.check
    assert looks(one_ward, infusion) == []
    assert sees(one_ward, IMOGEN, infusion).in_force is not None

    one_ward.both_read().compares()
    assert sees(one_ward, NADIA, infusion).in_force is not None


def test_a_look_before_the_next_check_is_stated_in_its_record(one_ward: Ward) -> None:
    """It counts like a look at any value of the infusion."""
    infusion = one_ward.at_stage(Phase.STARTED).state().check.infusion
    sees(one_ward, TOMAS, infusion)
    with one_ward.site.store.read() as reader:
        (look,) = (each for each in reader.accesses_of_infusion(infusion) if each.what == "infusion")
    assert (look.person, look.session) == (TOMAS.id, one_ward.act(TOMAS).by.session)


def test_a_look_at_what_a_check_left_that_came_to_nothing_is_written_down_too(one_ward: Ward) -> None:
    """Started without one: what is told of it may hold a value, though nothing is in force."""
    one_ward.starts_without_check(bed="31")
    with one_ward.site.store.read() as reader:
        (kept,) = reader.infusions_at(one_ward.act(NADIA).by.unit, "31")
    for _ in range(2):
        see_whole_infusion(one_ward.site, one_ward.act(RUTH), kept.id)
    assert looks(one_ward, kept.id) == []

    opened = opening.open_on_infusion(one_ward.site, one_ward.act(NADIA), RE_CHECK, kept.id)
    assert isinstance(opened, opening.Opened)
    one_ward.check = opened.check
    one_ward.joins().abandons()
    see_whole_infusion(one_ward.site, one_ward.act(RUTH), kept.id)
    assert looks(one_ward, kept.id) == [(RUTH.id, "infusion")]


def test_of_what_runs_without_a_check_nothing_is_known(one_ward: Ward) -> None:
    one_ward.starts_without_check(bed="31")
    with one_ward.site.store.read() as reader:
        (kept,) = reader.infusions_at(one_ward.act(NADIA).by.unit, "31")
    seen = sees(one_ward, RUTH, kept.id)

    assert (seen.progress, seen.check, seen.in_force) == ("running without a check", "", None)
    assert looks(one_ward, kept.id) == []
