"""Drug that goes outside of any check: the rest of a changed syringe, what broke, what was spilt."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest

from app.judging.account import balanced
from app.people import Role
from app.records.events import END_OF_THERAPY
from app.records.kinds import SYRINGE_CHANGE
from app.records.state import Phase
from app.records.taken_back import find_first_read
from app.records.ward_events import DrugTakenBack
from app.records.what_followed import LEFT_FOR
from app.site.loading import account_of
from app.workflow import emergencies, taking_back, wasting, witnessing
from app.workflow.accounts import Changed, rename_person
from app.workflow.closing_accounts import Closed, OneOfTheTwo, open_accounts
from app.workflow.refusals import KeptAsEvidence, NotAllowed, NotOnShift, ReadsBlind
from app.workflow.taking_back import FirstKept, NothingWaits, WrittenMeanwhile
from app.workflow.wasting import AccountClosed, Gone, WrittenDown
from app.workflow.witnessing import Unwritable
from tests.factories.answers import answers, changed
from tests.factories.quick_pdf import without_rendering
from tests.story.followed import followed, sweeps
from tests.story.people import ADELE, IMOGEN, INES, NADIA, PETRA, RUTH, TOMAS, Somebody
from tests.story.ward import Ward
from tests.workflow.test_closing_accounts import looks_and_closes

FINAL = {"total_amount": "1.6 mg", "presses": "9", "doses": "8", "left": "19.6 mL"}
OFF = "ended-off-the-patient"
# Of 30 mL of the first one 2.4 were primed and 8 given when it was changed.
REST: dict[str, Any] = {"what": "wasted", "volume": "19.6 mL", "lot": "LOT-7"}
SPILT: dict[str, Any] = {"what": "spilt", "volume": "2 mL", "lot": "LOT-8"}


@pytest.fixture
def changed_syringe(one_ward: Ward) -> Ward:
    """The second syringe runs, and the first is in hand."""
    ward = one_ward.at_stage(Phase.STARTED).wait(timedelta(hours=4))
    second = changed(answers(), label={"lot": "LOT-8"}, totals=FINAL)
    ward.changes(SYRINGE_CHANGE).both_read(ward.of_its_patient(second)).compares()
    return ward.primes("0.3 mL").confirms_all().both_sign().both_look().starts()


def infusion_of(ward: Ward) -> str:
    return ward.state().check.infusion


def reads(ward: Ward, who: Somebody = NADIA, *, last: int | None = None, **given: Any) -> object:  # noqa: ANN401  # texts
    """One person reads it."""
    infusion = infusion_of(ward)
    if last is None:
        seen = wasting.see_waste(ward.site, ward.act(who), infusion)
        last = seen.last if isinstance(seen, wasting.WasteSeen) else 0
    gone = Gone(**{"syringe": "", "stated_at": "", **REST, **given}, last=last)
    return wasting.read_waste(ward.site, ward.act(who), infusion, gone)


def sees(ward: Ward, witness: Somebody, volume: str, *, at: Somebody = NADIA) -> object:
    """The witness reads it too, at the screen of whoever read first."""
    return wasting.witness_waste(
        ward.site, ward.act(at), infusion_of(ward), volume, login=witness.login, secret=witness.secret
    )


def goes(ward: Ward, witness: Somebody = RUTH, **given: Any) -> object:  # noqa: ANN401  # texts
    """It is read, and seen alike."""
    said = reads(ward, **given)
    return sees(ward, witness, {**REST, **given}["volume"]) if said == FirstKept() else said


def alone(ward: Ward, who: Somebody = NADIA) -> object:
    return wasting.go_on_without(ward.site, ward.act(who), infusion_of(ward))


def gone(ward: Ward) -> list[Mapping[str, object]]:
    """What the account has of it."""
    infusion = infusion_of(ward)
    with ward.site.store.read() as reader:
        told = account_of(reader, infusion).written()
    return [
        {name: text for name, text in each.items() if name not in ("kind", "at")}
        for each in told
        if each["kind"] in ("wasted", "returned")
    ]


def faults(said: object) -> set[str]:
    assert isinstance(said, Unwritable), said
    return {*said.faults}


def listed(ward: Ward, who: Somebody = RUTH) -> list[str]:
    return [each.infusion for each in open_accounts(ward.site, ward.act(who), who.roles)]


class TestItsWay:
    """One reads, a second reads blind, and the account has what the second read."""

    def test_the_rest_of_a_changed_syringe_goes_before_a_witness(self, changed_syringe: Ward) -> None:
        assert goes(changed_syringe) == WrittenDown()
        assert gone(changed_syringe) == [{"syringe": "1", "volume": "19.6 mL", "witnessed": True}]
        assert listed(changed_syringe) == []

    def test_what_the_pharmacist_takes_is_received(self, changed_syringe: Ward) -> None:
        assert goes(changed_syringe, PETRA, what="returned") == WrittenDown()
        assert gone(changed_syringe) == [{"syringe": "1", "volume": "19.6 mL", "received": True}]

    def test_what_is_spilt_of_the_one_on_the_device_leaves_it_on(self, changed_syringe: Ward) -> None:
        assert goes(changed_syringe, **SPILT) == WrittenDown()
        assert goes(changed_syringe, **{**SPILT, "volume": "1 mL"}) == WrittenDown()
        assert [(each["syringe"], each["volume"]) for each in gone(changed_syringe)] == [
            ("2", "2 mL"),
            ("2", "1 mL"),
        ]
        infusion = infusion_of(changed_syringe)
        with changed_syringe.site.store.read() as reader:
            assert account_of(reader, infusion).on == "2"

    def test_two_people_read_what_each_of_them_saw(self, changed_syringe: Ward) -> None:
        """Neither reading ends the other: each waits for a witness of its own."""
        assert reads(changed_syringe, **SPILT) == FirstKept()
        assert reads(changed_syringe, TOMAS, **{**SPILT, "volume": "1 mL"}) == FirstKept()
        assert sees(changed_syringe, RUTH, "2 mL") == WrittenDown()
        assert sees(changed_syringe, RUTH, "1 mL", at=TOMAS) == WrittenDown()
        assert [each["volume"] for each in gone(changed_syringe)] == ["2 mL", "1 mL"]

    def test_what_broke_is_in_hand_no_more(self, changed_syringe: Ward) -> None:
        assert goes(changed_syringe, what="broken") == WrittenDown()
        assert faults(reads(changed_syringe)) == {"lot"}

    def test_then_the_end_asks_for_the_last_one_alone_and_the_account_balances(
        self, changed_syringe: Ward
    ) -> None:
        ward = changed_syringe
        goes(ward)
        goes(ward, **SPILT)
        ward.wait(timedelta(hours=4)).stops(why="end-of-therapy").ends()
        # Of 30 mL 0.3 took up slack, 2 were spilt and 5 given.
        final = {"total_amount": "2.6 mg", "presses": "15", "doses": "13", "left": "22.7 mL"}
        ward.both_read(ward.of_its_patient(changed(answers(), totals=final))).compares()
        ward.does(NADIA, OFF).verifies(TOMAS, OFF)
        rest = {"in_syringe": "22.7 mL", "lot": "LOT-8"}
        assert ward.taking_back(NADIA, RUTH, given=rest) == taking_back.Written(to_be_verified=True)
        ward.confirms_all().both_sign()

        loaded = ward.loaded()
        with ward.site.store.read() as reader:
            told = account_of(reader, loaded.state.check.infusion).written()
        result = balanced(told, loaded.policy.account)
        assert result["infusion"]["volume"]["difference"]["exact"] == "0"
        assert [each["code"] for each in result["findings"] if each["severity"] == "stop"] == []


def test_it_is_told_beside_the_record_of_what_ran(one_ward: Ward, monkeypatch: pytest.MonkeyPatch) -> None:
    without_rendering(monkeypatch)
    ward = one_ward.at_stage(Phase.STARTED)
    sweeps(ward)
    goes(ward, **{**SPILT, "lot": "LOT-7"})
    ward.stops(why=END_OF_THERAPY).wait(LEFT_FOR)
    assert sweeps(ward).told == 1
    (kept,) = followed(ward)
    told = [each for each in kept.told["entries"] if each["kind"] == DrugTakenBack.kind]
    assert [(each["data"]["volume"], each["witness"], each["check"]) for each in told] == [
        ("2 mL", RUTH.printed_name, "")
    ]


class TestTheWitness:
    """Is a second person, at once and at the same screen, as in a check."""

    def test_volumes_apart_are_read_once_more_and_then_it_stays_open(self, changed_syringe: Ward) -> None:
        reads(changed_syringe)
        assert sees(changed_syringe, RUTH, "12 mL") == witnessing.ReadApart()
        assert gone(changed_syringe) == []
        seen = wasting.see_waste(
            changed_syringe.site, changed_syringe.act(NADIA), infusion_of(changed_syringe)
        )
        assert isinstance(seen, wasting.WasteSeen)
        assert seen.apart is not None
        assert (seen.apart.lot, seen.waiting) == ("LOT-7", None)
        reads(changed_syringe)
        assert sees(changed_syringe, RUTH, "12 mL") == WrittenDown()
        assert gone(changed_syringe) == [{"syringe": "1", "volume": "12 mL", "witnessed": False}]

    def test_nobody_is_it_by_another_login_of_the_own(self, changed_syringe: Ward) -> None:
        ward = changed_syringe
        reads(ward)
        assert sees(ward, NADIA, REST["volume"]) == witnessing.SamePerson()
        # A login of the same name is one's own, whatever was said when it was made.
        said = rename_person(
            ward.site, ward.now, by=ADELE.id, person=NADIA.id, printed_name="imogen BEXLEY", is_another=True
        )
        assert isinstance(said, Changed)
        assert sees(ward, IMOGEN, REST["volume"]) == witnessing.SamePerson()
        assert sees(ward, RUTH, REST["volume"]) == WrittenDown()

    def test_nor_whoever_the_site_does_not_name(self, changed_syringe: Ward) -> None:
        reads(changed_syringe)
        assert sees(changed_syringe, ADELE, REST["volume"]) == witnessing.NoWitness()

    @pytest.mark.parametrize("what", ["spilt", "broken", "wasted"])
    def test_without_one_it_is_never_refused_and_the_charge_nurse_settles_it(
        self, changed_syringe: Ward, what: str
    ) -> None:
        reads(changed_syringe, what=what)
        assert alone(changed_syringe) == WrittenDown()
        assert gone(changed_syringe) == [{"syringe": "1", "volume": "19.6 mL", "witnessed": False}]
        infusion = infusion_of(changed_syringe)
        assert listed(changed_syringe) == [infusion]
        wrote = replace(NADIA, roles=NADIA.roles | {Role.CHARGE_NURSE})
        for who, came_to in ((wrote, OneOfTheTwo()), (RUTH, Closed())):
            assert looks_and_closes(changed_syringe, who, infusion) == came_to
        assert listed(changed_syringe) == []
        # Nor is it found anew by the two who read next.
        read = changed_syringe.of_its_patient(changed(answers(), label={"lot": "LOT-8"}, totals=FINAL))
        changed_syringe.ends().both_read(read).compares()
        assert "account-not-witnessed" not in {each.code for each in changed_syringe.state().findings}

    def test_it_is_whoever_read_first_who_goes_on(self, changed_syringe: Ward) -> None:
        reads(changed_syringe)
        assert alone(changed_syringe, TOMAS) == NothingWaits()
        assert sees(changed_syringe, RUTH, REST["volume"], at=TOMAS) == NothingWaits()
        assert alone(changed_syringe) == WrittenDown()
        assert alone(changed_syringe) == NothingWaits()


class TestWhatMakesNoSense:
    """Is refused in words, and nothing is written."""

    @pytest.mark.parametrize(
        ("given", "field"),
        [
            ({"volume": "21 mL"}, "in_syringe"),
            ({"volume": "19,6 mL"}, "in_syringe"),
            ({"lot": "LOT-9"}, "lot"),
            ({"lot": " "}, "lot"),
            ({"lot": "LOT-8"}, "what"),
            ({"what": "drunk"}, "what"),
            ({**SPILT, "volume": "31 mL"}, "in_syringe"),
            ({"stated_at": "soon"}, "stated_at"),
        ],
    )
    def test_more_than_left_another_syringe_or_the_one_on_the_device(
        self, changed_syringe: Ward, given: dict[str, Any], field: str
    ) -> None:
        assert faults(reads(changed_syringe, **given)) == {field}

    def test_twice(self, changed_syringe: Ward) -> None:
        goes(changed_syringe)
        assert faults(reads(changed_syringe)) == {"lot"}

    def test_what_belongs_to_what_stood_before(self, changed_syringe: Ward) -> None:
        assert reads(changed_syringe) == FirstKept()
        assert reads(changed_syringe, TOMAS, last=0) == WrittenMeanwhile()

    def test_after_the_account_is_closed(self, one_ward: Ward) -> None:
        ward = one_ward.at_stage(Phase.STARTED).stops(why="end-of-therapy").ends()
        final = {"total_amount": "0 mg", "presses": "0", "doses": "0", "left": "27.6 mL"}
        ward.both_read(ward.of_its_patient(changed(answers(), totals=final))).compares()
        ward.does(NADIA, OFF).verifies(TOMAS, OFF)
        ward.taking_back(NADIA, RUTH, given={"in_syringe": "27.6 mL", "lot": "LOT-7"})
        ward.confirms_all().both_sign()
        assert reads(ward) == AccountClosed()
        assert alone(ward) == AccountClosed()

    def test_what_is_kept_as_evidence(self, changed_syringe: Ward) -> None:
        ward, infusion = changed_syringe, infusion_of(changed_syringe)
        emergencies.note_harm(ward.site, ward.act(NADIA), infusion, what="overdose")
        sealed = emergencies.Sealed(seal="S-1", holder="Quill", place="Safe", read={"left": "29 mL"})
        assert isinstance(
            emergencies.keep_evidence(ward.site, ward.act(NADIA), infusion, sealed), emergencies.Noted
        )
        assert reads(ward) == KeptAsEvidence()
        spilt = reads(ward, **SPILT)
        assert isinstance(spilt, Unwritable)
        assert "kept as evidence" in spilt.faults["lot"]
        # What is spilt of another one is written whatever else is kept.
        assert goes(ward, **{**SPILT, "lot": "LOT-7"}) == WrittenDown()

    def test_nothing_breaks_or_goes_before_a_witness_while_evidence_stands(
        self, changed_syringe: Ward
    ) -> None:
        """Whatever was read first before the danger was seen: what is kept would be gone as well."""
        ward, infusion = changed_syringe, infusion_of(changed_syringe)
        assert reads(ward, what="broken") == FirstKept()
        emergencies.note_harm(ward.site, ward.act(NADIA), infusion, what="overdose")
        assert sees(ward, RUTH, REST["volume"]) == KeptAsEvidence()
        assert alone(ward) == KeptAsEvidence()
        assert reads(ward, TOMAS, what="broken", lot="LOT-8") == KeptAsEvidence()
        assert gone(ward) == []

    def test_nobody_else(self, changed_syringe: Ward) -> None:
        assert reads(changed_syringe, PETRA, last=0) == NotAllowed()
        assert reads(changed_syringe, INES, last=0) == NotOnShift()


class TestBlind:
    """What the one read is nobody's before a witness has read it, and nothing of the account is shown."""

    def test_what_was_read_first_is_in_no_row_of_the_log(self, changed_syringe: Ward) -> None:
        reads(changed_syringe, volume="19.3719 mL")
        assert sees(changed_syringe, RUTH, "12.3719 mL") == witnessing.ReadApart()
        with changed_syringe.site.store.read() as reader:
            rows = [bytes(each["canonical"]) for each in reader.rows("log_entry")]
        assert not any(b"19.3719" in each or b"12.3719" in each for each in rows)

    def test_what_is_sealed_has_one_size(self, changed_syringe: Ward) -> None:
        sizes, infusion = set(), infusion_of(changed_syringe)
        for volume in ("0 mL", "19.6000000 mL"):
            reads(changed_syringe, volume=volume)
            with changed_syringe.site.store.read() as reader:
                first = find_first_read(reader.course(infusion), "")
            assert first is not None
            sizes.add(len(first.sealed))
        assert len(sizes) == 1

    def test_whoever_reads_blind_at_the_bed_writes_nothing(self, changed_syringe: Ward) -> None:
        changed_syringe.re_checks()
        assert reads(changed_syringe, last=0) == ReadsBlind()
        assert reads(changed_syringe, IMOGEN) == FirstKept()

    def test_what_an_open_check_has_read_is_told_to_nobody_else(self, changed_syringe: Ward) -> None:
        """What is more than the two have read, and not more than was known before, is not refused."""
        ward = changed_syringe.wait(timedelta(hours=4)).re_checks()
        read = {"total_amount": "2.6 mg", "presses": "15", "doses": "13", "left": "24.7 mL"}
        ward.both_read(changed(answers(), label={"lot": "LOT-8"}, totals=read)).compares()
        assert reads(ward, IMOGEN, what="spilt", lot="LOT-8", volume="29 mL") == FirstKept()
