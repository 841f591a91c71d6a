"""The list of findings: every finding of checks that have ended, and what came of it."""

from dataclasses import replace
from datetime import timedelta

import pytest

from app.base import Method
from app.records.kept_rows import FindingRow
from app.records.reached import ReviewState
from app.records.state import ENDED, Phase
from app.storage import FindingPlace, read_findings
from app.workflow import findings
from app.workflow.findings import (
    PastFinding,
    PastFindings,
    Wanted,
    drugs_listed,
    past_findings,
    unit_of,
)
from app.workflow.refusals import NotAllowed
from app.workflow.reviewing import Answer, Done, Place, assign, classify, review
from tests.factories.answers import answers
from tests.story.people import ADELE, IMOGEN, NADIA, PETRA, QUILL, RALPH, RUTH, TOMAS, WARD, Somebody
from tests.story.script import WAYS
from tests.story.ward import DIFFERING, Ward
from tests.support.walking import asked

ALL = Wanted()


def page(ward: Ward, who: Somebody = RUTH, wanted: Wanted = ALL) -> PastFindings:
    shown = past_findings(ward.site, ward.act(who), who.roles, wanted)
    assert isinstance(shown, PastFindings)
    return shown


def listed(ward: Ward, who: Somebody = RUTH, wanted: Wanted = ALL) -> tuple[PastFinding, ...]:
    return page(ward, who, wanted).rows


def rows(ward: Ward, who: Somebody = RUTH, wanted: Wanted = ALL) -> tuple[FindingRow, ...]:
    return tuple(each.listed.row for each in listed(ward, who, wanted))


def settled(ward: Ward) -> dict[str, str]:
    return {each.listed.row.code: each.listed.settled for each in listed(ward)}


def caught(ward: Ward) -> Ward:
    """A device set tenfold, misread by one besides, put right, and cleared."""
    ward.opens().joins().both_read(DIFFERING, answers()).compares()
    ward.reads_again().both_read(DIFFERING).compares()
    ward.reads_again(NADIA, "device").both_read().compares()
    return ward.confirms_all().both_sign().both_look().starts()


def test_each_finding_says_where_it_was_found_and_how_it_was_settled(ward: Ward) -> None:
    caught(ward)
    codes = ("readings-differ", "device-differs")
    stops = sorted(
        (each for each in listed(ward) if each.listed.row.code in codes), key=lambda each: each.listed.place
    )

    assert [(each.listed.row.round, each.listed.row.code, each.listed.settled) for each in stops] == [
        (1, "readings-differ", "read again"),
        (2, "device-differs", "put right"),
    ]
    assert all(each.sources == ("order", "device") for each in stops)
    assert all(each.listed.how == "started" for each in stops)
    first, second, third = (each.compared_at for each in ward.state().rounds)
    assert first is not None
    assert second is not None
    assert third is not None
    assert [each.listed.seconds_to_settle for each in stops] == [
        int((second - first).total_seconds()),
        int((third - second).total_seconds()),
    ]


def test_what_was_acknowledged_set_aside_or_for_information(ward: Ward) -> None:
    changes = {"demand_dose": "0.8 mg", "limit_amount": "4 mg"}
    ward.opens().joins()
    half = {"amount": "3 mg", "volume": "15 mL"}
    read = answers(order=changes, label=half, device=changes, chart={"sedatives": "charted"})
    ward.both_read(read).compares()
    ward.asks_for_help().takes_help(PETRA).grants("above-hard-limit", PETRA).settles_help("other", PETRA)
    for who in (NADIA, TOMAS):
        ward.acknowledges(who, "patient-at-risk")
    ward.confirms_all().both_sign().both_look().starts()
    told = settled(ward)

    assert (told["above-hard-limit"], told["patient-at-risk"]) == ("exception", "acknowledged")
    assert {told[each.code] for each in rows(ward) if each.severity == "note"} == {"for information"}


def test_an_abandoned_check_is_in_the_log_and_not_settled(ward: Ward) -> None:
    ward.at_stage(Phase.ABANDONED)
    (stop,) = (each.listed for each in listed(ward) if each.listed.row.code == "readings-differ")

    assert (stop.how, stop.settled, stop.seconds_to_settle) == ("abandoned", "not settled", None)


@pytest.mark.parametrize("phase", sorted(set(WAYS) - ENDED))
def test_nothing_of_a_check_that_has_not_ended_is_listed(one_ward: Ward, phase: Phase) -> None:
    one_ward.at_stage(phase)

    for who in (RUTH, PETRA, QUILL):
        assert rows(one_ward, who) == ()


