"""From a page and its style sheet to the bytes of a PDF; nothing is fetched but the two bundled fonts."""

import warnings
from typing import Any

from weasyprint import CSS, HTML
from weasyprint.text.fonts import FontConfiguration
from weasyprint.urls import FatalURLFetchingError, URLFetcher, URLFetcherResponse

from app.config import root

FONTS = "countersign-fonts:"
_FILES = ("hyperlegible-regular.woff2", "hyperlegible-bold.woff2")
# Archival, with the reading order inside, and able to carry the record's data as an attachment (ISO 19005-3).
_VARIANT = "pdf/a-3a"


class ForbiddenFetchError(Exception):
    """A page asked for something that is not part of it: no PDF is made, and somebody should look why."""


class _BundledFonts(URLFetcher):  # type: ignore[misc]  # the library publishes no types
    """Gives the two fonts, and refuses any other address that text may have brought in."""

    def __init__(self) -> None:
        super().__init__()
        self.refused = False

    def fetch(self, url: str, headers: Any = None) -> URLFetcherResponse:  # noqa: ANN401, ARG002  # the library's
        name = url.removeprefix(FONTS)
        if name == url or name not in _FILES:
            # Any other exception is swallowed and the page made without it; inside a drawing even this one.
            self.refused = True
            raise FatalURLFetchingError
        return URLFetcherResponse(url, (root() / "static" / "fonts" / name).read_bytes())


def make_pdf(page: str, *sheets: str) -> bytes:
    """The PDF of a page (HTML) with style sheets (CSS): for the same text the same bytes, on every run."""
    fetcher = _BundledFonts()
    try:
        content = _written(page, sheets, fetcher)
    except FatalURLFetchingError as error:
        raise ForbiddenFetchError from error
    if fetcher.refused:
        raise ForbiddenFetchError
    return content


def _written(page: str, sheets: tuple[str, ...], fetcher: _BundledFonts) -> bytes:
    fonts = FontConfiguration()
    styles = [CSS(string=sheet, url_fetcher=fetcher, font_config=fonts) for sheet in sheets]
    with warnings.catch_warnings():
        # The library leaves the file of its own colour profile to the garbage collector.
        warnings.filterwarnings("ignore", "unclosed file .*sRGB2014", ResourceWarning)
        content = HTML(string=page, url_fetcher=fetcher).write_pdf(
            stylesheets=styles, font_config=fonts, pdf_variant=_VARIANT
        )
    assert isinstance(content, bytes)  # noqa: S101  # no target was given
    return content
