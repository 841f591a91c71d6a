"""The record of a re-check: its file holds in every point, its pages made again, and so does its store."""

from collections.abc import Iterator

from app.auditing.verifying_here import verify_here
from app.auditing.verifying_store import Wanted, verify_store
from app.records.state import Phase
from app.records.store_verification import Began, Progress
from app.records.verification import Verification
from app.workflow.issuing import Issued, issue_record
from tests.story.ward import Ward


def test_a_re_check_verifies_from_its_file_and_in_its_store(one_ward: Ward) -> None:
    ward = one_ward.at_stage(Phase.DONE)
    assert isinstance(issue_record(ward.site, ward.check, 1, ward.wait().now), Issued)
    with ward.site.store.read() as reader:
        pdf = reader.find_pdf(ward.check, 1)
    assert pdf is not None

    said = verify_here(ward.site, ward.wait().now, pdf.content)
    assert isinstance(said, Verification)
    assert [each for each in said.answers if each.holds is not True] == []

    steps = verify_store(ward.site, ward.wait().now, Wanted(pages=True))
    assert isinstance(steps, Iterator)
    assert [each for each in steps if not isinstance(each, Began | Progress)] == []
