"""Lists without values, one check as far as one may see it, and its record."""

from datetime import timedelta

import pytest

from app.records.ranking import Standing
from app.records.state import Phase
from app.records.visibility import Sight
from app.workflow import starting
from app.workflow.listing import Listed, Running, unit_list
from app.workflow.looking import RecordSeen, Seen, see_check, see_pdf, see_record, unit_names
from app.workflow.refusals import NotAllowed, NotFound
from tests.story.people import (
    ADELE,
    IMOGEN,
    INES,
    NADIA,
    PETRA,
    QUILL,
    RALPH,
    RECOVERY,
    RUTH,
    TOMAS,
    WARD,
    Somebody,
)
from tests.story.ward import Ward
from tests.support.walking import asked


def listed(ward: Ward, who: Somebody) -> list[tuple[str, str, bool, bool]]:
    return [
        (each.bed, each.progress, each.joinable, each.waits_for_help)
        for each in unit_list(ward.site, ward.act(who)).unit
    ]


def sees(ward: Ward, who: Somebody) -> object:
    return see_check(ward.site, ward.act(who), ward.check)


def sees_record(ward: Ward, who: Somebody, edition: int | None = None) -> object:
    return see_record(ward.site, ward.act(who), ward.check, edition)


def test_the_units_open_checks_are_listed_with_one_word_and_no_value(ward: Ward) -> None:
    for phase in (Phase.OPENED, Phase.DISPUTED, Phase.ESCALATED, Phase.STARTED, Phase.ABANDONED):
        ward.at_stage(phase)
    ward.at_stage(Phase.LAPSED).at_stage(Phase.CLEARED)
    wanted = [
        ("3", "asked for help", False, True),
        ("1", "second wanted", True, False),
        ("7", "ready to start", False, False),
        ("6", "no longer ready to start", False, False),
        ("2", "in progress", False, False),
    ]

    assert listed(ward, IMOGEN) == wanted
    assert listed(ward, RUTH) == wanted
    # Another unit's are not hers, and an administrator is told of none.
    assert listed(ward, INES) == []
    assert listed(ward, ADELE) == []
    assert listed(ward, QUILL) == []


def test_nobody_is_asked_to_join_the_own_check(one_ward: Ward) -> None:
    one_ward.at_stage(Phase.OPENED)
    (mine,) = unit_list(one_ward.site, one_ward.act(NADIA)).mine

    assert (mine.mine, mine.joinable) == (True, False)


def test_ones_own_checks_are_listed_until_the_sign_in_after_their_end(one_ward: Ward) -> None:
    one_ward.at_stage(Phase.OPENED).at_stage(Phase.STARTED).at_stage(Phase.ABANDONED)

    def mine(who: Somebody) -> list[str]:
        return [each.progress for each in unit_list(one_ward.site, one_ward.act(who)).mine]

    assert sorted(mine(NADIA)) == ["second wanted", "started"]
    # Who did not end it is told so, until the next sign-in.
    assert sorted(mine(TOMAS)) == ["given up", "started"]
    one_ward.signs_in(TOMAS)
    assert mine(TOMAS) == []
    assert mine(IMOGEN) == []


def test_the_two_are_told_who_ended_their_check(one_ward: Ward) -> None:
    one_ward.at_stage(Phase.READING)
    (seen_by_ruth,) = unit_list(one_ward.site, one_ward.act(RUTH)).unit
    (seen_by_imogen,) = unit_list(one_ward.site, one_ward.act(IMOGEN)).unit
    assert (seen_by_ruth.may_end, seen_by_imogen.may_end) == (True, False)

    one_ward.abandons(RUTH)

    assert unit_list(one_ward.site, one_ward.act(RUTH)).unit == ()
    for who in (NADIA, TOMAS):
        (mine,) = unit_list(one_ward.site, one_ward.act(who)).mine
        assert (mine.ended_by, mine.may_end) == (RUTH.printed_name, False)
        seen = see_check(one_ward.site, one_ward.act(who), one_ward.check)
        assert isinstance(seen, Seen)
        assert seen.names[RUTH.id] == RUTH.printed_name


def test_a_line_of_a_list_holds_nothing_that_was_read() -> None:
    assert set(Listed.__dataclass_fields__) == {
        "check",
        "unit",
        "bed",
        "kind",
        "opened_at",
        "standing",
        "stands_since",
        "people",
        "helper",
        "outcome",
        "progress",
        "mine",
        "joinable",
        "waits_for_help",
        "over",
        "may_end",
        "ended_by",
    }


