"""A running device is checked again, blind; what is found to be wrong is never started by it."""

from pathlib import Path

import pytest
from pypdf import PdfReader

from app.records.sources import Source
from app.records.state import Phase
from tests.browser.beforehand import Beforehand
from tests.browser.two import two
from tests.browser.ward import Scene, Ward
from tests.story.script import Read

pytestmark = [pytest.mark.browser, pytest.mark.timeout(300)]

READ = (Source.WRISTBAND, Source.ORDER, Source.LABEL, Source.DEVICE, Source.TOTALS)
STOP_NOW = "Stop the device now: look at the patient, breathing and sedation"


def test_a_re_check_is_done_with_the_second_signature(
    ward: Ward, scene: Scene, beforehand: Beforehand, tmp_path: Path
) -> None:
    beforehand.at_stage(Phase.STARTED)
    pair = two(ward, scene)
    pair.re_checks()
    for nurse, read in zip(pair.both, scene.that_comes_to(Read.ALIKE), strict=True):
        nurse.look_at_check(scene.place)
        assert nurse.read_and_hand_in(read) == READ
    pair.one.look_at_check(scene.place)
    pair.one.sees_heading("Order, label and device agree")
    pair.one.does_not_see("afety steps", "DO NOT START", "ACT NOW")
    pair.both_sign()
    pair.other.sees_heading("The record of this check")
    pair.other.sees("I agree that what runs is what is ordered, for this patient.")
    pair.other.does_not_see("afety steps", "Ready to start")
    text = _text_of(pair.other.save_pdf(tmp_path))
    assert "Re-check of PCA: record of a blind two-person check" in text
    assert not [words for words in ("Safety steps", "Before any dose", "Primed volume") if words in text]


@pytest.mark.usefixtures("quick_pdf")
def test_what_a_re_check_finds_leads_to_a_settings_change(
    ward: Ward, scene: Scene, beforehand: Beforehand
) -> None:
    beforehand.at_stage(Phase.STARTED)
    pair = two(ward, scene)
    pair.re_checks()
    pair.both_hand_in(Read.SET_OTHERWISE)
    pair.one.look_at_check(scene.place)
    for nurse in pair.both:
        nurse.sees("ACT NOW", STOP_NOW, "TEN TIMES")
        nurse.does_not_see("DO NOT START", "read the device again")
    pair.leads_on()
    pair.one.sees_heading("This check led to a settings change")
    # Until somebody writes down that it was stopped, it runs on as it was found.
    pair.one.sees("ACT NOW", STOP_NOW)
    charge = ward.person("r.calloway")
    charge.sees("led to a settings change", "Before it runs on, two nurses check it again.")
    pair.one.go("/")
    pair.one.press(f"Open the settings change: {scene.place}")
    pair.one.sees("Settings change")


def _text_of(pdf: Path) -> str:
    return " ".join(" ".join(page.extract_text() for page in PdfReader(pdf).pages).split())
