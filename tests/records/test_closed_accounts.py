"""What nobody saw go is settled once a third person has closed the account with a reason."""

from app.records.account_events import AccountClosed, AccountLeftOpen
from app.records.closed_accounts import settled_drug, settled_in
from tests.records.test_account import Course

CLOSED = AccountClosed(left_open="3", reason="two saw it on the floor")


def left(position: int) -> AccountLeftOpen:
    return AccountLeftOpen(round=0, drug=str(position))


def test_it_is_settled_only_once_it_is_closed() -> None:
    course = Course().tell(left(7))
    assert settled_drug(course.entries) == frozenset()
    course.tell(CLOSED).tell(left(9))
    assert settled_drug(course.entries) == {7}
    assert settled_drug(course.tell(CLOSED).entries) == {7, 9}


def test_what_does_not_add_up_is_no_drug_that_nobody_saw() -> None:
    assert settled_drug(Course().tell(AccountLeftOpen(round=2)).tell(CLOSED).entries) == frozenset()


def test_which_entries_of_the_account_that_are_is_told_by_their_places() -> None:
    course = Course().starts("a").takes_back("a").tell(left(2)).tell(CLOSED)
    account = course.account()
    (place,) = settled_in(account.entries, course.entries)
    assert account.entries[place].data["kind"] == "wasted"
