"""The record of a re-check: its file holds in every point, its pages made again, and so does its store."""

import json
from collections.abc import Callable, Iterator
from typing import Any

import pytest

from app.auditing.verifying_contents import computed_again
from app.auditing.verifying_here import verify_here
from app.auditing.verifying_store import Wanted, verify_store
from app.records.state import Phase
from app.records.store_verification import Began, Progress
from app.records.verification import Verification
from app.workflow.issuing import Issued, issue_record
from app.workflow.looking import RecordSeen, see_record
from tests.story.people import NADIA
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


CHANGES: dict[str, Callable[[dict[str, Any]], object]] = {
    "what was known of the account": lambda account: account["entries"][0].update(volume="31 mL"),
    "by which rules": lambda account: account["policy"].update(scale_division="2 mL"),
    "what it comes to": lambda account: account["result"]["infusion"]["volume"]["left"].update(exact="26.7"),
    "that it comes to nothing": lambda account: account.update(result=None),
}


@pytest.mark.parametrize("change", CHANGES.values(), ids=CHANGES)
def test_whatever_is_changed_of_the_account_is_found(
    one_ward: Ward, change: Callable[[dict[str, Any]], object]
) -> None:
    ward = one_ward.at_stage(Phase.DONE)
    record = see_record(ward.site, ward.act(NADIA), ward.check)
    assert isinstance(record, RecordSeen)
    document = json.loads(record.frozen.document)
    assert computed_again(document).holds is True

    change(document["rounds"][-1]["comparison"]["account"])
    assert computed_again(document).holds is False
