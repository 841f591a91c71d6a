"""What was checked on paper: typed in by one, confirmed by another, never a check, closed to readers."""

import json
from dataclasses import replace
from datetime import timedelta

import pytest

from app.records.course import Course
from app.records.events import END_OF_THERAPY, Signed
from app.records.kinds import RE_CHECK
from app.records.paper_events import PaperConfirmed, PaperTranscribed
from app.records.ranking import Standing
from app.records.what_followed import TO_CORRECT
from app.site.loading import load_infusion
from app.words.followed import told_words
from app.workflow import opening, transcribing
from app.workflow.infusions import InfusionSeen, see_infusion
from app.workflow.listing import unit_list
from app.workflow.listing_unchecked import PaperListed, RunningUnchecked
from app.workflow.refusals import Incomplete, NotAllowed, NotFound, NotOnShift, ReadsBlind
from app.workflow.shift_sheet import shift_sheet
from app.workflow.transcribing import (
    Held,
    NoneWaits,
    NotUnchecked,
    OnePerson,
    PaperSeen,
    Sheets,
    TypedIn,
    TypedMeanwhile,
)
from tests.factories.quick_pdf import without_rendering
from tests.story.followed import followed, sweeps
from tests.story.people import ADELE, IMOGEN, INES, NADIA, QUILL, RUTH, TOMAS, WARD, Somebody
from tests.story.ward import Ward

Rows = tuple[tuple[str, str, str, str], ...]
ROWS: Rows = (("device", "demand_dose", "0.2 mg", ""), ("device", "mode", "Demand only", ""))
APART: Rows = (("device", "demand_dose", "0.2 mg", "2 mg"),)
BED = "30"


@pytest.fixture
def unchecked(one_ward: Ward) -> Ward:
    return one_ward.starts_without_check(IMOGEN, bed=BED)


def infusion_of(ward: Ward) -> str:
    with ward.site.store.read() as reader:
        return reader.infusions_at(WARD, BED)[-1].id


def types(ward: Ward, who: Somebody, rows: Rows = ROWS, *, seen: int = 0, blank: str = "") -> object:
    told = {"checked_at": "2031-05-02T11:30+01:00", "first": "Nadia Ferrow", "second": "Tomas Osmund"}
    told |= {blank: " "} if blank else {}
    return transcribing.type_in(
        ward.site, ward.act(who), infusion_of(ward), Sheets(**told, rows=rows, seen=seen)
    )


def position(ward: Ward) -> int:
    infusion = infusion_of(ward)
    with ward.site.store.read() as reader:
        return load_infusion(reader, infusion).transcriptions[-1].position


def holds(ward: Ward, who: Somebody, *, same: bool = True, at: int = 0) -> object:
    return transcribing.hold_beside(
        ward.site, ward.act(who), infusion_of(ward), transcription=at or position(ward), same=same
    )


def typed_and_confirmed(ward: Ward, rows: Rows = ROWS) -> Ward:
    assert types(ward, NADIA, rows) == TypedIn()
    assert holds(ward, RUTH) == Held()
    return ward


def listed(ward: Ward, who: Somebody) -> RunningUnchecked:
    (found,) = unit_list(ward.site, ward.act(who)).unchecked
    return found


def sees(ward: Ward, who: Somebody) -> PaperSeen:
    seen = transcribing.see_paper(ward.site, ward.act(who), infusion_of(ward))
    assert isinstance(seen, PaperSeen), seen
    return seen


# ---------------------------------------------------------------------------------------------------------
# By two


def test_once_another_confirmed_it_it_is_listed_as_checked_on_paper(unchecked: Ward) -> None:
    assert types(unchecked, NADIA) == TypedIn()
    before = listed(unchecked, RUTH)
    assert before.paper == PaperListed(
        counts=False,
        waits=True,
        checked_at="2031-05-02T11:30+01:00",
        first="Nadia Ferrow",
        second="Tomas Osmund",
        by=NADIA.printed_name,
    )
    assert holds(unchecked, RUTH) == Held()
    paper = listed(unchecked, RUTH).paper
    assert paper is not None
    assert (paper.counts, paper.waits, paper.by, paper.confirmed_by) == (
        True,
        False,
        NADIA.printed_name,
        RUTH.printed_name,
    )
    seen = see_infusion(unchecked.site, unchecked.act(RUTH), infusion_of(unchecked))
    assert isinstance(seen, InfusionSeen)
    assert seen.progress == Standing.ON_PAPER


def test_whoever_typed_it_in_confirms_nothing_and_no_session_does_both(unchecked: Ward) -> None:
    types(unchecked, NADIA)
    assert holds(unchecked, NADIA) == OnePerson()
    act = unchecked.act(RUTH)
    infusion = infusion_of(unchecked)
    with unchecked.site.store.read() as reader:
        (typed,) = load_infusion(reader, infusion).transcriptions
    borrowed = replace(act, by=replace(act.by, session=typed.session))
    said = transcribing.hold_beside(
        unchecked.site, borrowed, infusion_of(unchecked), transcription=typed.position, same=True
    )
    assert said == OnePerson()
    assert listed(unchecked, RUTH).paper is not None
    assert not sees(unchecked, RUTH).stands


