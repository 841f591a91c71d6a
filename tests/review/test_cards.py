"""Training cards: whatever is dealt can be read, and is stopped where something is wrong, and only there."""

import json

import pytest

from app.comparison import Severity, evaluate, read_case
from app.comparison.case import Case
from app.config import root
from app.records.rules import without_sources
from app.records.sources import Source
from app.review.cards import CardSet, Dealt, NothingUsual, answers_on, caught_alone, deal
from app.review.errors import Error
from app.review.mixes import MIXES, Mix
from app.review.true_cases import Against, case_of

POLICY, LIBRARY = (
    without_sources(json.loads((root() / "seed_data" / name).read_text(encoding="utf-8")))
    for name in ("policy.json", "library.json")
)
AGAINST = Against(policy=POLICY["engine"], library=LIBRARY["drugs"])
ALL = dict.fromkeys(Error, 1)


def dealt(place: int, weights: dict[Error, int] | None = None, seed: str = "1") -> CardSet:
    asked = Dealt(seed=seed, mix="even", weights=weights or ALL, place=place, number=place + 1)
    made = deal(asked, AGAINST)
    assert isinstance(made, CardSet)
    return made


SETS = [dealt(place) for place in range(120)]


def test_three_sets_of_four_have_an_error_and_whoever_reads_it_is_stopped_there() -> None:
    for each in SETS:
        case = read_case(case_of(each.sources, each.sources, AGAINST))
        assert isinstance(case, Case)
        stops = {found.field for found in evaluate(case).findings if found.severity is Severity.STOP}
        assert stops == set(each.fields)
        assert bool(each.fields) is (each.error is not None)
    assert 75 <= sum(each.error is not None for each in SETS) <= 105


def test_what_no_card_can_show_is_not_dealt() -> None:
    kinds = {each.error for each in SETS}
    assert kinds.isdisjoint({Error.LINE, Error.LABEL_ITSELF})
    assert {Error.PATIENT, Error.DRUG, Error.TENFOLD, None} <= kinds


def test_the_same_seed_deals_the_same_and_another_others() -> None:
    assert [dealt(place) for place in range(20)] == SETS[:20]
    assert [dealt(place, seed="2") for place in range(20)] != SETS[:20]


def test_each_set_has_a_patient_of_its_own_whom_another_is_easily_taken_for() -> None:
    whose = [each.sources["patient"]["identifier"] for each in SETS]
    others = {each.sources["label"]["patient"]["identifier"] for each in SETS if each.error is Error.PATIENT}
    assert len(set(whose)) == len(SETS)
    assert others
    assert others.isdisjoint(whose)
    assert all(sorted(other) in [sorted(own) for own in whose] for other in others)


@pytest.mark.parametrize("mix", MIXES, ids=lambda mix: mix.name)
def test_each_mix_can_be_dealt(mix: Mix) -> None:
    asked = [Dealt(seed="1", mix=mix.name, weights=mix.weights, place=place, number=1) for place in range(9)]
    assert {deal(each, AGAINST).__class__ for each in asked} == {CardSet}


def test_where_nothing_can_be_shown_or_every_order_is_stopped_nothing_is_dealt() -> None:
    only = [Dealt(seed="1", mix="x", weights={Error.LINE: 1}, place=place, number=1) for place in range(9)]
    assert NothingUsual() in [deal(each, AGAINST) for each in only]
    refused = Against(policy=AGAINST.policy, library={})
    assert [deal(each, refused) for each in only] == [NothingUsual()] * 9


def test_rules_that_cannot_be_read_are_a_bug() -> None:
    with pytest.raises(ValueError, match="cards were made that cannot be read"):
        deal(Dealt(seed="1", mix="x", weights=ALL, place=1, number=1), Against(policy={"x": 1}, library={}))


def test_whoever_reads_what_stands_there_catches_it_and_whoever_reads_what_was_ordered_does_not() -> None:
    wrong = next(each for each in SETS if each.error is Error.LOCKOUT)
    device = {**wrong.sources["device"], "lockout": wrong.sources["order"]["lockout"]}
    ordered = {**wrong.sources, "device": device}

    assert caught_alone(case_of(wrong.sources, ordered, AGAINST), wrong.fields) == (True, False)
    assert caught_alone(case_of(ordered, wrong.sources, AGAINST), wrong.fields) == (False, True)


def test_a_limit_that_is_not_set_is_none_and_has_no_window() -> None:
    each = SETS[0]
    device = {**each.sources["device"], "limit": None}
    read = answers_on({**each.sources, "device": device}, {"lot": "LOT-1"})

    assert read[Source.DEVICE]["limit_amount"] == "none"
    assert "limit_window" not in read[Source.DEVICE]
    assert read[Source.ORDER]["limit_window"] == "4 h"
    assert read[Source.LABEL]["lot"] == "LOT-1"
    assert read[Source.LABEL]["strength"] == "amount-in-volume"
    assert "strength" not in read[Source.WRISTBAND]
