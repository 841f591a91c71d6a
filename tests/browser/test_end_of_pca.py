"""PCA ends: what is left goes before a witness who is not told what the nurse read, and both sign."""

from pathlib import Path

import pytest
from pypdf import PdfReader

from tests.browser.ending import at_its_end, is_off_the_patient, reads_what_is_left, sees_it_go
from tests.browser.ward import Scene, Ward

pytestmark = [pytest.mark.browser, pytest.mark.timeout(300)]


def test_what_is_left_goes_before_a_witness_and_both_sign_the_account(
    ward: Ward, scene: Scene, tmp_path: Path
) -> None:
    pair = at_its_end(ward, scene)
    is_off_the_patient(pair)
    one, lot = pair.one, scene.right["label"]["lot"]
    one.look_at_check(scene.place)
    one.follow("Go on: safety steps")
    one.follow("Read what is left, with a witness")
    reads_what_is_left(one, "27.4", lot=lot)
    one.sees_heading("The witness reads")
    one.does_not_see("27.4")
    one.page.go_back()
    one.page.go_forward()
    one.does_not_see("27.4")
    sees_it_go(one, "27.5", witness=ward.running.person("i.bexley"))
    one.sees("27.5 mL left in the syringe: wasted, witnessed by Imogen Bexley (read first as 27.4 mL).")
    pair.confirms_all()
    pair.both_sign()
    pair.other.sees_heading("The record of this check")
    text = "\n".join(page.extract_text() for page in PdfReader(pair.other.save_pdf(tmp_path)).pages)
    assert "The account of the infusion" in text
    assert "Wasted" in text
    assert "27.5 mg" in text