def test_a_check_is_listed_with_all_its_rounds_once_it_has_ended(one_ward: Ward) -> None:
    """Signed by both and not started it may be read again, and is in no list."""
    ward = one_ward.at_stage(Phase.CLEARED).wait(timedelta(hours=1))
    ward.reads_again(NADIA, "device").both_read(answers(), DIFFERING).compares()
    ward.reads_again().both_read().compares().confirms_all().both_sign()
    assert rows(ward, QUILL) == ()

    ward.both_look().starts()
    assert {each.round for each in rows(ward, QUILL) if each.severity == "stop"} == {2}


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


FILTERS: tuple[tuple[Wanted, set[str]], ...] = (
    (Wanted(code="readings-differ"), {"readings-differ"}),
    (Wanted(code="label-expired"), set()),
    (Wanted(severity="stop"), {"readings-differ", "device-differs", "above-hard-limit"}),
    (Wanted(severity="caution"), set()),
    (Wanted(code="device-differs", severity="note"), set()),
    (Wanted(slip="decimal-shift", origin="reading"), {"readings-differ"}),
    (Wanted(slip="unit-slip"), set()),
    (Wanted(origin="programming", severity="stop"), {"device-differs"}),
    (Wanted(drug="HYDROmorphone", code="readings-differ"), {"readings-differ"}),
    (Wanted(drug="morphine"), set()),
    (Wanted(independence="voided"), set()),
    (Wanted(independence="two-devices", code="device-differs"), {"device-differs"}),
    (Wanted(settled="put right", severity="stop"), {"device-differs", "above-hard-limit"}),
    (Wanted(settled="not settled"), set()),
    (Wanted(settled="read again", slip="decimal-shift", unit=WARD), {"readings-differ"}),
)


def test_it_is_filtered_by_each_and_by_several(one_ward: Ward) -> None:
    caught(one_ward)

    for wanted, found in FILTERS:
        for who in (RUTH, QUILL):
            assert {each.code for each in rows(one_ward, who, wanted)} == found, wanted


def test_it_is_filtered_by_the_time_of_the_comparison(one_ward: Ward) -> None:
    one_ward.at_stage(Phase.ABANDONED)
    found_at = rows(one_ward)[0].compared_at
    a_second = timedelta(seconds=1)

    for so in (Wanted(), Wanted(settled="not settled")):
        assert rows(one_ward, wanted=replace(so, from_=found_at, to=found_at + a_second)) != ()
        assert rows(one_ward, wanted=replace(so, from_=found_at + a_second)) == ()
        assert rows(one_ward, wanted=replace(so, to=found_at)) == ()


@pytest.mark.parametrize("wanted", [Wanted(), Wanted(settled="not settled")], ids=["all", "settled"])
@pytest.mark.parametrize("size", [1, 3, 25])
def test_page_after_page_shows_each_row_once_the_newest_first(
    one_ward: Ward, monkeypatch: pytest.MonkeyPatch, size: int, wanted: Wanted
) -> None:
    for _ in range(4):
        one_ward.at_stage(Phase.ABANDONED)
    everything = listed(one_ward, wanted=wanted)
    monkeypatch.setattr(findings, "PAGE", size)
    shown: list[PastFinding] = []
    after: FindingPlace | None = None
    while True:
        found = page(one_ward, wanted=replace(wanted, after=after))
        assert 0 < len(found.rows) <= size
        shown += found.rows
        after = found.next_after
        if after is None:
            break

    assert tuple(shown) == everything
    places = [each.listed.place for each in shown]
    assert places == sorted(places, reverse=True)
    # Of one round there are several at one moment.
    assert len({each.compared_at for each in places}) < len(places)


def test_a_page_asks_for_the_same_few_things_however_many_and_however_rare(one_ward: Ward) -> None:
    one_ward.signs_in(RUTH)
    took = []
    for _ in range(3):
        one_ward.at_stage(Phase.ABANDONED)
        for wanted in (ALL, Wanted(code="a-rare-one"), Wanted(review=ReviewState.GIVEN_TO_ME)):
            with asked() as found:
                page(one_ward, wanted=wanted)
            took.append(len(found.statements))

    assert took == took[:3] * 3
    assert took[1] <= took[0]
    # One more asks down to where it looked.
    assert took[2] <= took[0] + 1


def test_the_drugs_of_the_library_are_what_it_may_be_filtered_by(one_ward: Ward) -> None:
    listed_drugs = drugs_listed(one_ward.site, one_ward.now)

    assert "HYDROmorphone" in listed_drugs
    assert list(listed_drugs) == sorted(listed_drugs, key=str.casefold)


