"""What an audit finds of a sample: every answer stays, the last counts, and nobody audits the own check."""

import io
from datetime import datetime

import pypdf
import pytest

from app.base import Act
from app.records.kept_samples import CONFORMS, DEPARTS, NOT_ASSESSABLE
from app.records.state import Phase
from app.review.intervals import Share, wilson
from app.site.loading import load
from app.storage import Reader, Transaction
from app.workflow import auditing_samples
from app.workflow.auditing_samples import (
    Answered,
    AnsweredMeanwhile,
    OwnCheck,
    SampleSeen,
    answer_check,
    audit_sheet,
    samples_of,
    see_sample,
)
from app.workflow.refusals import Incomplete, NotAllowed, NotFound, ReadsBlind
from app.workflow.sampling import Kept, Plan, draw_sample, drawn_again
from tests.story.people import IMOGEN, NADIA, PETRA, QUILL, RUTH
from tests.story.ward import Ward
from tests.support.together import together
from tests.workflow.test_sampling import PLAN, lived


def drawn(ward: Ward) -> str:
    kept = draw_sample(lived(ward).site, ward.act(QUILL), QUILL.roles, PLAN)
    assert isinstance(kept, Kept)
    return kept.sample


def seen(ward: Ward, sample: str) -> SampleSeen:
    made = see_sample(ward.site, ward.act(QUILL), QUILL.roles, sample)
    assert isinstance(made, SampleSeen)
    return made


def answer(
    ward: Ward, sample: str, check: str, said: str, *reasons: str, text: str = "", known: int = 0
) -> object:
    act = ward.act(QUILL)
    return answer_check(
        ward.site, act, QUILL.roles, sample, check, answer=said, reasons=reasons, text=text, known=known
    )


def test_a_correction_is_one_more_answer_and_the_last_counts(one_ward: Ward) -> None:
    sample = drawn(one_ward)
    (unit,) = seen(one_ward, sample).units
    one, other = (each.check for each in unit.rows)
    assert answer(one_ward, sample, one, DEPARTS, "times", text="late") == Answered()
    # The same sent twice does no harm; what was written before somebody answered waits for a look at that.
    assert answer(one_ward, sample, one, DEPARTS, "times", text="late") == Answered()
    assert answer(one_ward, sample, one, CONFORMS) == AnsweredMeanwhile()
    assert answer(one_ward, sample, one, CONFORMS, known=1) == Answered()
    (unit,) = (made := seen(one_ward, sample)).units
    assert [(each.answer, each.reasons, each.text, each.by) for each in made.answers[one]] == [
        (DEPARTS, ("times",), "late", QUILL.id),
        (CONFORMS, (), "", QUILL.id),
    ]
    all_of_one = Share(count=1, of=1)
    assert (unit.answered, unit.rate, unit.interval) == (1, all_of_one, wilson(all_of_one))

    assert answer(one_ward, sample, other, NOT_ASSESSABLE, "papers-missing") == Answered()
    (unit,) = (made := seen(one_ward, sample)).units
    assert (unit.answered, unit.rate) == (2, Share(count=1, of=1))
    assert made.is_as_drawn
    assert made.estimate is not None
    assert made.estimate.share == 1


def test_of_several_who_answer_at_the_same_instant_the_first_has_and_the_others_look_at_that(
    ward: Ward,
) -> None:
    sample = drawn(ward)
    check = seen(ward, sample).units[0].rows[0].check
    acts = [(ward.act(who), text) for who in (QUILL, PETRA) for text in "ab"]

    def says(act: Act, text: str) -> object:
        return answer_check(
            ward.site, act, QUILL.roles, sample, check, answer=CONFORMS, reasons=(), text=text, known=0
        )

    said = together(*(lambda each=each: says(*each) for each in acts))

    assert (said.count(Answered()), said.count(AnsweredMeanwhile())) == (1, 3)
    assert len(seen(ward, sample).answers[check]) == 1


def test_nobody_who_writes_waits_while_it_is_drawn_again(
    one_ward: Ward, monkeypatch: pytest.MonkeyPatch
) -> None:
    sample = drawn(one_ward)
    check = seen(one_ward, sample).units[0].rows[0].check
    drawing: list[bool] = []

    def draws(reader: Reader, now: datetime, plan: Plan) -> object:
        drawing.append(isinstance(reader, Transaction))
        return drawn_again(reader, now, plan)

    monkeypatch.setattr(auditing_samples, "drawn_again", draws)
    assert answer(one_ward, sample, check, CONFORMS) == Answered()
    assert drawing == [False]


