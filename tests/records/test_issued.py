"""What was issued for an infusion: which of it is out, and what is told of it."""

from datetime import timedelta

from app.records.course import Course, course_after
from app.records.events import Event, Started
from app.records.infusion import fold_infusion
from app.records.issue_events import IssueSettled, SyringeIssued
from app.records.issued import in_millilitres, issued_in, out_of, put_on_as
from app.records.written import as_data
from app.words.timeline import shown_words
from tests.factories.answers import answers
from tests.records.test_account import Course as Infusion

ISSUED = SyringeIssued(
    source="store",
    giver="Ruth Calloway",
    receiver="Nadia Ferrow",
    number="LOT-7",
    volume="30 mL",
    exact="30 mL",
    sealed=True,
)
PUT_ON = IssueSettled(issue="1", how=IssueSettled.PUT_ON, round=1)


def told(*events: Event) -> Infusion:
    course = Infusion()
    for each in events:
        course.tell(each, "a" if isinstance(each, Started | IssueSettled) else "")
    return course


def test_one_is_out_until_somebody_says_what_became_of_it() -> None:
    first, second = issued_in(told(ISSUED, ISSUED, PUT_ON).entries)
    assert (first.settled, first.is_out) == (IssueSettled.PUT_ON, False)
    assert out_of((first, second)) == (second,)


def test_what_was_put_on_is_known_by_the_reading_of_its_label() -> None:
    returned = IssueSettled(issue="2", how=IssueSettled.RETURNED, receiver="petra")
    entries = told(ISSUED, ISSUED, PUT_ON, returned).entries
    assert put_on_as(entries) == {("a", 1): entries[0]}


def test_the_account_opens_when_it_was_issued() -> None:
    course = told(ISSUED).reads("a", answers()).tell(PUT_ON, "a").tell(Started(), "a")
    issued, loaded, *_ = course.account().entries
    assert (issued.data["kind"], issued.at, issued.position) == ("issued", course.entries[0].at, 1)
    assert (issued.check, loaded.position) == ("a", 3)
    assert told(ISSUED).account().entries == ()


def test_a_volume_is_known_in_millilitres() -> None:
    assert in_millilitres("0.03 L") == "30 mL"
    assert in_millilitres("") == in_millilitres("30") == ""


def test_a_set_up_belongs_to_the_infusion_for_which_a_syringe_is_out() -> None:
    course, hours = told(ISSUED), timedelta(hours=8)
    before, at = fold_infusion("infusion-1", course.entries), course.entries[0].at

    def follows(after: timedelta) -> Course:
        return course_after(before, None, passes_on=hours, now=at + after, issued_at=at)

    assert follows(hours) is Course.ISSUED
    assert follows(hours + timedelta(minutes=1)) is Course.TOO_LONG_AGO
    assert course_after(before, None, passes_on=hours, now=at) is Course.NEW


def test_each_of_it_is_told_on_the_time_line() -> None:
    words = shown_words(ISSUED.kind, as_data(ISSUED))
    assert words == (
        "A syringe was issued from the ward's locked store: Ruth Calloway to Nadia Ferrow. "
        "Number LOT-7, 30 mL, seal unbroken."
    ).replace("30 mL", words[words.index("30") :][:5])
    broken = SyringeIssued(**{**vars(ISSUED), "sealed": False})
    assert shown_words(broken.kind, as_data(broken)).endswith("SEAL BROKEN.")
    hows = (IssueSettled.PUT_ON, IssueSettled.RETURNED, IssueSettled.NOT_RECEIVED, IssueSettled.CLOSED)
    said = {shown_words(IssueSettled.kind, as_data(IssueSettled(issue="1", how=how))) for how in hows}
    assert len(said) == len(hows)