def test_what_runs_without_a_check_is_told_to_the_unit(one_ward: Ward) -> None:
    starting.note_start_without_check(
        one_ward.site, one_ward.act(NADIA), unit=WARD, bed="3", reason="no second nurse", started_at=""
    )

    assert [each.bed for each in unit_list(one_ward.site, one_ward.act(RUTH)).unchecked] == ["3"]
    assert unit_list(one_ward.site, one_ward.act(RALPH)).unchecked == ()
    assert unit_list(one_ward.site, one_ward.act(ADELE)).unchecked == ()


def test_the_sites_units(one_ward: Ward) -> None:
    assert set(unit_names(one_ward.site)) == {RECOVERY, WARD}


# ---------------------------------------------------------------------------------------------------------
# One check


@pytest.mark.parametrize("who", [RALPH, INES, QUILL, ADELE], ids=lambda who: str(who.id))
def test_a_check_that_one_may_not_know_of_is_not_there(one_ward: Ward, who: Somebody) -> None:
    one_ward.at_stage(Phase.STEPS)

    assert sees(one_ward, who) == NotFound()
    assert sees_record(one_ward, who) == NotFound()
    one_ward.check = "no-such-check"
    assert sees(one_ward, who) == NotFound()
    assert sees_record(one_ward, who) == NotFound()


def test_before_the_end_only_the_two_see_values(ward: Ward) -> None:
    ward.at_stage(Phase.SIGNING)

    for who, sight in ((NADIA, Sight.EVERYTHING), (IMOGEN, Sight.PROGRESS), (PETRA, Sight.PROGRESS)):
        seen = sees(ward, who)
        assert isinstance(seen, Seen)
        assert seen.sight is sight
        # Whoever may not see values is not handed any.
        assert bool(seen.loaded.comparisons) is (sight is Sight.EVERYTHING)
        # And nobody who looks is handed what the state was folded from.
        assert seen.loaded.entries == ()
    assert isinstance(sees_record(ward, NADIA), RecordSeen)
    assert sees_record(ward, IMOGEN) == NotAllowed()
    assert sees_record(ward, QUILL) == NotFound()


def test_after_clearance_it_is_read_by_the_unit_the_pharmacist_and_the_quality_team(ward: Ward) -> None:
    ward.at_stage(Phase.CLEARED)

    for who in (NADIA, IMOGEN, RUTH, PETRA, QUILL):
        record = sees_record(ward, who)
        assert isinstance(record, RecordSeen)
        assert record.frozen.edition == 1
        assert [each.person for each in record.signatures] == [NADIA.id, TOMAS.id]
        assert not record.has_pdf
        assert see_pdf(ward.site, ward.act(who), ward.check) == NotFound()
    assert sees_record(ward, INES) == NotFound()


def test_a_check_names_its_people_and_the_unit(one_ward: Ward) -> None:
    one_ward.at_stage(Phase.ESCALATED).takes_help(RUTH)
    seen = sees(one_ward, NADIA)
    assert isinstance(seen, Seen)

    assert seen.names == {each.id: each.printed_name for each in (NADIA, TOMAS, RUTH)}
    assert (seen.unit, seen.slot) == ("Ward 4 East", 1)


def test_each_edition_can_be_read(one_ward: Ward) -> None:
    one_ward.at_stage(Phase.LAPSED).reads_again(NADIA, "device").both_read().compares()
    one_ward.confirms_all().both_sign()

    for edition, wanted in ((None, 2), (1, 1), (2, 2)):
        record = sees_record(one_ward, RUTH, edition)
        assert isinstance(record, RecordSeen)
        assert record.frozen.edition == wanted
        assert {each.edition for each in record.signatures} == {wanted}
    assert sees_record(one_ward, RUTH, 3) == NotFound()


def test_there_is_no_record_before_the_last_step(one_ward: Ward) -> None:
    one_ward.at_stage(Phase.STEPS)

    assert sees_record(one_ward, NADIA) == NotFound()


# ---------------------------------------------------------------------------------------------------------
# An earlier check is closed to whoever reads blind


