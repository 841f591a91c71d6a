"""A syringe is issued, put on, given back or nowhere: what is written of it agrees with what two read."""

from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest

from app.records.course import Course
from app.records.issue_events import IssueSettled
from app.records.issued import issued_in, out_of
from app.records.kinds import SYRINGE_CHANGE
from app.records.reading import Answers
from app.records.state import Phase
from app.site.loading import account_of
from app.workflow import issuing_syringes
from app.workflow.closing_accounts import Closed, OneOfTheTwo, open_accounts
from app.workflow.infusion_told import WholeInfusion, see_whole_infusion
from app.workflow.issuing_syringes import Given, Noted, NothingOut, NotTheirs, OutAlready
from app.workflow.listing import unit_list
from app.workflow.refusals import NoSuchBed, NotAllowed, NotOnShift, ReadsBlind, WrongCredential
from app.workflow.witnessing import Unwritable
from tests.factories.answers import answers, changed
from tests.story.people import ADELE, INES, NADIA, PETRA, RUTH, TOMAS, WARD, Somebody
from tests.story.ward import Ward
from tests.workflow.test_closing_accounts import looks_and_closes

GIVEN = Given(
    source="pharmacy",
    giver="Petra Varga",
    receiver="Nadia Ferrow",
    number="LOT-7",
    volume="30 mL",
    sealed="yes",
)
SECOND = replace(GIVEN, number="LOT-8")
OFF = "ended-off-the-patient"
FINAL = {"total_amount": "1.6 mg", "presses": "9", "doses": "8", "left": "19.6 mL"}


def issues(
    ward: Ward, given: Given = GIVEN, who: Somebody = NADIA, *, bed: str = "9", unit: str = WARD
) -> Any:  # noqa: ANN401  # whatever is said
    return issuing_syringes.note_issued(ward.site, ward.act(who), unit=unit, bed=bed, given=given)


def infusion_of(ward: Ward) -> str:
    return ward.state().check.infusion


def became(ward: Ward, infusion: str = "") -> list[str]:
    """What became of each that was issued; blank while it is out."""
    infusion = infusion or infusion_of(ward)
    with ward.site.store.read() as reader:
        return [each.settled for each in issued_in(reader.course(infusion))]


def position_out(ward: Ward, infusion: str) -> int:
    with ward.site.store.read() as reader:
        return out_of(issued_in(reader.course(infusion)))[0].position


def stops(ward: Ward) -> set[str]:
    return {each.code for each in ward.state().findings if each.severity == "stop"}


def reads_at_nine(ward: Ward, second: Answers | None = None) -> set[str]:
    """The stops of a set-up at bed 9 whose two read the label."""
    ward.opens(bed="9").joins().both_read(answers(), second).compares()
    return stops(ward)


class TestPutOn:
    """Issued before its set-up, it is in the account from when it was issued."""

    def test_it_opens_the_account_at_the_moment_of_issue(self, one_ward: Ward) -> None:
        assert isinstance(issues(one_ward), Noted)
        issued_at = one_ward.now
        one_ward.wait(timedelta(minutes=30)).opens(bed="9")
        assert one_ward.state().course == Course.ISSUED
        one_ward.joins().both_read(answers()).compares()
        assert stops(one_ward) == set()
        one_ward.primes().confirms_all().both_sign().both_look().starts()
        assert became(one_ward) == [IssueSettled.PUT_ON]
        infusion = infusion_of(one_ward)
        with one_ward.site.store.read() as reader:
            entries = account_of(reader, infusion).written()
        assert [each["kind"] for each in entries[:2]] == ["issued", "loaded"]
        assert entries[0]["at"] == issued_at.isoformat(timespec="seconds")
        assert not unit_list(one_ward.site, one_ward.act(RUTH)).out

    def test_nothing_is_found_where_no_syringe_was_issued(self, one_ward: Ward) -> None:
        assert reads_at_nine(one_ward) == set()

    def test_another_lot_than_was_issued_is_left_open_for_the_charge_nurse(self, one_ward: Ward) -> None:
        issues(one_ward, SECOND)
        assert reads_at_nine(one_ward) == {"issued-otherwise"}
        assert one_ward.state().phase is Phase.STEPS
        assert [each.infusion for each in open_accounts(one_ward.site, one_ward.act(RUTH), RUTH.roles)]

    def test_another_volume_than_was_issued_is_left_open(self, one_ward: Ward) -> None:
        issues(one_ward, replace(GIVEN, volume="50 mL"))
        assert reads_at_nine(one_ward) == {"issued-volume-differs"}

    def test_a_broken_seal_keeps_it_from_being_put_on(self, one_ward: Ward) -> None:
        issues(one_ward, replace(GIVEN, sealed="no"))
        assert reads_at_nine(one_ward) == {"issued-unsealed"}
        assert one_ward.state().phase is Phase.DISPUTED

    def test_one_that_was_issued_for_another_patient_is_refused(self, one_ward: Ward) -> None:
        issues(one_ward, bed="8")
        assert reads_at_nine(one_ward) == {"issued-elsewhere"}
        assert one_ward.state().phase is Phase.DISPUTED
        # Written down here as well, it is this infusion's.
        issues(one_ward, who=RUTH)
        one_ward.reads_again(NADIA, "label").both_read(answers()).compares()
        assert stops(one_ward) == set()

    def test_of_two_readings_that_differ_nothing_is_said_of_it(self, one_ward: Ward) -> None:
        issues(one_ward, replace(GIVEN, volume="50 mL"))
        apart = changed(answers(), label={"volume": "20 mL"})
        assert reads_at_nine(one_ward, apart) == {"readings-differ"}

    def test_the_next_one_is_put_on_at_the_syringe_change(self, one_ward: Ward) -> None:
        ward = one_ward.at_stage(Phase.STARTED).wait(timedelta(hours=4))
        issues(ward, SECOND, bed=ward.state().check.bed)
        assert became(ward) == [""]
        second = changed(answers(), label={"lot": "LOT-8"}, totals=FINAL)
        ward.changes(SYRINGE_CHANGE).both_read(ward.of_its_patient(second)).compares()
        assert stops(ward) == set()
        ward.primes("0.3 mL").confirms_all().both_sign().both_look().starts()
        assert became(ward) == [IssueSettled.PUT_ON]

    def test_written_after_the_two_compared_it_counts_only_if_it_says_the_same(self, one_ward: Ward) -> None:
        assert reads_at_nine(one_ward) == set()
        issues(one_ward, replace(GIVEN, volume="50 mL"), RUTH)
        one_ward.primes().confirms_all().both_sign().both_look().starts()
        assert became(one_ward) == [""]