def place_of(row: FindingRow) -> Place:
    return Place(check=row.check, subject=row.subject, round=row.round, number=row.number)


def test_it_is_filtered_by_how_far_their_review_has_come(ward: Ward) -> None:
    """Given to one and then to another it waits with the other, until anybody has looked through it."""
    for _ in range(4):
        ward.at_stage(Phase.ABANDONED)
    first, second, third, fourth = (
        place_of(each) for each in reversed(rows(ward, wanted=Wanted(code="readings-differ")))
    )

    def gives(place: Place, to: Somebody) -> None:
        act = ward.wait().act(RUTH)
        assert assign(ward.site, act, RUTH.roles, place, to=to.id, text="") == Done()

    def reviews(place: Place, who: Somebody) -> None:
        assert review(ward.site, ward.wait().act(who), who.roles, place, text="") == Done()

    def classifies(place: Place, who: Somebody, category: str) -> None:
        answer = Answer(category=category, readers="", factors=(), text="")
        assert classify(ward.site, ward.wait().act(who), who.roles, place, answer=answer) == Done()

    gives(first, QUILL)
    gives(second, QUILL)
    gives(second, PETRA)
    gives(third, QUILL)
    reviews(third, PETRA)
    gives(fourth, QUILL)
    reviews(fourth, QUILL)
    gives(fourth, QUILL)
    classifies(first, QUILL, "B")
    classifies(second, QUILL, "B")
    classifies(second, PETRA, "B")
    classifies(third, QUILL, "B")
    classifies(third, PETRA, "C")

    def found(who: Somebody, state: ReviewState) -> list[Place]:
        asked_for = Wanted(code="readings-differ", review=state)
        of_unit = found_so(who, asked_for)
        assert found_so(who, replace(asked_for, settled="not settled", unit=WARD)) == of_unit
        assert found_so(who, replace(asked_for, settled="put right")) == []
        return of_unit

    def found_so(who: Somebody, wanted: Wanted) -> list[Place]:
        return [place_of(each) for each in reversed(rows(ward, who, wanted))]

    assert found(QUILL, ReviewState.NOT_REVIEWED) == [first, second]
    assert found(QUILL, ReviewState.REVIEWED) == [third, fourth]
    assert found(QUILL, ReviewState.GIVEN) == [first, second, fourth]
    assert found(QUILL, ReviewState.GIVEN_TO_ME) == [first, fourth]
    assert found(PETRA, ReviewState.GIVEN_TO_ME) == [second]
    assert found(RUTH, ReviewState.GIVEN_TO_ME) == []
    assert found(RUTH, ReviewState.CLASSIFIED_ONCE) == [first]
    assert found(RUTH, ReviewState.CLASSIFIED_TWICE) == [second, third]
    assert found(RUTH, ReviewState.CLASSIFIED_APART) == [third]
    assert rows(ward, RALPH, Wanted(review=ReviewState.REVIEWED)) == ()


def test_what_has_not_come_to_pass_is_looked_for_piece_by_piece(
    one_ward: Ward, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where nearly all is done a page ends early, says how far back it looked, and the next goes on there."""
    for _ in range(3):
        one_ward.at_stage(Phase.ABANDONED)
    every = rows(one_ward)
    for each in every[1:-1]:
        place = place_of(each)
        assert review(one_ward.site, one_ward.act(RUTH), RUTH.roles, place, text="") == Done()
    monkeypatch.setattr(read_findings, "LOOKED_AT", 2)
    waiting = Wanted(review=ReviewState.NOT_REVIEWED)
    found, pages = list[FindingRow](), 0
    while True:
        shown = page(one_ward, wanted=waiting)
        found += [each.listed.row for each in shown.rows]
        pages += 1
        if shown.next_after is None:
            break
        assert shown.until == shown.next_after.compared_at
        waiting = replace(waiting, after=shown.next_after)

    assert found == [every[0], every[-1]]
    assert pages == len(every) // 2 + 1


def test_six_digits_open_a_charge_nurse_s_own_unit_alone_whatever_else_she_is(one_ward: Ward) -> None:
    roles = RUTH.roles | QUILL.roles
    by_secret = one_ward.act(RUTH)
    by_digits = replace(by_secret, by=replace(by_secret.by, method=Method.PIN))

    assert unit_of(by_secret, roles, "") == ""
    assert unit_of(by_digits, roles, "") == RUTH.unit
    assert unit_of(by_digits, roles, "recovery") == RUTH.unit
