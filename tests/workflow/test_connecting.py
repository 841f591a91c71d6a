"""Before anything is connected, the wristband is read once more, and held against what both agreed on."""

import json

import pytest

from app.records.kept import FIRST, SECOND
from app.records.state import Phase
from app.records.steps import DIFFERS, DONE, VERIFIED
from app.workflow import stepping
from tests.story.people import NADIA, TOMAS
from tests.story.ward import Ward

READ, CONNECTED = "right-patient", "connected"


@pytest.fixture
def before_connecting(one_ward: Ward) -> Ward:
    """The first group is verified."""
    return one_ward.at_stage(Phase.STEPS).confirms_group()


def says(ward: Ward, name: str) -> dict[int, str]:
    state = ward.state()
    assert state.plan is not None
    return state.said_of(next(step for step in state.plan.steps if step.id == name))


def open_now(ward: Ward) -> set[str]:
    return {step.id for step in stepping.open_steps(ward.state())}


def test_nothing_is_connected_before_the_wristband_is_read(before_connecting: Ward) -> None:
    ward = before_connecting

    assert READ in open_now(ward)
    assert CONNECTED not in open_now(ward)
    assert ward.doing(NADIA, CONNECTED) == stepping.OutOfTurn()
    # Nobody ticks it: it is done by reading.
    assert ward.doing(NADIA, READ) == stepping.OutOfTurn()


@pytest.mark.parametrize("who", [NADIA, TOMAS], ids=lambda who: str(who.id))
@pytest.mark.parametrize("as_read", ["DM-40417", "dm 40417", "DM\N{EN DASH}40417"])
def test_either_of_the_two_reads_it_as_wristbands_are_compared(
    before_connecting: Ward, who: object, as_read: str
) -> None:
    ward, reader, slot = before_connecting, who, FIRST if who is NADIA else SECOND
    ward.takes(reader, stepping.Given(patient=as_read))  # type: ignore[arg-type]  # one of the two

    assert says(ward, READ) == {slot: DONE}
    assert CONNECTED in open_now(ward)


def test_another_patient_stops_and_stands_in_the_log_without_what_was_read(before_connecting: Ward) -> None:
    ward = before_connecting

    assert ward.reading_wristband(NADIA, "DM-51111") == stepping.AnotherPatient()
    assert ward.reading_wristband(TOMAS, "DM-52222") == stepping.AnotherPatient()

    state = ward.state()
    assert state.patient_differs
    assert CONNECTED not in open_now(ward)
    # Each try stands, the last one counts.
    assert [(each.slot, each.part) for each in state.differed] == [(FIRST, DIFFERS), (SECOND, DIFFERS)]
    with ward.site.store.read() as reader:
        log = b"".join(each.canonical for each in reader.log_entries(after=0, limit=1000))
        rows = str(list(reader.rows("comparison"))) + str(list(reader.rows("reading")))
    for typed in ("51111", "52222"):
        assert typed.encode() not in log
        assert typed not in rows

    ward.reads_wristband(TOMAS)
    assert not ward.state().patient_differs
    assert says(ward, READ) == {SECOND: DONE}


def test_whoever_read_it_connects_and_the_other_verifies(before_connecting: Ward) -> None:
    ward = before_connecting.reads_wristband(TOMAS)

    refused = ward.doing(NADIA, CONNECTED)
    assert isinstance(refused, stepping.Malformed)
    assert refused.faults.keys() == {"step"}
    assert isinstance(ward.naming(TOMAS, CONNECTED), stepping.Malformed)
    ward.does(TOMAS, CONNECTED).verifies(NADIA, READ, CONNECTED)
    assert says(ward, CONNECTED) == {SECOND: DONE, FIRST: VERIFIED}


def test_the_other_may_say_that_whoever_read_it_connected(before_connecting: Ward) -> None:
    ward = before_connecting.reads_wristband(TOMAS)

    assert isinstance(ward.naming(NADIA, CONNECTED), stepping.Taken)


def test_read_anew_nothing_that_rested_on_it_stands(before_connecting: Ward) -> None:
    ward = before_connecting.reads_wristband(NADIA).does(NADIA, CONNECTED).verifies(TOMAS, READ, CONNECTED)

    ward.reads_wristband(TOMAS)
    assert (says(ward, READ), says(ward, CONNECTED)) == ({SECOND: DONE}, {})
    ward.does(TOMAS, CONNECTED)
    assert ward.reading_wristband(NADIA, "DM-51111") == stepping.AnotherPatient()
    assert (says(ward, READ), says(ward, CONNECTED)) == ({FIRST: DIFFERS}, {})


def test_the_same_sent_again_does_no_harm(before_connecting: Ward) -> None:
    ward = before_connecting.reads_wristband(NADIA).does(NADIA, CONNECTED).verifies(TOMAS, READ)
    before = ward.state()

    ward.reads_wristband(NADIA)
    assert ward.state().confirmations == before.confirmations


@pytest.mark.parametrize("typed", ["", "-", "*0417", "* 0417"])
def test_blank_and_the_last_four_are_no_reading(before_connecting: Ward, typed: str) -> None:
    refused = before_connecting.reading_wristband(NADIA, typed)

    assert isinstance(refused, stepping.Malformed)
    assert refused.faults.keys() == {"patient"}
    assert before_connecting.state().differed == ()


def test_once_the_wristband_is_put_right_it_is_read_anew(ward: Ward) -> None:
    ward.at_stage(Phase.STEPS).confirms_group().reads_wristband().reads_again(NADIA, "wristband")
    ward.both_read().compares()

    assert says(ward, READ) == {}
    ward.confirms_all().both_sign()


def test_each_try_stands_in_the_record_that_both_sign(ward: Ward) -> None:
    ward.at_stage(Phase.STEPS).confirms_group()
    ward.reading_wristband(NADIA, "DM-51111")
    ward.confirms_all()
    with ward.site.store.read() as reader:
        (frozen,) = reader.frozen_records(ward.check)
    steps = json.loads(frozen.document)["safety_steps"]

    assert [each["person"] for each in steps["patient_differed"]] == [NADIA.id]
    assert b"51111" not in frozen.document


def test_before_the_readings_agree_there_is_nobody_to_hold_it_against(one_ward: Ward) -> None:
    one_ward.at_stage(Phase.READING)

    assert READ not in open_now(one_ward)
    assert one_ward.reading_wristband(NADIA, "DM-40417") == stepping.OutOfTurn()
