from dataclasses import replace

from app.records.formats import VERIFICATION
from app.records.verification import About, Answer, Question, Verification


def verification(*held: int | None) -> Verification:
    answers = tuple(
        Answer(question=question, holds=None if holds is None else bool(holds), says="Because.")
        for question, holds in zip(Question, held, strict=False)
    )
    return Verification(record="check-1", edition=2, answers=answers)


def test_everything_holds_only_when_each_answer_does() -> None:
    assert verification(1, 1).holds
    assert not verification(1, 0).holds


def test_what_was_not_asked_is_no_fault_and_no_yes() -> None:
    found = verification(1, None)
    assert found.holds
    assert not found.whole
    assert verification(1, 0).whole
    assert [each["holds"] for each in found.as_data()["answers"]] == [True, "not asked"]
    assert not verification(0, None).holds


def test_it_says_which_document_it_was_about() -> None:
    found = verification(1)

    assert found.what == "Record check-1, edition 2"
    assert replace(found, about=About.FOLLOWED).what == "What followed record check-1, edition 2"
    competency = replace(found, about=About.COMPETENCY)
    assert competency.what == "Checks on training cards, record check-1, edition 2"


def test_an_edition_that_is_not_the_newest_says_which_counts() -> None:
    assert verification(1).superseded == ""
    late = replace(verification(1), superseded_by=3)
    assert "edition 3 of this record, which counts in its place" in late.superseded
    assert late.holds
    assert late.as_data()["superseded_by"] == 3


def test_as_data() -> None:
    assert verification(1, 0).as_data() == {
        "format": VERIFICATION.newest,
        "what": "record",
        "record": "check-1",
        "edition": 2,
        "superseded_by": None,
        "holds": False,
        "answers": [
            {"about": "seal", "holds": True, "says": "Because."},
            {"about": "issued", "holds": False, "says": "Because."},
        ],
    }


def test_it_is_read_back_from_its_data_and_nothing_else_is() -> None:
    late = replace(verification(1), about=About.FOLLOWED, superseded_by=3)
    for found in (verification(1, 0, None), late):
        assert Verification.find_in(found.as_data()) == found
    good = verification(1).as_data()
    for other in (
        {},
        {**good, "answers": None},
        {**good, "answers": [1]},
        {**good, "answers": [{"about": 1}]},
    ):
        assert Verification.find_in(other) is None
