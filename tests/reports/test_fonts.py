"""The shipped fonts: figures of one width (OpenType `hmtx`, `GPOS`), every letter, small, as described."""

from pathlib import Path

import pytest
from fontTools.ttLib import TTFont  # type: ignore[import-untyped]  # publishes no types

from app.config import root
from tests.reports import make_fonts

FOLDER = root() / "static" / "fonts"
FILES = ("hyperlegible-regular.woff2", "hyperlegible-bold.woff2")
# The letters of the languages of Europe's west, north and centre that names on a ward are written in.
LETTERS = (
    "ÁÀÂÄÃÅÆÇÉÈÊËÍÌÎÏÑÓÒÔÖÕØŒÚÙÛÜÝŸŠŽáàâäãåæçéèêëíìîïñóòôöõøœßúùûüýÿšžąćęłńśźżĄĆĘŁŃŚŹŻčďěňřťůČĎĚŇŘŤŮğışĞŞőűŐŰ"
)
SIGNS = "0123456789.,-=%/()+:;'\u2013\u2019\u00d7\u2260"


@pytest.mark.parametrize("name", FILES)
def test_all_figures_have_one_width(name: str) -> None:
    font = TTFont(FOLDER / name)
    glyphs = [font.getBestCmap()[ord(figure)] for figure in "0123456789"]

    assert len({font["hmtx"][glyph][0] for glyph in glyphs}) == 1
    assert len(set(glyphs)) == 10
    # Moved closer to a neighbour, a figure would leave its column.
    assert not kerned(font) & set(glyphs)


@pytest.mark.parametrize("name", FILES)
def test_no_dose_has_a_struck_zero_and_a_lot_can_ask_for_it(name: str) -> None:
    """As the list of error-prone notations asks that make_fonts.py names."""
    font = TTFont(FOLDER / name)
    plain, struck = font.getBestCmap()[ord("0")], struck_zero(font)
    outline = font["glyf"][plain]

    assert outline.numberOfContours == 2, "an outline and one whole counter"
    drawn = font["glyf"][struck].components[0]
    original = font["glyf"][drawn.glyphName]
    assert original.numberOfContours == 3, "the stroke halves the counter"
    assert (outline.yMin, outline.yMax) == (original.yMin, original.yMax)
    assert (outline.xMin, outline.xMax) == (original.xMin + drawn.x, original.xMax + drawn.x)
    assert font["hmtx"][plain] == font["hmtx"][struck]


def struck_zero(font: TTFont) -> str:
    """What the feature `zero` puts in the place of the plain one, in every script."""
    table = font["GSUB"].table
    tags = [each.FeatureTag for each in table.FeatureList.FeatureRecord]
    at = tags.index("zero")
    assert all(at in each.Script.DefaultLangSys.FeatureIndex for each in table.ScriptList.ScriptRecord)
    (lookup,) = table.FeatureList.FeatureRecord[at].Feature.LookupListIndex
    return str(table.LookupList.Lookup[lookup].SubTable[0].mapping[font.getBestCmap()[ord("0")]])


def kerned(font: TTFont) -> set[str]:
    """Every glyph that a pair of `GPOS` moves, as first or as second."""
    found: set[str] = set()
    for lookup in font["GPOS"].table.LookupList.Lookup:
        for table in (getattr(each, "ExtSubTable", each) for each in lookup.SubTable):
            if table.LookupType == 2:
                found |= set(table.Coverage.glyphs)
                if table.Format == 1:
                    found |= {pair.SecondGlyph for each in table.PairSet for pair in each.PairValueRecord}
                else:
                    found |= set(table.ClassDef2.classDefs)
    return found


def test_the_original_needs_the_change() -> None:
    original = make_fonts.ORIGINAL / "AtkinsonHyperlegible-Regular.ttf"
    font = TTFont(original)

    assert len({font["hmtx"][font.getBestCmap()[ord(figure)]][0] for figure in "0123456789"}) > 1


@pytest.mark.parametrize("name", FILES)
def test_names_and_doses_can_be_written(name: str) -> None:
    known = TTFont(FOLDER / name).getBestCmap()

    assert [character for character in LETTERS + SIGNS if ord(character) not in known] == []


@pytest.mark.parametrize("name", FILES)
def test_a_file_is_small(name: str) -> None:
    assert (FOLDER / name).stat().st_size < 25_000


def test_they_are_what_the_script_makes(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(make_fonts, "FOLDER", tmp_path)
    make_fonts.main()

    assert (tmp_path / "LICENSE").read_bytes() == (FOLDER / "LICENSE").read_bytes()
    for name in FILES:
        made, shipped = TTFont(tmp_path / name), TTFont(FOLDER / name)
        assert made.getBestCmap() == shipped.getBestCmap()
        assert made["hmtx"].metrics == shipped["hmtx"].metrics
        assert all(made["glyf"][glyph] == shipped["glyf"][glyph] for glyph in shipped.getGlyphOrder())
