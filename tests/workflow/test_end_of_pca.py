"""The end of PCA: both read final totals and what is left, it goes before a witness, and both sign."""

from collections.abc import Mapping
from datetime import timedelta

import pytest

from app.auditing.invariants import check_invariants
from app.records.course import Bar
from app.records.kinds import RE_CHECK, SYRINGE_CHANGE
from app.records.state import Phase
from app.site.loading import account_of
from app.storage import OfInfusions
from app.workflow import emergencies, opening, starting, taking_back, witnessing
from app.workflow.listing import unit_list
from app.workflow.refusals import NotNow, NotYours
from tests.factories.answers import answers, changed
from tests.story.people import IMOGEN, NADIA, PETRA, RUTH, TOMAS, WARD, Somebody
from tests.story.ward import Ward

# Of 30 mL 2.4 were primed, and 13 doses of 1 mL given.
FINAL = {"total_amount": "2.6 mg", "presses": "15", "doses": "13", "left": "14.6 mL"}
READ = changed(answers(), totals=FINAL)
LEFT = {"in_syringe": "14.6 mL", "lot": "LOT-7"}
STANDS = taking_back.Written(to_be_verified=True)
OFF = "ended-off-the-patient"


def day_two(ward: Ward, *, stop: str = "end-of-therapy") -> Ward:
    """It ran for a day, and was stopped."""
    ward.at_stage(Phase.STARTED).wait(timedelta(hours=26))
    return ward.stops(why=stop) if stop else ward


def at_the_remainder(ward: Ward) -> Ward:
    """The device was stopped for good, both have read, and it is off the patient."""
    day_two(ward).ends().both_read(ward.of_its_patient(READ)).compares()
    return ward.does(NADIA, OFF).verifies(TOMAS, OFF)


@pytest.fixture
def ending(one_ward: Ward) -> Ward:
    return at_the_remainder(one_ward)


def entries(ward: Ward) -> list[dict[str, object]]:
    infusion = ward.state().check.infusion
    with ward.site.store.read() as reader:
        told = account_of(reader, infusion).written()
    return [{name: each for name, each in entry.items() if name != "at"} for entry in told]


def gone(ward: Ward) -> list[tuple[str, str, str, str]]:
    return [(each.volume, each.first, each.witness, each.not_witnessed) for each in ward.state().taken_back]


