"""Looks for what shuts people out of a page, with axe-core and a ruler: nothing leaves the machine."""

from collections import Counter, defaultdict
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from time import perf_counter
from typing import Any

from axe_playwright_python.base import AXE_SCRIPT
from playwright.sync_api import Page, ViewportSize

from tests.browser.contrast import pale_words, words_in_pictures
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
# Of text inside an image it cannot tell the contrast: that of a picture's words is computed apart.
_CONFIGURED = """() => axe.configure({
  rules: [{ id: "color-contrast", selector: "*:not(svg text)" }],
})"""
_IS_THERE = "() => 'axe' in window"


# WCAG 2.2: 320 CSS pixels are a window of 1,280 at a zoom of 400 % (criterion 1.4.10), 640 at 200 % (1.4.4).
NARROW = ViewportSize(width=320, height=640)
HALF = ViewportSize(width=640, height=450)
_WHOLE = ViewportSize(width=DESKTOP[0], height=DESKTOP[1])

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
_WIDEST = "html => html.scrollWidth"
_KINDS = """() => {
  const kind = (each) => `${each.localName}.${[...each.classList].sort().join(".")}`;
  const all = [...document.body.querySelectorAll("*")];
  return [...new Set(all.map((each) => `${kind(each.parentElement)} > ${kind(each)}`))];
}"""


@dataclass(frozen=True, kw_only=True)
class Found:
    """What axe-core found in a page: rules passed, rules broken, and rules that it cannot tell about."""

    passed: int
    violations: list[str]
    incomplete: list[str]

    @property
    def wrong(self) -> list[str]:
        """What is wrong, and what nobody can tell to be right."""
        return self.violations + self.incomplete


def audit(page: Page, rules: dict[str, Any] | None = None) -> Found:
    """Let axe-core look at a page."""
    if not page.evaluate(_IS_THERE):
        page.evaluate(AXE_SCRIPT)
        page.evaluate(_CONFIGURED)
    found = page.evaluate("rules => axe.run(rules)", rules or _RULES)
    return Found(
        passed=len(found["passes"]),
        violations=[*_told(found["violations"])],
        incomplete=[*_told(found["incomplete"])],
    )


def _told(rules: list[dict[str, Any]]) -> Iterator[str]:
    for rule in rules:
        for node in rule["nodes"]:
            yield f"{rule['id']}: {node['target']}: {node.get('failureSummary', '')}"


@dataclass(kw_only=True)
class Auditor:
    """Looks at each screen of a walk; what is wrong is collected, so that one run tells all of it."""

    folder: Path
    # Of so many screens with something new on them axe-core looks at one; the ruler is laid to all.
    one_of: int = 1
    lines: list[str] = field(default_factory=list)
    wrong: list[str] = field(default_factory=list)
    counts: Counter[str] = field(default_factory=Counter)
    seconds: defaultdict[str, float] = field(default_factory=lambda: defaultdict(float))
    _seen: set[str] = field(default_factory=set)
    _passed_by: int = 0

    def take(self, person: Person, name: str) -> None:
        """The page that this person has in front: narrow and light, half as wide, and dark."""
        page = person.page
        page.evaluate(_UNFOLD)
        with self._timed("widths"):
            wrong = self._too_wide(page, HALF) + self._too_wide(page, NARROW)
        rules = "no rule asked"
        if self._has_something_new(page):
            self._at_full_height(page, NARROW)
            found = self._audited(page, "light")
            rules = f"{found.passed} rules passed"
            self._at_full_height(page, _WHOLE)
            wrong += found.wrong + self._in_the_dark(page) + self._pictures(page)
        page.set_viewport_size(_WHOLE)
        page.evaluate(_FOLD)
        self.counts["screens"] += 1
        self.lines.append(f"{name}: {rules}, {len(wrong)} faults")
        self.wrong += [f"{name}: {each}" for each in wrong]

    def summary(self) -> str:
        """The counts of the whole walk, and where its time went."""
        told = ", ".join(f"{number} {what}" for what, number in self.counts.items())
        times = ", ".join(f"{what} {seconds:.0f} s" for what, seconds in self.seconds.items())
        return f"axe-core: {told}. Time: {times}."

    def _audited(self, page: Page, light: str, rules: dict[str, Any] | None = None) -> Found:
        with self._timed(f"axe-core in the {light}"):
            found = audit(page, rules)
        self.counts["rules passed"] += found.passed
        self.counts["violations"] += len(found.violations)
        self.counts["incomplete"] += len(found.incomplete)
        return found

    def _has_something_new(self, page: Page) -> bool:
        """Whether to look: there is an element of a kind, in a kind of parent, that was not looked at before.

        A screen that is made of the same alone, as is one with the next nurse's name, is measured only.
        """
        kinds = set(page.evaluate(_KINDS))
        if kinds <= self._seen:
            return False
        self._passed_by += 1
        if self._passed_by % self.one_of:
            # What is new on it stays so, for the next screen that has it.
            self.counts["screens passed by"] += 1
            return False
        self._seen |= kinds
        return True

    @staticmethod
    def _at_full_height(page: Page, window: ViewportSize) -> None:
        """As wide as the window and as high as the page: what stays in sight then covers nothing."""
        page.set_viewport_size(window)
        height = page.evaluate("document.documentElement.scrollHeight")
        page.set_viewport_size({"width": window["width"], "height": max(height, window["height"])})

    def _in_the_dark(self, page: Page) -> list[str]:
        page.emulate_media(color_scheme="dark")
        found = self._audited(page, "dark", _COLOURS)
        page.emulate_media(color_scheme="light")
        return [f"dark: {each}" for each in found.wrong]

    def _pictures(self, page: Page) -> list[str]:
        """The words in pictures: in the light, in the dark, and where the system forces its own colours."""
        with self._timed("words in pictures"):
            wrong = pale_words(page)
            self.counts["words in pictures, each three times"] += len(words_in_pictures(page))
            page.emulate_media(color_scheme="dark")
            wrong += [f"dark: {each}" for each in pale_words(page)]
            page.emulate_media(color_scheme="light", forced_colors="active")
            wrong += [f"forced colours: {each}" for each in pale_words(page)]
            page.emulate_media(forced_colors="none")
        return wrong

    @contextmanager
    def _timed(self, what: str) -> Iterator[None]:
        begun = perf_counter()
        yield
        self.seconds[what] += perf_counter() - begun

    @staticmethod
    def _too_wide(page: Page, window: ViewportSize) -> list[str]:
        page.set_viewport_size(window)
        wide = page.locator("html").evaluate(_WIDEST)
        return [f"{wide} px wide in a window of {window['width']}"] if wide > window["width"] else []
