"""Who sees what of a check, in every phase: one table. A cell says how much: -, progress, fields, all."""

from dataclasses import replace
from datetime import timedelta
from itertools import product

import pytest

from app.people import Permission, Role, may
from app.records import events
from app.records.followup import Found, scope_to_read_again
from app.records.kept import FIRST, KeptInfusion
from app.records.kinds import RE_CHECK
from app.records.state import Phase
from app.records.steps import DIFFERS
from app.records.visibility import (
    Sight,
    Viewer,
    as_seen,
    is_blind_in,
    is_closed_to,
    may_see_messages,
    sight,
    visible_to_others,
)
from tests.factories.findings import CAUTION, DEVICE_WRONG, DIFFER, RULE, a_finding
from tests.story.events import CHECK, NADIA, RUTH, TOMAS, Story

HERE, ELSEWHERE = CHECK.unit, "recovery"


def viewer(person: str, unit: str, *roles: Role) -> Viewer:
    return Viewer(
        person=person,
        unit=unit,
        sees_unit=may(roles, Permission.UNIT_STATE),
        reads_records=may(roles, Permission.READ_RECORDS),
    )


VIEWERS = {
    "first nurse": viewer(NADIA, HERE, Role.NURSE),
    "second nurse": viewer(TOMAS, HERE, Role.NURSE),
    "who helps": viewer(RUTH, HERE, Role.CHARGE_NURSE),
    "nurse here": viewer("imogen", HERE, Role.NURSE),
    "charge nurse here": viewer("rosa", HERE, Role.CHARGE_NURSE),
    "nurse elsewhere": viewer("ines", ELSEWHERE, Role.NURSE),
    "charge nurse elsewhere": viewer("ralph", ELSEWHERE, Role.CHARGE_NURSE),
    "pharmacist": viewer("petra", ELSEWHERE, Role.PHARMACIST),
    "quality": viewer("quill", ELSEWHERE, Role.QUALITY),
    "administrator": viewer("adele", HERE, Role.ADMINISTRATOR),
}


def after(told: Story) -> Story:
    """The same story, with help asked for and taken by Ruth before its end."""
    return told.asked_for_help("help-0").help_taken("help-0").help_settled("other", "help-0")


def cleared() -> Story:
    return (
        Story()
        .found()
        .steps_confirmed()
        .frozen()
        .asked_for_help()
        .help_taken()
        .help_settled("other")
        .signed()
    )


def re_check() -> Story:
    return Story(kind=RE_CHECK)


ROWS: dict[str, tuple[Story, Phase]] = {
    "opened": (after(Story().opened()), Phase.OPENED),
    "reading": (after(Story().opened().joined()), Phase.READING),
    "both handed in": (after(Story().opened().joined()).both_handed_in(), Phase.BOTH_HANDED_IN),
    "disputed: readings differ": (after(Story().found(DIFFER, RULE)), Phase.DISPUTED),
    "disputed: device wrong": (after(Story().found(DEVICE_WRONG)), Phase.DISPUTED),
    "reading again": (after(Story().found(DIFFER)).next_reading(), Phase.READING),
    "escalated: readings differ": (
        after(Story().found(DIFFER)).asked_for_help(),
        Phase.ESCALATED,
    ),
    "escalated: a rule": (after(Story().found(RULE)).asked_for_help(), Phase.ESCALATED),
    "agreed": (after(Story().found(CAUTION)), Phase.AGREED),
    "safety steps": (after(Story().found()), Phase.STEPS),
    "signing": (after(Story().found().steps_confirmed().frozen()), Phase.SIGNING),
    "cleared": (cleared(), Phase.CLEARED),
    "lapsed": (cleared().lapsed(), Phase.LAPSED),
    "reading after a lapse": (cleared().lapsed().next_reading("device"), Phase.READING),
    "disputed after a lapse": (cleared().lapsed().read_again(DIFFER, touched=("device",)), Phase.DISPUTED),
    "started": (cleared().looked().started(), Phase.STARTED),
    "abandoned": (after(Story().found(DIFFER)).abandoned(), Phase.ABANDONED),
    "about to be done": (after(re_check().found().frozen()).signed(1), Phase.SIGNING),
    "done": (after(re_check().found().frozen()).signed().done(), Phase.DONE),
    "led to another": (after(re_check().found(DEVICE_WRONG)).led_on(), Phase.LED),
}