class TestItsWay:
    """From the stop to the account that is closed."""

    def test_it_ends_with_everything_accounted_for(self, ending: Ward) -> None:
        assert ending.taking_back(NADIA, RUTH, given=LEFT) == STANDS
        ending.confirms_all().both_sign()

        assert ending.phase is Phase.DONE
        assert entries(ending)[-3:] == [
            {
                "kind": "removed",
                "totals": {"amount": "2.6 mg", "presses": 15, "doses": 13},
                "left": "14.6 mL",
            },
            {"kind": "wasted", "syringe": "1", "volume": "14.6 mL", "witnessed": True},
            {"kind": "end"},
        ]
        assert check_invariants(ending.site, ending.now) == ()

    @pytest.mark.parametrize("stop", ["", "other"])
    def test_it_is_opened_on_what_runs_and_on_what_was_stopped(self, one_ward: Ward, stop: str) -> None:
        ward = day_two(one_ward, stop=stop).ends()
        ward.both_read(ward.of_its_patient(READ)).compares()
        ward.does(NADIA, OFF).verifies(TOMAS, OFF).taking_back(NADIA, RUTH, given=LEFT)
        ward.confirms_all().both_sign()

        state = ward.loaded().infusion
        assert (state.is_running, state.end_is_due) == (False, False)
        assert state.closed_at is not None
        assert state.ended_at == state.closed_at
        assert check_invariants(ward.site, ward.now) == ()

    def test_it_is_opened_while_the_line_is_paused(self, one_ward: Ward) -> None:
        ward = day_two(one_ward, stop="")
        ward.pausing_line(NADIA)
        ward.ends()
        assert ward.phase is Phase.READING

    def test_nothing_is_checked_once_it_is_closed(self, ending: Ward) -> None:
        ending.taking_back(NADIA, RUTH, given=LEFT)
        ending.confirms_all().both_sign()
        assert ending.ending(NADIA) == opening.Barred(bar=Bar.CLOSED)
        assert ending.re_checking(NADIA) == opening.Barred(bar=Bar.CLOSED)
        assert ending.taking_back(NADIA, RUTH, given=LEFT) == NotNow(phase=Phase.DONE)

    def test_what_had_to_start_from_an_old_page_of_it_is_another_infusion_with_an_account_of_its_own(
        self, ending: Ward
    ) -> None:
        ending.taking_back(NADIA, RUTH, given=LEFT)
        old = ending.confirms_all().both_sign().state().check
        said = starting.note_start_despite_check(ending.site, ending.act(NADIA), old.id, reason="pain")

        assert said == starting.StartNoted()
        assert ending.loaded().infusion.closed_at is not None
        (unchecked,) = unit_list(ending.site, ending.act(RUTH)).unchecked
        assert unchecked.infusion != old.infusion
        assert unchecked.bed == old.bed
        opened = opening.open_on_infusion(ending.site, ending.act(NADIA), RE_CHECK, unchecked.infusion)
        assert isinstance(opened, opening.Opened)
        ending.check = opened.check
        ending.joins().both_read(ending.of_its_patient(answers())).compares()
        assert ending.phase is not Phase.BOTH_HANDED_IN

    def test_what_never_ran_has_no_end(self, one_ward: Ward) -> None:
        one_ward.at_stage(Phase.ABANDONED)
        assert one_ward.ending(NADIA) == opening.Barred(bar=Bar.NOT_RUNNING)

    def test_a_stop_is_never_refused_and_the_account_stays_open_and_listed_until_it_is_closed(
        self, one_ward: Ward
    ) -> None:
        ward = day_two(one_ward)
        infusion = ward.state().check.infusion

        def listed() -> list[str]:
            return [each.standing.value for each in unit_list(ward.site, ward.act(RUTH)).running]

        def is_open() -> bool:
            with ward.site.store.read() as reader:
                found = reader.infusions_that(OfInfusions.END_IS_DUE, WARD)
            return infusion in {each.id for each in found}

        assert listed() == ["account open"]
        # The next day it is still told.
        ward.wait(timedelta(hours=30))
        assert is_open()
        ward.ends().both_read(ward.of_its_patient(READ)).compares()
        ward.stops(why="sedation-or-breathing").does(NADIA, OFF).verifies(TOMAS, OFF)
        ward.taking_back(NADIA, RUTH, given=LEFT)
        ward.confirms_all().both_sign()
        assert listed() == []
        assert not is_open()
        # A stop that somebody writes down afterwards is kept, and opens nothing again.
        ward.stops(why="unsure")
        assert listed() == []

    def test_what_was_stopped_long_ago_and_forgotten_is_told_too(self, one_ward: Ward) -> None:
        ward = day_two(one_ward, stop="sedation-or-breathing")
        assert [each.standing.value for each in unit_list(ward.site, ward.act(RUTH)).running] == [
            "the device was stopped"
        ]
        ward.wait(timedelta(hours=30))
        assert [each.standing.value for each in unit_list(ward.site, ward.act(RUTH)).running] == [
            "account open"
        ]

    def test_what_is_in_force_stays_that_of_the_check_before(self, ending: Ward) -> None:
        before = ending.loaded().infusion.in_force
        ending.taking_back(NADIA, RUTH, given=LEFT)
        ending.confirms_all().both_sign()
        assert ending.loaded().infusion.in_force == before

    def test_two_readings_of_a_standing_device_are_the_same(self, one_ward: Ward) -> None:
        ward = day_two(one_ward).ends()
        ward.both_read(
            ward.of_its_patient(READ), ward.of_its_patient(changed(READ, totals={"doses": "12"}))
        ).compares()
        assert ward.phase is Phase.DISPUTED

    def test_another_patient_is_found(self, one_ward: Ward) -> None:
        ward = day_two(one_ward).ends()
        ward.both_read(changed(READ, wristband={"identifier": "DM-99999"})).compares()
        assert "patient-differs" in ward.codes()


