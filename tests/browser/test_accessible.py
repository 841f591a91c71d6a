"""Every page of every role, for everybody: WCAG 2.2, levels A and AA, as far as a machine can tell."""

import re
from pathlib import Path
from time import perf_counter

import pytest
from flask import template_rendered

from app.config import root
from tests.browser.auditor import Auditor, audit
from tests.browser.contrast import LEAST, contrast, pale_words, words_in_pictures
from tests.browser.devices import Device
from tests.browser.people import Person
from tests.browser.walk import walk
from tests.browser.ward import Scene, Ward
from tests.support.sampling import examples

pytestmark = [pytest.mark.browser, pytest.mark.timeout(600)]


def _pages() -> set[str]:
    """The templates that are whole pages: each is laid over another one, and none over it."""
    templates = root() / "templates"
    over = {
        str(each.relative_to(templates)): _UNDER.findall(each.read_text(encoding="utf-8"))
        for each in templates.rglob("*.html")
    }
    return {name for name, under in over.items() if under} - {
        each for under in over.values() for each in under
    }


_UNDER = re.compile(r'{% extends "([^"]+)" %}')


def test_no_screen_shuts_anybody_out(ward: Ward, scene: Scene, tmp_path: Path) -> None:
    shown: set[str] = set()

    def note(_sender: object, *, template: object, **_: object) -> None:
        shown.add(str(getattr(template, "name", "")))

    auditor = Auditor(folder=tmp_path, one_of=examples(sample=5, whole=1))
    begun = perf_counter()
    with template_rendered.connected_to(note):
        walk(ward, auditor, scene)

    print("\n".join(auditor.lines))
    print(f"{auditor.summary()} {perf_counter() - begun:.0f} s in all.")
    # The pictures' words were among what was looked at.
    assert auditor.counts["words in pictures, each three times"] > 0
    assert auditor.wrong == []
    # Every page there is was among the screens.
    assert sorted(_pages() - shown) == []


_BAD = """<!DOCTYPE html><html lang="en"><title>Bad</title><main><h1>Bad</h1>
<input type="text" name="dose">
<p style="color: #999; background: #fff">pale</p>
<a href="/a" style="font-size: 10px">a</a><br><a href="/b" style="font-size: 10px">b</a>
<div style="width: 700px">wide</div></main>"""


@pytest.fixture
def bad(ward: Ward) -> Device:
    device = ward.device()
    device.page.set_content(_BAD)
    return device


def test_a_bad_page_is_told(bad: Device, ward: Ward, tmp_path: Path) -> None:
    found = audit(bad.page)
    assert {each.partition(":")[0] for each in found.wrong} == {"label", "color-contrast", "target-size"}

    auditor = Auditor(folder=tmp_path)
    auditor.take(Person(bad, ward.running.person("n.ferrow"), ward.running.address), "bad")
    assert any("px wide in a window of 320" in each for each in auditor.wrong)
    assert any("px wide in a window of 640" in each for each in auditor.wrong)
    assert any("dark: color-contrast" in each for each in auditor.wrong)


# Each word is wrong in one way, but for the last.
_PICTURE = """<!DOCTYPE html><html lang="en"><title>Picture</title>
<style>
  body { background: #fff; color: #000; margin: 0; }
  text { fill: currentColor; }
  .pale { fill: #999; }
  .faded { opacity: 0.3; }
  .striped { background-image: linear-gradient(#fff, #000); }
  .covered { position: relative; }
  .covered b { position: absolute; inset: 0; background: #fff; }
</style>
<svg width="90" height="30"><text y="20" class="pale">pale</text></svg>
<svg width="90" height="30"><text y="20" class="faded">faded</text></svg>
<div class="striped"><svg width="90" height="30"><text y="20">striped</text></svg></div>
<svg width="90" height="30"><path d="M0 15H90" stroke="red"/><text y="20">crossed</text></svg>
<div class="covered"><svg width="90" height="30"><text y="20">covered</text></svg><b></b></div>
<div id="ground"><svg width="90" height="30"><text y="20">right</text></svg></div>"""


def test_a_bad_picture_is_told(ward: Ward) -> None:
    page = ward.device().page
    page.set_content(_PICTURE)
    assert {each.split("'")[1] for each in pale_words(page)} == {
        "pale",
        "faded",
        "striped",
        "crossed",
        "covered",
    }
    assert {each.words: round(each.ratio, 2) for each in words_in_pictures(page)}["right"] == 21
    page.evaluate("document.getElementById('ground').style.background = '#333'")
    assert any("'right'" in each and ", 1.66" in each for each in pale_words(page))
    page.emulate_media(forced_colors="active")
    assert not any("'right'" in each for each in pale_words(page))


def test_the_contrast_is_that_of_the_guidelines() -> None:
    # WCAG 2.2, contrast ratio: "can range from 1 to 21"; Understanding 1.4.3: nothing is rounded up to 4.5.
    assert contrast((0, 0, 0), (255, 255, 255)) == pytest.approx(21)
    assert contrast((0x76,) * 3, (255, 255, 255)) >= LEAST > contrast((0x77,) * 3, (255, 255, 255))
