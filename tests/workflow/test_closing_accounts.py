"""An account that does not add up stays with the charge nurse until she closes it with a reason."""

from dataclasses import replace
from datetime import timedelta

import pytest

from app.people import Role
from app.records.account_events import AccountClosed, AccountLeftOpen
from app.records.events import Event
from app.records.state import Phase
from app.site.lasting import AccountRead, read_account_of
from app.site.loading import rules_in_force
from app.web.models.infusion_account import Statement, statement_of
from app.workflow import closing_accounts, opening
from app.workflow.closing_accounts import (
    Closed,
    MoreSince,
    NothingOpen,
    OneOfTheTwo,
    StillChecked,
    close_account,
    open_accounts,
)
from app.workflow.refusals import Incomplete, NotAllowed, NotFound
from tests.factories.answers import SHORT, answers
from tests.story.people import IMOGEN, NADIA, QUILL, RUTH, TOMAS, Somebody
from tests.story.ward import Ward
from tests.workflow.test_end_of_pca import LEFT, at_the_remainder

# By more than a step of totals that show whole mg (5 mL), and two readings of the scale.
MORE_GONE = answers(totals={"left": "2 mL"})
WHY = "Counted with pharmacy: the label was misread."


@pytest.fixture
def left_open(ward: Ward) -> Ward:
    """It was counted again and does not add up; nobody has signed yet."""
    ward.at_stage(Phase.STARTED).re_checks().both_read(SHORT).compares()
    return ward.recounts().both_read(SHORT).compares()


def infusion_of(ward: Ward) -> str:
    return ward.state().check.infusion


def shown_to(ward: Ward, who: Somebody = RUTH, infusion: str = "") -> list[int]:
    """What stands on the page of whoever may close it."""
    infusion = infusion or infusion_of(ward)
    found = closing_accounts.find_open_account(ward.site, ward.act(who), who.roles, infusion)
    return [each.position for each in found.entries] if found else []


def looks_and_closes(ward: Ward, who: Somebody, infusion: str, *, reason: str = WHY) -> object:
    """Whoever it is was shown all of it."""
    shown = shown_to(ward, who, infusion)
    return close_account(ward.site, ward.act(who), who.roles, infusion, reason=reason, shown=shown)


def closes(ward: Ward, who: Somebody = RUTH, *, reason: str = WHY, shown: list[int] | None = None) -> object:
    seen = shown_to(ward, who) if shown is None else shown
    return close_account(ward.site, ward.act(who), who.roles, infusion_of(ward), reason=reason, shown=seen)


def told(ward: Ward) -> list[Event]:
    infusion = infusion_of(ward)
    with ward.site.store.read() as reader:
        course = [each.event for each in reader.course(infusion)]
    return [each for each in course if isinstance(each, AccountLeftOpen | AccountClosed)]


def listed(ward: Ward, who: Somebody) -> list[str]:
    return [each.infusion for each in open_accounts(ward.site, ward.act(who), who.roles)]


def test_it_is_left_open_once_it_was_counted_again(ward: Ward) -> None:
    ward.at_stage(Phase.STARTED).re_checks().both_read(SHORT).compares()
    assert told(ward) == []
    ward.recounts().both_read(SHORT).compares()

    assert told(ward) == [AccountLeftOpen(round=2)]


def test_what_adds_up_when_it_is_counted_again_is_not(ward: Ward) -> None:
    ward.at_stage(Phase.STARTED).re_checks().both_read(SHORT).compares()
    ward.recounts().both_read(answers()).compares()

    assert told(ward) == []
    assert listed(ward, RUTH) == []


def test_given_up_before_it_was_counted_again_it_is_left_open_too(ward: Ward) -> None:
    ward.at_stage(Phase.STARTED).re_checks().both_read(SHORT).compares().abandons()
    assert told(ward) == [AccountLeftOpen(round=1)]
    assert listed(ward, RUTH) == [infusion_of(ward)]
    assert closes(ward) == Closed()


