"""The worksheet of an audit: the checks of a sample, and boxes for what is found; no value is on it."""

from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from app.records.document import CAUTIONS
from app.records.kept_rows import EndedRow
from app.reports.downtime_forms import downtime_style, never_for_a_patient
from app.reports.page import environment, style_sheet
from app.reports.times import Clock, day_in_words
from app.words.names import named_within
from app.words.sampling import ANSWERS, LOOKED_AT, REASONS


@dataclass(frozen=True, kw_only=True)
class AuditSheet:
    """One sample: by what it was drawn, and of each unit its name, its size and what was drawn."""

    site: str
    zone: str
    invented: bool
    at: datetime
    seed: str
    first: str
    last: str
    each: int
    digest: str
    units: tuple[tuple[str, int, tuple[EndedRow, ...]], ...]


def render_audit_sheet(sheet: AuditSheet) -> bytes:
    """The PDF."""
    # Loading the renderer takes half a second, which nobody who asks for another page should wait for.
    from app.reports.pdf import make_pdf  # noqa: PLC0415

    return make_pdf(audit_page(sheet), style_sheet(), downtime_style())


def audit_page(sheet: AuditSheet) -> str:
    """The page (HTML) that the PDF is made from."""
    return (
        environment()
        .get_template("audit_sheet.html")
        .render(
            sheet=sheet,
            first=day_in_words(sheet.first),
            last=day_in_words(sheet.last),
            never=never_for_a_patient(invented=sheet.invented, training=False),
            clock=Clock(zone=ZoneInfo(sheet.zone), opened_at=sheet.at),
            kind_words=named_within,
            answers=tuple(ANSWERS.values()),
            reasons=tuple(REASONS.values()),
            looked_at=LOOKED_AT,
            cautions=CAUTIONS,
            made_at=sheet.at.isoformat(timespec="seconds"),
        )
    )
