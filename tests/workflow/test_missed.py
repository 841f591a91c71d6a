"""What both missed, of checks as they were read: the stored case of a set-up, and of a re-check."""

from datetime import date

import pytest

from app.records.kept import SOURCES
from app.records.reading import Answers
from app.records.state import Phase
from app.review.kappa import NoKappa
from app.review.missed import Caught, TooFewByBoth
from app.workflow.missed import BothMissed, both_missed_at_host
from app.workflow.refusals import NoSuchUnit, WrongSpan
from app.workflow.reviewing import Answer, Done, Place, classify
from tests.factories.answers import answers, changed
from tests.story.people import PETRA, QUILL
from tests.story.ward import Ward

DEVICE_WRONG = changed(answers(), device={"lockout": "8 min"})
A_DAY = date.resolution


def found(ward: Ward, unit: str = "") -> BothMissed:
    day = ward.now.date()
    made = both_missed_at_host(ward.site, ward.now, first=day - A_DAY, last=day + A_DAY, unit=unit)
    assert isinstance(made, BothMissed)
    return made


def reads(ward: Ward, first: Answers, second: Answers | None = None) -> None:
    """Both read, the second the same unless told otherwise, and give the check up."""
    own, other = (ward.of_its_patient(each) for each in (first, second or first))
    ward.both_read(own, other).compares().abandons()


def call_errors(ward: Ward, readers: str) -> int:
    """Whatever stopped the first round of the check at hand was an error, by somebody of quality."""
    with ward.site.store.read() as reader:
        stops = [each for each in reader.finding_rows(ward.check) if each.severity == "stop"]
    for each in stops:
        place = Place(check=ward.check, subject=SOURCES, round=1, number=each.number)
        answer = Answer(category="B", readers=readers, factors=(), text="")
        act = ward.wait().act(QUILL)
        assert classify(ward.site, act, QUILL.roles, place, answer=answer) == Done()
    return len(stops)


def test_each_caught_what_the_readings_of_a_set_up_show(one_ward: Ward) -> None:
    """The device was wrong: both read so, then the second read what was expected."""
    reads(one_ward.opens().joins(), DEVICE_WRONG)
    call_errors(one_ward, "")
    reads(one_ward.opens().joins(), DEVICE_WRONG, answers())
    call_errors(one_ward, "B")
    made = found(one_ward)

    assert made.caught.caught == Caught(first=2, second=1, both=1)
    assert made.caught.slips == 0
    assert made.estimate == TooFewByBoth(caught=made.caught.caught)
    assert isinstance(made.agreed, NoKappa)
    assert not made.cut


def test_a_re_check_is_asked_of_each_alone_too(one_ward: Ward) -> None:
    reads(one_ward.at_stage(Phase.STARTED).re_checks(), DEVICE_WRONG)
    assert call_errors(one_ward, "")

    assert found(one_ward).caught.caught.both == 1


def test_an_error_counts_once_however_much_was_found_of_its_field(one_ward: Ward) -> None:
    reads(one_ward.opens().joins(), DEVICE_WRONG)
    stops = call_errors(one_ward, "")
    made = found(one_ward)

    assert made.findings == stops
    assert made.caught.caught == Caught(first=1, second=1, both=1)


def test_two_who_classified_alike_and_apart_make_the_table(one_ward: Ward) -> None:
    one_ward.at_stage(Phase.ABANDONED)
    place = Place(check=one_ward.check, subject=SOURCES, round=1, number=1)
    for who, category in ((QUILL, "D"), (PETRA, "B")):
        answer = Answer(category=category, readers="", factors=(), text="")
        assert classify(one_ward.site, one_ward.act(who), who.roles, place, answer=answer) == Done()
    made = found(one_ward)

    assert made.categories == "BD"
    assert made.agreed.table == ((0, 0), (1, 0))


@pytest.mark.parametrize(
    ("last", "unit", "refused"),
    [(date(2031, 5, 1), "", WrongSpan()), (date(2031, 5, 2), "nowhere", NoSuchUnit())],
)
def test_what_cannot_be_asked(one_ward: Ward, last: date, unit: str, refused: object) -> None:
    first = date(2031, 5, 2)

    assert both_missed_at_host(one_ward.site, one_ward.now, first=first, last=last, unit=unit) == refused
