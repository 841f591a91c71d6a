"""The drug of a wrong syringe is written down when it is taken back, with a second person who saw it."""

import pytest

from app.accounting import AccountCase, read_account
from app.people import Role
from app.records.kept import FIRST
from app.records.state import Phase
from app.records.steps import DONE, TAKEN_BACK
from app.records.taken_back import IN_LINE, IN_SYRINGE
from app.records.visibility import Sight
from app.storage import ConstraintBroken
from app.workflow import taking_back, witnessing
from app.workflow.looking import Seen, see_check
from app.workflow.refusals import NotNow, NotYours, TooManyTries, WrongCredential
from tests.factories.answers import answers
from tests.story.people import ADELE, IMOGEN, NADIA, PETRA, QUILL, RUTH, TOMAS, Somebody
from tests.story.ward import Ward
from tests.support.together import together

WRONG = answers(label={"amount": "30 mg"})
STEP = "old-syringe"
TO_BE_VERIFIED = taking_back.Written(to_be_verified=True)
STANDS = taking_back.Written(to_be_verified=False)


def replaced(ward: Ward) -> Ward:
    """The line was primed from a wrong syringe, which was replaced; then both read the same."""
    ward.at_stage(Phase.READING).does(NADIA, "set-primed").both_read(ward.of_its_patient(WRONG)).compares()
    ward.reads_again(NADIA, "label").both_read().compares()
    assert ward.phase is Phase.STEPS
    return ward


@pytest.fixture
def due(one_ward: Ward) -> Ward:
    return replaced(one_ward)


def says(ward: Ward) -> dict[int, str]:
    step = taking_back.find_step(ward.state())
    assert step is not None
    return ward.state().said_of(step)


def written(ward: Ward) -> list[tuple[str, str, str, str, str]]:
    return [
        (each.held_in, each.volume, each.exact, each.by, each.witness) for each in ward.state().taken_back
    ]


def test_it_is_done_only_when_it_is_written_what_was_taken_back(due: Ward) -> None:
    assert due.doing(NADIA, STEP) != due.takes_back(NADIA)
    assert says(due) == {FIRST: DONE}
    # As typed, and exactly.
    assert written(due) == [
        (IN_SYRINGE, "27.7 mL", "27.7 mL", NADIA.id, IMOGEN.id),
        (IN_LINE, "2.3 mL", "2.3 mL", NADIA.id, IMOGEN.id),
    ]


def test_nobody_ticks_it_and_nothing_is_signed_without_it(due: Ward) -> None:
    before = due.state().last_position
    due.doing(NADIA, STEP)
    assert due.state().last_position == before
    assert not due.state().steps_complete


@pytest.mark.parametrize("witness", [TOMAS, IMOGEN, RUTH, PETRA], ids=lambda who: who.id)
def test_a_second_licensed_person_sees_it(due: Ward, witness: Somebody) -> None:
    assert due.taking_back(NADIA, witness) == TO_BE_VERIFIED


@pytest.mark.parametrize(
    ("witness", "refused"),
    [(NADIA, witnessing.SamePerson()), (QUILL, witnessing.NoWitness()), (ADELE, witnessing.NoWitness())],
    ids=["who writes it", "quality", "administrator"],
)
def test_nobody_else_does(due: Ward, witness: Somebody, refused: object) -> None:
    assert due.taking_back(NADIA, witness) == refused
    assert written(due) == []


def test_the_full_secret_is_asked_each_time_and_tries_are_counted(due: Ward) -> None:
    due.reading_drug(NADIA)
    said = [due.witnessing(NADIA, secret="135790") for _ in range(5)]
    assert said[0] == WrongCredential()
    assert isinstance(said[-1], TooManyTries)
    assert written(due) == []


@pytest.mark.parametrize(
    ("field", "typed"),
    [
        ("in_syringe", "27,7 mL"),
        ("in_line", "2.3 mg"),
        ("in_line", "mL"),
        ("way", "spilt"),
        ("lot", " "),
        ("stated_at", "about two"),
        ("stated_at", "2031-05-02"),
    ],
)
def test_what_is_written_otherwise_is_said_beside_its_field(due: Ward, field: str, typed: str) -> None:
    said = due.taking_back(NADIA, given={field: typed})
    assert isinstance(said, witnessing.Unwritable)
    assert set(said.faults) == {field}
    assert written(due) == []


def test_only_one_of_the_two_writes_it(due: Ward) -> None:
    assert due.taking_back(RUTH) == NotYours()
    assert written(due) == []


