"""Every page of every role, for everybody: WCAG 2.2, levels A and AA, as far as a machine can tell."""

from pathlib import Path

import pytest
from flask import template_rendered

from app.config import root
from tests.browser.auditor import Auditor, audit
from tests.browser.devices import Device
from tests.browser.people import Person
from tests.browser.walk import walk
from tests.browser.ward import Scene, Ward

pytestmark = [pytest.mark.browser, pytest.mark.timeout(600)]


def _pages() -> set[str]:
    """The templates that are whole pages: each is laid over another one."""
    templates = root() / "templates"
    return {
        str(each.relative_to(templates))
        for each in templates.rglob("*.html")
        if "{% extends" in each.read_text(encoding="utf-8")
    }


def test_no_screen_shuts_anybody_out(ward: Ward, scene: Scene, tmp_path: Path) -> None:
    shown: set[str] = set()

    def note(_sender: object, *, template: object, **_: object) -> None:
        shown.add(str(getattr(template, "name", "")))

    auditor = Auditor(folder=tmp_path)
    with template_rendered.connected_to(note):
        walk(ward, auditor, scene)

    print("\n".join(auditor.lines))
    assert auditor.wrong == []
    # Every page there is was among the screens.
    assert _pages() - shown == set()


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
    _, wrong = audit(bad.page)
    assert {each.partition(":")[0] for each in wrong} == {"label", "color-contrast", "target-size"}

    auditor = Auditor(folder=tmp_path)
    auditor.take(Person(bad, ward.running.person("n.ferrow"), ward.running.address), "bad")
    assert any("px wide in a window of 320" in each for each in auditor.wrong)
    assert any("px wide in a window of 640" in each for each in auditor.wrong)
    assert any("dark: color-contrast" in each for each in auditor.wrong)
