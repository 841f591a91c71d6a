"""The contrast of the words in pictures, computed here: axe-core cannot tell it for text inside an image."""

import re
from dataclasses import dataclass

from playwright.sync_api import Page

# WCAG 2.2, criterion 1.4.3, level AA, for text of ordinary size; no word of a picture counts as large.
LEAST = 4.5

_RED, _GREEN, _BLUE = 0.2126, 0.7152, 0.0722
_TRANSPARENT = re.compile(r"rgba\(\d+, \d+, \d+, 0\)")
_RGB = re.compile(r"rgb\((\d+), (\d+), (\d+)\)")

# Each word's own colour, and what lies under its middle as the page is laid out, from the top down.
_WORDS = """() => [...document.querySelectorAll("svg text")].map((word) => {
  word.scrollIntoView({ block: "center", inline: "center" });
  const box = word.getBoundingClientRect();
  const pile = document.elementsFromPoint(box.x + box.width / 2, box.y + box.height / 2);
  const style = getComputedStyle(word);
  const faded = [];
  for (let each = word; each; each = each.parentElement) {
    faded.push(getComputedStyle(each).opacity);
  }
  return {
    words: word.textContent,
    ink: style.fill,
    faded: faded.some((each) => each !== "1") || style.fillOpacity !== "1",
    pile: pile.slice(1).map((each) => ({
      name: each.localName,
      ground: getComputedStyle(each).backgroundColor,
      image: getComputedStyle(each).backgroundImage,
    })),
    met: pile[0] === word,
  };
})"""


@dataclass(frozen=True, kw_only=True)
class Word:
    """One text in a picture: its colour, and the colour of the ground that it stands on."""

    words: str
    ink: str
    ground: str

    @property
    def ratio(self) -> float:
        """The contrast, from 1 to 21; 0 where it cannot be told."""
        ink, ground = _rgb(self.ink), _rgb(self.ground)
        return contrast(ink, ground) if ink and ground else 0.0


def words_in_pictures(page: Page) -> list[Word]:
    """Every text in every picture, with its colours in the page as it is shown now."""
    return [
        Word(
            words=each["words"],
            ink="cannot be told: it is faded" if each["faded"] else each["ink"],
            ground=_ground(each["pile"]) if each["met"] else "cannot be told: something covers it",
        )
        for each in page.evaluate(_WORDS)
    ]


def pale_words(page: Page) -> list[str]:
    """What is wrong with the words in pictures: too pale on their ground, or not to be told."""
    return [
        f"picture-contrast: {each.words!r}: {each.ink} on {each.ground}, {each.ratio:.2f}"
        for each in words_in_pictures(page)
        if each.ratio < LEAST
    ]


def contrast(one: tuple[int, int, int], other: tuple[int, int, int]) -> float:
    """The ratio of WCAG 2.2, "contrast ratio": (L1 + 0.05) / (L2 + 0.05), the lighter one above."""
    darker, lighter = sorted((_luminance(one), _luminance(other)))
    return (lighter + 0.05) / (darker + 0.05)


def _luminance(colour: tuple[int, int, int]) -> float:
    """WCAG 2.2, "relative luminance"."""
    red, green, blue = (_linear(each / 255) for each in colour)
    return _RED * red + _GREEN * green + _BLUE * blue


def _linear(part: float) -> float:
    return part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4


def _ground(pile: list[dict[str, str]]) -> str:
    """The first colour under a word; no line, no picture and nothing half transparent may come before it."""
    for each in pile:
        if each["name"] == "path":
            return "cannot be told: a line lies under it"
        if each["image"] != "none":
            return f"cannot be told: an image lies under it in {each['name']}"
        if not _TRANSPARENT.fullmatch(each["ground"]):
            return each["ground"]
    return "cannot be told: nothing has a colour"


def _rgb(said: str) -> tuple[int, int, int] | None:
    found = _RGB.fullmatch(said)
    return (int(found[1]), int(found[2]), int(found[3])) if found else None
