"""What does not add up in a check of what runs: counted together once, then signed as open."""

import json

import pytest

from app.auditing.verifying_here import verify_here
from app.records.independence import Grade
from app.records.reading import Answers
from app.records.state import Phase
from app.records.verification import Verification
from app.workflow import recounting
from app.workflow.issuing import Issued, issue_record
from app.workflow.listing import unit_list
from app.workflow.looking import RecordSeen, see_record
from app.workflow.refusals import NotFound, NotNow, NotYours
from tests.factories.answers import SHORT, answers
from tests.story.people import NADIA, RUTH, TOMAS, Somebody
from tests.story.ward import Ward


@pytest.fixture
def running(ward: Ward) -> Ward:
    return ward.at_stage(Phase.STARTED)


def short(ward: Ward) -> Ward:
    """Both have read the same, and it does not add up."""
    return ward.re_checks().both_read(SHORT).compares()


def recounts(ward: Ward, who: Somebody = NADIA) -> object:
    return recounting.recount(ward.site, ward.act(who), ward.check)


def recounted(ward: Ward, read: Answers = SHORT) -> Ward:
    assert recounts(short(ward)) == recounting.Recounting(round=2)
    return ward.both_read(read).compares()


def test_it_stops_nobody_and_is_counted_together_before_anything_is_signed(running: Ward) -> None:
    state = short(running).state()

    assert (running.phase, state.recount_due) == (Phase.AGREED, True)
    assert [(each.code, each.about) for each in state.open_account] == [
        ("account-left-below-predicted", "patient")
    ]
    assert type(running.signing(NADIA)).__name__ == "NotNow"


def test_while_it_runs_the_unit_is_told_at_once_that_it_is_about_the_patient(running: Ward) -> None:
    short(running)

    assert [each.progress for each in unit_list(running.site, running.act(RUTH)).unit] == ["ACT NOW"]


def test_either_of_the_two_opens_the_recount_and_nobody_else_and_once(running: Ward) -> None:
    short(running)
    assert recounts(running, RUTH) == NotYours()
    assert recounting.recount(running.site, running.act(NADIA), "no-such-check") == NotFound()
    assert recounts(running, TOMAS) == recounting.Recounting(round=2)
    assert recounts(running) == NotNow(phase=Phase.READING)
    running.both_read(SHORT).compares()

    assert recounts(running) == NotNow(phase=Phase.SIGNING)


def test_where_it_adds_up_nothing_is_recounted(running: Ward) -> None:
    running.re_checks().both_read().compares()

    assert recounts(running) == NotNow(phase=Phase.SIGNING)


def test_while_help_is_asked_for_nothing_is_recounted(running: Ward) -> None:
    short(running).asks_for_help()

    assert recounts(running) == NotNow(phase=Phase.AGREED)


def test_only_totals_and_what_is_left_are_counted_again(running: Ward) -> None:
    recounts(short(running))
    current = running.state().current

    assert current is not None
    assert current.scope == (("totals", ()),)


def test_what_was_miscounted_adds_up_then(running: Ward) -> None:
    recounted(running, answers()).both_sign()

    assert (running.phase, running.state().open_account) == (Phase.DONE, ())


def test_what_still_does_not_add_up_both_sign_as_open(running: Ward) -> None:
    recounted(running)
    record = see_record(running.site, running.act(NADIA), running.check)
    assert isinstance(record, RecordSeen)
    document = json.loads(record.frozen.document)

    assert [each["independence"]["grade"] for each in document["rounds"]][-1] == Grade.TOGETHER
    found = document["rounds"][-1]["comparison"]["findings"]
    assert [(each["code"], each["about"]) for each in found] == [("account-left-below-predicted", "patient")]
    assert running.both_sign().phase is Phase.DONE


def test_read_differently_in_the_recount_it_is_read_again_blind(running: Ward) -> None:
    recounts(short(running))
    running.both_read(SHORT, answers()).compares()
    assert running.phase is Phase.DISPUTED
    running.reads_again().both_read(SHORT).compares()

    assert (running.phase, running.state().recount_due) == (Phase.SIGNING, False)
    assert [each.recount for each in running.state().rounds] == [False, True, False]


def test_its_record_verifies(one_ward: Ward) -> None:
    ward = recounted(one_ward.at_stage(Phase.STARTED)).both_sign()
    assert isinstance(issue_record(ward.site, ward.check, 1, ward.wait().now), Issued)
    with ward.site.store.read() as reader:
        pdf = reader.find_pdf(ward.check, 1)
    assert pdf is not None
    said = verify_here(ward.site, ward.wait().now, pdf.content)

    assert isinstance(said, Verification)
    assert [each for each in said.answers if each.holds is not True] == []