def after_a_syringe_change(ward: Ward, *, lot: str = "LOT-8") -> Ward:
    """8 doses of 1 mL of the first syringe, then 5 of the second, which took up 0.3 mL of slack."""
    first = {"total_amount": "1.6 mg", "presses": "9", "doses": "8", "left": "19.7 mL"}
    final = {**FINAL, "left": "24.7 mL"}
    ward.at_stage(Phase.STARTED).wait(timedelta(hours=4)).changes(SYRINGE_CHANGE)
    ward.both_read(ward.of_its_patient(changed(answers(), label={"lot": lot}, totals=first))).compares()
    ward.primes("0.3 mL").confirms_all().both_sign().both_look().starts().wait(timedelta(hours=4)).ends()
    ward.both_read(ward.of_its_patient(changed(READ, totals=final))).compares()
    return ward.does(NADIA, OFF).verifies(TOMAS, OFF)


class TestAfterASyringeChange:
    """What is left of the first one is in hand, and goes before a witness as the last one's rest does."""

    def test_each_syringe_goes_before_it_is_verified(self, one_ward: Ward) -> None:
        ward = after_a_syringe_change(one_ward)
        last, old = {"lot": "LOT-8", "in_syringe": "24.7 mL"}, {"lot": "LOT-7", "in_syringe": "19.7 mL"}

        assert ward.taking_back(NADIA, RUTH, given=last) == taking_back.Written(
            to_be_verified=False, more=True
        )
        # It goes once, and not more of the other than was left when it came off.
        for given, field in ((last, "lot"), ({**old, "in_syringe": "21 mL"}, "in_syringe")):
            said = ward.reading_drug(NADIA, given=given)
            assert isinstance(said, witnessing.Unwritable)
            assert set(said.faults) == {field}
        assert ward.taking_back(NADIA, RUTH, given=old) == STANDS
        ward.confirms_all().both_sign()

        wasted = [(each["syringe"], each["volume"]) for each in entries(ward) if each["kind"] == "wasted"]
        assert wasted == [("2", "24.7 mL"), ("1", "19.7 mL")]
        with ward.site.store.read() as reader:
            (frozen,) = reader.frozen_records(ward.check)
        assert [each["stands"] for each in frozen.told["safety_steps"]["taken_back"]] == [True, True]
        infusion = frozen.told["account"]["result"]["infusion"]
        # By hand: 60 in; 2.4 + 0.3 primed, 13 given, 24.7 + 19.7 wasted, 0.1 more was left of the first.
        assert {name: each["exact"] for name, each in infusion["volume"].items() if each["exact"] != "0"} == {
            "loaded": "60",
            "primed": "2.7",
            "delivered_by_device": "13",
            "delivered_by_syringe": "12.9",
            "wasted": "44.4",
            "difference": "-0.1",
        }
        assert check_invariants(ward.site, ward.now) == ()

    def test_in_whichever_order(self, one_ward: Ward) -> None:
        ward = after_a_syringe_change(one_ward)
        said = ward.taking_back(NADIA, RUTH, given={"lot": "LOT-7", "in_syringe": "19.7 mL"})
        assert said == taking_back.Written(to_be_verified=False, more=True)
        assert ward.taking_back(NADIA, RUTH, given={"lot": "LOT-8", "in_syringe": "24.7 mL"}) == STANDS

    @pytest.mark.parametrize(
        ("given", "field"),
        [
            ({"in_syringe": "24.7 mL"}, "syringe"),
            ({"in_syringe": "24.7 mL", "syringe": "3"}, "syringe"),
            ({"in_syringe": "24.7 mL", "lot": "LOT-8", "syringe": "2"}, "lot"),
            ({"in_syringe": "22 mL", "syringe": "1"}, "in_syringe"),
        ],
    )
    def test_where_both_have_one_lot_it_is_said_which(
        self, one_ward: Ward, given: Mapping[str, str], field: str
    ) -> None:
        ward = after_a_syringe_change(one_ward, lot="LOT-7")
        said = ward.reading_drug(NADIA, given={**LEFT, **given})
        assert isinstance(said, witnessing.Unwritable)
        assert set(said.faults) == {field}
        assert ward.reading_drug(NADIA, given={**LEFT, "in_syringe": "24.7 mL", "syringe": "2"}) == (
            taking_back.FirstKept()
        )