N, P, F, A = Sight.NOTHING, Sight.PROGRESS, Sight.FIELDS, Sight.EVERYTHING
COLUMNS = tuple(VIEWERS)
TABLE: dict[str, tuple[Sight, ...]] = {
    #                            1st 2nd helps nurse charge nurse-e charge-e pharm. quality admin.
    "opened": (P, P, A, P, P, N, N, P, N, N),
    "reading": (P, P, A, P, P, N, N, P, N, N),
    "both handed in": (P, P, A, P, P, N, N, P, N, N),
    "disputed: readings differ": (F, F, A, P, P, N, N, P, N, N),
    "disputed: device wrong": (A, A, A, P, P, N, N, P, N, N),
    "reading again": (P, P, A, P, P, N, N, P, N, N),
    "escalated: readings differ": (F, F, A, P, P, N, N, P, N, N),
    "escalated: a rule": (A, A, A, P, P, N, N, P, N, N),
    "agreed": (A, A, A, P, P, N, N, P, N, N),
    "safety steps": (A, A, A, P, P, N, N, P, N, N),
    "signing": (A, A, A, P, P, N, N, P, N, N),
    "cleared": (A, A, A, A, A, N, N, A, A, N),
    "lapsed": (A, A, A, A, A, N, N, A, A, N),
    # What is read again is open again: nobody outside sees a value until it is cleared anew.
    "reading after a lapse": (P, P, A, P, P, N, N, P, N, N),
    "disputed after a lapse": (F, F, A, P, P, N, N, P, N, N),
    "started": (A, A, A, A, A, N, N, A, A, N),
    "abandoned": (A, A, A, A, A, N, N, A, A, N),
    "about to be done": (A, A, A, P, P, N, N, P, N, N),
    "done": (A, A, A, A, A, N, N, A, A, N),
    "led to another": (A, A, A, A, A, N, N, A, A, N),
}


@pytest.mark.parametrize(("row", "column"), list(product(ROWS, COLUMNS)))
def test_each_cell(row: str, column: str) -> None:
    told, phase = ROWS[row]

    assert told.state().phase is phase
    assert sight(told.state(), VIEWERS[column]) is TABLE[row][COLUMNS.index(column)]


def test_the_table_has_every_phase() -> None:
    assert TABLE.keys() == ROWS.keys()
    assert {phase for _, phase in ROWS.values()} == set(Phase)


@pytest.mark.parametrize(("row", "column"), list(product(ROWS, COLUMNS)))
def test_whoever_reads_blind_at_the_bed_sees_no_more_than_progress(row: str, column: str) -> None:
    open_eyes = VIEWERS[column]
    blind = replace(open_eyes, blind_at=frozenset({(CHECK.unit, CHECK.bed)}))
    elsewhere = replace(
        open_eyes, blind_at=frozenset({(CHECK.unit, "another bed"), ("another unit", CHECK.bed)})
    )
    state = ROWS[row][0].state()

    # The check in which one reads blind itself shows at most what differs; any other at the bed nothing.
    itself = column in {"first nurse", "second nurse"} and is_blind_in(state)
    seen = sight(state, open_eyes)
    wherever = replace(open_eyes, blind_on=frozenset({CHECK.infusion}))
    for each in (blind, wherever):
        assert sight(state, each) is (seen if itself else min(seen, Sight.PROGRESS))
    assert not itself or seen <= Sight.FIELDS
    assert sight(state, elsewhere) is sight(state, open_eyes)


def test_an_infusion_is_closed_to_whoever_reads_at_its_bed_or_reads_it_wherever_it_is_found() -> None:
    infusion = KeptInfusion(id=CHECK.infusion, unit=CHECK.unit, bed=CHECK.bed, opened_at=CHECK.opened_at)
    nurse = VIEWERS["nurse here"]

    assert not is_closed_to(infusion, nurse)
    assert is_closed_to(infusion, replace(nurse, blind_at=frozenset({(CHECK.unit, CHECK.bed)})))
    assert is_closed_to(infusion, replace(nurse, blind_on=frozenset({CHECK.infusion})))
    others = replace(nurse, blind_at=frozenset({(CHECK.unit, "13")}), blind_on=frozenset({"infusion-2"}))
    assert not is_closed_to(infusion, others)


def test_who_has_not_yet_taken_the_request_sees_no_more_than_before() -> None:
    asked = Story().found(DIFFER).asked_for_help()

    assert sight(asked.state(), VIEWERS["who helps"]) is Sight.PROGRESS
    assert sight(asked.help_taken().state(), VIEWERS["who helps"]) is Sight.EVERYTHING