def test_it_stands_on_the_charge_nurses_list_and_on_nobody_elses(left_open: Ward) -> None:
    assert listed(left_open, RUTH) == [infusion_of(left_open)]
    for who in (NADIA, TOMAS, IMOGEN, QUILL):
        assert listed(left_open, who) == []


def test_it_keeps_nobody_from_signing_and_is_closed_after_both_have(left_open: Ward) -> None:
    assert closes(left_open) == StillChecked()
    assert left_open.both_sign().phase is Phase.DONE
    assert closes(left_open) == Closed()

    assert told(left_open)[-1].reason == WHY  # type: ignore[attr-defined]  # it was closed
    assert listed(left_open, RUTH) == []
    assert closes(left_open) == NothingOpen()


def stated(ward: Ward) -> Statement:
    """The account as the page of the infusion has it."""
    infusion = infusion_of(ward)
    with ward.site.store.read() as reader:
        policy = rules_in_force(reader, ward.now).policy
        read = read_account_of(reader, reader.course(infusion), policy)
    assert isinstance(read, AccountRead)
    return statement_of(read)


def test_once_it_is_closed_nobody_is_sent_to_the_patient_for_the_same_difference(left_open: Ward) -> None:
    left_open.both_sign()
    (said,) = stated(left_open).of_patient
    assert closes(left_open) == Closed()
    assert said in stated(left_open).others
    assert stated(left_open).of_patient == ()

    left_open.re_checks().both_read(MORE_GONE).compares().recounts().both_read(MORE_GONE).compares()
    left_open.both_sign()
    assert len(stated(left_open).of_patient) == 1


def test_a_third_person_closes_it(left_open: Ward) -> None:
    left_open.both_sign()
    both = replace(NADIA, roles=NADIA.roles | {Role.CHARGE_NURSE})

    assert closes(left_open, both) == OneOfTheTwo()
    assert closes(left_open, TOMAS) == NotAllowed()
    assert closes(left_open, QUILL) == NotAllowed()


def test_it_has_a_reason(left_open: Ward) -> None:
    left_open.both_sign()

    assert closes(left_open, reason="  ") == Incomplete(fields=("reason",))


def test_an_infusion_that_is_not_there_has_none(left_open: Ward) -> None:
    asked = closing_accounts.close_account(
        left_open.site, left_open.act(RUTH), RUTH.roles, "no-such-infusion", reason=WHY, shown=()
    )

    assert asked == NotFound()


def test_a_check_that_was_given_up_leaves_it_open(left_open: Ward) -> None:
    left_open.abandons()

    assert listed(left_open, RUTH) == [infusion_of(left_open)]
    assert closes(left_open) == Closed()


def test_where_more_is_gone_it_is_left_open_again_after_it_was_closed(left_open: Ward) -> None:
    left_open.both_sign()
    first = told(left_open)
    closes(left_open)
    # The same as was told and closed: nobody counts it again, and nobody is sent to the patient for it.
    left_open.re_checks().both_read(SHORT).compares()
    assert left_open.codes() == []
    assert left_open.state().open_account == ()
    left_open.both_sign().re_checks().both_read(MORE_GONE).compares()
    left_open.recounts().both_read(MORE_GONE).compares()

    assert [type(each) for each in told(left_open)] == [AccountLeftOpen, AccountClosed, AccountLeftOpen]
    assert len(first) == 1


