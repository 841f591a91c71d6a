"""Reads a served page as strictly as a browser's specification allows."""

from xml.etree.ElementTree import Element

import html5lib


def parse_html(body: str | bytes) -> Element:
    """The page as a tree; raises html5lib's ParseError at the first fault, such as an orphan tag."""
    text = body.decode("utf-8") if isinstance(body, bytes) else body
    parser = html5lib.HTMLParser(strict=True, namespaceHTMLElements=False)
    page = parser.parse(text)
    if not isinstance(page, Element):
        raise TypeError(page)
    return page