class TestTheWitness:
    """Reads blind, at once, at the same screen, and is a second person."""

    def test_what_the_witness_read_counts_when_they_agree_within_a_division(self, ending: Ward) -> None:
        said = ending.taking_back(NADIA, RUTH, given=LEFT, seen={"in_syringe": "14 mL"})
        assert said == STANDS
        assert gone(ending) == [("14 mL", "14.6 mL", RUTH.id, "")]

    def test_where_they_do_not_agree_both_read_once_more_and_then_it_stays_open(self, ending: Ward) -> None:
        apart = {"in_syringe": "12.6 mL"}
        assert ending.taking_back(NADIA, RUTH, given=LEFT, seen=apart) == witnessing.ReadApart()
        assert gone(ending) == []
        # What was read before counts no more: the witness waits for a new reading.
        assert ending.witnessing(NADIA, RUTH, seen=apart) == taking_back.NothingWaits()
        assert ending.taking_back(NADIA, RUTH, given=LEFT, seen=apart) == STANDS
        assert gone(ending) == [("12.6 mL", "14.6 mL", RUTH.id, "apart")]
        ending.confirms_all().both_sign()
        assert entries(ending)[-2] == {
            "kind": "wasted",
            "syringe": "1",
            "volume": "12.6 mL",
            "witnessed": False,
        }

    def test_after_a_second_reading_that_agrees_it_is_witnessed(self, ending: Ward) -> None:
        ending.taking_back(NADIA, RUTH, given=LEFT, seen={"in_syringe": "12.6 mL"})
        assert ending.taking_back(NADIA, RUTH, given=LEFT) == STANDS
        assert gone(ending) == [("14.6 mL", "14.6 mL", RUTH.id, "")]

    @pytest.mark.parametrize(("later", "why"), [(99, ""), (101, "late")])
    def test_later_than_two_minutes_is_not_witnessed(self, ending: Ward, later: int, why: str) -> None:
        ending.reading_drug(NADIA, given=LEFT)
        ending.wait(timedelta(seconds=later)).witnessing(NADIA, RUTH, seen=LEFT)
        assert gone(ending) == [("14.6 mL", "14.6 mL", RUTH.id, why)]

    def test_at_another_screen_is_not_witnessed(self, ending: Ward) -> None:
        ending.reading_drug(NADIA, given=LEFT)
        ending.witnessing(TOMAS, RUTH, seen=LEFT)
        assert gone(ending) == [("14.6 mL", "14.6 mL", RUTH.id, "elsewhere")]

    def test_where_nobody_comes_it_stands_as_not_witnessed(self, ending: Ward) -> None:
        assert ending.going_on_without(NADIA) == taking_back.NothingWaits()
        ending.reading_drug(NADIA, given=LEFT)
        assert ending.going_on_without(NADIA) == STANDS
        assert gone(ending) == [("14.6 mL", "14.6 mL", "", "nobody")]
        ending.confirms_all().both_sign()
        assert check_invariants(ending.site, ending.now) == ()

    def test_the_second_nurse_may_be_the_witness(self, ending: Ward) -> None:
        assert ending.taking_back(NADIA, TOMAS, given=LEFT) == STANDS

    def test_the_other_of_the_two_at_whose_screen_it_is_signed_is_none(self, ending: Ward) -> None:
        ending.reading_drug(NADIA, given=LEFT)
        assert ending.witnessing(TOMAS, TOMAS, seen=LEFT) == witnessing.SamePerson()

    def test_whoever_reads_first_is_none_at_whosever_screen(self, ending: Ward) -> None:
        ending.reading_drug(NADIA, given=LEFT)
        assert ending.witnessing(TOMAS, NADIA, seen=LEFT) == witnessing.SamePerson()

    @pytest.mark.parametrize(("who", "received"), [(PETRA, True), (RUTH, False)])
    def test_what_is_given_back_needs_the_pharmacists_signature(
        self, ending: Ward, who: Somebody, *, received: bool
    ) -> None:
        ending.taking_back(NADIA, who, given={**LEFT, "way": "returned"})
        ending.confirms_all().both_sign()
        assert entries(ending)[-2] == {
            "kind": "returned",
            "syringe": "1",
            "volume": "14.6 mL",
            "received": received,
        }


