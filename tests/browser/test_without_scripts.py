"""Nothing needs a script: the whole path in a browser that runs none."""

from pathlib import Path

import pytest
from pypdf import PdfReader

from app.records.state import Phase
from tests.browser.two import two
from tests.browser.ward import Scene, Ward
from tests.story import ward as story
from tests.story.script import go_on
from tests.story.trying import kinds_of

pytestmark = [pytest.mark.browser, pytest.mark.timeout(300)]

CAUGHT = "Each dose given would be 5 times the dose that the device shows."


def test_from_an_empty_screen_to_a_signed_pdf(
    ward: Ward, scene: Scene, one_ward: story.Ward, tmp_path: Path
) -> None:
    ward.signs_in_by_hand = True
    pair = two(ward, scene, scripts=False).at_stage(Phase.READING)
    pair.read(scene.wrong)
    pair.compares()
    pair.one.sees_do_not_start(CAUGHT)
    pair.one.put_right("device")
    pair.read(scene.right)
    pair.acknowledge()
    go_on(pair, Phase.STARTED, since=Phase.STEPS)
    # Everything happened here that happens where the workflow performs the same script.
    wanted = kinds_of(one_ward.site, one_ward.at_stage(Phase.STARTED).check)
    assert wanted <= kinds_of(ward.running.site, pair.check)
    pages = PdfReader(pair.other.save_pdf(tmp_path)).pages
    text = " ".join(" ".join(page.extract_text() for page in pages).split())
    for words in (CAUGHT, "Nadia Ferrow", "Tomas Osmund"):
        assert words in text


def test_no_script_runs(ward: Ward) -> None:
    # Without this, the path above would show nothing.
    tablet = ward.device(scripts=False)
    tablet.page.set_content("<p>no</p><script>document.querySelector('p').textContent = 'yes'</script>")
    assert tablet.page.inner_text("p") == "no"
