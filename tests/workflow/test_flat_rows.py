"""Findings and ended checks as flat rows: written with what they tell of, and never other than the fold."""

from datetime import timedelta

import pytest

from app.auditing.invariants import check_invariants
from app.records.kept import PRIMING, SOURCES, KeptCheck
from app.records.kept_rows import EndedRow, FindingRow, SettledRow
from app.records.kinds import HANDOFF, RE_CHECK, SET_UP, SETTINGS_CHANGE
from app.records.state import ENDED, CheckState, Phase
from app.records.visibility import Sight, Viewer, sight
from app.site.loading import load
from app.storage import Reader
from app.workflow.reviewing import FindingSeen, Place, see_finding
from app.workflow.starting import StartNoted, note_start_despite_check
from tests.factories.answers import answers, changed
from tests.story.people import NADIA, PETRA, QUILL, RUTH, TOMAS, WARD
from tests.story.script import WAYS
from tests.story.ward import DIFFERING, Ward

OUTSIDE = (
    Viewer(person="somebody", unit=WARD, sees_unit=True, reads_records=False),
    Viewer(person="somebody", unit="elsewhere", sees_unit=False, reads_records=True),
)


def all_checks(reader: Reader) -> list[KeptCheck]:
    found = [reader.find_check(check) for _, check in reader.opened_checks(after=0)]
    return [each for each in found if each is not None]


def states(ward: Ward, reader: Reader) -> dict[str, CheckState]:
    loaded = {each.id: load(reader, each.id, ward.now) for each in all_checks(reader)}
    return {check: each.state for check, each in loaded.items() if each is not None}


def told(ward: Ward) -> tuple[tuple[FindingRow, ...], tuple[SettledRow, ...], EndedRow | None]:
    with ward.site.store.read() as reader:
        ended = reader.ended_rows(ward.check)
        return reader.finding_rows(ward.check), reader.settled_rows(ward.check), ended[0] if ended else None


def _every_end(ward: Ward) -> None:
    """Checks of several kinds, each ended in another way, and some of them open."""
    for phase in WAYS:
        ward.at_stage(phase)
    ward.at_stage(Phase.STARTED).hands_over().both_read().compares().both_sign()
    tenfold = ward.of_its_patient(DIFFERING)
    ward.re_checks().both_read(tenfold, ward.of_its_patient(answers())).compares()
    ward.reads_again().both_read(tenfold, tenfold).compares().leads_on()
    ward.changes(SETTINGS_CHANGE).abandons()
    ward.at_stage(Phase.DISPUTED).asks_for_help().takes_help(RUTH).settles_help("abandon")
    ward.at_stage(Phase.CLEARED).wait(timedelta(hours=5)).abandons()
    ward.at_stage(Phase.CLEARED)
    act = ward.act(NADIA)
    assert isinstance(note_start_despite_check(ward.site, act, ward.check, reason="no time"), StartNoted)


def test_what_has_ended_in_the_rows_has_ended_in_the_fold_and_nothing_else(ward: Ward) -> None:
    """Of every kind of end, and of checks that go on; and each such check is open to whoever may read it."""
    _every_end(ward)
    with ward.site.store.read() as reader:
        folded = states(ward, reader)
        ended = {check: reader.ended_rows(check) for check in folded}
        settled = {check for check in folded if reader.settled_rows(check)}
    over = {check: state for check, state in folded.items() if state.has_ended}

    assert {check: rows[0].how for check, rows in ended.items() if rows} == {
        check: state.phase.value for check, state in over.items()
    }
    assert {state.phase for state in over.values()} == ENDED
    assert {state.kind.name for state in over.values()} == {
        each.name for each in (SET_UP, HANDOFF, RE_CHECK, SETTINGS_CHANGE)
    }
    assert len(over) < len(folded)
    assert settled <= set(over)
    assert all(sight(state, who) is Sight.EVERYTHING for state in over.values() for who in OUTSIDE)


def test_a_finding_stands_with_its_comparison_and_is_settled_with_the_end(one_ward: Ward) -> None:
    ward = one_ward.opens().joins().both_read(DIFFERING, answers()).compares()
    row = next(each for each in told(ward)[0] if each.code == "readings-differ")

    assert (row.code, row.field, row.clinician, row.slip, row.factor, row.origin) == (
        "readings-differ",
        "demand_dose",
        "",
        "decimal-shift",
        "10",
        "reading",
    )
    assert (row.unit, row.bed, row.kind, row.drug) == (WARD, "1", "set-up", "HYDROmorphone")
    assert (row.independence, row.earlier_look, row.repeated) == ("two-devices", False, False)
    assert told(ward)[1:] == ((), None)

    ward.reads_again(TOMAS).both_read(DIFFERING).compares()
    ward.reads_again(NADIA, "device").both_read().compares()
    assert told(ward)[1:] == ((), None), "nothing is settled for others before it has ended"
    ward.confirms_all().both_sign().both_look().starts()
    findings, settled, ended = told(ward)

    by_place = {(each.round, each.number): each for each in settled}
    assert by_place.keys() == {(each.round, each.number) for each in findings}
    first = by_place[1, row.number]
    assert (first.settled, first.settled_in_round, first.settled_by) == ("read again", 2, "B")
    assert first.settled_at is not None
    assert first.seconds_to_settle == int((first.settled_at - row.compared_at).total_seconds())
    put_right = next(by_place[each.round, each.number] for each in findings if each.code == "device-differs")
    assert (put_right.settled, put_right.settled_by) == ("put right", "A")
    assert ended is not None
    stops = sum(each.severity == "stop" and not each.repeated for each in findings)
    told_of = (ended.how, ended.reason, ended.rounds, ended.rereadings, ended.stops)
    assert told_of == ("started", "", 3, 2, stops)
    assert ended.opened_at < (ended.compared_at or ended.opened_at) < (ended.started_at or ended.opened_at)
    assert (ended.cleared_at, ended.was_lapsed, ended.edition) == (ward.state().cleared_at, False, 1)