def test_it_is_not_asked_where_no_syringe_was_replaced(one_ward: Ward) -> None:
    one_ward.at_stage(Phase.STEPS)
    assert one_ward.taking_back(NADIA) == NotNow(phase=Phase.STEPS)


def test_nothing_of_it_is_written_while_the_two_read(one_ward: Ward) -> None:
    ward = one_ward
    ward.at_stage(Phase.READING).does(NADIA, "set-primed").both_read(ward.of_its_patient(WRONG)).compares()
    ward.reads_again(NADIA, "label")
    assert ward.taking_back(NADIA) == NotNow(phase=Phase.READING)
    ward.reads(NADIA)
    assert ward.taking_back(NADIA) == NotNow(phase=Phase.READING)


def test_sent_twice_it_stands_once(due: Ward) -> None:
    assert due.taking_back(NADIA, last=0) == TO_BE_VERIFIED
    assert due.taking_back(NADIA, last=0) == taking_back.WrittenMeanwhile()
    assert len(written(due)) == 2


def test_what_was_written_anew_is_verified_anew_and_both_stand(due: Ward) -> None:
    due.takes_back(NADIA).verifies(TOMAS, STEP)
    assert due.taking_back(TOMAS, RUTH, given={"in_line": "2.4 mL"}) == TO_BE_VERIFIED
    assert says(due) == {2: DONE}
    due.verifies(NADIA, STEP).confirms_all()
    assert due.phase is Phase.SIGNING
    assert [volume for held_in, volume, *_ in written(due) if held_in == IN_LINE] == ["2.3 mL", "2.4 mL"]


def test_another_wrong_syringe_is_written_down_for_itself(due: Ward) -> None:
    due.takes_back(NADIA).verifies(TOMAS, STEP)
    due.reads_again(NADIA, "label").both_read().compares()
    assert says(due) == {}
    due.taking_back(NADIA, given={"in_line": "0 mL"})
    assert [(each.round, each.syringe) for each in due.state().taken_back] == [
        (2, "reading 1"),
        (2, "reading 1"),
        (3, "reading 2"),
        (3, "reading 1"),
    ]


def steps_of(ward: Ward) -> set[str]:
    plan = ward.state().plan
    return {step.id for step in plan.steps} if plan else set()


def test_a_syringe_that_was_replaced_before_priming_is_written_down_and_no_new_set_asked(
    one_ward: Ward,
) -> None:
    ward = one_ward.at_stage(Phase.READING)
    ward.both_read(ward.of_its_patient(WRONG)).compares().reads_again(NADIA, "label").both_read().compares()
    assert STEP in steps_of(ward)
    assert "new-set" not in steps_of(ward)

    ward.taking_back(NADIA, given={"in_syringe": "30 mL", "in_line": "0 mL"})

    assert written(ward)[0] == (IN_SYRINGE, "30 mL", "30 mL", NADIA.id, IMOGEN.id)
    assert "new-set" not in steps_of(ward)
    ward.confirms_all().both_sign()


def test_a_line_that_held_the_old_drug_is_not_used_whoever_ticked_that_it_was_primed(one_ward: Ward) -> None:
    ward = one_ward.at_stage(Phase.READING)
    ward.both_read(ward.of_its_patient(WRONG)).compares().reads_again(NADIA, "label").both_read().compares()
    ward.takes_back(NADIA)
    assert "new-set" in steps_of(ward)


@pytest.fixture
def after_danger(one_ward: Ward) -> Ward:
    """The line was primed, and danger seen in the label before anything was compared."""
    one_ward.at_stage(Phase.READING).does(NADIA, "set-primed").saying_danger(TOMAS, "label")
    one_ward.both_read().compares()
    assert one_ward.phase is Phase.STEPS
    return one_ward


def test_after_danger_that_nothing_was_compared_with_it_is_asked_whether_another_is_on(
    after_danger: Ward,
) -> None:
    ward = after_danger
    assert "same-syringe" in steps_of(ward)
    assert not {STEP, "new-set"} & steps_of(ward)

    ward.takes_back(NADIA)

    assert {(each.round, each.syringe) for each in ward.state().taken_back} == {(2, "reading 1")}
    assert {STEP, "new-set"} <= steps_of(ward)
    assert says(ward) == {FIRST: DONE}
    # What was done with the old one is due again.
    assert "set-primed" not in {each.step for each in ward.state().confirmations}
    ward.confirms_all().both_sign()


