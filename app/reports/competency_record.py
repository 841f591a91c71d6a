"""A person's record of checks on training cards, to be signed by hand by both who went through it."""

from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from app.config import root
from app.reports.page import environment, style_sheet
from app.reports.times import Clock
from app.review.competency import Competency
from app.words.names import FOR_TRAINING
from app.words.training import caught_share_words, caught_words, median_words, took_words


@dataclass(frozen=True, kw_only=True)
class CompetencyRecord:
    """Whose, as of when, and what it comes to."""

    hospital: str
    zone: str
    name: str
    staff_number: str
    at: datetime
    competency: Competency


def render_competency(record: CompetencyRecord) -> bytes:
    """The PDF."""
    # Loading the renderer takes half a second, which nobody who asks for another page should wait for.
    from app.reports.pdf import make_pdf  # noqa: PLC0415

    style = (root() / "templates" / "reports" / "competency.css").read_text(encoding="utf-8")
    return make_pdf(competency_page(record), style_sheet(), style)


def competency_page(record: CompetencyRecord) -> str:
    """The page (HTML) that the PDF is made from."""
    clock = Clock(zone=ZoneInfo(record.zone), opened_at=record.at)
    return (
        environment()
        .get_template("competency.html")
        .render(
            record=record,
            for_training=FOR_TRAINING,
            clock=clock,
            made_at=record.at.isoformat(timespec="seconds"),
            share=caught_share_words(record.competency),
            median=median_words(record.competency),
            lines=[
                (clock.full(each.on), each.number, each.wrong, caught_words(each), took_words(each))
                for each in record.competency.lines
            ],
        )
    )
