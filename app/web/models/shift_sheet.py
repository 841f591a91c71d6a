"""The shift sheet as a page shows it: lists of places and states, and the checkpoint as it is printed."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from app.records.checkpoint import as_text
from app.web.models.lists import Line, lines_of, place
from app.web.models.transferring import TransferShown, transfer_shown
from app.workflow.listing_unchecked import PaperListed
from app.workflow.shift_sheet import ShiftSheet


@dataclass(frozen=True, kw_only=True)
class SheetUnchecked:
    """One infusion that runs without a check, and until when one is due."""

    place: str
    due_at: datetime
    overdue: bool
    paper: PaperListed | None


@dataclass(frozen=True, kw_only=True)
class SheetPage:
    """The page to be printed; `checkpoint` is empty until the log was signed for the first time.

    `away` is what another unit took from here, and no two have read yet: until then it is found here, too.
    """

    hospital: str
    here: str
    unchecked: tuple[SheetUnchecked, ...]
    lines: tuple[Line, ...]
    away: tuple[TransferShown, ...]
    being_made: tuple[str, ...]
    checkpoint: str


def sheet_page(sheet: ShiftSheet, here: str, units: Mapping[str, str]) -> SheetPage:
    """The page of one unit; `units` names each."""
    unit = units.get(here, here)
    return SheetPage(
        hospital=sheet.hospital,
        here=unit,
        unchecked=tuple(
            SheetUnchecked(
                place=place(unit, each.bed), due_at=each.due_at, overdue=each.overdue, paper=each.paper
            )
            for each in sheet.listed.unchecked
        ),
        lines=lines_of(sheet.listed, units, names=sheet.names),
        away=tuple(transfer_shown(each) for each in sheet.listed.away),
        being_made=tuple(place(unit, bed) for bed in sheet.being_made),
        checkpoint=as_text(sheet.checkpoint) if sheet.checkpoint else "",
    )
