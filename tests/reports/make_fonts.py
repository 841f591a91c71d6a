"""Make the fonts in static/fonts anew: `.venv/bin/python -m tests.reports.make_fonts`.

Atkinson Hyperlegible tells look-alike characters apart, but its figures have different widths, and decimal
points would not stand on one line. It holds a second set of figures of one width; here that set takes the
place of the first, so that no page, no drawing and no PDF has to ask for it.

Its zero is struck through, which tells it from the letter O in a lot or a code. In a dose that is a fault: it
is on the *List of Error-Prone Abbreviations, Symbols, and Dose Designations* of the Institute for Safe
Medication Practices (edition of 2015, among the symbols: zero with a stroke, the null sign, has been mistaken
for 4, 6, 8 and 9; to be written 0). So the plain zero is the one that a page gets unless it asks for the
other, by the feature that OpenType has for it, `zero`.
"""

from pathlib import Path

from fontpkg_atkinson_hyperlegible import __file__ as package
from fontTools.otlLib.builder import (  # type: ignore[import-untyped]  # publishes no types
    buildLookup,
    buildSingleSubstSubtable,
)
from fontTools.pens.recordingPen import RecordingPen  # type: ignore[import-untyped]  # publishes no types
from fontTools.pens.ttGlyphPen import TTGlyphPen  # type: ignore[import-untyped]  # publishes no types
from fontTools.subset import Options, Subsetter  # type: ignore[import-untyped]  # publishes no types
from fontTools.ttLib import TTFont  # type: ignore[import-untyped]  # publishes no types
from fontTools.ttLib.tables.otTables import (  # type: ignore[import-untyped]  # publishes no types
    Feature,
    FeatureRecord,
)

from app.config import root

ORIGINAL = Path(package).parent / "files"
FOLDER = root() / "static" / "fonts"
WEIGHTS = ("Regular", "Bold")
FIGURES = {
    "0": "zero.open",
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
# Accents typed apart from their letter, the letters of some languages, the space between two letters, and the
# zero of lots and codes.
FEATURES = ["ccmp", "locl", "mark", "mkmk", "kern", "zero"]


def main() -> None:
    """Write one compressed file for each weight, and the licence beside them."""
    for weight in WEIGHTS:
        font = TTFont(ORIGINAL / f"AtkinsonHyperlegible-{weight}.ttf", recalcTimestamp=False)
        draw_plain_zero(font)
        offer_struck_zero(font)
        give_figures_one_width(font)
        rename(font)
        subset(font)
        font.flavor = "woff2"
        font.save(FOLDER / f"hyperlegible-{weight.lower()}.woff2")
    (FOLDER / "LICENSE").write_text(
        (ORIGINAL.parent / "LICENSE").read_text(encoding="utf-8"), encoding="utf-8"
    )


def draw_plain_zero(font: TTFont) -> None:
    """The struck zero's outline with its two halves of a counter made one.

    Each half holds one quarter of the whole ellipse; the other two are their mirror images.
    """
    drawn = RecordingPen()
    font.getGlyphSet()["zero.tf"].draw(drawn)
    component = drawn.value[0][1][1]
    drawn = RecordingPen()
    font.getGlyphSet()["zero"].draw(drawn)
    outer = drawn.value[:6]
    above, below = drawn.value[6:11], drawn.value[11:]
    right, (*upper, top) = above[1][1][-1], above[2][1]
    (*lower, bottom) = below[-2][1]
    left = mirrored(right, top)
    pen = TTGlyphPen(None)
    for step, points in outer:
        getattr(pen, step)(*(moved(point, component) for point in points))
    inner = (
        (*upper, top),
        (*(mirrored(each, top) for each in reversed(upper)), left),
        (*lower, bottom),
        (*(mirrored(each, top) for each in reversed(lower)), right),
    )
    pen.moveTo(moved(right, component))
    for quarter in inner:
        pen.qCurveTo(*(moved(point, component) for point in quarter))
    pen.closePath()
    font["glyf"]["zero.open"] = pen.glyph()
    font["hmtx"]["zero.open"] = font["hmtx"]["zero.tf"]


def mirrored(point: tuple[int, int], middle: tuple[int, int]) -> tuple[int, int]:
    """The point as far to the other side of the middle."""
    return 2 * middle[0] - point[0], point[1]


def moved(point: tuple[int, int], component: tuple[float, ...]) -> tuple[int, int]:
    """The point where the original puts it in its set of figures of one width."""
    return point[0] + round(component[4]), point[1] + round(component[5])


def offer_struck_zero(font: TTFont) -> None:
    """Give a text that asks for the feature `zero` the struck one, in every script and language."""
    table = font["GSUB"].table
    table.LookupList.Lookup.append(buildLookup([buildSingleSubstSubtable({"zero.open": "zero.tf"})]))
    record = FeatureRecord()
    record.FeatureTag, record.Feature = "zero", Feature()
    record.Feature.FeatureParams = None
    record.Feature.LookupListIndex, record.Feature.LookupCount = [len(table.LookupList.Lookup) - 1], 1
    table.FeatureList.FeatureRecord.append(record)
    # The subsetter goes by the counts.
    table.LookupList.LookupCount = len(table.LookupList.Lookup)
    table.FeatureList.FeatureCount = len(table.FeatureList.FeatureRecord)
    for script in table.ScriptList.ScriptRecord:
        languages = [each.LangSys for each in script.Script.LangSysRecord]
        for language in filter(None, (script.Script.DefaultLangSys, *languages)):
            language.FeatureIndex.append(len(table.FeatureList.FeatureRecord) - 1)


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
