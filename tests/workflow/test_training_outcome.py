"""What was wrong on a set of cards: told to nobody before the check on it has ended, and then as it was."""

from collections.abc import Iterator
from datetime import timedelta

import pytest

from app.auditing.invariants import check_invariants
from app.records.reading import Answers
from app.records.rules import LIBRARY, POLICY, without_sources
from app.review.cards import CardSet, Dealt, answers_on, deal
from app.review.errors import Error
from app.review.mixes import Mix
from app.review.true_cases import Against
from app.site.installation import founded
from app.site.loading import rules_in_force
from app.workflow.opening import Opened
from app.workflow.refusals import NotFound
from app.workflow.training_cards import Cards, NoSuchCards, deal_cards
from app.workflow.training_outcome import Outcome, Told, see_outcome
from tests.factories.answers import changed
from tests.factories.site_keys import INSTALLATION
from tests.story.people import ADELE, EVERYBODY, IMOGEN, NADIA, PETRA, QUILL, RUTH, TOMAS, Somebody
from tests.story.ward import Ward, open_ward

# By this seed there is something wrong on the first, and nothing on the second.
_SETS, _SEED = 3, "2"
LOCKOUT = Mix(name="lockout", weights={Error.LOCKOUT: 1}, source="")


@pytest.fixture
def ward(sqlite_url: str) -> Iterator[Ward]:
    with open_ward(sqlite_url) as made:
        yield made


@pytest.fixture
def school(ward: Ward) -> Ward:
    """The same ward in an installation for training, in which sets of cards were dealt."""
    with ward.site.store.write() as tx:
        tx.append(founded(ward.site.key, "a school", copy_of=INSTALLATION), at=ward.now)
    assert isinstance(deal_cards(ward.site, ward.now, seed=_SEED, mix=LOCKOUT, sets=_SETS), Cards)
    return ward


def opens(ward: Ward, number: int) -> None:
    ward.bed += 1
    opened = ward.opening(NADIA, bed=str(ward.bed), cards=str(number))
    assert isinstance(opened, Opened)
    ward.check = opened.check


def outcome(ward: Ward, who: Somebody = NADIA) -> Outcome | None:
    told = see_outcome(ward.site, ward.act(who), who.roles, ward.check)
    assert isinstance(told, Told)
    return told.outcome


def set_with(ward: Ward, error: Error | None) -> tuple[int, CardSet]:
    """The first set with this on it, found by whoever knows the seed."""
    with ward.site.store.read() as reader:
        rules = rules_in_force(reader, ward.now)
    against = Against(
        policy=without_sources(rules.content(POLICY))["engine"],
        library=without_sources(rules.content(LIBRARY))["drugs"],
    )
    for place in range(_SETS):
        dealt = Dealt(seed=_SEED, mix="lockout", weights=LOCKOUT.weights, place=place, number=place + 1)
        made = deal(dealt, against)
        if isinstance(made, CardSet) and made.error is error:
            return place + 1, made
    raise LookupError(error)


def on(made: CardSet) -> Answers:
    """What stands on the cards, as their reader hands it in."""
    return answers_on(made.sources, {"lot": "LOT-1", "pack": "set-150-y"})


def expected(made: CardSet) -> Answers:
    """What somebody hands in who reads of the device what was ordered."""
    read = on(made)
    return changed(read, device={"lockout": read["order"]["lockout"]})


def test_what_was_wrong_who_caught_it_and_how_fast_is_told_once_the_check_has_ended(school: Ward) -> None:
    number, made = set_with(school, Error.LOCKOUT)
    opens(school, number)
    school.wait(timedelta(minutes=1)).joins().wait(timedelta(minutes=4)).reads(NADIA, on(made))
    school.wait(timedelta(minutes=2)).reads(TOMAS, expected(made)).compares().wait(
        timedelta(minutes=1)
    ).abandons()
    told = outcome(school)

    assert told is not None
    assert (told.number, told.error, told.fields) == (number, Error.LOCKOUT, made.fields)
    assert told.caught == {1: True, 2: False}
    assert told.stopped
    assert told.stood["device"]["lockout"] == on(made)["device"]["lockout"]
    assert told.seconds[2] - told.seconds[1] >= 120
    assert told.joined[1] == 0
    assert told.joined[2] >= 60
    for who in (TOMAS, RUTH, QUILL):
        assert outcome(school, who) == told
    for who in (IMOGEN, ADELE):
        assert see_outcome(school.site, school.act(who), who.roles, school.check) == NotFound()
    assert check_invariants(school.site, school.now) == ()


def test_until_the_check_has_ended_nobody_is_told(school: Ward) -> None:
    number, made = set_with(school, Error.LOCKOUT)

    def told() -> list[Somebody]:
        asked = {who: see_outcome(school.site, school.act(who), who.roles, school.check) for who in EVERYBODY}
        return [who for who, said in asked.items() if said != NotFound()]

    opens(school, number)
    assert told() == []
    school.joins().reads(NADIA, on(made))
    assert told() == []
    school.reads(TOMAS, on(made)).compares()
    assert told() == []
    school.abandons()
    assert told() == [NADIA, TOMAS, RUTH, PETRA, QUILL]


def test_on_a_set_with_nothing_wrong_nothing_is_caught_and_nothing_stopped(school: Ward) -> None:
    number, made = set_with(school, None)
    opens(school, number)
    school.joins().both_read(on(made)).compares().abandons()
    told = outcome(school)

    assert told is not None
    assert (told.error, told.caught, told.stopped) == (None, {}, False)
    assert not [each for each in told.found if each.severity == "stop"]


def test_what_was_never_compared_says_of_neither_what_was_caught(school: Ward) -> None:
    number, made = set_with(school, Error.LOCKOUT)
    opens(school, number)
    school.joins().reads(NADIA, on(made)).abandons()
    told = outcome(school)

    assert told is not None
    assert (told.caught, told.found, told.stopped, {*told.seconds}) == ({}, (), False, {1})


def test_each_set_serves_one_check_and_a_check_needs_none(school: Ward) -> None:
    opens(school, 3)
    for number in ("3", "99", "x", "0"):
        assert school.opening(NADIA, bed="9", cards=number) == NoSuchCards()
    school.opens().abandons()
    assert outcome(school) is None


def test_where_patients_are_no_check_is_done_on_cards_and_nothing_is_told(ward: Ward) -> None:
    assert ward.opening(NADIA, bed="9", cards="1") == NoSuchCards()
    ward.opens().abandons()
    assert see_outcome(ward.site, ward.act(NADIA), NADIA.roles, ward.check) == NotFound()
