"""From a page and its style sheet to the bytes of a PDF; nothing is fetched but the two bundled fonts."""

import gc
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC
from threading import Lock
from typing import Any

from weasyprint import CSS, HTML, Attachment
from weasyprint.text.fonts import FontConfiguration
from weasyprint.urls import FatalURLFetchingError, URLFetcher, URLFetcherResponse

from app.config import root
from app.reports.attachments import Attached

FONTS = "countersign-fonts:"
_FILES = ("hyperlegible-regular.woff2", "hyperlegible-bold.woff2")
# Archival, with the reading order inside, and able to carry the record's data as an attachment (ISO 19005-3).
_VARIANT = "pdf/a-3a"
_DRAWING = Lock()


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


class _Given(URLFetcher):  # type: ignore[misc]  # the library publishes no types
    """Gives one attachment, with its media type, which the library could only guess from the name."""

    def __init__(self, attached: Attached) -> None:
        super().__init__()
        self._attached = attached

    def fetch(self, url: str, headers: Any = None) -> URLFetcherResponse:  # noqa: ANN401, ARG002  # the library's
        return URLFetcherResponse(
            url, self._attached.content, headers={"Content-Type": self._attached.media_type}
        )


def make_pdf(page: str, *sheets: str, attached: tuple[Attached, ...] = ()) -> bytes:
    """The PDF of a page (HTML) with style sheets (CSS): for the same text the same bytes, on every run."""
    fetcher = _BundledFonts()
    try:
        # The sweeper draws in a thread of its own while a request draws a paper: the library's fonts and the
        # process's warnings and garbage collector know no threads.
        with _DRAWING, _without_collecting():
            content = _written(page, sheets, attached, fetcher)
    except FatalURLFetchingError as error:
        raise ForbiddenFetchError from error
    if fetcher.refused:
        raise ForbiddenFetchError
    return content


def _written(
    page: str, sheets: tuple[str, ...], attached: tuple[Attached, ...], fetcher: _BundledFonts
) -> bytes:
    fonts = FontConfiguration()
    styles = [CSS(string=sheet, url_fetcher=fetcher, font_config=fonts) for sheet in sheets]
    with warnings.catch_warnings():
        # The library leaves the file of its own colour profile to the garbage collector.
        warnings.filterwarnings("ignore", "unclosed file .*sRGB2014", ResourceWarning)
        content = HTML(string=page, url_fetcher=fetcher).write_pdf(
            stylesheets=styles,
            font_config=fonts,
            pdf_variant=_VARIANT,
            attachments=[_attachment(each) for each in attached],
            finisher=_name_each_file_once,
        )
    assert isinstance(content, bytes)  # noqa: S101  # no target was given
    return content


def _attachment(attached: Attached) -> Attachment:
    at = attached.at.astimezone(UTC)
    return Attachment(
        url=f"countersign-attached:{attached.name}",
        url_fetcher=_Given(attached),
        name=attached.name,
        description=attached.description,
        relationship=attached.relationship.value,
        created=at,
        modified=at,
    )


def _name_each_file_once(_document: object, pdf: Any) -> None:  # noqa: ANN401  # the library publishes no types
    """The library lists attachments twice as the document's own files."""
    files = pdf.catalog.get("AF", [])
    files[:] = dict.fromkeys(files)


@contextmanager
def _without_collecting() -> Iterator[None]:
    """Layout makes many objects that all live to its end: looking for garbage among them is in vain."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()
