"""The record of each change is made from its bytes, and says what was changed; the file verifies."""

import io
from datetime import timedelta

import pytest
from pypdf import PdfReader

from app.auditing.invariants import check_invariants
from app.records.kinds import CLEARING, DEVICE_CHANGE, SETTINGS_CHANGE, SYRINGE_CHANGE, Kind
from app.records.reading import Answers
from app.records.state import Phase
from app.workflow.issuing import Issued, issue_record
from tests.factories.answers import answers, changed
from tests.story.ward import Ward

# By hand: 27.7 mL were left after priming, and 8 doses of 1 mL each are 8 mL and 1.6 mg.
OLD = {"total_amount": "1.6 mg", "presses": "9", "doses": "8", "left": "19.7 mL"}
HIGHER = {"demand_dose": "0.3 mg"}


@pytest.mark.parametrize(
    ("kind", "read", "says"),
    [
        (
            SETTINGS_CHANGE,
            changed(answers(), order=HIGHER, device=HIGHER),
            "Each demand 0.2 mg 0.3 mg more: 1.5 times as much",
        ),
        (SYRINGE_CHANGE, changed(answers(), totals=OLD), "Safety steps, for a new syringe"),
        (DEVICE_CHANGE, changed(answers(), totals=OLD), "Safety steps, with a carrier"),
        (CLEARING, changed(answers(), totals=OLD), "Safety steps, for totals that were cleared"),
    ],
    ids=lambda each: each.name if isinstance(each, Kind) else "",
)
def test_the_record_of_a_change_is_made_and_verifies(
    one_ward: Ward, kind: Kind, read: Answers, says: str
) -> None:
    ward = one_ward.at_stage(Phase.STARTED).wait(timedelta(hours=4))
    ward.changes(kind).both_read(read).compares().confirms_all().both_sign()
    made = issue_record(ward.site, ward.check, 1, ward.wait().now)

    assert isinstance(made, Issued)
    with ward.site.store.read() as reader:
        kept = reader.find_pdf(ward.check, 1)
    assert kept is not None
    pages = PdfReader(io.BytesIO(kept.content)).pages
    text = " ".join(" ".join(page.extract_text() for page in pages).split())
    assert f"{kind.words} of PCA: record of a blind two-person check" in text
    assert says in text
    assert check_invariants(ward.site, ward.now) == ()
