"""Training cards on paper: what stands at an invented bed, a card for each source, to be cut apart.

They look like nothing in use: no label, no order sheet and no screen of any device is imitated.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime

from app.config import root
from app.records.reading import Answers
from app.records.sources import Source
from app.reports.page import environment, style_sheet
from app.reports.shown_fields import CHART, LINE_END, MONITOR, SETTINGS, SYRINGE, WRISTBAND
from app.reports.times import day
from app.words.names import FOR_TRAINING, SOURCES

# In two columns, as they are best cut.
_COLUMNS = (
    (Source.WRISTBAND, Source.ORDER, Source.CHART),
    (Source.LABEL, Source.DEVICE, Source.MONITOR),
)
_ROWS = (*WRISTBAND, *SETTINGS, *SYRINGE, *CHART, *MONITOR)


@dataclass(frozen=True, kw_only=True)
class PrintedSet:
    """One set by its number; `packs` are the words for the line sets that are named on it."""

    number: int
    answers: Answers
    packs: Mapping[str, str]


@dataclass(frozen=True, kw_only=True)
class Card:
    """One card: from which source, and its lines."""

    source: str
    lines: tuple[tuple[str, str], ...]


def render_cards(sets: Iterable[PrintedSet], *, hospital: str, at: datetime) -> bytes:
    """The PDF: a page for each set."""
    # Loading the renderer takes half a second, which no other command should wait for.
    from app.reports.pdf import make_pdf  # noqa: PLC0415

    style = (root() / "templates" / "reports" / "cards.css").read_text(encoding="utf-8")
    return make_pdf(cards_page(sets, hospital=hospital, at=at), style_sheet(), style)


def cards_page(sets: Iterable[PrintedSet], *, hospital: str, at: datetime) -> str:
    """The page (HTML) that the PDF is made from."""
    return (
        environment()
        .get_template("cards.html")
        .render(
            sets=[(each.number, columns_of(each)) for each in sets],
            hospital=hospital,
            for_training=FOR_TRAINING,
            dealt=day(at),
            made_at=at.isoformat(timespec="seconds"),
        )
    )


def columns_of(each: PrintedSet) -> tuple[tuple[Card, ...], ...]:
    """The cards of a set, as they lie on the page."""
    return tuple(
        tuple(Card(source=SOURCES[source], lines=tuple(_lines(source, each))) for source in column)
        for column in _COLUMNS
    )


def _lines(source: Source, of: PrintedSet) -> Iterator[tuple[str, str]]:
    answers = of.answers[source]
    for shown in _ROWS:
        if source in shown.row.sources:
            text = shown.said(answers)
            if text is not None:
                yield shown.row.label, of.packs.get(text, text).replace(LINE_END, "; ")
