"""The simulation: what stands at the bed, what is read of it, and what each way of checking catches."""

import json
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from functools import cache
from typing import Any

import pytest

from app.comparison import CaseError, Verdict, evaluate, read_case
from app.config import root
from app.records.rules import without_sources
from app.review.coverage import Condition, Covered, Tried, cover
from app.review.draws import Draws
from app.review.errors import UNSEEN_BY_THE_ENGINE, Error, misread, with_error
from app.review.mixes import ALONE, MIXES
from app.review.plan import NO_ERROR, Study, add_up, run, tasks
from app.review.study import Assumed, Caught, Drawn, Engine, Way, catch, stopped_for_nothing
from app.review.true_cases import ORDERS, Against, Sources, case_of, true_sources

DRAWS = 200
SEEN = [error for error in Error if error not in UNSEEN_BY_THE_ENGINE]


@cache
def against() -> Against:
    policy, library = (
        without_sources(json.loads((root() / "seed_data" / name).read_text(encoding="utf-8")))
        for name in ("policy.json", "library.json")
    )
    return Against(policy=policy["engine"], library=library["drugs"])


def drawn(error: Error, **assumed: Fraction) -> Drawn:
    return Drawn(name=error, weights={error: 1}, seed="test", first=0, end=DRAWS, assumed=Assumed(**assumed))


def caught(error: Error, **assumed: Fraction) -> Caught:
    return catch(drawn(error, **assumed), against())


def changes(before: Any, after: Any, path: str = "") -> list[str]:  # noqa: ANN401  # any part of a case
    if isinstance(before, dict) and isinstance(after, dict):
        keys = sorted(before.keys() | after.keys())
        return [each for key in keys for each in changes(before.get(key), after.get(key), f"{path}.{key}")]
    return [] if before == after else [path.removeprefix(".")]


def verdict(first: Sources, second: Sources) -> Verdict:
    case = read_case(case_of(first, second, against()))
    assert not isinstance(case, CaseError), case
    return evaluate(case).verdict


def test_at_a_bed_without_an_error_nothing_is_found() -> None:
    for ordered in ORDERS:
        assert verdict(true_sources(ordered), true_sources(ordered)) is Verdict.AGREED


@pytest.mark.parametrize("error", SEEN)
def test_an_error_stands_in_one_source_and_the_engine_stops_whoever_reads_what_stands_there(
    error: Error,
) -> None:
    for number, ordered in enumerate(ORDERS * 3):
        true, stands = true_sources(ordered), with_error(error, ordered, Draws(f"{error} {number}"))
        places = {each.partition(".")[0] for each in changes(true, stands)}

        assert len(places) == (2 if error is Error.ORDERED_DOSE else 1)
        assert ("order" in places) == (error is Error.ORDERED_DOSE)
        for read in ((stands, stands), (stands, true), (true, stands)):
            assert verdict(*read) is Verdict.STOPPED
        assert verdict(true, true) is Verdict.AGREED


@pytest.mark.parametrize("error", sorted(UNSEEN_BY_THE_ENGINE))
def test_an_error_that_no_reading_holds_changes_nothing_that_is_read(error: Error) -> None:
    found = caught(error)

    assert with_error(error, ORDERS[0], Draws("one")) == true_sources(ORDERS[0])
    assert found.by[Way.ENGINE] == found.by[Way.BLIND]


@pytest.mark.parametrize("error", list(Error))
def test_one_reader_alone_catches_as_much_as_is_published(error: Error) -> None:
    found, share = caught(error).by[Way.ONE], ALONE[error].share

    # Four standard deviations: of so many kinds one would now and then lie outside an interval of 95 %.
    assert (found - DRAWS * share) ** 2 <= 16 * DRAWS * share * (1 - share)


def test_who_is_always_led_adds_nothing_and_who_is_never_led_is_blind() -> None:
    led, free = caught(Error.TENFOLD, led=Fraction(1)), caught(Error.TENFOLD, led=Fraction(0))

    assert led.by[Way.PRIMED] == led.by[Way.ONE] < led.by[Way.BLIND]
    assert free.by[Way.PRIMED] == free.by[Way.BLIND]


def test_whoever_reads_only_what_they_expect_catches_nothing_and_the_engine_neither() -> None:
    assert set(caught(Error.TENFOLD, expects=Fraction(1)).by.values()) == {0}
    assert caught(Error.TENFOLD, expects=Fraction(0)).by[Way.ENGINE] == DRAWS


def test_one_cause_for_both_makes_of_two_readers_one() -> None:
    shared = caught(Error.TENFOLD, shared=Fraction(1))

    assert shared.by[Way.BLIND] == shared.by[Way.ONE]
    assert shared.by[Way.ENGINE] < caught(Error.TENFOLD).by[Way.ENGINE]


