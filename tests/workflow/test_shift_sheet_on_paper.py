"""What stands on the shift sheet on paper, and what whoever reads blind at a bed is not told there."""

import io
from datetime import timedelta

import pypdf
import pytest

from app.records.state import Phase
from app.reports.shift_sheet import PaperShiftSheet
from app.workflow.refusals import NotAllowed
from app.workflow.shift_sheet_on_paper import ShiftSheetOnPaper, sheet_on_paper, shift_sheet_on_paper
from tests.factories.answers import answers
from tests.story.people import IMOGEN, NADIA, QUILL, RUTH, Somebody
from tests.story.ward import DIFFERING, Ward

UNTIL_LOW = timedelta(hours=20)


def sheet(ward: Ward) -> PaperShiftSheet:
    made = sheet_on_paper(ward.site, ward.act(RUTH))
    assert isinstance(made, PaperShiftSheet)
    return made


def words(ward: Ward) -> str:
    made = shift_sheet_on_paper(ward.site, ward.act(RUTH))
    assert isinstance(made, ShiftSheetOnPaper)
    pages = pypdf.PdfReader(io.BytesIO(made.pdf)).pages
    return " ".join(" ".join(each.extract_text() for each in pages).split())


def runs_after_a_catch(ward: Ward) -> Ward:
    """The charge nurse is one of the two of an infusion that runs, after a device was found set tenfold."""
    ward.second = RUTH
    ward.opens().joins().both_read(DIFFERING, answers()).compares()
    ward.reads_again().both_read(DIFFERING).compares()
    ward.reads_again(NADIA, "device").both_read().compares()
    return ward.confirms_all().both_sign().both_look().starts()


def test_it_says_what_runs_what_is_low_and_what_was_caught_in_checks_that_ended(one_ward: Ward) -> None:
    made = sheet(runs_after_a_catch(one_ward))
    assert [(each.bed, each.progress) for each in made.lines] == [("1", "running")]
    assert made.ended == 1
    caught = {each.words: (each.stops, each.cautions) for each in made.caught}
    assert caught["Readings differ"] == (1, 0)
    assert not made.partly_closed

    one_ward.wait(UNTIL_LOW)
    later = sheet(one_ward)
    assert (later.syringe_low, later.lines[0].progress) == (("1",), "syringe low")
    # That shift is over, and so is the one after it.
    assert (later.ended, later.caught) == (0, ())
    assert later.caught_since > made.caught_since


def test_nothing_of_an_open_check_is_counted(one_ward: Ward) -> None:
    one_ward.opens().joins().both_read(DIFFERING, answers()).compares()
    made = sheet(one_ward)
    assert (made.ended, made.caught) == (0, ())


def test_to_whoever_reads_blind_at_a_bed_it_says_the_state_of_that_bed_alone(one_ward: Ward) -> None:
    runs_after_a_catch(one_ward).wait(UNTIL_LOW).re_checks()
    made = sheet(one_ward)
    assert {(each.bed, each.progress) for each in made.lines} == {("1", "running"), ("1", "in progress")}
    assert (made.due, made.syringe_low, made.ended, made.caught, made.partly_closed) == ((), (), 0, (), True)
    told = words(one_ward)
    assert "of what you read it says the state alone" in told
    assert "Syringe low" not in told
    assert "0 checks ended, and nothing was found in them" in told


def test_of_what_was_caught_at_that_bed_nothing_is_counted_for_them(one_ward: Ward) -> None:
    runs_after_a_catch(one_ward).re_checks()
    assert (sheet(one_ward).ended, sheet(one_ward).caught) == (0, ())
    one_ward.both_read().compares()
    assert sheet(one_ward).ended == 1


def test_no_dose_and_no_volume_is_on_it(one_ward: Ward) -> None:
    told = words(runs_after_a_catch(one_ward))
    assert [each for each in (" mg", " mL", "mcg", "HYDROmorphone", "DM-40417") if each in told] == []


@pytest.mark.parametrize("who", [IMOGEN, QUILL], ids=["nurse", "quality"])
def test_it_is_the_charge_nurse_s(one_ward: Ward, who: Somebody) -> None:
    assert sheet_on_paper(one_ward.at_stage(Phase.OPENED).site, one_ward.act(who)) == NotAllowed()
