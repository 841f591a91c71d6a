"""What a crash left is finished by the sweeper: comparisons not made, PDFs not stored."""

from datetime import timedelta

import pytest

from app.records.canonical import digest
from app.records.kept import KeptReading
from app.records.reading import Answers
from app.records.state import Phase
from app.site.installation import Site
from app.site.readings import open_reading
from app.web.sweeper import EVERY_SECONDS
from app.workflow import issuing, sweeping
from app.workflow.issuing import LeftAlone, issue_record
from app.workflow.sweeping import Swept, sweep_once
from tests.factories.quick_pdf import quick_pdf_of, without_rendering
from tests.story.people import NADIA
from tests.story.ward import Ward
from tests.support.together import together


def sweeps(ward: Ward, holder: str = "one") -> Swept | None:
    return sweep_once(ward.site, ward.wait().now, holder=holder)


def test_a_round_that_nobody_compared_is_compared(ward: Ward) -> None:
    ward.at_stage(Phase.BOTH_HANDED_IN)

    assert sweeps(ward) == Swept(compared=1, issued=0)
    assert ward.phase is Phase.STEPS
    assert sweeps(ward) == Swept(compared=0, issued=0)


def test_a_sweep_says_how_far_nothing_is_left(one_ward: Ward) -> None:
    # The first sweep of all signs the log and writes into it with which keys.
    sweeps(one_ward)
    one_ward.at_stage(Phase.BOTH_HANDED_IN)
    with one_ward.site.store.read() as reader:
        head = reader.head()

    def swept(after: int) -> tuple[int, int]:
        done = sweep_once(one_ward.site, one_ward.wait().now, holder="one", after=after)
        assert done is not None
        return done.compared, done.settled

    # What came before is not looked at, and nobody need.
    assert swept(head) == (0, head)
    assert swept(0) == (1, head)
    one_ward.at_stage(Phase.BOTH_HANDED_IN)
    compared, settled = swept(head)
    assert compared == 1
    assert settled > head


def test_what_could_not_be_finished_is_looked_at_again(
    one_ward: Ward, monkeypatch: pytest.MonkeyPatch
) -> None:
    one_ward.at_stage(Phase.BOTH_HANDED_IN)

    def fails(*_given: object) -> bool:
        raise ValueError

    with monkeypatch.context() as broken:
        broken.setattr(sweeping, "compare_round", fails)
        swept = sweep_once(one_ward.site, one_ward.wait().now, holder="one", after=1)
    assert swept is not None
    assert (len(swept.failed), swept.settled) == (1, 1)
    swept = sweep_once(one_ward.site, one_ward.wait().now, holder="one", after=swept.settled)
    assert swept is not None
    assert swept.compared == 1


def test_a_record_that_has_no_pdf_gets_one(ward: Ward) -> None:
    ward.at_stage(Phase.CLEARED)

    assert sweeps(ward) == Swept(compared=0, issued=1)
    with ward.site.store.read() as reader:
        pdf = reader.find_pdf(ward.check, 1)
    assert pdf is not None
    assert pdf.content.startswith(b"%PDF-")
    assert pdf.digest == digest(pdf.content)
    assert ward.state().issued == {1}
    assert sweeps(ward) == Swept(compared=0, issued=0)


@pytest.mark.parametrize("phase", [Phase.READING, Phase.DISPUTED, Phase.STEPS, Phase.SIGNING])
def test_nothing_is_finished_that_people_have_still_to_do(one_ward: Ward, phase: Phase) -> None:
    before = one_ward.at_stage(phase).state().last_position

    assert sweeps(one_ward) == Swept(compared=0, issued=0)
    assert one_ward.state().last_position == before


def test_a_record_with_one_signature_has_no_pdf(one_ward: Ward) -> None:
    one_ward.at_stage(Phase.SIGNING).signs(NADIA)

    for edition in (1, 2):
        assert issue_record(one_ward.site, one_ward.check, edition, one_ward.now) == LeftAlone()


def test_a_check_that_was_given_up_is_not_compared_once_more(one_ward: Ward) -> None:
    one_ward.at_stage(Phase.BOTH_HANDED_IN).abandons()

    assert sweeps(one_ward) == Swept(compared=0, issued=0)
    assert one_ward.phase is Phase.ABANDONED


def test_one_sweeps_at_a_time(ward: Ward) -> None:
    ward.at_stage(Phase.BOTH_HANDED_IN)
    assert sweeps(ward, "one") == Swept(compared=1, issued=0)

    assert sweep_once(ward.site, ward.now, holder="other") is None
    ward.wait(sweeping.LEASE_TIME)
    assert sweeps(ward, "other") == Swept(compared=0, issued=0)


@pytest.mark.usefixtures("quick_pdf")
def test_a_pdf_made_twice_at_the_same_instant_is_stored_once(ward: Ward) -> None:
    ward.at_stage(Phase.CLEARED)
    now = ward.wait().now

    made = together(*(lambda: issue_record(ward.site, ward.check, 1, now) for _ in range(3)))

    assert sorted(type(each).__name__ for each in made) == ["Issued", "LeftAlone", "LeftAlone"]
    with ward.site.store.read() as reader:
        assert [each.event.kind for each in reader.entries(ward.check)].count("record-issued") == 1


def test_a_check_that_cannot_be_finished_holds_up_no_other(
    one_ward: Ward, monkeypatch: pytest.MonkeyPatch
) -> None:
    without_rendering(monkeypatch)
    one_ward.at_stage(Phase.CLEARED)
    broken, works = one_ward.check, one_ward.at_stage(Phase.CLEARED).check

    def fail_for_one(document: dict[str, object], **more: object) -> bytes:
        if document["record"] == broken:
            message = "the renderer broke"
            raise OSError(message)
        return quick_pdf_of(document, **more)

    monkeypatch.setattr(issuing, "render_record", fail_for_one)

    assert sweeps(one_ward) == Swept(compared=0, issued=1, failed=(f"{broken}: OSError",))
    monkeypatch.setattr(issuing, "render_record", quick_pdf_of)
    assert sweeps(one_ward) == Swept(compared=0, issued=1)
    assert one_ward.state(works).issued == one_ward.state(broken).issued == {1}


def test_a_reading_that_was_tampered_with_is_not_compared(
    one_ward: Ward, monkeypatch: pytest.MonkeyPatch
) -> None:
    from app.workflow import comparing

    one_ward.at_stage(Phase.BOTH_HANDED_IN)

    def with_a_bit_flipped(site: Site, kept: KeptReading) -> Answers:
        flipped = bytearray(kept.envelope)
        flipped[-1] ^= 1
        return open_reading(site, KeptReading(**{**vars(kept), "envelope": bytes(flipped)}))

    monkeypatch.setattr(comparing, "open_reading", with_a_bit_flipped)

    assert sweeps(one_ward) == Swept(compared=0, issued=0, failed=(f"{one_ward.check}: EnvelopeBroken",))
    assert one_ward.phase is Phase.BOTH_HANDED_IN


def test_the_lease_outlives_the_pause_between_two_sweeps() -> None:
    assert timedelta(seconds=EVERY_SECONDS) < sweeping.LEASE_TIME
