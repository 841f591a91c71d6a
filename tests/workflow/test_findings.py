"""The list of findings: every finding of cleared and abandoned checks, and what came of it."""

from datetime import timedelta

import pytest

from app.records.state import ENDED, Phase
from app.workflow import findings
from app.workflow.findings import PastFinding, PastFindings, Wanted, past_findings
from app.workflow.refusals import NotAllowed
from tests.factories.answers import answers
from tests.story.people import ADELE, IMOGEN, NADIA, PETRA, QUILL, RALPH, RUTH, TOMAS, WARD, Somebody
from tests.story.script import WAYS
from tests.story.ward import DIFFERING, Ward
from tests.support.walking import asked

ALL = Wanted()
OVER = ENDED | {Phase.CLEARED, Phase.LAPSED}


def page(ward: Ward, who: Somebody = RUTH, wanted: Wanted = ALL) -> PastFindings:
    shown = past_findings(ward.site, ward.act(who), who.roles, wanted)
    assert isinstance(shown, PastFindings)
    return shown


def rows(ward: Ward, who: Somebody = RUTH, wanted: Wanted = ALL) -> tuple[PastFinding, ...]:
    return page(ward, who, wanted).rows


def caught(ward: Ward) -> Ward:
    """A device set tenfold, misread by one besides, put right, and cleared."""
    ward.opens().joins().both_read(DIFFERING, answers()).compares()
    ward.reads_again().both_read(DIFFERING).compares()
    ward.reads_again(NADIA, "device").both_read().compares()
    return ward.confirms_all().both_sign()


def test_each_finding_says_where_it_was_found_and_how_it_was_settled(ward: Ward) -> None:
    caught(ward)
    stops = [each for each in rows(ward) if each.code in {"readings-differ", "device-differs"}]

    assert [(each.round, each.code, each.field, each.sources, each.settled) for each in stops] == [
        (1, "readings-differ", "demand_dose", ("order", "device"), "read again"),
        (2, "device-differs", "demand_dose", ("order", "device"), "put right"),
    ]
    assert [(each.slip, each.factor) for each in stops] == [("decimal-shift", "10"), ("decimal-shift", "10")]
    assert all(each.outcome == "cleared" and each.bed == "1" and each.unit == WARD for each in stops)
    state = ward.state()
    first, second, third = (each.compared_at for each in state.rounds)
    assert first is not None
    assert second is not None
    assert third is not None
    assert [each.seconds_to_settle for each in stops] == [
        int((second - first).total_seconds()),
        int((third - second).total_seconds()),
    ]


def test_what_was_acknowledged_set_aside_or_for_information(ward: Ward) -> None:
    changes = {"demand_dose": "0.8 mg", "limit_amount": "4 mg"}
    ward.opens().joins()
    half = {"amount": "3 mg", "volume": "15 mL"}
    read = answers(order=changes, label=half, device=changes, chart={"sedatives": "charted"})
    ward.both_read(read).compares()
    ward.asks_for_help().takes_help(PETRA).grants("above-hard-limit", PETRA).settles_help("go-on", PETRA)
    for who in (NADIA, TOMAS):
        ward.acknowledges(who, "patient-at-risk")
    ward.confirms_all().both_sign()
    told = {each.code: each.settled for each in rows(ward)}

    assert (told["above-hard-limit"], told["patient-at-risk"]) == ("exception", "acknowledged")
    assert {told[each.code] for each in rows(ward) if each.severity == "note"} == {"for information"}


def test_an_abandoned_check_is_in_the_log_and_not_settled(ward: Ward) -> None:
    ward.at_stage(Phase.ABANDONED)
    (stop,) = (each for each in rows(ward) if each.code == "readings-differ")

    assert (stop.outcome, stop.settled, stop.seconds_to_settle) == ("abandoned", "not settled", None)


@pytest.mark.parametrize("phase", [phase for phase in WAYS if phase not in OVER])
def test_no_value_of_an_open_check_is_in_the_log(one_ward: Ward, phase: Phase) -> None:
    one_ward.at_stage(phase)

    for who in (RUTH, PETRA, QUILL):
        assert rows(one_ward, who) == ()


def test_a_check_that_was_cleared_and_is_read_again_is_open_again(ward: Ward) -> None:
    caught(ward).wait(timedelta(hours=1))
    assert rows(ward, QUILL) != ()
    ward.reads_again(NADIA, "device").both_read(answers(), DIFFERING).compares()

    for who in (RUTH, PETRA, QUILL):
        assert rows(ward, who) == ()
    ward.reads_again().both_read().compares().confirms_all().both_sign()
    assert {each.round for each in rows(ward, QUILL) if each.severity == "stop"} == {1, 2, 4}


