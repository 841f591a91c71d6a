"""Two nurses at two devices: a wrong concentration is caught and put right, then the infusion starts."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from pypdf import PdfReader

from app.records.reading import WHOLE, asked_in, sources_in
from app.records.sources import Source
from app.records.state import Phase
from tests.browser.beforehand import Beforehand
from tests.browser.people import Nurse
from tests.browser.two import two
from tests.browser.ward import Scene, Ward
from tests.story.script import go_on

pytestmark = [pytest.mark.browser, pytest.mark.timeout(300)]

CAUGHT = "Each dose given would be 5 times the dose that the device shows."


def test_from_an_empty_screen_to_a_signed_pdf(ward: Ward, scene: Scene, tmp_path: Path) -> None:
    ward.signs_in_by_hand = True
    pair = two(ward, scene)
    one, other = pair.both
    # Field by field as a person does; the pages of the other are the same.
    one.hurries = False
    pair.at_stage(Phase.READING)
    _both_read_what_is_wrong(one, other, scene)
    _it_is_put_right(one, other, scene)
    pair.acknowledge()
    pair.confirms_all()
    _both_sign(one, other, scene)
    go_on(pair, Phase.STARTED, since=Phase.CLEARED)
    other.sees_heading("The record of this check")
    other.sees(CAUGHT, "Device reprogrammed: all of it was read again, by each alone.")
    text = _text_of(other.save_pdf(tmp_path))
    for words in (CAUGHT, "FIVE TIMES", "Put right: device.", "Nadia Ferrow", "Tomas Osmund"):
        assert words in text


def _both_read_what_is_wrong(one: Nurse, other: Nurse, scene: Scene) -> None:
    assert one.read_and_hand_in(scene.wrong) == sources_in(WHOLE)
    one.sees("Waiting for both readings.")
    assert other.read_and_hand_in(scene.wrong) == sources_in(WHOLE)
    other.comes_to_the_comparison()
    one.look_at_check(scene.place)
    for nurse in (one, other):
        nurse.sees_do_not_start(CAUGHT)
        nurse.sees("FIVE TIMES", "30 mg in 30 mL", "Each demand would give 1 mg, not 0.2 mg.")


def _it_is_put_right(one: Nurse, other: Nurse, scene: Scene) -> None:
    one.put_right("device")
    other.look_at_check(scene.place)
    for nurse in (one, other):
        assert nurse.source_in_front is Source.DEVICE
        # All of it, and every field empty: what agreed before does not count.
        rows = nurse.page.locator("fieldset[data-field]")
        assert rows.count() == len(asked_in(WHOLE, Source.DEVICE, ()))
        assert rows.locator("input:checked").count() == 0
        assert set(_written(nurse)) <= {""}
        assert nurse.read_and_hand_in(scene.right) == (Source.DEVICE,)
    for nurse in (one, other):
        nurse.look_at_check(scene.place)
        nurse.sees("CONSIDER", "more dangerous for this patient: a sedative")
        nurse.does_not_see("DO NOT START", "FIVE TIMES")


def _written(nurse: Nurse) -> Iterator[str]:
    for each in nurse.page.get_by_role("textbox").or_(nurse.page.get_by_role("combobox")).all():
        yield each.input_value()


def _both_sign(one: Nurse, other: Nurse, scene: Scene) -> None:
    for nurse in (one, other):
        nurse.look_at_check(scene.place)
        nurse.follow("Go on: sign")
        nurse.sees_heading("Sign what stands here")
        nurse.sign("not the secret of anybody")
        nurse.sees("Nothing was signed.")
        nurse.sign()
    one.look_at_check(scene.place)
    for nurse in (one, other):
        nurse.sees("Ready to start")


def _text_of(pdf: Path) -> str:
    return " ".join(" ".join(page.extract_text() for page in PdfReader(pdf).pages).split())


# Hicks RW, "Death by PCA", AHRQ WebM&M, February 2013, psnet.ahrq.gov/webmm/case/291: ordered morphine 2 mg,
# lockout 6 min, 30 mg in 4 h; 5 mg/mL in the device, 1 mg/mL programmed. The rest here is the scene's.
PUBLISHED = {
    "drug": "morphine",
    "demand_dose": "2 mg",
    "lockout": "6 min",
    "limit_amount": "30 mg",
    "limit_window": "4 h",
}


def test_the_published_fatal_case_is_caught(ward: Ward, scene: Scene, beforehand: Beforehand) -> None:
    beforehand.compared(
        scene.right_but(
            chart={"sedatives": "none"},
            order={**PUBLISHED, "strength": "states-none"},
            label={"drug": "morphine", "amount": "150 mg", "volume": "30 mL"},
            device={**PUBLISHED, "concentration": "1 mg/mL"},
        )
    )
    one = ward.nurse("n.ferrow")
    one.look_at_check(scene.place)
    one.sees_do_not_start(CAUGHT)
    one.sees("FIVE TIMES", "Each demand would give 10 mg, not 2 mg.")