def test_from_whom_the_request_was_taken_over_sees_no_more_than_before_it() -> None:
    taken = Story().found(DIFFER).asked_for_help().help_taken().help_taken(turn=2, by="petra")

    assert sight(taken.state(), VIEWERS["who helps"]) is Sight.PROGRESS
    assert sight(taken.help_taken(turn=3).state(), VIEWERS["who helps"]) is Sight.EVERYTHING


@pytest.mark.parametrize(
    ("row", "word"),
    [
        ("opened", "second wanted"),
        # Whether the two agree is a verdict: until the end one word serves for all of this.
        ("reading", "in progress"),
        ("both handed in", "in progress"),
        ("disputed: readings differ", "in progress"),
        ("disputed: device wrong", "in progress"),
        ("reading again", "in progress"),
        ("agreed", "in progress"),
        ("safety steps", "in progress"),
        ("signing", "in progress"),
        ("escalated: a rule", "asked for help"),
        ("cleared", "ready to start"),
        ("lapsed", "no longer ready to start"),
        ("started", "started"),
        ("abandoned", "given up"),
    ],
)
def test_the_word_that_others_see(row: str, word: str) -> None:
    assert word_of(ROWS[row][0]) == word


def word_of(told: Story) -> str:
    return visible_to_others(told.state(), told.infusion())


def test_a_device_that_was_stopped_after_the_start_is_not_called_started() -> None:
    ready = cleared().looked()
    assert word_of(ready.started().stopped()) == "the device was stopped"
    # Started since: what was stopped before is over.
    assert word_of(cleared().stopped().looked().started()) == "started"


@pytest.mark.parametrize(
    ("told", "word"),
    [
        (re_check().found(DEVICE_WRONG), "ACT NOW"),
        # While the readings differ, nobody else is told that, nor what else was found.
        (re_check().found(DIFFER), "in progress"),
        (re_check().found(DIFFER, DEVICE_WRONG), "in progress"),
        (re_check().found(DIFFER).asked_for_help(), "asked for help"),
        (re_check().found(DEVICE_WRONG).asked_for_help(), "ACT NOW"),
        (re_check().found(DIFFER).next_reading(), "in progress"),
        (re_check().found(CAUTION), "in progress"),
        (re_check().found(DEVICE_WRONG).led_on(), "led to a repeat set-up"),
        (re_check().found(DEVICE_WRONG).abandoned(), "given up"),
        (re_check().found().frozen().signed().done(), "done"),
    ],
)
def test_of_a_running_device_the_unit_is_told_that_somebody_must_act(told: Story, word: str) -> None:
    assert word_of(told) == word


def test_an_abandoned_check_no_longer_asks_for_help() -> None:
    assert word_of(Story().found(DIFFER).asked_for_help().abandoned()) == "given up"


def test_clearance_that_ran_out_by_the_clock_hides_nothing_again() -> None:
    late = cleared().state(later=timedelta(hours=1))

    assert late.phase is Phase.LAPSED
    assert sight(late, VIEWERS["quality"]) is Sight.EVERYTHING


# ---------------------------------------------------------------------------------------------------------
# What is handed out


def told_at_length() -> Story:
    """A story with values, verdicts and free text in every place that has one."""
    told = Story().opened().joined().voided(why="it leaks").both_handed_in().compared(DIFFER, RULE, CAUTION)
    told.asked_for_help(text="I read 4.4 mg").help_taken().excepted(RULE).help_settled("other")
    told.stopped(totals="23 presses", why="over-sedation", stopped_at="12:50").observed().acknowledged(
        CAUTION
    )
    told.tell(events.StepsConfirmed(slot=FIRST, group=2, part=DIFFERS, steps=("right-patient",)), by=NADIA)
    told.taken_back("2.71 mL")
    told.next_reading("device", why="it was set to 4 mg")
    return told.both_handed_in().compared(DIFFER, RULE, CAUTION)


@pytest.mark.parametrize("allowed", [Sight.NOTHING, Sight.PROGRESS, Sight.FIELDS])
def test_below_everything_no_value_and_no_free_text_is_handed_out(allowed: Sight) -> None:
    shown = as_seen(told_at_length().state(), allowed)
    text = repr(shown)

    for value in (
        "10 mg",
        "4 mg",
        "2.5 mg",
        "97 %",
        "2.71 mL",
        "Dr Brandt",
        "I read 4.4 mg",
        "I looked.",
        "23 presses",
        "it leaks",
        # That another patient was read before connecting is a verdict.
        "part='differs'",
        RULE.key,
        DIFFER.key,
    ):
        assert value not in text


