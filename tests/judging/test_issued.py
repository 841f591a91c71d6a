"""What was issued beside the label that two read; and at the end, what is nowhere."""

from datetime import UTC, datetime

import pytest

from app.judging.issued import bearing_on, find_issued, judge_end, judge_label
from app.judging.judge import Read, judge
from app.records.followup import OF_ACCOUNT, Follow, sources_of
from app.records.issue_events import SyringeIssued
from app.records.issued import Issued
from app.records.kinds import END_OF_PCA, SET_UP, Kind
from app.records.known import Known
from tests.factories.answers import answers
from tests.judging.test_judge import RULES

AT = datetime(2031, 5, 2, 8, tzinfo=UTC)


def issued(number: str = "LOT-7", volume: str = "30 mL", *, settled: str = "", position: int = 1) -> Issued:
    event = SyringeIssued(
        source="pharmacy",
        giver="Petra Varga",
        receiver="Nadia Ferrow",
        number=number,
        volume=volume,
        exact=volume,
        sealed=True,
    )
    return Issued(position=position, at=AT, event=event, settled=settled)


def known(number: str = "LOT-7", *, here: bool = True, **other: object) -> dict[str, object]:
    return {**issued(number).as_known(here=here), **other}


def codes(*told: dict[str, object], lot: str = "LOT-7", volume: str = "30 mL") -> set[str]:
    return {each.code for each in judge_label(told, lot=lot, volume=volume)}


def test_the_one_that_was_issued_is_found_nothing_of() -> None:
    assert codes(known()) == set()
    assert codes(known("lot 7"), volume="0.03 L") == set()
    assert codes() == codes(known(), lot="") == set()


@pytest.mark.parametrize(
    ("told", "code"),
    [
        ((known("LOT-8"),), "issued-otherwise"),
        ((known("LOT-8"), known(here=False)), "issued-elsewhere"),
        ((known(here=False),), "issued-elsewhere"),
        ((known(volume="50 mL"),), "issued-volume-differs"),
        ((known(sealed=False),), "issued-unsealed"),
    ],
)
def test_each_way_in_which_it_is_not_the_one(told: tuple[dict[str, object], ...], code: str) -> None:
    assert codes(*told) == {code}


def test_one_that_was_put_on_before_is_judged_no_more() -> None:
    assert codes(known(out=False, sealed=False, volume="50 mL")) == set()
    assert codes(known("LOT-8", out=False)) == set()


def test_of_two_with_one_number_the_one_with_its_volume_counts() -> None:
    assert codes(known(volume="50 mL", sealed=False), known()) == set()


def test_without_a_volume_that_both_read_nothing_is_said_of_it() -> None:
    assert codes(known(volume="50 mL"), volume="") == set()


def test_what_keeps_from_signing_and_what_is_left_open() -> None:
    told = (known(sealed=False, volume="50 mL"),)
    unsealed, volume = judge_label(told, lot="LOT-7", volume="30 mL")
    assert (unsealed.follow, unsealed.is_of_account, sources_of(unsealed)) == (
        Follow.PUT_RIGHT,
        False,
        ("label",),
    )
    assert (volume.is_of_account, volume.is_recounted, volume.about) == (True, False, OF_ACCOUNT)
    assert volume.says == "It was issued with 50 mL, and its label says 30 mL."


def test_at_the_end_whatever_is_out_is_found_once() -> None:
    assert list(judge_end((known(out=False), known(here=False)))) == []
    (one,) = judge_end((known(),))
    (two,) = judge_end((known(), known("LOT-8")))
    assert one.says.startswith("A syringe was issued")
    assert two.says.startswith("2 syringes were issued")
    assert two.is_of_account


def test_of_other_infusions_a_comparison_keeps_no_more_than_the_label_may_be() -> None:
    here, there, other = known("LOT-9"), known(here=False), known("LOT-8", here=False)
    assert bearing_on((here, there, other), "LOT-7") == (here, there)
    assert bearing_on((here, there), "") == (here,)


def test_which_one_was_put_on_is_told_by_number_then_by_volume() -> None:
    back, other, same = (
        issued(settled="returned"),
        issued(volume="50 mL", position=2),
        issued(position=3),
    )
    assert find_issued((back, other, same), lot="lot-7", volume="30 mL") == same
    assert find_issued((back, other), lot="LOT-7", volume="30 mL") == other
    assert find_issued((back,), lot="LOT-7", volume="30 mL") is None
    assert find_issued((other,), lot="LOT-8", volume="50 mL") is None


def test_a_check_of_the_end_asks_for_whatever_was_issued_and_any_other_for_its_label() -> None:
    def found(kind: Kind) -> set[str]:
        read = Read(answers=answers(), at=AT)
        out = Known(issued=(known("LOT-8"),))
        return {each.code for each in judge(kind, read, read, known=out, rules=RULES).findings}

    assert "issued-out" in found(END_OF_PCA)
    assert "issued-otherwise" in found(SET_UP)
    assert "issued-out" not in found(SET_UP)