def test_where_both_say_that_it_is_the_same_nothing_was_taken_back(after_danger: Ward) -> None:
    after_danger.does(NADIA, "same-syringe").verifies(TOMAS, "same-syringe")
    assert after_danger.taking_back(NADIA) == NotNow(phase=Phase.STEPS)
    after_danger.confirms_all().both_sign()
    assert written(after_danger) == []


def test_once_it_is_to_be_signed_somebody_says_first_that_a_syringe_was_replaced(after_danger: Ward) -> None:
    after_danger.confirms_all()
    assert after_danger.taking_back(NADIA) == NotNow(phase=Phase.SIGNING)
    after_danger.reads_again(NADIA, "label").both_read().compares()
    assert after_danger.taking_back(NADIA) == TO_BE_VERIFIED


def test_a_mistake_found_before_signing_is_put_right_and_both_values_stand_on_what_is_signed(
    due: Ward,
) -> None:
    due.confirms_all().signs(NADIA)
    assert due.taking_back(TOMAS, given={"in_line": "2.4 mL"}) == TO_BE_VERIFIED

    # The other verifies it, and both sign a new edition.
    assert due.phase is Phase.STEPS
    assert due.state().signatures == {}
    due.verifies(NADIA, STEP).both_sign()

    with due.site.store.read() as reader:
        record = reader.frozen_records(due.check)[-1]
    told = [(each["typed"], each["stands"]) for each in record.told["safety_steps"]["taken_back"]]
    assert record.edition == 2
    assert told == [("27.7 mL", False), ("2.3 mL", False), ("27.7 mL", True), ("2.4 mL", True)]


@pytest.mark.parametrize("phase", [Phase.CLEARED, Phase.STARTED])
def test_a_mistake_found_later_is_put_right_and_changes_nothing_that_was_signed(
    due: Ward, phase: Phase
) -> None:
    due.confirms_all().both_sign()
    if phase is Phase.STARTED:
        due.both_look().starts()
    before = due.state()

    assert due.taking_back(TOMAS, given={"in_line": "2.4 mL"}) == STANDS

    after = due.state()
    assert (after.phase, after.edition, after.signatures) == (phase, 1, before.signatures)
    assert after.confirmations == before.confirmations
    assert [volume for held_in, volume, *_ in written(due) if held_in == IN_LINE] == ["2.3 mL", "2.4 mL"]


def test_another_syringe_that_nobody_spoke_of_asks_for_it_too_and_the_line_is_primed_anew(
    one_ward: Ward,
) -> None:
    ward = one_ward.at_stage(Phase.READING).does(NADIA, "set-primed")
    ward.both_read(ward.of_its_patient(WRONG)).compares().reads_again(NADIA, "device")
    ward.saying_danger(TOMAS, "label")
    # While the two read, nobody is told what the label says.
    assert STEP not in {step.id for step in ward.state().plan.steps}  # type: ignore[union-attr]  # of a set-up
    assert "set-primed" in {each.step for each in ward.state().confirmations}

    ward.both_read().compares()

    assert taking_back.find_step(ward.state()) is not None
    assert "set-primed" not in {each.step for each in ward.state().confirmations}
    ward.takes_back(NADIA)
    assert {(each.round, each.syringe) for each in ward.state().taken_back} == {(3, "reading 1")}
    ward.confirms_all().both_sign()


def test_a_label_that_one_had_read_wrong_asks_for_nothing(one_ward: Ward) -> None:
    ward = one_ward.at_stage(Phase.READING).does(NADIA, "set-primed")
    ward.both_read(ward.of_its_patient(WRONG), ward.of_its_patient(answers())).compares()
    ward.reads_again(NADIA).both_read().compares()

    assert ward.phase is Phase.STEPS
    assert taking_back.find_step(ward.state()) is None
    assert "set-primed" in {each.step for each in ward.state().confirmations}


def test_of_a_check_that_was_given_up_it_is_written_all_the_same(due: Ward) -> None:
    due.abandons()
    assert due.taking_back(NADIA) == STANDS
    assert due.phase is Phase.ABANDONED
    # Its author has said so once; who comes later is told.
    assert due.taking_back(TOMAS, last=0) == taking_back.WrittenMeanwhile()