def test_while_reading_blind_earlier_records_of_the_infusion_are_closed(ward: Ward) -> None:
    ward.opens(bed="7").joins(TOMAS).both_read().compares().confirms_all().abandons()
    earlier = ward.check
    assert isinstance(sees_record(ward, IMOGEN), RecordSeen)
    ward.opens(IMOGEN, bed="7").joins(NADIA)
    later, ward.check = ward.check, earlier

    assert sees_record(ward, IMOGEN) == NotAllowed()
    assert sees_record(ward, NADIA) == NotAllowed()
    # Who has no part in the later check may look.
    assert isinstance(sees_record(ward, TOMAS), RecordSeen)
    ward.check = later
    ward.reads(IMOGEN).reads(NADIA).compares()
    ward.check = earlier
    assert isinstance(sees_record(ward, IMOGEN), RecordSeen)


def test_an_earlier_look_is_stated_in_the_next_record(one_ward: Ward) -> None:
    import json

    one_ward.opens(bed="7").joins().both_read().compares().abandons()
    sees(one_ward, IMOGEN)
    one_ward.opens(IMOGEN, bed="7").joins(NADIA).reads(IMOGEN).reads(NADIA).compares().confirms_all()
    with one_ward.site.store.read() as reader:
        (frozen,) = reader.frozen_records(one_ward.check)

    assert json.loads(frozen.document)["rounds"][0]["independence"]["earlier_look"] is True


def test_without_an_earlier_look_nothing_is_stated(one_ward: Ward) -> None:
    import json

    one_ward.at_stage(Phase.SIGNING)
    sees(one_ward, NADIA)
    with one_ward.site.store.read() as reader:
        (frozen,) = reader.frozen_records(one_ward.check)

    assert json.loads(frozen.document)["rounds"][0]["independence"]["earlier_look"] is False


# ---------------------------------------------------------------------------------------------------------
# Looks are written down


def test_a_look_at_values_is_written_down_and_a_look_at_progress_is_not(ward: Ward) -> None:
    ward.at_stage(Phase.SIGNING)
    sees(ward, IMOGEN)
    sees(ward, NADIA)
    sees_record(ward, TOMAS)
    sees_record(ward, IMOGEN)
    infusion = ward.state().check.infusion
    with ward.site.store.read() as reader:
        looks = reader.accesses_of_infusion(infusion)

    assert [(each.person, each.what) for each in looks] == [(NADIA.id, "check"), (TOMAS.id, "record")]


def test_a_look_makes_no_entry_in_the_log(one_ward: Ward) -> None:
    before = one_ward.at_stage(Phase.CLEARED).state().last_position
    sees(one_ward, RUTH)
    sees_record(one_ward, QUILL)

    assert one_ward.state().last_position == before


def test_the_list_asks_no_more_where_more_runs_without_a_check(one_ward: Ward) -> None:
    took = []
    for bed in ("7", "8", "9"):
        one_ward.starts_without_check(bed=bed)
        with asked() as found:
            assert len(unit_list(one_ward.site, one_ward.act(RUTH)).unchecked) == int(bed) - 6
        took.append(len(found.statements))

    assert took == took[:1] * 3


def test_what_runs_is_listed_with_since_when_and_what_was_stopped_until_its_account_is_closed(
    one_ward: Ward,
) -> None:
    def begun() -> list[tuple[str, Standing]]:
        return [(each.bed, each.standing) for each in unit_list(one_ward.site, one_ward.act(RUTH)).running]

    one_ward.at_stage(Phase.STARTED).at_stage(Phase.STARTED)
    (first, second) = (bed for bed, _ in begun())
    assert begun() == [(first, Standing.RUNNING), (second, Standing.RUNNING)]
    one_ward.stops()
    assert begun() == [(second, Standing.STOPPED), (first, Standing.RUNNING)]
    # Nobody starts it again, and its account is still to be closed.
    one_ward.wait(timedelta(days=2))
    assert begun() == [(second, Standing.ACCOUNT_OPEN), (first, Standing.SYRINGE_LOW)]


def test_a_line_of_what_runs_holds_nothing_that_was_read() -> None:
    assert set(Running.__dataclass_fields__) == {
        "infusion",
        "unit",
        "bed",
        "since",
        "standing",
        "responsible",
        "covered_by",
        "is_paused",
        "led_to",
        "needs_two",
        "due",
        "syringe_low",
        "against",
        # What an emergency left, in states and moments, and when to observe next.
        "left",
        "observe_at",
    }
