"""Reads a served page as strictly as a browser's specification allows."""

import re
from copy import deepcopy
from functools import lru_cache
from xml.etree.ElementTree import Element

import html5lib

# An id or a token, drawn anew for each test, where all letters and digits read alike: in words or in a value,
# neither at the beginning of a tag nor beside a character's name or number.
_DRAWN = re.compile(r"(?<![0-9A-Za-z&#<;])(?:[0-9a-f]{32}){1,2}(?![0-9A-Za-z&])")
_STAND_IN = re.compile(r"[0-9a-f]{32,}")
_ZEROS = "0" * 24


def parse_html(body: str | bytes) -> Element:
    """The page as a tree; raises html5lib's ParseError at the first fault, such as an orphan tag.

    Pages that differ in nothing but what was drawn are one page to a parser, and are read once.
    """
    text = body.decode("utf-8") if isinstance(body, bytes) else body
    if _ZEROS in text:
        # What stands in could not be told from it.
        return _parsed(text)
    drawn: dict[str, str] = {}

    def stand_in(found: re.Match[str]) -> str:
        return drawn.setdefault(found[0], f"{len(drawn):0{len(found[0])}x}")

    page = deepcopy(_parsed_once(_DRAWN.sub(stand_in, text)))
    _put_back(page, {stand_in: real for real, stand_in in drawn.items()})
    return page


def _parsed(text: str) -> Element:
    page = html5lib.HTMLParser(strict=True, namespaceHTMLElements=False).parse(text)
    if not isinstance(page, Element):
        raise TypeError(page)
    return page


_parsed_once = lru_cache(maxsize=256)(_parsed)


def _put_back(page: Element, drawn: dict[str, str]) -> None:
    """Put what was drawn in the place of what stood in for it."""

    def real(text: str) -> str:
        return _STAND_IN.sub(lambda found: drawn.get(found[0], found[0]), text)

    for each in page.iter():
        each.text, each.tail = each.text and real(each.text), each.tail and real(each.tail)
        for name, value in each.attrib.items():
            each.attrib[name] = real(value)
