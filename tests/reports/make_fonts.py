"""Make the fonts in static/fonts anew: `.venv/bin/python -m tests.reports.make_fonts`.

Atkinson Hyperlegible tells look-alike characters apart, but its figures have different widths, and decimal
points would not stand on one line. It holds a second set of figures of one width; here that set takes the
place of the first, so that no page, no drawing and no PDF has to ask for it.
"""

from pathlib import Path

from fontpkg_atkinson_hyperlegible import __file__ as package
from fontTools.subset import Options, Subsetter  # type: ignore[import-untyped]  # publishes no types
from fontTools.ttLib import TTFont  # type: ignore[import-untyped]  # publishes no types

from app.config import root

ORIGINAL = Path(package).parent / "files"
FOLDER = root() / "static" / "fonts"
WEIGHTS = ("Regular", "Bold")
FIGURES = {
    "0": "zero.tf",
    "1": "one.tf",
    "2": "two.tf",
    "3": "three.tf",
    "4": "four.tf",
    "5": "five.tf",
    "6": "six.tf",
    "7": "seven.tf",
    "8": "eight.tf",
    "9": "nine.tf",
}
# Accents typed apart from their letter, the letters of some languages, the space between two letters.
FEATURES = ["ccmp", "locl", "mark", "mkmk", "kern"]


def main() -> None:
    """Write one compressed file for each weight, and the licence beside them."""
    for weight in WEIGHTS:
        font = TTFont(ORIGINAL / f"AtkinsonHyperlegible-{weight}.ttf", recalcTimestamp=False)
        give_figures_one_width(font)
        rename(font)
        subset(font)
        font.flavor = "woff2"
        font.save(FOLDER / f"hyperlegible-{weight.lower()}.woff2")
    (FOLDER / "LICENSE").write_text(
        (ORIGINAL.parent / "LICENSE").read_text(encoding="utf-8"), encoding="utf-8"
    )


def give_figures_one_width(font: TTFont) -> None:
    """Let the characters 0 to 9 stand for the figures of one width."""
    for table in font["cmap"].tables:
        for figure, glyph in FIGURES.items():
            if ord(figure) in table.cmap:
                table.cmap[ord(figure)] = glyph


def rename(font: TTFont) -> None:
    """A changed font does not go by the name of the original, though its licence reserves none."""
    for record in font["name"].names:
        if record.nameID in {1, 3, 4, 6, 16}:
            separator = "" if record.nameID == 6 else " "
            changed = record.toUnicode().replace(
                f"Atkinson{separator}Hyperlegible", f"Atkinson{separator}Hyperlegible{separator}Tabular"
            )
            font["name"].setName(changed, record.nameID, record.platformID, record.platEncID, record.langID)


def subset(font: TTFont) -> None:
    """Keep every character, and of the features those that a record needs."""
    options = Options()
    options.layout_features = FEATURES
    options.hinting = False
    options.name_IDs = ["*"]
    options.notdef_outline = True
    options.recalc_timestamp = False
    subsetter = Subsetter(options)
    subsetter.populate(unicodes=font.getBestCmap())
    subsetter.subset(font)


if __name__ == "__main__":
    main()
