"""One finding of a check that has ended: looked through, given on, noted, classified by a third person."""

from collections.abc import Callable
from dataclasses import replace

import pytest

from app.people import Role
from app.records.kept import SOURCES
from app.records.reached import ReviewState
from app.records.state import Phase
from app.workflow.accounts import Changed, set_active
from app.workflow.findings import PastFindings, Wanted, past_findings
from app.workflow.refusals import Incomplete, NotAllowed, NotFound
from app.workflow.reviewing import (
    AlreadyGiven,
    Answer,
    BothGiven,
    Done,
    FindingSeen,
    NotTheirs,
    Place,
    assign,
    classify,
    comment,
    review,
    see_finding,
)
from tests.story.people import ADELE, IMOGEN, NADIA, PETRA, QUILL, RALPH, RUTH, WARD, Somebody
from tests.story.ward import Ward

ANSWER = Answer(category="B", readers="A", factors=("hurry", "tired"), text="misread the dose")
OTHER = Answer(category="A", readers="", factors=(), text="")


def ended(ward: Ward) -> Place:
    """A check whose two read apart, given up; its first finding."""
    ward.at_stage(Phase.ABANDONED)
    return Place(check=ward.check, subject=SOURCES, round=1, number=1)


def seen(ward: Ward, who: Somebody, place: Place) -> FindingSeen:
    found = see_finding(ward.site, ward.act(who), who.roles, place)
    assert isinstance(found, FindingSeen)
    return found


def classifies(ward: Ward, who: Somebody, place: Place, answer: Answer = ANSWER) -> object:
    return classify(ward.site, ward.wait().act(who), who.roles, place, answer=answer)


def test_what_is_done_with_a_finding_stands_beside_it_in_order(ward: Ward) -> None:
    place = ended(ward)
    assert seen(ward, RUTH, place).reviews == ()
    act = ward.wait().act(RUTH)
    assert assign(ward.site, act, RUTH.roles, place, to=QUILL.id, text="please") == Done()
    act = ward.wait().act(QUILL)
    assert comment(ward.site, act, QUILL.roles, place, text=" seen before ") == Done()
    act = ward.wait().act(QUILL)
    assert review(ward.site, act, QUILL.roles, place, text="") == Done()
    found = seen(ward, PETRA, place)

    assert [(each.what, each.person, each.assigned_to, each.text) for each in found.reviews] == [
        ("assigned", RUTH.id, QUILL.id, "please"),
        ("commented", QUILL.id, "", "seen before"),
        ("reviewed", QUILL.id, "", ""),
    ]
    assert {*found.people} == {RUTH.id, QUILL.id}


def test_done_twice_it_stands_twice_and_who_has_left_is_named_as_such(one_ward: Ward) -> None:
    """Nothing is overwritten; what was given to somebody who left is seen to wait, and is given on."""
    place = ended(one_ward)
    for text in ("first", "once more"):
        act = one_ward.wait().act(RUTH)
        assert comment(one_ward.site, act, RUTH.roles, place, text=text) == Done()
        assert review(one_ward.site, act, RUTH.roles, place, text=text) == Done()
        assert assign(one_ward.site, act, RUTH.roles, place, to=QUILL.id, text=text) == Done()
    found = seen(one_ward, PETRA, place)
    assert [each.text for each in found.reviews] == ["first"] * 3 + ["once more"] * 3
    assert found.gone == frozenset()

    left = set_active(one_ward.site, one_ward.now, by=ADELE.id, person=QUILL.id, active=False)
    assert left == Changed()
    found = seen(one_ward, RUTH, place)
    assert found.gone == {QUILL.id}
    assert found.people[QUILL.id] == QUILL.printed_name
    assert QUILL.id not in found.may_be_given
    again = assign(one_ward.site, one_ward.act(RUTH), RUTH.roles, place, to=QUILL.id, text="")
    assert again == Incomplete(fields=("to",))
    on = assign(one_ward.site, one_ward.act(RUTH), RUTH.roles, place, to=PETRA.id, text="")
    assert on == Done()
    waits = Wanted(review=ReviewState.GIVEN_TO_ME)
    listed = past_findings(one_ward.site, one_ward.act(PETRA), PETRA.roles, waits)
    assert isinstance(listed, PastFindings)
    assert [each.listed.row.number for each in listed.rows] == [place.number]