def test_where_more_is_gone_while_it_is_open_each_check_leaves_its_own(left_open: Ward) -> None:
    first = left_open.check
    left_open.both_sign().re_checks().both_read(SHORT).compares()
    # The same as was told: nothing is found, and nothing is left open.
    assert left_open.state().open_account == ()
    left_open.both_sign()
    before = shown_to(left_open)
    assert len(before) == 1
    left_open.re_checks().both_read(MORE_GONE).compares().recounts().both_read(MORE_GONE).compares()
    assert [type(each) for each in told(left_open)] == [AccountLeftOpen, AccountLeftOpen]
    assert closes(left_open, shown=before) == StillChecked()
    left_open.both_sign()

    # She looked before the second check, and closes nothing that she was not shown.
    assert closes(left_open, shown=before) == closes(left_open, shown=[]) == MoreSince()
    (account,) = open_accounts(left_open.site, left_open.act(RUTH), RUTH.roles)
    assert [each.check for each in account.entries] == [first, left_open.check]
    assert (account.at, account.last_at) == tuple(each.at for each in account.entries)
    assert closes(left_open, shown=shown_to(left_open)) == Closed()
    closed = told(left_open)[-1]
    assert isinstance(closed, AccountClosed)
    assert closed.closes == tuple(str(each.position) for each in account.entries)
    assert closed.left_open == closed.closes[0]
    assert listed(left_open, RUTH) == []


def test_a_check_that_is_given_up_leaves_what_it_found_beside_what_was_open(left_open: Ward) -> None:
    left_open.both_sign().re_checks().both_read(MORE_GONE).compares().abandons()
    assert len(shown_to(left_open)) == 2
    assert closes(left_open) == Closed()


def test_of_one_check_there_is_one_entry_however_often_it_was_counted(left_open: Ward) -> None:
    left_open.abandons()
    assert len(shown_to(left_open)) == 1


def test_who_reads_blind_there_closes_none_and_is_not_told_whether_one_is_open(one_ward: Ward) -> None:
    ward = one_ward.at_stage(Phase.STARTED).re_checks().both_read(SHORT).compares()
    ward.recounts().both_read(SHORT).compares().both_sign()
    opened = ward.re_checking(RUTH)
    assert isinstance(opened, opening.Opened)
    ward.check = opened.check
    ward.joins(NADIA)

    assert listed(ward, RUTH) == []
    assert [closes(ward, reason=each) for each in (WHY, "")] == [NotFound()] * 2
    assert closes(ward, replace(IMOGEN, roles=RUTH.roles)) == Closed()
    assert closes(ward) == NotFound()


class TestNotWitnessed:
    """What nobody saw go is the charge nurse's, too."""

    @pytest.fixture
    def unseen(self, one_ward: Ward) -> Ward:
        ward = at_the_remainder(one_ward)
        ward.reading_drug(NADIA, given=LEFT)
        ward.going_on_without(NADIA)
        return ward

    def test_it_stands_on_her_list_and_is_closed_once_both_have_signed(self, unseen: Ward) -> None:
        assert listed(unseen, RUTH) == [infusion_of(unseen)]
        assert listed(unseen, NADIA) == []
        assert closes(unseen) == StillChecked()
        unseen.confirms_all().both_sign()
        assert closes(unseen, reason=" ") == Incomplete(fields=("reason",))
        assert closes(unseen) == Closed()
        assert listed(unseen, RUTH) == []

    @pytest.mark.parametrize("late", [99, 101])
    def test_the_witness_who_came_too_late_does_not_close_it(self, one_ward: Ward, late: int) -> None:
        ward = at_the_remainder(one_ward)
        ward.reading_drug(NADIA, given=LEFT)
        ward.wait(timedelta(seconds=late)).witnessing(NADIA, RUTH, seen=LEFT)
        ward.confirms_all().both_sign()
        assert closes(ward) == (OneOfTheTwo() if late > 100 else NothingOpen())

    def test_what_no_pharmacist_took_is_hers_too(self, one_ward: Ward) -> None:
        ward = at_the_remainder(one_ward)
        ward.taking_back(NADIA, IMOGEN, given={**LEFT, "way": "returned"})
        ward.confirms_all().both_sign()
        assert listed(ward, RUTH) == [infusion_of(ward)]
        assert closes(ward) == Closed()