class TestOut:
    """Never loaded, issued twice, given back, or nowhere."""

    def test_a_syringe_that_was_never_put_on_stays_on_the_list(self, one_ward: Ward) -> None:
        said = issues(one_ward)
        (out,) = unit_list(one_ward.site, one_ward.wait(timedelta(days=2)).act(TOMAS)).out
        assert (out.infusion, out.bed, out.many) == (said.infusion, "9", 1)
        # After the site's time another patient may well lie there.
        one_ward.opens(bed="9")
        assert one_ward.state().course == Course.TOO_LONG_AGO
        assert infusion_of(one_ward) != said.infusion

    def test_the_same_number_is_asked_about_once_more(self, one_ward: Ward) -> None:
        first = issues(one_ward)
        assert issues(one_ward, replace(GIVEN, number="lot 7")) == OutAlready()
        assert issues(one_ward, replace(GIVEN, another=True)) == first
        (out,) = unit_list(one_ward.site, one_ward.act(TOMAS)).out
        assert out.many == 2

    def test_it_goes_back_unopened_to_a_pharmacist(self, one_ward: Ward) -> None:
        infusion = issues(one_ward).infusion
        position = position_out(one_ward, infusion)

        def back(who: Somebody, secret: str = "") -> object:
            return issuing_syringes.give_back(
                one_ward.site,
                one_ward.act(NADIA),
                infusion,
                position,
                login=who.login,
                secret=secret or who.secret,
            )

        assert back(RUTH) == NotTheirs()
        assert isinstance(back(PETRA, "wrong"), WrongCredential)
        assert back(PETRA) == Noted(infusion=infusion)
        assert back(PETRA) == NothingOut()
        assert became(one_ward, infusion) == [IssueSettled.RETURNED]
        assert not open_accounts(one_ward.site, one_ward.act(RUTH), RUTH.roles)

    def test_whoever_has_it_does_not_take_it_back(self, one_ward: Ward) -> None:
        infusion = issues(one_ward, replace(GIVEN, giver="Nadia Ferrow", receiver="Petra Varga")).infusion
        said = issuing_syringes.give_back(
            one_ward.site,
            one_ward.act(NADIA),
            infusion,
            position_out(one_ward, infusion),
            login=PETRA.login,
            secret=PETRA.secret,
        )
        assert said == NotTheirs()

    def test_what_nobody_signed_for_is_the_charge_nurses(self, one_ward: Ward) -> None:
        infusion = issues(one_ward).infusion
        position = position_out(one_ward, infusion)
        gone = issuing_syringes.give_to_nobody(one_ward.site, one_ward.act(NADIA), infusion, position)
        assert gone == Noted(infusion=infusion)
        assert became(one_ward, infusion) == [IssueSettled.NOT_RECEIVED]
        (account,) = open_accounts(one_ward.site, one_ward.act(RUTH), RUTH.roles)
        assert account.adds_up
        assert looks_and_closes(one_ward, RUTH, infusion) == Closed()

    def test_whoever_wrote_that_nobody_signed_for_it_does_not_close_it(self, one_ward: Ward) -> None:
        infusion = issues(one_ward).infusion
        position = position_out(one_ward, infusion)
        issuing_syringes.give_to_nobody(one_ward.site, one_ward.act(RUTH), infusion, position)
        assert looks_and_closes(one_ward, RUTH, infusion) == OneOfTheTwo()

    def test_at_the_end_one_that_is_out_is_found_and_closed_with_the_account(self, one_ward: Ward) -> None:
        ward = one_ward.at_stage(Phase.STARTED).wait(timedelta(hours=4))
        issues(ward, SECOND, bed=ward.state().check.bed)
        ward.ends().both_read(ward.of_its_patient(changed(answers(), totals=FINAL))).compares()
        assert "issued-out" in stops(ward)
        (account,) = open_accounts(ward.site, ward.act(RUTH), RUTH.roles)
        assert account.waits
        ward.does(NADIA, OFF).verifies(TOMAS, OFF)
        ward.taking_back(NADIA, RUTH, given={"way": "wasted", "in_syringe": "19.6 mL", "lot": "LOT-7"})
        ward.confirms_all().both_sign()
        assert became(ward) == [""]
        assert looks_and_closes(ward, RUTH, infusion_of(ward)) == Closed()
        assert became(ward) == [IssueSettled.CLOSED]

    def test_had_to_start_without_a_check_it_is_the_infusion_of_its_syringe(self, one_ward: Ward) -> None:
        infusion = issues(one_ward).infusion
        one_ward.starts_without_check(bed="9")
        (running,) = unit_list(one_ward.site, one_ward.act(RUTH)).unchecked
        assert running.infusion == infusion

    def test_while_one_is_at_hand_the_next_is_not_asked_for(self, one_ward: Ward) -> None:
        ward = one_ward.at_stage(Phase.STARTED)
        ward.wait(timedelta(hours=23))
        (running,) = unit_list(ward.site, ward.act(RUTH)).running
        assert running.syringe_low
        issues(ward, SECOND, bed=ward.state().check.bed)
        (running,) = unit_list(ward.site, ward.act(RUTH)).running
        assert not running.syringe_low