def test_it_is_written_of_a_check_that_was_given_up_while_the_two_read_or_after_danger(
    one_ward: Ward,
) -> None:
    ward = one_ward.at_stage(Phase.READING)
    ward.both_read(ward.of_its_patient(WRONG)).compares().reads_again(NADIA, "label").abandons()
    assert ward.taking_back(NADIA) == STANDS
    assert {each.syringe for each in ward.state().taken_back} == {"reading 1"}

    ward.at_stage(Phase.READING).saying_danger(TOMAS, "label")
    ward.abandons()
    assert ward.taking_back(NADIA) == STANDS


def test_whoever_reads_blind_at_the_bed_writes_nothing_of_an_earlier_check(due: Ward) -> None:
    earlier, bed = due.check, due.state().check.bed
    due.abandons().opens(NADIA, bed=bed).joins(TOMAS)
    due.check = earlier
    assert due.taking_back(NADIA) == NotNow(phase=Phase.ABANDONED)


def test_a_stopped_device_changes_nothing_of_it(due: Ward) -> None:
    due.takes_back(NADIA).stops(RUTH, why="unsure").confirms_all()
    assert len(written(due)) == 2
    assert due.phase is Phase.SIGNING


def test_it_stands_on_the_record_with_the_keys_of_the_account(due: Ward) -> None:
    due.taking_back(NADIA, PETRA, given={"way": "returned", "stated_at": "2031-05-02T14:05+01:00"})
    due.confirms_all().both_sign()
    with due.site.store.read() as reader:
        (frozen,) = reader.frozen_records(due.check)
    syringe, line = frozen.told["safety_steps"]["taken_back"]
    assert (syringe["by"], syringe["witness"], syringe["lot"]) == ("Nadia Ferrow", "Petra Varga", "LK-2207")
    assert (syringe["typed"], line["typed"]) == ("27.7 mL", "2.3 mL")
    account = {"kind", "at", "syringe", "volume", "received"}
    entry = {name: text for name, text in syringe.items() if name in account}
    assert entry == {
        "kind": "returned",
        "at": "2031-05-02T14:05+01:00",
        "syringe": "reading 1",
        "volume": "27.7 mL",
        "received": True,
    }
    issued = {
        "kind": "issued",
        "at": "2031-05-02T14:00+01:00",
        "syringe": "reading 1",
        "volume": "30 mL",
        "amount": "30 mg",
        "size": "50 mL",
    }
    case = {"format": "countersign.account/1", "policy": {}, "entries": [issued, entry]}
    assert isinstance(read_account(case), AccountCase)


def test_nobody_outside_sees_it_before_the_check_is_over(due: Ward) -> None:
    due.takes_back(NADIA)
    seen = see_check(due.site, due.act(RUTH), due.check)
    assert isinstance(seen, Seen)
    assert seen.sight is Sight.PROGRESS
    assert seen.loaded.state.taken_back == ()


def test_two_at_once_write_it_once(ward: Ward) -> None:
    replaced(ward)
    assert ward.reading_drug(NADIA) == taking_back.FirstKept()
    acts = {who: ward.act(who) for who in (NADIA, TOMAS)}
    volumes = {IN_SYRINGE: "27.7 mL", IN_LINE: "2.3 mL"}

    def writes(who: Somebody) -> object:
        return taking_back.witness(
            ward.site, acts[who], ward.check, volumes, login=IMOGEN.login, secret=IMOGEN.secret
        )

    said = together(lambda: writes(NADIA), lambda: writes(TOMAS))

    assert sorted(type(each).__name__ for each in said) == ["NothingWaits", "Written"]
    assert len(written(ward)) == 2


@pytest.mark.parametrize("witness", [NADIA.id, "nobody", ""])
def test_the_database_refuses_whoever_is_no_second_person(ward: Ward, witness: str) -> None:
    replaced(ward).takes_back(NADIA)
    with ward.site.store.read() as reader:
        taken = [each for each in reader.entries(ward.check) if each.event.kind == "drug-taken-back"][-1]
    forged = type(taken.event)(**{**vars(taken.event), "witness": witness})
    with pytest.raises(ConstraintBroken) as refusal, ward.site.store.write() as tx:
        tx.append(forged, act=ward.act(NADIA), check=ward.check)
    assert refusal.value.name == "witnessed_by_a_second_person"


def test_the_step_is_of_the_published_list(due: Ward) -> None:
    step = taking_back.find_step(due.state())
    assert step is not None
    assert (step.id, step.entry) == (STEP, TAKEN_BACK)
    assert {Role.NURSE.value, Role.PHARMACIST.value} <= set(due.loaded().policy.witnesses)
