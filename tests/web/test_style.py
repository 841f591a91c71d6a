"""The stylesheet: colours only as tokens, every pair of them readable, nothing fetched from elsewhere.

Contrast is the ratio of relative luminances in WCAG 2.2 (https://www.w3.org/TR/WCAG22/#dfn-contrast-ratio).
Its floors: 4.5 for text (1.4.3), 3 for borders of controls (1.4.11). Our own is 7 for values and findings.
"""

import re

import pytest

from app.config import root

FILES = (
    "countersign.css",
    "fields.css",
    "marks.css",
    "media.css",
    "pages.css",
    "checking.css",
    "reading.css",
    "digits.css",
)
SHEET = "\n".join((root() / "static" / each).read_text(encoding="utf-8") for each in FILES)
COLOUR = re.compile(r"#[0-9a-fA-F]{3,8}\b|\b(?:rgb|hsl|lab|lch|oklch)a?\(")

# Ink on ground: pairs that meet on a page, and the least contrast of each.
PAIRS = [
    ("ink", "ground", 7.0),
    ("ink", "panel", 7.0),
    ("ink-2", "ground", 4.5),
    ("ink-2", "panel", 4.5),
    ("action", "ground", 7.0),
    ("on-action", "action", 7.0),
    ("differs", "panel", 7.0),
    ("differs", "ground", 7.0),
    ("differs", "differs-tint", 7.0),
    ("ink", "differs-tint", 7.0),
    ("on-loud", "loud", 7.0),
    ("loud-edge", "ground", 7.0),
    ("consider", "panel", 7.0),
    ("consider", "consider-tint", 4.5),
    ("ink", "consider-tint", 7.0),
    ("rule", "panel", 3.0),
    ("rule", "ground", 3.0),
]


def tokens(block: str) -> dict[str, str]:
    """The colours that one block names."""
    return dict(re.findall(r"--([a-z0-9-]+): (#[0-9a-f]{3,6});", block))


LIGHT, DARK = (tokens(block) for block in re.findall(r":root \{(.*?)\}", SHEET, re.DOTALL)[:2])


def luminance(colour: str) -> float:
    """Relative luminance of a colour written as three or six hexadecimal digits."""
    digits = colour.removeprefix("#")
    if len(digits) == 3:
        digits = "".join(each * 2 for each in digits)
    channels = [int(digits[at : at + 2], 16) / 255 for at in (0, 2, 4)]
    red, green, blue = (
        each / 12.92 if each <= 0.04045 else ((each + 0.055) / 1.055) ** 2.4 for each in channels
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """The contrast ratio of two colours."""
    lighter, darker = sorted((luminance(one), luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def test_the_ratio_is_the_standard_s() -> None:
    """Black on white is 21; #767676 on white is 4.54 (a well-known pair, from memory)."""
    assert contrast("#000", "#fff") == pytest.approx(21)
    assert contrast("#767676", "#fff") == pytest.approx(4.54, abs=0.005)


@pytest.mark.parametrize("theme", [LIGHT, DARK], ids=["light", "dark"])
@pytest.mark.parametrize(("ink", "ground", "least"), PAIRS)
def test_every_pair_is_readable(theme: dict[str, str], ink: str, ground: str, least: float) -> None:
    assert contrast(theme[ink], theme[ground]) >= least


def test_every_file_of_the_sheet_is_read() -> None:
    assert {each.name for each in (root() / "static").glob("*.css")} == set(FILES)


def test_night_has_every_token_of_the_day() -> None:
    assert LIGHT.keys() == DARK.keys()


def test_what_may_not_start_is_deep_red_by_night_too() -> None:
    assert DARK["loud"] == LIGHT["loud"]
    assert luminance(DARK["loud"]) < luminance(DARK["differs"])


def test_colours_stand_only_in_tokens() -> None:
    rules = re.sub(r":root \{.*?\}|/\*.*?\*/", "", SHEET, flags=re.DOTALL)

    assert COLOUR.findall(rules) == []
    assert (
        re.findall(r"(?<![-\w])(?:red|green|blue|orange|yellow|black|white|gr[ae]y)\b(?=[^:{]*;)", rules)
        == []
    )


def test_every_token_that_is_used_is_defined() -> None:
    used = set(re.findall(r"var\(--([a-z0-9-]+)\)", SHEET))
    defined = set(re.findall(r"--([a-z0-9-]+):", SHEET))

    assert used <= defined
    assert defined <= used, "a token that nothing uses"


def test_nothing_is_fetched_from_elsewhere() -> None:
    addresses = re.findall(r"url\(\"?([^)\"]+)", SHEET)

    assert addresses
    for each in addresses:
        assert (root() / "static" / each).is_file(), each
    assert "@import" not in SHEET


def test_shapes_stay_flat() -> None:
    """No shadow, no pill, no motion; a gradient only as the hatching of what is not verified."""
    assert not re.findall(r"box-shadow|text-shadow|animation|transition|filter:", SHEET)
    assert re.findall(r"(?<!repeating-)linear-gradient", SHEET) == []
    assert set(re.findall(r"border-radius: ([^;]+);", SHEET)) <= {"2px"}
    assert "text-overflow" not in SHEET