class TestBlind:
    """What was issued is shown to nobody who reads there, and written by nobody who does."""

    def test_whoever_reads_blind_there_writes_nothing_of_it(self, one_ward: Ward) -> None:
        one_ward.opens(bed="9").joins()
        assert issues(one_ward) == issues(one_ward, who=TOMAS) == ReadsBlind()
        assert issues(one_ward, replace(GIVEN, volume="x")) == ReadsBlind()
        assert isinstance(issues(one_ward, who=RUTH), Noted)
        # Nor is a number that is out already told to one of them.
        assert issues(one_ward) == ReadsBlind()

    def test_whoever_reads_blind_there_sees_nothing_of_it(self, one_ward: Ward) -> None:
        infusion = issues(one_ward).infusion
        one_ward.opens(bed="9").joins()
        position = position_out(one_ward, infusion)
        for who in (NADIA, TOMAS):
            act = one_ward.act(who)
            seen = see_whole_infusion(one_ward.site, act, infusion)
            assert isinstance(seen, WholeInfusion)
            assert seen.told is None
            assert issuing_syringes.see_issue(one_ward.site, act, infusion, position) == ReadsBlind()
        seen = see_whole_infusion(one_ward.site, one_ward.act(RUTH), infusion)
        assert isinstance(seen, WholeInfusion)
        assert seen.told is not None
        assert [each.event.number for each in seen.told.out] == ["LOT-7"]


class TestRefused:
    """By whom, where and how it is written."""

    @pytest.mark.parametrize(
        ("given", "field"),
        [
            ({"giver": " "}, "giver"),
            ({"receiver": ""}, "receiver"),
            ({"receiver": "petra VARGA"}, "receiver"),
            ({"number": ""}, "number"),
            ({"number": "7" * 81}, "number"),
            ({"volume": "30"}, "volume"),
            ({"volume": "0 mL"}, "volume"),
            ({"source": "elsewhere"}, "source"),
            ({"sealed": "perhaps"}, "sealed"),
        ],
    )
    def test_each_fault_is_told_beside_its_field(
        self, one_ward: Ward, given: dict[str, str], field: str
    ) -> None:
        said = issues(one_ward, Given(**{**vars(GIVEN), **given}))
        assert isinstance(said, Unwritable)
        assert said.faults.keys() == {field}

    def test_a_nurse_writes_on_the_unit_of_the_shift_and_a_pharmacist_on_each(self, one_ward: Ward) -> None:
        assert issues(one_ward, who=INES) == NotOnShift()
        assert issues(one_ward, who=ADELE) == NotAllowed()
        assert isinstance(issues(one_ward, bed="nowhere"), NoSuchBed)
        assert isinstance(issues(one_ward, who=PETRA), Noted)
