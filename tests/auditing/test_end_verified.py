"""The record of an end of PCA: its file holds in every point, and so does its store."""

from collections.abc import Iterator

import pytest

from app.auditing.verifying_here import verify_here
from app.auditing.verifying_store import Wanted, verify_store
from app.records.store_verification import Began, Progress
from app.records.verification import Verification
from app.workflow.issuing import Issued, issue_record
from tests.story.people import NADIA, RUTH
from tests.story.ward import Ward
from tests.workflow.test_end_of_pca import LEFT, at_the_remainder


@pytest.mark.parametrize("seen", [True, False])
def test_an_end_verifies_from_its_file_and_in_its_store(one_ward: Ward, *, seen: bool) -> None:
    ward = at_the_remainder(one_ward)
    ward.reading_drug(NADIA, given=LEFT)
    if seen:
        ward.witnessing(NADIA, RUTH, seen=LEFT)
    else:
        ward.going_on_without(NADIA)
    ward.confirms_all().both_sign()
    assert isinstance(issue_record(ward.site, ward.check, 1, ward.wait().now), Issued)
    with ward.site.store.read() as reader:
        pdf = reader.find_pdf(ward.check, 1)
        (frozen,) = reader.frozen_records(ward.check)
    assert pdf is not None
    assert frozen.told["account"]["syringes"] == {"1": {"drug": "HYDROmorphone", "lot": "LOT-7"}}
    assert frozen.told["account"]["result"]["verdict"] == ("agreed" if seen else "stopped")

    said = verify_here(ward.site, ward.wait().now, pdf.content)
    assert isinstance(said, Verification)
    assert [each for each in said.answers if each.holds is not True] == []

    steps = verify_store(ward.site, ward.wait().now, Wanted(pages=True))
    assert isinstance(steps, Iterator)
    assert [each for each in steps if not isinstance(each, Began | Progress)] == []
