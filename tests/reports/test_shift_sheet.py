"""The shift sheet on paper: one page for a ward of thirty beds, and no second page in silence."""

import io
from datetime import UTC, datetime, timedelta

import pypdf

from app.records.checkpoint import Checkpoint, from_text
from app.reports.shift_sheet import (
    PaperShiftSheet,
    SheetCaught,
    SheetDue,
    SheetLine,
    checkpoint_rows,
    render_shift_sheet,
)
from tests.support.unwanted import unwanted

AT = datetime(2031, 5, 2, 17, 5, tzinfo=UTC)
CHECKPOINT = Checkpoint(size=1234, root="01234567" * 8, at=AT, kid="a" * 43, signature="89abcdef" * 16)


def sheet(beds: int) -> PaperShiftSheet:
    """A ward on which each bed has an infusion and an observation that is due."""
    numbered = [str(number) for number in range(1, beds + 1)]
    return PaperShiftSheet(
        site="Invented General",
        zone="Europe/Zurich",
        unit="Ward 4 East",
        invented=True,
        training=False,
        at=AT,
        by="Ruth Calloway",
        lines=tuple(
            SheetLine(bed=bed, what="Infusion", progress="running", since=AT - timedelta(hours=9))
            for bed in numbered
        ),
        due=(SheetDue(words="observe the patient", overdue=True, beds=tuple((bed, AT) for bed in numbered)),),
        syringe_low=tuple(numbered[::3]),
        also=("Bed 9: both have signed, record being made.",),
        ended=31,
        caught=tuple(SheetCaught(words=f"finding {number}", stops=3, cautions=1) for number in range(8)),
        caught_since=AT - timedelta(hours=12),
        partly_closed=False,
        checkpoint=checkpoint_rows(CHECKPOINT),
    )


def pages(beds: int) -> list[str]:
    made = pypdf.PdfReader(io.BytesIO(render_shift_sheet(sheet(beds)))).pages
    return [" ".join(each.extract_text().split()) for each in made]


def test_thirty_beds_fit_on_one_page_and_from_it_the_checkpoint_is_typed_in_again() -> None:
    (only,) = pages(30)
    assert "Page 1 of 1" in only
    assert "Bed 9: both have signed" in only
    assert "Found in 31 checks that ended" in only
    assert from_text(only) == CHECKPOINT
    assert list(unwanted(only)) == []


def test_what_does_not_fit_is_set_smaller_first() -> None:
    (only,) = pages(38)
    assert "38 Infusion running" in only


def test_where_it_cannot_fit_it_says_so_and_leaves_no_bed_out() -> None:
    first, *others = pages(90)
    assert "It does not fit on one page: it has 3." in first
    assert others
    said = " ".join([first, *others])
    assert [bed for bed in range(1, 91) if f" {bed} Infusion running" not in said] == []
