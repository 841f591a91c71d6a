"""What an audit of a sample found, by its answers: each stays, and whatever does not conform has a reason."""

import pytest

from app.records.kept_samples import (
    ANSWERS,
    CONFORMS,
    DEPARTS,
    NOT_ASSESSABLE,
    REASONS,
    AuditAnswer,
    answers_in,
    fault_in,
)
from app.records.sample_events import SampleAnswered
from app.words import sampling
from tests.story.events import RUTH, Story


def answered(check: str, answer: str, *reasons: str, sample: str = "sample-1") -> SampleAnswered:
    return SampleAnswered(sample=sample, audited=check, answer=answer, reasons=reasons, text="")


def test_each_answer_stays_with_its_check_in_order() -> None:
    told = Story().tell(answered("check-1", DEPARTS, "times"), by=RUTH)
    told.tell(answered("check-2", CONFORMS)).tell(answered("check-1", CONFORMS), by=RUTH)
    told.tell(answered("check-1", NOT_ASSESSABLE, "papers-missing", sample="sample-2"))

    found = answers_in(told.entries, "sample-1")

    assert {check: [each.answer for each in answers] for check, answers in found.items()} == {
        "check-1": [DEPARTS, CONFORMS],
        "check-2": [CONFORMS],
    }
    assert found["check-1"][0] == AuditAnswer(
        answer=DEPARTS, reasons=("times",), text="", by=RUTH, at=told.entries[0].at
    )
    assert answers_in(told.entries, "sample-3") == {}


@pytest.mark.parametrize(
    ("answer", "reasons", "faults"),
    [
        (CONFORMS, (), ()),
        (DEPARTS, ("times", "other"), ()),
        (DEPARTS, (), ("reasons",)),
        (NOT_ASSESSABLE, ("no-such-reason",), ("reasons",)),
        ("perhaps", (), ("answer", "reasons")),
    ],
)
def test_what_is_lacking_of_an_answer_is_named(
    answer: str, reasons: tuple[str, ...], faults: tuple[str, ...]
) -> None:
    assert fault_in(answer, reasons) == faults


def test_each_answer_and_each_reason_has_words_of_its_own() -> None:
    assert tuple(sampling.ANSWERS) == ANSWERS
    assert tuple(sampling.REASONS) == REASONS
    words = (*sampling.ANSWERS.values(), *sampling.REASONS.values(), *sampling.LOOKED_AT)
    assert len({*words}) == len(words)