class TestWhatMakesNoSense:
    """Is refused in words beside its field, and nothing is written."""

    @pytest.mark.parametrize(
        ("given", "field"),
        [
            ({"in_syringe": "16 mL"}, "in_syringe"),
            ({"lot": "LOT-8"}, "lot"),
            ({"in_syringe": "14,6 mL"}, "in_syringe"),
            ({"in_syringe": f"14.{'6' * 60} mL"}, "in_syringe"),
            ({"way": "drunk"}, "way"),
        ],
    )
    def test_more_than_left_or_of_another_syringe(
        self, ending: Ward, given: Mapping[str, str], field: str
    ) -> None:
        said = ending.reading_drug(NADIA, given={**LEFT, **given})
        assert isinstance(said, witnessing.Unwritable)
        assert set(said.faults) == {field}

    def test_the_lot_is_one_however_it_is_set(self, ending: Ward) -> None:
        assert ending.taking_back(NADIA, RUTH, given={**LEFT, "lot": "lot 7"}) == STANDS

    def test_it_goes_once(self, ending: Ward) -> None:
        ending.taking_back(NADIA, RUTH, given=LEFT)
        assert ending.taking_back(NADIA, RUTH, given=LEFT) == NotNow(phase=Phase.STEPS)

    def test_not_in_the_next_check_either_when_this_one_is_given_up(self, ending: Ward) -> None:
        ending.taking_back(NADIA, RUTH, given=LEFT)
        ending.abandons().ends()
        nothing = changed(READ, totals={**FINAL, "left": "none"})
        ending.both_read(ending.of_its_patient(nothing)).compares()
        ending.does(NADIA, OFF).verifies(TOMAS, OFF)
        said = ending.reading_drug(NADIA, given=LEFT)
        assert isinstance(said, witnessing.Unwritable)
        # That nothing was left is what the two write of it then.
        assert ending.taking_back(NADIA, RUTH, given={**LEFT, "in_syringe": "0 mL"}) == STANDS
        ending.confirms_all().both_sign()
        kinds = [each["kind"] for each in entries(ending)]
        assert (kinds.count("wasted"), kinds[-1]) == (1, "end")

    def test_what_is_kept_as_evidence_goes_nowhere_and_keeps_no_end_open(self, one_ward: Ward) -> None:
        """Nothing else is in hand: the two write that nothing goes, whoever gives it free, and when."""
        ward = day_two(one_ward, stop="")
        infusion = ward.state().check.infusion
        emergencies.note_harm(ward.site, ward.act(RUTH), infusion, what="overdose")
        sealed = emergencies.Sealed(seal="7701", holder="Ruth", read=FINAL)
        emergencies.keep_evidence(ward.site, ward.act(RUTH), infusion, sealed)
        ward.ends().both_read(ward.of_its_patient(READ)).compares()
        ward.does(NADIA, OFF).verifies(TOMAS, OFF)
        assert taking_back.see_kept(ward.site, ward.loaded()) == ("LOT-7",)
        said = ward.reading_drug(NADIA, given=LEFT)
        assert said == witnessing.Unwritable(faults={"lot": witnessing.KEPT})
        assert ward.taking_back(NADIA, RUTH, given={**LEFT, "in_syringe": "0 mL"}) == STANDS
        ward.confirms_all().both_sign()
        assert ward.phase is Phase.DONE
        totals = {"amount": "2.6 mg", "presses": 15, "doses": 13}
        assert entries(ward)[-3:] == [
            {"kind": "removed", "totals": totals, "left": "14.6 mL"},
            {"kind": "kept", "syringe": "1", "volume": "14.6 mL", "seal": "7701", "received": False},
            {"kind": "end"},
        ]
        assert ward.loaded().infusion.emergencies.evidence is not None
        assert check_invariants(ward.site, ward.now) == ()

    def test_nobody_but_the_two(self, ending: Ward) -> None:
        assert ending.taking_back(IMOGEN, RUTH, given=LEFT) == NotYours()

    def test_not_before_the_readings_agree(self, one_ward: Ward) -> None:
        ward = day_two(one_ward).ends()
        assert ward.reading_drug(NADIA, given=LEFT) == NotNow(phase=Phase.READING)