def test_a_charge_nurse_reads_the_own_unit_and_the_quality_team_every_unit(ward: Ward) -> None:
    ward.at_stage(Phase.ABANDONED)

    assert rows(ward, RUTH) != ()
    assert rows(ward, RALPH) == ()
    # Whatever a charge nurse asks for, it is the own unit's.
    assert rows(ward, RALPH, Wanted(unit=WARD)) == ()
    assert rows(ward, PETRA) == rows(ward, QUILL) == rows(ward, RUTH)
    assert rows(ward, QUILL, Wanted(unit="recovery")) == ()
    for who in (IMOGEN, ADELE):
        assert past_findings(ward.site, ward.act(who), who.roles, ALL) == NotAllowed()


def test_a_charge_nurse_who_reads_blind_does_not_find_the_infusions_values_there(ward: Ward) -> None:
    ward.opens(NADIA, bed="7").joins(TOMAS).both_read(answers(), DIFFERING).compares().abandons()
    ward.opens(RUTH, bed="7").joins(NADIA)

    assert rows(ward, RUTH) == ()
    assert rows(ward, QUILL) != ()


@pytest.mark.parametrize(
    ("wanted", "found"),
    [
        (Wanted(code="readings-differ"), {"readings-differ"}),
        (Wanted(code="label-expired"), set()),
        (Wanted(severity="stop"), {"readings-differ", "device-differs", "above-hard-limit"}),
        (Wanted(severity="caution"), set()),
        (Wanted(code="device-differs", severity="note"), set()),
    ],
)
def test_it_is_filtered_by_code_and_severity(one_ward: Ward, wanted: Wanted, found: set[str]) -> None:
    caught(one_ward)

    assert {each.code for each in rows(one_ward, wanted=wanted)} == found


def test_it_is_filtered_by_the_time_of_the_end(one_ward: Ward) -> None:
    one_ward.at_stage(Phase.ABANDONED)
    ended = rows(one_ward)[0].ended_at
    a_second = timedelta(seconds=1)

    assert rows(one_ward, wanted=Wanted(from_=ended, to=ended + a_second)) != ()
    assert rows(one_ward, wanted=Wanted(from_=ended + a_second)) == ()
    assert rows(one_ward, wanted=Wanted(to=ended)) == ()


@pytest.mark.parametrize(("size", "at_most"), [(1, 500), (3, 500), (25, 500), (25, 1)])
def test_page_after_page_shows_each_row_once_the_newest_first(
    one_ward: Ward, monkeypatch: pytest.MonkeyPatch, size: int, at_most: int
) -> None:
    for _ in range(4):
        one_ward.at_stage(Phase.ABANDONED)
    everything = rows(one_ward)
    monkeypatch.setattr(findings, "PAGE", size)
    monkeypatch.setattr(findings, "AT_MOST", at_most)
    shown: list[PastFinding] = []
    after, pages = None, 0
    while True:
        found = page(one_ward, wanted=Wanted(after=after))
        shown += found.rows
        pages += 1
        after = found.next_after
        if after is None:
            break

    assert tuple(shown) == everything
    assert [each.ended_at for each in shown] == sorted((each.ended_at for each in shown), reverse=True)
    assert pages == 1 if (size, at_most) == (25, 500) else pages > 1


def test_a_page_of_a_rare_finding_ends_and_says_where_the_next_begins(
    one_ward: Ward, monkeypatch: pytest.MonkeyPatch
) -> None:
    for _ in range(3):
        one_ward.at_stage(Phase.ABANDONED)
    monkeypatch.setattr(findings, "AT_MOST", 2)
    first = page(one_ward, wanted=Wanted(code="label-expired"))
    second = page(one_ward, wanted=Wanted(code="label-expired", after=first.next_after))

    assert (first.rows, first.next_after is None) == ((), False)
    assert (second.rows, second.next_after) == ((), None)


def test_a_page_that_looks_at_more_checks_asks_no_more_of_the_database(
    one_ward: Ward, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A rare finding is looked for in many checks; they are read in one go, a page of them at a time."""
    monkeypatch.setattr(findings, "PAGE", 3)
    one_ward.signs_in(RUTH)
    took = []
    for _ in range(3):
        one_ward.at_stage(Phase.ABANDONED)
        with asked() as found:
            assert page(one_ward, wanted=Wanted(code="a-rare-one")).rows == ()
        took.append(len(found.statements))
    # Of three a page is full: one more statement says that there is no fourth.
    assert took[0] == took[1] < took[2] <= took[0] + 4