def test_a_number_got_wrong_is_one_number_and_stops_a_check_without_an_error() -> None:
    for number, ordered in enumerate(ORDERS * 5):
        true = true_sources(ordered)
        assert len(changes(true, misread(true, Draws(str(number))))) == 1
    never = stopped_for_nothing(drawn(Error.LINE, misread=Fraction(0)), against())
    always = stopped_for_nothing(drawn(Error.LINE, misread=Fraction(1)), against())

    assert never.by[Way.ENGINE] == 0
    # Now and then both get the same number wrong in the same way.
    assert Fraction(9, 10) * DRAWS < always.by[Way.ENGINE] <= DRAWS


def test_a_case_that_the_engine_cannot_read_is_a_bug_of_the_study() -> None:
    true = true_sources(ORDERS[0])
    unreadable = {**true, "device": {**true["device"], "lockout": "soon"}}

    with pytest.raises(ValueError, match="cannot be read"):
        Engine(against()).stops(true, unreadable)


def test_the_mixes_have_the_published_shares() -> None:
    hospital, reports, even = (mix.weights for mix in MIXES)
    programming = sum(hospital.values()) - hospital[Error.LINE]

    # Paul and others 2010: 10 of 21 errors of programming were of concentration, beside 8 of the tubing.
    assert Fraction(hospital[Error.DEVICE_STRENGTH], programming) == Fraction(10, 21)
    assert Fraction(hospital[Error.LINE], programming) == Fraction(8, 21)
    # Hicks and others 2008: dose or quantity 38 %, omission 17.4 %, wrong drug 17.3 %.
    dose = sum(reports.values()) - reports[Error.LEFT_OUT] - reports[Error.DRUG]
    assert Fraction(reports[Error.LEFT_OUT], dose) == Fraction(174, 380)
    assert Fraction(reports[Error.DRUG], dose) == Fraction(173, 380)
    assert set(even.values()) == {1}
    assert even.keys() == set(Error)


# Each estimate from 100 errors; an interval is said to hold in 95 of 100.
def test_the_interval_of_what_both_missed_holds_where_its_assumptions_do_and_not_where_one_cause_rules() -> (
    None
):
    held = {
        name: covered(equal=equal, shared=shared)
        for name, equal, shared in (
            ("as assumed", True, Fraction(0)),
            ("unequal", False, Fraction(0)),
            ("one cause", True, Fraction(1, 5)),
        )
    }

    assert held["as assumed"].held >= 135
    assert held["one cause"].held < held["unequal"].held < held["as assumed"].held
    # The estimate is too low where its assumptions do not hold, and close where they do.
    assert abs(held["as assumed"].estimated / held["as assumed"].missed - 1) < Fraction(1, 10)
    assert held["one cause"].estimated < held["one cause"].missed * Fraction(2, 3)


def covered(*, equal: bool, shared: Fraction) -> Covered:
    condition = Condition(equal=equal, shared=shared)
    return cover(Tried(condition=condition, seed="test", first=0, end=150, errors=100))


def test_where_few_errors_were_made_there_is_no_estimate() -> None:
    condition = Condition(equal=True, shared=Fraction(0))
    found = cover(Tried(condition=condition, seed="test", first=0, end=20, errors=5))

    assert (found.refused, found.given, found.held) == (20, 0, 0)


def test_the_same_is_drawn_however_the_draws_are_shared_out() -> None:
    study = Study(seed="test", draws=260, estimates=3, errors=40, assumed=Assumed(shared=Fraction(1, 5)))
    planned = list(tasks(study))
    short = [task for task in planned if task_name(task) in {NO_ERROR, Error.LIMIT, "even", "estimate"}]
    done = [run(task, against()) for task in short]
    found, turned = add_up(done), add_up(reversed(done))
    whole = replace(drawn(Error.LIMIT), end=260)

    assert found.caught == turned.caught
    assert found.covered == turned.covered
    assert found.caught[Error.LIMIT, Fraction(0)] == catch(whole, against())
    assert {each.tried for each in found.covered.values()} == {3}
    assert len(found.covered) == 4
    assert found.caught[NO_ERROR, Fraction(1, 5)].made == 260
    assert {task_name(each) for each in planned} >= {*Error, *(mix.name for mix in MIXES)}


def task_name(task: object) -> str:
    return task.name if isinstance(task, Drawn) else "estimate"


def test_the_same_seed_draws_the_same_and_another_does_not() -> None:
    def seen(seed: str) -> Sequence[int]:
        return list(catch(replace(drawn(Error.DIGITS), seed=seed), against()).by.values())

    assert seen("one") == seen("one") != seen("two")
