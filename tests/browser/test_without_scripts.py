"""Nothing needs a script: the whole path in a browser that runs none."""

from pathlib import Path

import pytest
from pypdf import PdfReader

from tests.browser.ward import (
    Scene,
    Ward,
    acknowledge_both,
    look_and_start,
    open_and_join,
    read_both,
    sign_both,
    take_the_steps,
)

pytestmark = [pytest.mark.browser, pytest.mark.timeout(300)]

CAUGHT = "Each dose given would be 5 times the dose that the device shows."


def test_from_an_empty_screen_to_a_signed_pdf(ward: Ward, scene: Scene, tmp_path: Path) -> None:
    one, other = ward.two(scripts=False)
    open_and_join(one, other, scene)
    read_both(one, other, scene, scene.wrong)
    one.look_at_check(scene.place)
    one.sees_do_not_start(CAUGHT)
    one.put_right("device")
    read_both(one, other, scene, scene.right)
    acknowledge_both(one, other, scene)
    take_the_steps(one, other, scene)
    sign_both(one, other, scene)
    look_and_start(one, other, scene)
    pages = PdfReader(other.save_pdf(tmp_path)).pages
    text = " ".join(" ".join(page.extract_text() for page in pages).split())
    for words in (CAUGHT, "Nadia Ferrow", "Tomas Osmund"):
        assert words in text


def test_no_script_runs(ward: Ward) -> None:
    # Without this, the path above would show nothing.
    tablet = ward.device(scripts=False)
    tablet.page.set_content("<p>no</p><script>document.querySelector('p').textContent = 'yes'</script>")
    assert tablet.page.inner_text("p") == "no"
