"""What runs on a unit and by which settings, on paper: for the time when the program is down.

It is closed to whoever checks: a nurse who has seen it does not read blind.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from app.records.document import CAUTIONS
from app.records.fields import field_named
from app.records.kept import A, B
from app.records.reading import used
from app.records.sources import Form, Source
from app.reports.downtime_forms import downtime_style, never_for_a_patient
from app.reports.page import environment, style_sheet
from app.reports.shown_fields import LINE_END, SETTINGS, SYRINGE, WRISTBAND, Shown
from app.reports.times import Clock
from app.words.names import SOURCES

_PACK = field_named("pack").label


@dataclass(frozen=True, kw_only=True)
class RunsOnPaper:
    """One infusion that runs: how and since when, as on a list, what two nurses read last, when they signed.

    Nothing of that is there where no two nurses have checked it.
    """

    bed: str
    progress: str
    since: datetime
    signed_at: datetime | None = None
    lines: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, kw_only=True)
class SettingsSheet:
    """The sheet of one unit as it was at a moment, for whom."""

    site: str
    zone: str
    unit: str
    invented: bool
    training: bool
    at: datetime
    by: str
    running: tuple[RunsOnPaper, ...]


def lines_in_force(opened: Mapping[str, Any], packs: Mapping[str, str]) -> tuple[tuple[str, str], ...]:
    """What the check read that put settings in force: patient, device, label; what both read alike, once."""
    answers = opened["answers"]
    # The two may have typed one value in two ways; what one suffices for may be the other's.
    read = {
        source: used({**answers[B].get(source, {}), **answers[A].get(source, {})})
        for source in (Source.WRISTBAND, Source.LABEL, Source.DEVICE)
    }
    return tuple(
        line
        for shown, source in (
            *((each, Source.WRISTBAND) for each in WRISTBAND),
            *((each, Source.DEVICE) for each in SETTINGS if Source.DEVICE in each.row.sources),
            *((each, each.row.sources[0]) for each in SYRINGE),
        )
        for line in _line(shown, read[source], source, packs)
    )


def _line(
    shown: Shown, answers: Mapping[str, str], source: Source, packs: Mapping[str, str]
) -> Iterator[tuple[str, str]]:
    # A code is for a scanner, and a name is compared with nothing.
    if field_named(shown.row.name).form in {Form.CODE, Form.NAME}:
        return
    said = shown.said(answers)
    if said is not None:
        text = packs.get(said, said) if shown.row.label == _PACK else said.replace(LINE_END, "; ")
        yield f"{shown.row.label} ({SOURCES[source].lower()})", text


def render_settings_sheet(sheet: SettingsSheet) -> bytes:
    """The PDF."""
    # Loading the renderer takes half a second, which nobody who asks for another page should wait for.
    from app.reports.pdf import make_pdf  # noqa: PLC0415

    return make_pdf(settings_page(sheet), style_sheet(), downtime_style())


def settings_page(sheet: SettingsSheet) -> str:
    """The page (HTML) that the PDF is made from."""
    clock = Clock(zone=ZoneInfo(sheet.zone), opened_at=sheet.at)
    return (
        environment()
        .get_template("settings_sheet.html")
        .render(
            sheet=sheet,
            never=never_for_a_patient(invented=sheet.invented, training=sheet.training),
            clock=clock,
            cautions=CAUTIONS,
            made_at=sheet.at.isoformat(timespec="seconds"),
        )
    )