@pytest.mark.parametrize("allowed", [Sight.NOTHING, Sight.PROGRESS, Sight.FIELDS])
def test_below_everything_the_rest_is_there_and_empty(allowed: Sight) -> None:
    state = told_at_length().confirmed(FIRST, "cover-locked").state()
    shown = as_seen(state, allowed)

    assert [each.number for each in shown.rounds] == [each.number for each in state.rounds]
    assert {each.why for each in shown.rounds} == {""}
    assert [each.voided for each in shown.rounds] == [
        "voided" if each.voided else "" for each in state.rounds
    ]
    assert (shown.acknowledgements, shown.exemptions, shown.taken_back) == ((), (), ())
    assert (shown.baseline, shown.baselines, shown.differed) == (None, (), ())
    assert shown.help == tuple(replace(each, text="", settled_text="") for each in state.help)
    assert shown.stop_notes == tuple(
        replace(each, stopped_at="", why="", totals="") for each in state.stop_notes
    )
    assert shown.stop_notes
    assert shown.confirmations == tuple(each for each in state.confirmations if each.part != DIFFERS)
    assert shown.confirmations
    assert shown.last_position == state.told_position


def test_while_the_two_read_the_last_position_is_the_last_that_both_are_told_of() -> None:
    told = Story().opened().joined()
    before = as_seen(told.state(), Sight.PROGRESS).last_position

    assert as_seen(told.handed_in(FIRST).state(), Sight.PROGRESS).last_position == before


def test_of_a_field_to_be_read_again_nothing_else_is_told() -> None:
    found = a_finding(
        "readings-differ",
        "demand_dose",
        {"A.order": "1 mg", "B.order": "1 mg", "A.device": "1 mg", "B.device": "2 mg"},
    )
    (shown,) = as_seen(Story().found(found).state(), Sight.FIELDS).findings

    assert shown == Found(
        key="",
        code="readings-differ",
        severity="stop",
        field="demand_dose",
        clinician="",
        readings={"A.device": None, "B.device": ""},
        says="",
        slip="",
        factor="",
        origin="",
    )


def test_of_what_differs_only_field_and_source_are_left() -> None:
    state = told_at_length().state()
    shown = as_seen(state, Sight.FIELDS)

    assert [each.code for each in shown.findings] == ["readings-differ"]
    assert scope_to_read_again(shown.open_stops) == scope_to_read_again(state.open_stops)
    assert (shown.phase, shown.must_read_again) == (state.phase, True) == (Phase.DISPUTED, True)


@pytest.mark.parametrize(
    "found",
    [
        a_finding("patient-differs", "patient.identifier", {"A": "1", "B": "2"}),
        a_finding("reading-missing", "chart.allergy", {"A.chart": None, "B.chart": "charted"}),
        a_finding(
            "readings-differ",
            "concentration",
            {"A.label": "1", "B.label": "5", "A.order": "1", "B.order": "1"},
        ),
    ],
)
def test_the_same_is_read_again_as_before(found: Found) -> None:
    state = Story().found(found).state()

    assert scope_to_read_again(as_seen(state, Sight.FIELDS).findings) == scope_to_read_again(state.findings)


def test_a_verdict_is_not_handed_out() -> None:
    told = [Story().found(*findings) for findings in ((), (DIFFER,), (RULE,), (CAUTION,))]
    shown = [as_seen(each.state(), Sight.PROGRESS) for each in told]

    assert len({repr(each) for each in shown}) == 1
    assert len({word_of(each) for each in told}) == 1
    # Nor is one by the infusion's state, which stands beside the check's and is closed to nobody.
    assert len({repr(each.infusion()) for each in told}) == 1


def test_whoever_may_see_everything_is_handed_everything() -> None:
    state = told_at_length().state()

    assert as_seen(state, Sight.EVERYTHING) is state


@pytest.mark.parametrize("allowed", Sight)
@pytest.mark.parametrize("reads_records", [True, False])
def test_orders_as_they_came_are_for_readers_of_records_once_a_check_has_ended(
    allowed: Sight, *, reads_records: bool
) -> None:
    for story, ended in ((cleared(), False), (cleared().abandoned(), True)):
        seen = may_see_messages(story.state(), allowed, reads_records=reads_records)
        assert seen is (ended and reads_records and allowed is Sight.EVERYTHING)
