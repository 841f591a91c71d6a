"""What waits to be classified: each is shown what they themselves may classify, and nothing else."""

from datetime import timedelta

import pytest

from app.people import Role
from app.records.kinds import RE_CHECK, SET_UP
from app.records.state import Phase
from app.storage import read_findings
from app.workflow.classifying import ToClassify, to_classify
from app.workflow.refusals import NotAllowed, NotFound
from app.workflow.reviewing import Answer, Done, Place, classify
from app.workflow.sampling import Kept, draw_sample
from tests.story.people import ADELE, IMOGEN, NADIA, PETRA, QUILL, RUTH, Somebody
from tests.story.ward import DIFFERING, Ward
from tests.workflow.test_sampling import PLAN

ANSWER = Answer(category="C", readers="", factors=(), text="")
OF_QUALITY = frozenset({Role.QUALITY})


def waiting(
    ward: Ward, who: Somebody, roles: frozenset[Role] = OF_QUALITY, *, sample: str = ""
) -> list[tuple[str, str]]:
    """The kind of check and the code of each that waits for somebody."""
    found = to_classify(ward.site, ward.act(who), roles, sample=sample)
    assert isinstance(found, ToClassify)
    return [(each.listed.row.kind, each.listed.row.code) for each in found.found.rows]


def found_while_running(ward: Ward) -> Ward:
    """A re-check of what runs that found the device set otherwise, after a set-up with a stop of its own."""
    ward.at_stage(Phase.ABANDONED).at_stage(Phase.STARTED)
    ward.re_checks().both_read(ward.of_its_patient(DIFFERING)).compares()
    assert waiting(ward, QUILL) == [], "of a check that goes on nothing waits"
    return ward.abandons()


DEVICE = (RE_CHECK.name, "device-differs")


def classifies(ward: Ward, who: Somebody) -> None:
    """The newest that waits for them."""
    found = to_classify(ward.site, ward.act(who), OF_QUALITY)
    assert isinstance(found, ToClassify)
    row = found.found.rows[0].listed.row
    place = Place(check=row.check, subject=row.subject, round=row.round, number=row.number)
    assert classify(ward.site, ward.wait().act(who), OF_QUALITY, place, answer=ANSWER) == Done()


def test_what_was_found_while_it_ran_waits_for_two_of_whom_neither_had_a_part(ward: Ward) -> None:
    found_while_running(ward)
    assert DEVICE in waiting(ward, QUILL)
    assert {kind for kind, _ in waiting(ward, QUILL)} == {RE_CHECK.name}
    # One of the two who read it does not classify it, whatever roles they hold.
    assert waiting(ward, NADIA) == []

    many = len(waiting(ward, QUILL))
    classifies(ward, QUILL)
    assert len(waiting(ward, QUILL)) == many - 1
    assert len(waiting(ward, PETRA)) == many
    classifies(ward, PETRA)
    assert len(waiting(ward, PETRA)) == many - 1
    assert len(waiting(ward, RUTH)) == many - 1


def test_who_took_the_request_for_help_classifies_nothing_of_that_check(one_ward: Ward) -> None:
    one_ward.at_stage(Phase.STARTED).re_checks().both_read(one_ward.of_its_patient(DIFFERING)).compares()
    one_ward.asks_for_help().takes_help(PETRA).settles_help("abandon", PETRA)

    assert waiting(one_ward, PETRA) == []
    assert DEVICE in waiting(one_ward, QUILL)


def test_whoever_reads_blind_at_that_bed_is_shown_nothing_of_it(one_ward: Ward) -> None:
    found_while_running(one_ward)
    bed = one_ward.state().check.bed
    one_ward.opens(IMOGEN, bed=bed)

    assert waiting(one_ward, IMOGEN) == []
    assert waiting(one_ward, QUILL) != []


def test_of_a_sample_every_stop_waits_and_of_no_other_check(ward: Ward) -> None:
    ward.at_stage(Phase.ABANDONED).wait(timedelta(days=1))
    kept = draw_sample(ward.site, ward.act(QUILL), QUILL.roles, PLAN)
    assert isinstance(kept, Kept)
    ward.at_stage(Phase.ABANDONED)

    assert waiting(ward, QUILL) == []
    assert set(waiting(ward, QUILL, sample=kept.sample)) == {
        (SET_UP.name, "readings-differ"),
        (SET_UP.name, "above-hard-limit"),
    }
    assert to_classify(ward.site, ward.act(QUILL), OF_QUALITY, sample="none") == NotFound()


def test_page_after_page_however_few_wait(one_ward: Ward, monkeypatch: pytest.MonkeyPatch) -> None:
    found_while_running(one_ward)
    every = waiting(one_ward, QUILL)
    monkeypatch.setattr(read_findings, "LOOKED_AT", 1)
    shown, after = list[tuple[str, str]](), None
    while True:
        found = to_classify(one_ward.site, one_ward.act(QUILL), OF_QUALITY, after=after)
        assert isinstance(found, ToClassify)
        shown += [(each.listed.row.kind, each.listed.row.code) for each in found.found.rows]
        after = found.found.next_after
        if after is None:
            break

    assert shown == every


@pytest.mark.parametrize("who", [RUTH, IMOGEN, ADELE], ids=lambda who: who.id)
def test_who_classifies_nothing_is_shown_nothing(one_ward: Ward, who: Somebody) -> None:
    assert to_classify(one_ward.site, one_ward.act(who), who.roles) == NotAllowed()
