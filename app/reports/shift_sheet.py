"""The charge nurse's shift sheet on paper: state alone, no dose and no volume, on one page if it can be."""

import io
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from app.records.checkpoint import LABEL_WIDTH, Checkpoint, as_text
from app.records.document import CAUTIONS
from app.reports.downtime_forms import downtime_style, never_for_a_patient
from app.reports.page import environment, style_sheet
from app.reports.times import Clock

DENSE = "dense"
"""How the sheet is set where it would else need a second page: as small as a tired person still reads."""


@dataclass(frozen=True, kw_only=True)
class SheetLine:
    """One bed: what there is, how far, and since when; `loud` where somebody is wanted at once."""

    bed: str
    what: str
    progress: str
    since: datetime | None
    loud: bool = False


@dataclass(frozen=True, kw_only=True)
class SheetDue:
    """One thing that is due, and at which beds by when; each once for all beds, the first due at the top."""

    words: str
    overdue: bool
    beds: tuple[tuple[str, datetime], ...]


@dataclass(frozen=True, kw_only=True)
class SheetCaught:
    """How often one thing was found in checks that have ended, by how it stood in the way."""

    words: str
    stops: int
    cautions: int


@dataclass(frozen=True, kw_only=True)
class PaperShiftSheet:
    """The sheet of one unit as it was at a moment, for whom.

    `caught_since` is the shift change before the last one. `partly_closed`: whoever asks reads blind at a
    bed, of which the sheet says its state alone. `also` is what is told besides, a sentence each.
    """

    site: str
    zone: str
    unit: str
    invented: bool
    training: bool
    at: datetime
    by: str
    lines: tuple[SheetLine, ...]
    due: tuple[SheetDue, ...]
    syringe_low: tuple[str, ...]
    also: tuple[str, ...]
    ended: int
    caught: tuple[SheetCaught, ...]
    caught_since: datetime
    partly_closed: bool
    checkpoint: tuple[tuple[str, str], ...]


def checkpoint_rows(checkpoint: Checkpoint) -> tuple[tuple[str, str], ...]:
    """A checkpoint as rows of label and value, from which it can be typed in again."""
    rows: list[tuple[str, str]] = []
    for line in as_text(checkpoint).splitlines()[1:]:
        label, value = line[:LABEL_WIDTH].strip(), line[LABEL_WIDTH:]
        if not label:
            label, before = rows.pop()
            value = f"{before} {value}"
        rows.append((label, value))
    return tuple(rows)


def render_shift_sheet(sheet: PaperShiftSheet) -> bytes:
    """The PDF: on one page as far as it can be read there, else on more, which says so."""
    # Loading the renderer takes half a second, which nobody who asks for another page should wait for.
    from pypdf import PdfReader  # noqa: PLC0415

    from app.reports.pdf import make_pdf  # noqa: PLC0415

    def made(density: str, pages: int = 1) -> tuple[bytes, int]:
        content = make_pdf(shift_page(sheet, density=density, pages=pages), style_sheet(), downtime_style())
        return content, len(PdfReader(io.BytesIO(content)).pages)

    usual, pages = made("")
    if pages == 1:
        return usual
    dense, of_dense = made(DENSE)
    return dense if of_dense == 1 else made("", pages)[0]


def shift_page(sheet: PaperShiftSheet, *, density: str = "", pages: int = 1) -> str:
    """The page (HTML) that the PDF is made from."""
    given: Mapping[str, object] = {
        "sheet": sheet,
        "density": density,
        "pages": pages,
        "never": never_for_a_patient(invented=sheet.invented, training=sheet.training),
        "clock": Clock(zone=ZoneInfo(sheet.zone), opened_at=sheet.at),
        "cautions": CAUTIONS,
        "made_at": sheet.at.isoformat(timespec="seconds"),
    }
    return environment().get_template("shift_sheet.html").render(given)