def test_sent_twice_directly_it_stands_once(one_ward: Ward) -> None:
    place = ended(one_ward)

    def twice(who: Somebody, act: Callable[..., object], **said: str) -> None:
        for _ in range(2):
            assert act(one_ward.site, one_ward.act(who), who.roles, place, **said) == Done()

    twice(RUTH, comment, text="x")
    twice(RUTH, review, text="x")
    twice(RUTH, assign, to=QUILL.id, text="x")
    # Another person, another word or another to look through it is another.
    twice(RUTH, assign, to=PETRA.id, text="x")
    twice(PETRA, assign, to=PETRA.id, text="x")
    twice(PETRA, comment, text="x")
    twice(PETRA, comment, text="y")
    assert [each.what for each in seen(one_ward, QUILL, place).reviews] == [
        "commented",
        "reviewed",
        *("assigned",) * 3,
        *("commented",) * 2,
    ]


def test_a_charge_nurse_goes_by_the_unit_of_the_shift(one_ward: Ward) -> None:
    """On a shift elsewhere the findings of that unit are theirs, and those of the own unit are not."""
    place = ended(one_ward)
    elsewhere = replace(one_ward.act(RUTH), by=replace(one_ward.act(RUTH).by, unit="recovery"))
    on_shift_here = replace(one_ward.act(RALPH), by=replace(one_ward.act(RALPH).by, unit=WARD))

    assert see_finding(one_ward.site, elsewhere, RUTH.roles, place) == NotFound()
    assert comment(one_ward.site, elsewhere, RUTH.roles, place, text="mine") == NotFound()
    assert isinstance(see_finding(one_ward.site, on_shift_here, RALPH.roles, place), FindingSeen)
    assert comment(one_ward.site, on_shift_here, RALPH.roles, place, text="seen") == Done()


def test_it_is_shown_with_the_comparison_of_its_own_round(one_ward: Ward) -> None:
    place = ended(one_ward)
    found = seen(one_ward, QUILL, place)

    assert found.kept.round == 1
    assert found.found.code == found.row.code
    assert found.settled.settled == "not settled"
    with one_ward.site.store.read() as reader:
        looks = [row for row in reader.rows("access") if row["what"] == "finding"]
    assert [(row["person"], row["check"]) for row in looks] == [(QUILL.id, place.check)]


def test_two_classify_it_and_the_second_is_not_told_what_the_first_said(ward: Ward) -> None:
    place = ended(ward)
    assert classifies(ward, QUILL, place) == Done()
    to_the_second = seen(ward, PETRA, place)
    assert (to_the_second.given, to_the_second.classified, to_the_second.why_not) == ((), 1, None)
    # Whoever cannot be the second may know; and whoever said it does.
    assert [each.category for each in seen(ward, RUTH, place).given] == ["B"]
    assert [each.category for each in seen(ward, QUILL, place).given] == ["B"]
    assert classifies(ward, QUILL, place) == AlreadyGiven()

    assert classifies(ward, PETRA, place, OTHER) == Done()
    both = seen(ward, PETRA, place).given
    assert [(each.place, each.person, each.category, each.readers, each.factors) for each in both] == [
        (1, QUILL.id, "B", "A", "hurry tired"),
        (2, PETRA.id, "A", "", ""),
    ]
    assert seen(ward, QUILL, place).why_not == AlreadyGiven()


def test_what_is_written_beside_it_gives_no_answer_away(one_ward: Ward) -> None:
    """Neither by the first nor by another who was told; nor who was concerned with what is not shown."""
    place = ended(one_ward)
    assert classifies(one_ward, QUILL, place) == Done()
    untouched = seen(one_ward, PETRA, place)
    assert comment(one_ward.site, one_ward.wait().act(QUILL), QUILL.roles, place, text="the first") == Done()
    assert comment(one_ward.site, one_ward.act(RUTH), RUTH.roles, place, text="it was B") == Done()

    told = seen(one_ward, PETRA, place)
    assert (told.reviews, told.people, told.gone) == ((), {}, frozenset())
    assert (told.classified, told.why_not) == (untouched.classified, untouched.why_not)
    assert [each.text for each in seen(one_ward, RUTH, place).reviews] == ["the first", "it was B"]
    assert classifies(one_ward, PETRA, place, OTHER) == Done()
    assert [each.text for each in seen(one_ward, PETRA, place).reviews] == ["the first", "it was B"]


def test_nobody_is_the_third_to_classify(one_ward: Ward) -> None:
    place = ended(one_ward)
    for who in (QUILL, PETRA):
        assert classifies(one_ward, who, place) == Done()
    act = one_ward.act(RUTH)

    assert classify(one_ward.site, act, frozenset({Role.QUALITY}), place, answer=ANSWER) == BothGiven()


