"""Which syringes are in hand, and how much of each at most."""

from dataclasses import replace
from fractions import Fraction

from app.judging.in_hand import InHand, find_chosen, must_be_named, syringes_in_hand
from app.records.account_so_far import Account
from app.records.kinds import SYRINGE_CHANGE
from tests.factories.answers import answers, changed
from tests.records.test_account import Course
from tests.records.test_account_end import gone
from tests.records.test_account_of_changes import after

SECOND = changed(answers(), label={"lot": "LOT-8"})
READ = {"total_amount": "2 mg", "presses": "11", "doses": "10", "left": "17.7 mL"}


def names(account: Account) -> list[tuple[str, bool]]:
    return [(each.name, each.is_on) for each in syringes_in_hand(account, {})]


def test_the_one_on_the_device_is_in_hand_with_no_more_than_was_read_last() -> None:
    (only,) = syringes_in_hand(Course().starts("a").done("b", **READ).account(), {})
    assert (only.name, only.is_on, only.at_most) == ("1", True, Fraction("17.7"))
    assert (only.drug, only.lot) == ("HYDROmorphone", "LOT-7")


def test_an_empty_one_is_in_hand_only_while_it_is_on() -> None:
    empty = {**READ, "total_amount": "5.54 mg", "left": "0 mL"}
    assert names(Course().starts("a").done("b", **empty).account()) == [("1", True)]
    assert names(after(SYRINGE_CHANGE, totals=empty, label={"lot": "LOT-8"}).account()) == [("2", True)]


def test_one_that_was_replaced_is_in_hand_until_it_goes() -> None:
    course = Course().starts("a").starts("b", SECOND)
    assert names(course.account()) == [("1", False), ("2", True)]
    assert names(course.tell(gone()).account()) == [("2", True)]


def test_what_broke_is_gone_and_what_was_spilt_of_it_is_not() -> None:
    course = Course().starts("a").starts("b", SECOND).tell(gone(volume="1 mL", held_in="spilt"))
    assert names(course.account()) == [("1", False), ("2", True)]
    course.tell(gone(volume="20 mL", held_in="broken"))
    assert names(course.account()) == [("2", True)]


def test_without_an_account_nothing_is_known_to_be_in_hand() -> None:
    assert names(Course().account()) == []


def test_of_an_account_that_cannot_be_read_nobody_knows_how_much() -> None:
    account = Course().starts("a").account()
    broken = replace(account, entries=account.entries[1:])
    assert [each.at_most for each in syringes_in_hand(broken, {})] == [None]


def test_a_lot_is_one_however_it_is_set_and_a_label_without_one_says_nothing() -> None:
    syringe = InHand(name="1", drug="HYDROmorphone", lot="LOT-7", at_most=None, is_on=False)
    assert [syringe.has_lot(each) for each in ("lot 7", "LOT-8")] == [True, False]
    assert replace(syringe, lot="").has_lot("LOT-8")


def test_the_lot_says_which_it_is_and_where_it_does_not_its_name_does() -> None:
    first = InHand(name="1", drug="HYDROmorphone", lot="LOT-7", at_most=None, is_on=False)
    second, alike = replace(first, name="2", lot="LOT-8"), replace(first, name="3")

    assert find_chosen((first, second), lot="LOT-8", name="") == second
    assert find_chosen((first, second), lot="LOT-8", name="1") is None
    assert find_chosen((first, alike), lot="LOT-7", name="") is None
    assert find_chosen((first, alike), lot="LOT-7", name="3") == alike
    assert (must_be_named((first, second)), must_be_named((first, alike))) == (False, True)
    assert must_be_named((first, second, alike))