def test_what_paper_says_is_kept_as_it_stands(unchecked: Ward) -> None:
    typed_and_confirmed(unchecked, (("order", "demand_dose", "two tenths", "0.2mg"),))
    (typed,) = sees(unchecked, RUTH).typed
    assert typed.event.rows == (("order", "demand_dose", "two tenths", "0.2mg"),)


def test_that_the_two_sheets_differ_is_told_to_the_charge_nurse_at_once(unchecked: Ward) -> None:
    types(unchecked, NADIA, APART)
    for who in (RUTH, IMOGEN):
        paper = listed(unchecked, who).paper
        assert paper is not None
        assert paper.apart
    sheet = shift_sheet(unchecked.site, unchecked.act(RUTH))
    (told,) = sheet.listed.unchecked
    assert told.paper is not None
    assert told.paper.apart
    holds(unchecked, RUTH)
    paper = listed(unchecked, RUTH).paper
    assert paper is not None
    assert paper.apart


def test_what_was_typed_wrong_is_put_right_by_two_and_both_stay(unchecked: Ward) -> None:
    typed_and_confirmed(unchecked)
    wrong = position(unchecked)
    assert types(unchecked, IMOGEN, APART, seen=wrong) == TypedIn()
    # Until it is confirmed the earlier one stands.
    assert sees(unchecked, RUTH).stands == wrong
    assert holds(unchecked, NADIA) == Held()
    seen = sees(unchecked, RUTH)
    assert [each.event.rows for each in seen.typed] == [APART, ROWS]
    assert seen.typed[0].event.corrects == str(wrong)
    assert seen.stands == seen.typed[0].told.position


def test_what_is_not_the_same_counts_for_nothing_and_is_typed_in_anew(unchecked: Ward) -> None:
    types(unchecked, NADIA)
    assert holds(unchecked, RUTH, same=False) == Held()
    assert sees(unchecked, RUTH).stands == 0
    assert listed(unchecked, RUTH).paper == PaperListed(counts=False)
    assert holds(unchecked, IMOGEN) == NoneWaits()
    assert types(unchecked, NADIA, APART, seen=position(unchecked)) == TypedIn()


def test_twice_is_once(unchecked: Ward) -> None:
    assert types(unchecked, NADIA) == TypedIn()
    assert types(unchecked, NADIA) == TypedMeanwhile()
    assert holds(unchecked, RUTH) == Held()
    assert holds(unchecked, RUTH) == NoneWaits()
    infusion = infusion_of(unchecked)
    with unchecked.site.store.read() as reader:
        kinds = [type(each.event) for each in reader.course(infusion)]
    assert (kinds.count(PaperTranscribed), kinds.count(PaperConfirmed)) == (1, 1)


def test_what_was_answered_for_an_older_page_counts_for_nothing(unchecked: Ward) -> None:
    types(unchecked, NADIA)
    older = position(unchecked)
    types(unchecked, NADIA, APART, seen=older)
    assert holds(unchecked, RUTH, at=older) == NoneWaits()


@pytest.mark.parametrize("name", ["checked_at", "first", "second"])
def test_who_and_when_are_needed(unchecked: Ward, name: str) -> None:
    assert types(unchecked, NADIA, blank=name) == Incomplete(fields=(name,))
    assert types(unchecked, NADIA, ()) == Incomplete(fields=("rows",))


def test_who_may(unchecked: Ward) -> None:
    infusion = infusion_of(unchecked)
    assert types(unchecked, ADELE) == NotAllowed()
    assert types(unchecked, QUILL) == NotAllowed()
    assert types(unchecked, INES) == NotOnShift()
    assert transcribing.see_paper(unchecked.site, unchecked.act(ADELE), infusion) == NotFound()
    assert transcribing.see_paper(unchecked.site, unchecked.act(INES), infusion) == NotFound()
    assert transcribing.see_paper(unchecked.site, unchecked.act(NADIA), "none") == NotFound()
    assert sees(unchecked, QUILL).refused == NotAllowed()


# ---------------------------------------------------------------------------------------------------------
# Never a check


def test_it_is_no_check_signs_nothing_and_the_blind_check_stays_due(unchecked: Ward) -> None:
    typed_and_confirmed(unchecked)
    infusion = infusion_of(unchecked)
    with unchecked.site.store.read() as reader:
        state = load_infusion(reader, infusion)
        assert not any(isinstance(each.event, Signed) for each in reader.course(state.infusion))
        assert not reader.checks_of_infusion(state.infusion)
    assert state.is_unchecked


def test_the_blind_check_is_due_the_sites_time_after_it_was_typed_in_and_overdue_is_said(
    unchecked: Ward,
) -> None:
    typed_and_confirmed(unchecked)
    infusion = infusion_of(unchecked)
    with unchecked.site.store.read() as reader:
        (told,) = load_infusion(reader, infusion).transcriptions
    found = listed(unchecked, RUTH)
    assert found.due_at == told.at + timedelta(minutes=120)
    assert not found.overdue
    unchecked.wait(timedelta(minutes=121))
    unchecked.signs_in(RUTH)
    assert listed(unchecked, RUTH).overdue