@pytest.mark.parametrize("who", [RUTH, IMOGEN, ADELE], ids=lambda who: who.id)
def test_who_may_not_classify(one_ward: Ward, who: Somebody) -> None:
    assert classifies(one_ward, who, ended(one_ward)) == NotAllowed()


def test_neither_of_the_two_nor_who_took_their_request_classifies(one_ward: Ward) -> None:
    one_ward.at_stage(Phase.DISPUTED).asks_for_help().takes_help(PETRA).settles_help("abandon", PETRA)
    place = Place(check=one_ward.check, subject=SOURCES, round=1, number=1)
    of_quality = frozenset({Role.QUALITY})

    assert classifies(one_ward, PETRA, place) == NotTheirs()
    assert classify(one_ward.site, one_ward.act(NADIA), of_quality, place, answer=ANSWER) == NotTheirs()
    assert classifies(one_ward, QUILL, place) == Done()


@pytest.mark.parametrize(
    ("answer", "fields"),
    [
        (replace(ANSWER, category=""), ("category",)),
        (replace(ANSWER, category="AB"), ("category",)),
        (replace(ANSWER, category="J", readers="BA"), ("category", "readers")),
        (replace(ANSWER, factors=("hurry", "unheard-of")), ("factors",)),
    ],
)
def test_what_is_no_answer_is_refused(one_ward: Ward, answer: Answer, fields: tuple[str, ...]) -> None:
    assert classifies(one_ward, QUILL, ended(one_ward), answer) == Incomplete(fields=fields)


def test_a_charge_nurse_has_the_own_unit_alone_and_a_nurse_nothing(one_ward: Ward) -> None:
    place = ended(one_ward)
    elsewhere = one_ward.act(RALPH)

    assert see_finding(one_ward.site, elsewhere, RALPH.roles, place) == NotFound()
    assert review(one_ward.site, elsewhere, RALPH.roles, place, text="") == NotFound()
    for who in (IMOGEN, ADELE):
        assert see_finding(one_ward.site, one_ward.act(who), who.roles, place) == NotAllowed()
        assert review(one_ward.site, one_ward.act(who), who.roles, place, text="") == NotAllowed()


def test_nothing_is_given_to_somebody_who_may_not_look_through_it(one_ward: Ward) -> None:
    place = ended(one_ward)
    may_be_given = seen(one_ward, RUTH, place).may_be_given

    assert {RUTH.id, QUILL.id, PETRA.id} <= {*may_be_given}
    assert not {NADIA.id, ADELE.id, RALPH.id} & {*may_be_given}
    for to in (NADIA.id, RALPH.id, "nobody", ""):
        given = assign(one_ward.site, one_ward.act(RUTH), RUTH.roles, place, to=to, text="")
        assert given == Incomplete(fields=("to",))


@pytest.mark.parametrize("phase", [Phase.DISPUTED, Phase.CLEARED])
def test_a_check_that_has_not_ended_has_no_findings_to_look_through(one_ward: Ward, phase: Phase) -> None:
    one_ward.at_stage(phase)
    place = Place(check=one_ward.check, subject=SOURCES, round=1, number=1)

    assert see_finding(one_ward.site, one_ward.act(QUILL), QUILL.roles, place) == NotFound()
    assert classifies(one_ward, QUILL, place) == NotFound()


def test_what_is_not_there_is_not_found(one_ward: Ward) -> None:
    place = ended(one_ward)
    for other in (replace(place, number=99), replace(place, round=7), replace(place, check="none")):
        assert see_finding(one_ward.site, one_ward.act(QUILL), QUILL.roles, other) == NotFound()
        assert review(one_ward.site, one_ward.act(QUILL), QUILL.roles, other, text="") == NotFound()
        assert classifies(one_ward, QUILL, other) == NotFound()


def test_a_note_says_something(one_ward: Ward) -> None:
    place = ended(one_ward)

    said = comment(one_ward.site, one_ward.act(QUILL), QUILL.roles, place, text="  ")
    assert said == Incomplete(fields=("text",))


def test_whoever_reads_blind_at_that_bed_does_not_see_it(one_ward: Ward) -> None:
    one_ward.at_stage(Phase.ABANDONED)
    place = Place(check=one_ward.check, subject=SOURCES, round=1, number=1)
    bed = one_ward.state().check.bed
    assert isinstance(see_finding(one_ward.site, one_ward.act(RUTH), RUTH.roles, place), FindingSeen)
    one_ward.opens(RUTH, bed=bed)

    assert see_finding(one_ward.site, one_ward.act(RUTH), RUTH.roles, place) == NotFound()
