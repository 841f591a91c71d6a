"""Looks for what shuts people out of a page, with axe-core and a ruler: nothing leaves the machine."""

from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from axe_playwright_python.base import AXE_SCRIPT
from playwright.sync_api import Page

from tests.browser.devices import DESKTOP
from tests.browser.people import Person

# Every rule for WCAG 2.2, levels A and AA; the one for the size of targets is off unless asked for.
_TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
_COLOURS = {"runOnly": ["color-contrast"], "resultTypes": ["violations", "incomplete"]}


_RULES = {
    "runOnly": {"type": "tag", "values": _TAGS},
    "rules": {"target-size": {"enabled": True}},
    "resultTypes": ["violations", "incomplete"],
}


# WCAG 2.2: 320 CSS pixels are a window of 1,280 at a zoom of 400 % (criterion 1.4.10), 640 at 200 % (1.4.4).
NARROW = {"width": 320, "height": 640}
HALF = {"width": 640, "height": 450}

_UNFOLD = """() => {
  for (const each of document.querySelectorAll("details:not([open])")) {
    each.open = true;
    each.dataset.unfolded = "";
  }
}"""
_FOLD = """() => {
  for (const each of document.querySelectorAll("[data-unfolded]")) {
    each.open = false;
    delete each.dataset.unfolded;
  }
}"""
_WIDEST = "document.documentElement.scrollWidth"
_KINDS = """() => {
  const kind = (each) => `${each.localName}.${[...each.classList].sort().join(".")}`;
  const all = [...document.body.querySelectorAll("*")];
  return [...new Set(all.map((each) => `${kind(each.parentElement)} > ${kind(each)}`))];
}"""


def audit(page: Page, rules: dict[str, Any] | None = None) -> tuple[int, list[str]]:
    """How many rules a page passes, and what is wrong with it or cannot be told, each with its element."""
    page.evaluate(AXE_SCRIPT)
    found = page.evaluate("rules => axe.run(rules)", rules or _RULES)
    wrong = [
        f"{rule['id']}: {node['target']}: {node.get('failureSummary', '')}"
        for kind in ("violations", "incomplete")
        for rule in found[kind]
        for node in rule["nodes"]
    ]
    return len(found["passes"]), wrong


@dataclass(kw_only=True)
class Auditor:
    """Looks at each screen of a walk; what is wrong is collected, so that one run tells all of it."""

    folder: Path
    lines: list[str] = field(default_factory=list)
    wrong: list[str] = field(default_factory=list)
    _seen: set[str] = field(default_factory=set)

    def take(self, person: Person, name: str) -> None:
        """The page that this person has in front: narrow and light, half as wide, and dark."""
        page = person.page
        page.evaluate(_UNFOLD)
        wrong = self._too_wide(page, HALF) + self._too_wide(page, NARROW)
        rules = "the same elements as before"
        if self._has_something_new(page):
            passed, faults = audit(page)
            rules = f"{passed} rules passed"
            page.set_viewport_size({"width": DESKTOP[0], "height": DESKTOP[1]})
            wrong += faults + self._in_the_dark(page)
        page.set_viewport_size({"width": DESKTOP[0], "height": DESKTOP[1]})
        page.evaluate(_FOLD)
        self.lines.append(f"{name}: {rules}, {len(wrong)} faults")
        self.wrong += [f"{name}: {each}" for each in wrong]

    def _has_something_new(self, page: Page) -> bool:
        """Whether there is an element of a kind, in a kind of parent, that was on no screen before.

        A screen that is made of the same alone, as is one with the next nurse's name, is measured only.
        """
        kinds = set(page.evaluate(_KINDS))
        new = not kinds <= self._seen
        self._seen |= kinds
        return new

    @staticmethod
    def _in_the_dark(page: Page) -> list[str]:
        page.emulate_media(color_scheme="dark")
        _, wrong = audit(page, _COLOURS)
        page.emulate_media(color_scheme="light")
        return [f"dark: {each}" for each in wrong]

    @staticmethod
    def _too_wide(page: Page, window: dict[str, int]) -> list[str]:
        page.set_viewport_size({"width": window["width"], "height": window["height"]})
        wide = page.evaluate(_WIDEST)
        return [f"{wide} px wide in a window of {window['width']}"] if wide > window["width"] else []