def test_a_primed_volume_that_does_not_hold_has_a_row_and_a_page(ward: Ward) -> None:
    ward.at_stage(Phase.STEPS).primes("1 mL").primes().confirms_all().both_sign().both_look().starts()
    findings, settled, ended = told(ward)
    (below,) = (each for each in findings if each.subject == PRIMING)
    (how,) = (each for each in settled if each.subject == PRIMING)

    assert (below.code, below.severity, below.round) == ("primed-volume-below-set", "stop", 1)
    assert (how.settled, how.settled_in_round, how.settled_by) == ("put right", 2, "A")
    assert ended is not None
    assert ended.stops == 1
    assert check_invariants(ward.site, ward.now) == ()
    place = Place(**{name: getattr(below, name) for name in ("check", "subject", "round", "number")})
    seen = see_finding(ward.site, ward.act(QUILL), QUILL.roles, place)
    assert isinstance(seen, FindingSeen)
    assert (seen.found.code, seen.kept.subject) == (below.code, SOURCES)


def test_what_was_acknowledged_has_both_letters_and_reasons(one_ward: Ward) -> None:
    ward = one_ward.at_stage(Phase.AGREED)
    for who in (NADIA, TOMAS):
        ward.acknowledges(who, "patient-at-risk")
    ward.confirms_all().both_sign().both_look().starts()
    caution = next(each for each in told(ward)[1] if each.settled == "acknowledged")

    assert caution.settled_by == "AB"
    assert caution.reason_a
    assert caution.reason_a == caution.reason_b


def test_a_rule_set_aside_and_a_lapse_are_counted(one_ward: Ward) -> None:
    changes = {"demand_dose": "0.8 mg", "limit_amount": "4 mg"}
    half = {"amount": "3 mg", "volume": "15 mL"}
    ward = one_ward.opens().joins()
    ward.both_read(changed(answers(), order=changes, label=half, device=changes)).compares()
    ward.asks_for_help().takes_help(PETRA).grants("above-hard-limit", PETRA).settles_help("other", PETRA)
    ward.confirms_all().both_sign().wait(timedelta(hours=5)).abandons()
    _, settled, ended = told(ward)

    assert "exception" in {each.settled for each in settled}
    assert ended is not None
    assert (ended.how, ended.reason, ended.was_lapsed) == ("abandoned", "order-withdrawn", True)
    assert (ended.exceptions, ended.escalated) == (1, 1)
    assert ended.cleared_at is not None
    assert ended.started_at is None


def test_people_stand_under_one_pseudonym_in_every_row_and_no_name(one_ward: Ward) -> None:
    ward = one_ward.at_stage(Phase.STARTED)
    first = told(ward)[2]
    ward.re_checks().both_read(DIFFERING).compares().abandons()
    findings, _, ended = told(ward)

    assert first is not None
    assert ended is not None
    both = {(each.pseudonym_a, each.pseudonym_b) for each in (first, ended)}
    both |= {(each.pseudonym_a, each.pseudonym_b) for each in findings}
    assert len(both) == 1
    with ward.site.store.read() as reader:
        people = reader.people_with((NADIA.id, TOMAS.id)).values()
    named = {who for each in people for who in (each.id, each.staff_number, each.login)}
    assert not named & {*both.pop()}


@pytest.mark.parametrize("phase", sorted(set(WAYS) - ENDED))
def test_what_goes_on_has_no_row_of_an_end(one_ward: Ward, phase: Phase) -> None:
    assert told(one_ward.at_stage(phase))[1:] == ((), None)


def test_a_patient_stands_under_one_pseudonym_and_under_none_where_no_wristband_was_compared(
    one_ward: Ward,
) -> None:
    _, _, first = told(one_ward.at_stage(Phase.STARTED))
    _, _, handoff = told(one_ward.hands_over().both_read().compares().both_sign())
    one_ward.opens().abandons()
    _, _, unread = told(one_ward)

    assert first is not None
    assert handoff is not None
    assert unread is not None
    assert len(first.patient) == 16
    assert first.patient == handoff.patient
    assert first.patient not in {first.pseudonym_a, first.pseudonym_b}
    assert unread.patient == ""