def test_what_runs_without_a_check_becomes_overdue_likewise(unchecked: Ward) -> None:
    assert not listed(unchecked, RUTH).overdue
    unchecked.wait(timedelta(minutes=31))
    unchecked.signs_in(RUTH)
    assert listed(unchecked, RUTH).overdue


def test_once_two_have_checked_it_blind_nothing_more_is_typed_in_and_what_was_stays(unchecked: Ward) -> None:
    typed_and_confirmed(unchecked)
    re_checked(unchecked)
    unchecked.signs(IMOGEN).signs(TOMAS)
    assert unit_list(unchecked.site, unchecked.act(RUTH)).unchecked == ()
    assert types(unchecked, NADIA, seen=position(unchecked)) == NotUnchecked()
    assert len(sees(unchecked, RUTH).typed) == 1


def re_checking(ward: Ward, first: Somebody = IMOGEN, second: Somebody = TOMAS) -> Ward:
    """Two have joined a re-check of what was checked on paper."""
    opened = opening.open_on_infusion(ward.site, ward.act(first), RE_CHECK, infusion_of(ward))
    assert isinstance(opened, opening.Opened)
    ward.check = opened.check
    return ward.joins(second)


def re_checked(ward: Ward) -> None:
    """Imogen and Tomas check it blind, and read alike."""
    re_checking(ward).reads(IMOGEN).reads(TOMAS).compares()


def test_a_set_up_at_the_bed_says_that_it_was_checked_on_paper_alone(unchecked: Ward) -> None:
    typed_and_confirmed(unchecked)
    unchecked.stops_at(BED).opens(IMOGEN, bed=BED)
    assert unchecked.state().check.infusion == infusion_of(unchecked)
    assert unchecked.state().course == Course.ON_PAPER


# ---------------------------------------------------------------------------------------------------------
# Closed to whoever reads


@pytest.mark.parametrize("handed_in", [False, True])
def test_nothing_of_it_reaches_the_two_who_read_there(unchecked: Ward, *, handed_in: bool) -> None:
    typed_and_confirmed(unchecked, APART)
    re_checking(unchecked)
    if handed_in:
        unchecked.reads(IMOGEN)
    for who in (IMOGEN, TOMAS):
        infusion = infusion_of(unchecked)
        assert transcribing.see_paper(unchecked.site, unchecked.act(who), infusion) == ReadsBlind()
        assert listed(unchecked, who).paper == PaperListed(counts=True)
        assert types(unchecked, who, seen=position(unchecked)) == ReadsBlind()
    assert sees(unchecked, RUTH).typed


def test_it_opens_to_them_once_they_agree(unchecked: Ward) -> None:
    typed_and_confirmed(unchecked)
    re_checked(unchecked)
    assert sees(unchecked, TOMAS).typed


def test_a_colleague_types_it_in_while_two_read(unchecked: Ward) -> None:
    re_checking(unchecked).reads(IMOGEN)
    told = unchecked.state().told_position
    typed_and_confirmed(unchecked, APART)
    assert unchecked.state().told_position == told
    assert listed(unchecked, TOMAS).paper == PaperListed(counts=True)


@pytest.mark.parametrize("looker", [TOMAS, NADIA, None])
def test_whoever_has_seen_it_is_said_to_have_in_the_next_record(
    unchecked: Ward, looker: Somebody | None
) -> None:
    typed_and_confirmed(unchecked)
    if looker is TOMAS:
        sees(unchecked, TOMAS)
    first, second = (IMOGEN, NADIA) if looker is NADIA else (IMOGEN, TOMAS)
    re_checking(unchecked, first, second).reads(first).reads(second).compares()
    with unchecked.site.store.read() as reader:
        (frozen,) = reader.frozen_records(unchecked.check)
    stated = json.loads(frozen.document)["rounds"][0]["independence"]["earlier_look"]
    assert stated is (looker is not None)


def test_what_followed_a_record_tells_that_the_sheets_were_typed_in_late(
    unchecked: Ward, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Both had read, and nobody had signed, when a colleague typed them in."""
    without_rendering(monkeypatch)
    re_checked(unchecked)
    typed_and_confirmed(unchecked, APART)
    unchecked.signs(IMOGEN).signs(TOMAS)
    unchecked.stops(RUTH, why=END_OF_THERAPY).wait(TO_CORRECT)
    assert sweeps(unchecked).told == 1
    ((kept, told),) = [(each, each.told) for each in followed(unchecked)]
    said = {entry["kind"]: told_words(entry["kind"], entry["data"]) for entry in told["entries"]}
    assert "What was checked on paper by Nadia Ferrow and Tomas Osmund" in said["paper-transcribed"]
    assert "The two sheets do not say the same everywhere." in said["paper-transcribed"]
    assert said["paper-confirmed"].endswith("is the same.")
    assert kept.edition == 1