def test_whoever_begins_to_read_blind_meanwhile_says_nothing(
    one_ward: Ward, monkeypatch: pytest.MonkeyPatch
) -> None:
    sample = drawn(one_ward)
    check = seen(one_ward, sample).units[0].rows[0].check
    act = one_ward.act(IMOGEN)

    def joins_meanwhile(reader: Reader, one: str, now: datetime) -> object:
        together(lambda: one_ward.opens(bed="7").joins(IMOGEN))
        return load(reader, one, now)

    monkeypatch.setattr(auditing_samples, "load", joins_meanwhile)
    said = answer_check(
        one_ward.site, act, QUILL.roles, sample, check, answer=CONFORMS, reasons=(), text="", known=0
    )
    assert said == ReadsBlind()
    assert seen(one_ward, sample).answers == {}


def test_before_anything_was_answered_no_rate_is_said(one_ward: Ward) -> None:
    made = seen(one_ward, drawn(one_ward))
    assert (made.estimate, [each.rate for each in made.units]) == (None, [None])


@pytest.mark.parametrize(
    ("said", "reasons", "lacking"),
    [("", (), "answer"), (DEPARTS, (), "reasons"), (CONFORMS, ("no-such-reason",), "reasons")],
)
def test_what_does_not_conform_has_a_reason(
    one_ward: Ward, said: str, reasons: tuple[str, ...], lacking: str
) -> None:
    sample = drawn(one_ward)
    check = seen(one_ward, sample).units[0].rows[0].check
    refused = answer(one_ward, sample, check, said, *reasons)
    assert isinstance(refused, Incomplete)
    assert lacking in refused.fields
    assert seen(one_ward, sample).answers == {}


def test_nobody_audits_a_check_in_which_they_had_a_part_or_one_that_was_not_drawn(one_ward: Ward) -> None:
    sample = drawn(one_ward)
    check = seen(one_ward, sample).units[0].rows[0].check
    act = one_ward.act(NADIA)
    with one_ward.site.store.read() as reader:
        (open_check,) = [each.id for each in reader.open_checks()]
    # She holds both roles.
    said = answer_check(
        one_ward.site, act, QUILL.roles, sample, open_check, answer=CONFORMS, reasons=(), text="", known=0
    )
    assert said == ReadsBlind()
    assert answer(one_ward, sample, open_check, CONFORMS) == NotFound()
    one_ward.abandons()
    said = answer_check(
        one_ward.site, act, QUILL.roles, sample, check, answer=CONFORMS, reasons=(), text="", known=0
    )
    assert said == OwnCheck()


def test_it_is_for_quality_and_pharmacists(one_ward: Ward) -> None:
    sample = drawn(one_ward)
    assert see_sample(one_ward.site, one_ward.act(RUTH), RUTH.roles, sample) == NotAllowed()
    assert samples_of(one_ward.site, RUTH.roles) == NotAllowed()
    assert see_sample(one_ward.site, one_ward.act(QUILL), QUILL.roles, "none") == NotFound()


def test_the_worksheet_names_each_check_with_boxes_and_holds_no_value(one_ward: Ward) -> None:
    sample = drawn(one_ward)
    made = audit_sheet(one_ward.site, one_ward.act(QUILL), QUILL.roles, sample)
    assert isinstance(made, bytes)
    pages = pypdf.PdfReader(io.BytesIO(made)).pages
    told = " ".join(" ".join(each.extract_text() for each in pages).split())
    for row in seen(one_ward, sample).units[0].rows:
        assert row.check in told.replace(" ", "") or row.check in told
    assert told.count("Does not conform") == 2
    assert [each for each in (" mg", " mL", "HYDROmorphone", "DM-40417", "Nadia") if each in told] == []


def test_what_goes_on_is_in_no_sample(one_ward: Ward) -> None:
    made = seen(one_ward, drawn(one_ward.at_stage(Phase.READING)))
    assert {each.how for unit in made.units for each in unit.rows} == {"abandoned"}
