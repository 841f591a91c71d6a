"""What a browser prints: each page says of whom and of when it is, and that it is not the record."""

import io

import pytest
from pypdf import PdfReader

from tests.browser.beforehand import Beforehand
from tests.browser.people import Person
from tests.browser.ward import Ward

pytestmark = [pytest.mark.browser, pytest.mark.timeout(300)]


def printed(person: Person) -> list[str]:
    """The words of each page of a print of what is in front, one space between them."""
    content = person.page.pdf(format="A4")
    return [" ".join(each.extract_text().split()) for each in PdfReader(io.BytesIO(content)).pages]


def test_each_page_of_a_printed_comparison_names_the_patient_the_time_and_that_it_is_not_the_record(
    ward: Ward, beforehand: Beforehand
) -> None:
    scene = beforehand.scene
    set_otherwise = scene.right_but(device={"demand_dose": "2 mg"})
    beforehand.compared(set_otherwise)
    one = ward.nurse("n.ferrow")
    one.look_at_check(scene.place)
    one.sees("DO NOT START")
    pages = printed(one)
    assert len(pages) > 1
    for number, words in enumerate(pages, 1):
        for each in (
            f"Patient {scene.right['wristband']['identifier']}",
            scene.place.replace("\N{NO-BREAK SPACE}", " "),
            "printed ",
            "Not the record",
            f"Page {number} of {len(pages)}",
        ):
            assert each in words
    # What is folded on a screen is on paper, what asks for something is not.
    assert "Capnography" in " ".join(pages)
    assert "Give this check up" not in " ".join(pages)


def test_the_shift_sheet_names_hospital_and_page_and_no_dose(ward: Ward, beforehand: Beforehand) -> None:
    beforehand.compared(beforehand.scene.right)
    charge = ward.person("r.calloway")
    charge.go("/shift-sheet")
    pages = printed(charge)
    for number, words in enumerate(pages, 1):
        assert "Larkmoor General Hospital (invented) · Ward 4 East · shift sheet of" in words
        assert f"Page {number} of {len(pages)}" in words
        assert " mg" not in words
        assert "HYDROmorphone" not in words
