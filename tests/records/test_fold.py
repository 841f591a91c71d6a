"""Each event, and what it adds to the state of a check."""

from collections.abc import Callable
from dataclasses import fields, replace

import pytest

from app.records import (
    account_events,
    answering_events,
    boluses,
    change_events,
    emergencies,
    ending_events,
    events,
    export_events,
    issue_events,
    order_events,
    paper_events,
    review_events,
    sample_events,
    site_events,
    training_events,
    ward_events,
)
from app.records.event_kinds import KINDS
from app.records.kept import FIRST, SECOND
from app.records.kinds import END_OF_PCA, RE_CHECK
from app.records.reading import WHOLE
from app.records.state import CheckState, Phase, Round
from app.records.taken_back import IN_LINE
from app.records.written import as_data, from_data
from tests.factories.findings import CAUTION, DEVICE_WRONG, DIFFER, RULE
from tests.story.events import NADIA, RUTH, TOMAS, Story

# Of these none is about a check.
OF_OTHER_THINGS = (
    account_events,
    answering_events,
    change_events,
    issue_events,
    order_events,
    paper_events,
    review_events,
    sample_events,
    site_events,
    training_events,
)
ABOUT_NO_CHECK = {
    *(
        kind
        for kind, event in KINDS.items()
        if event.__module__ in {each.__name__ for each in OF_OTHER_THINGS}
    ),
    # They stand with a check, and until a witness has read too they change nothing in it.
    ending_events.DrugRead.kind,
    ending_events.DrugReadApart.kind,
    events.AccountChanged.kind,
    events.PersonNamed.kind,
    events.UnitNamed.kind,
    events.SecurityNoted.kind,
    export_events.Exported.kind,
    events.StartedWithoutCheck.kind,
    events.ResetRead.kind,
    events.KeysFounded.kind,
    *(kind for kind in KINDS if kind.startswith("personal-key-")),
    # What followed a record stands beside it.
    events.WhatFollowedIssued.kind,
    ward_events.BedAdded.kind,
    ward_events.BedRetired.kind,
    ward_events.StopSettled.kind,
    ward_events.RunsAgainBeside.kind,
    ward_events.StartRefused.kind,
    ending_events.EndWithdrawn.kind,
    ward_events.LinePaused.kind,
    ward_events.LineLooked.kind,
    ward_events.LineResumed.kind,
    ward_events.PatientObserved.kind,
    *emergencies.TELLING,
    *boluses.OF_BOLUSES,
}

after = Story.state


def _stops() -> Story:
    return Story().opened().joined().stopped()


def _stopped() -> CheckState:
    return after(_stops())


# What happened -> what one question about the state now answers.
_DOSE_ALONE = (("device", ("demand_dose",)),)

TOLD: dict[str, tuple[str, Callable[[], object], object]] = {
    "check-opened": (
        "passes on how often an abandoned check before it was read again",
        lambda: after(Story().opened(rereadings_before=2)).rereadings,
        2,
    ),
    "joined": (
        "names the first nurse and the second",
        lambda: dict(after(Story().opened().joined()).people),
        {FIRST: NADIA, SECOND: TOMAS},
    ),
    "handed-in": (
        "says who has handed in",
        lambda: set(_current(Story().opened().joined().handed_in(SECOND)).handed_in),
        {SECOND},
    ),
    "round-voided": (
        "opens the next round with the same scope, and whole what the danger was in",
        lambda: [
            (each.number, each.scope, each.voided, each.danger_in)
            for each in after(
                Story().found(DIFFER).next_reading(scope=_DOSE_ALONE).voided("device", "label")
            ).rounds
        ],
        [
            (1, WHOLE, "", ()),
            (2, _DOSE_ALONE, "danger", ("device", "label")),
            (3, (("label", ()), ("device", ())), "", ()),
        ],
    ),
    "compared": (
        "brings the findings",
        lambda: after(Story().found(DIFFER)).findings,
        (DIFFER,),
    ),
    "next-reading-opened": (
        "names what is read again and what was touched",
        lambda: (
            _current(Story().found(DEVICE_WRONG).next_reading("device")).scope,
            _current(Story().found(DEVICE_WRONG).next_reading("device")).touched,
        ),
        ((("device", ()),), ("device",)),
    ),
    "caution-acknowledged": (
        "is one clinician's",
        lambda: [
            len(after(Story().found(CAUTION).acknowledged(CAUTION, FIRST)).unacknowledged(slot))
            for slot in (FIRST, SECOND)
        ],
        [0, 1],
    ),
    "steps-confirmed": (
        "says who confirmed what, and in which part",
        lambda: [
            (each.step, each.part, each.by)
            for each in after(Story().found().confirmed(FIRST, "cover-locked")).confirmations
        ],
        [("cover-locked", "done", NADIA)],
    ),
    "baseline-observed": (
        "keeps what was observed",
        lambda: _observed(Story().found().observed(below=True)),
        ("0", "14 /min", "97 %", True, NADIA),
    ),
    "record-frozen": (
        "gives the edition and the digest to be signed",
        lambda: (
            after(Story().found().steps_confirmed().frozen(2)).edition,
            after(Story().found().steps_confirmed().frozen(2)).frozen_digest,
        ),
        (2, "digest-2"),
    ),
    "signed": (
        "is each clinician's own; only both together clear",
        lambda: (
            after(Story().found().steps_confirmed().frozen().signed(FIRST)).cleared,
            after(Story().cleared()).cleared,
            {slot: each.by for slot, each in after(Story().cleared()).signatures.items()},
        ),
        (False, True, {FIRST: NADIA, SECOND: TOMAS}),
    ),
    "record-issued": (
        "says that the PDF of an edition is there",
        lambda: after(Story().cleared().tell(events.RecordIssued(edition=1, pdf_digest="d"))).issued,
        frozenset({1}),
    ),
    "last-look-taken": (
        "counts only when the device was as agreed",
        lambda: (
            after(Story().cleared().looked(FIRST)).last_looks,
            after(Story().cleared().looked(FIRST, same=False)).last_looks,
        ),
        (frozenset({FIRST}), frozenset()),
    ),
    "drug-taken-back": (
        "says what was left where, by whom it was written and who saw it",
        lambda: [
            (each.held_in, each.volume, each.by, each.witness)
            for each in after(Story().found(DEVICE_WRONG).next_reading("label").taken_back()).taken_back
        ],
        [(IN_LINE, "2.3 mL", NADIA, RUTH)],
    ),
    "clearance-lapsed": (
        "ends the clearance and says why",
        lambda: (after(Story().cleared().lapsed()).lapse, after(Story().cleared().lapsed()).cleared),
        ("last-look-differs", False),
    ),
    "started": (
        "says when",
        lambda: _started_after_last_event(Story().cleared().looked().started()),
        True,
    ),
    "check-done": (
        "ends it, with the second signature",
        lambda: after(Story(kind=RE_CHECK).found().frozen().signed().done()).has_ended,
        True,
    ),
    "infusion-ended": (
        "ends it likewise",
        lambda: (
            after(
                Story(kind=END_OF_PCA).found().tell(ending_events.InfusionEnded(check_kind="end-of-pca"))
            ).has_ended
        ),
        True,
    ),
    "led-to-check": (
        "ends it, and says what kind of check comes next",
        lambda: (after(Story(kind=RE_CHECK).found(DEVICE_WRONG).led_on()).led_to, _led().has_ended),
        ("repeat-set-up", True),
    ),
    "abandoned": (
        "says why",
        lambda: after(Story().opened().abandoned()).abandoned,
        "order-withdrawn",
    ),
    "help-asked": (
        "is open until it is settled",
        lambda: [(each.asked_by, each.why, each.taken_by) for each in _asked().help],
        [(NADIA, "readings", "")],
    ),
    "help-taken": (
        "names the third person",
        lambda: [(each.taken_by, each.takers) for each in after(_asking().help_taken()).help],
        [(RUTH, {RUTH})],
    ),
    "help-settled": (
        "says what follows, and closes the request",
        lambda: (
            [(each.outcome, each.settled_text) for each in _settled("other").help],
            _settled("other").open_help,
        ),
        ([("other", "I looked.")], None),
    ),
    "exception-granted": (
        "sets one rule aside",
        lambda: (
            after(Story().found(RULE).excepted(RULE)).open_stops,
            [each.by for each in after(Story().found(RULE).excepted(RULE)).exemptions],
        ),
        ((), [RUTH]),
    ),
    "device-stopped": (
        "says when and by whom, and the round goes on",
        lambda: ([(each.at, each.by) for each in _stopped().stop_notes], _stopped().phase),
        ([(_stopped().now, RUTH)], Phase.READING),
    ),
    "stop-misplaced": (
        "says of one stop that it was written at the wrong bed",
        lambda: [each.misplaced for each in after(_stops().stopped().misplaced()).stop_notes],
        [False, True],
    ),
}


def _current(story: Story) -> Round:
    current = after(story).current
    assert current is not None
    return current


def _observed(story: Story) -> object:
    seen = after(story).baseline
    assert seen is not None
    return (seen.sedation, seen.respiratory_rate, seen.spo2, seen.below, seen.by)


def _asking() -> Story:
    return Story().found(DIFFER).asked_for_help()


def _asked() -> CheckState:
    return after(_asking())


def _settled(outcome: str) -> CheckState:
    return after(_asking().help_taken().help_settled(outcome))


def _led() -> CheckState:
    return after(Story(kind=RE_CHECK).found(CAUTION).led_on())


def _started_after_last_event(story: Story) -> bool:
    return after(story).started_at == story.now


def test_of_two_requests_only_the_one_that_is_named_is_taken() -> None:
    told = Story().found(DIFFER).asked_for_help("help-1").help_taken("help-1").help_settled("other", "help-1")
    told.asked_for_help("help-2").help_taken("help-2")

    assert [(each.id, each.taken_by, each.outcome) for each in after(told).help] == [
        ("help-1", RUTH, "other"),
        ("help-2", RUTH, ""),
    ]
    assert [
        each.taken_by for each in after(_asking().asked_for_help("help-2").help_taken("help-2")).help
    ] == [
        "",
        RUTH,
    ]


@pytest.mark.parametrize("kind", TOLD)
def test_each_event(kind: str) -> None:
    _what_it_does, told, wanted = TOLD[kind]

    assert told() == wanted


def test_every_event_of_a_check_is_in_the_table() -> None:
    assert TOLD.keys() | ABOUT_NO_CHECK == KINDS.keys()
    assert not TOLD.keys() & ABOUT_NO_CHECK


@pytest.mark.parametrize(
    "event",
    [
        events.AccountChanged(person="nadia", what="made"),
        events.SecurityNoted(person="nadia", what="signed in"),
        export_events.Exported(
            export="export-1", form="csv", from_date="2031-05-01", to_date="2031-05-02", deidentified=False
        ),
        site_events.ProposalApproved(proposal="p", proposed_by="petra", roles=("administrator",)),
        events.StartedWithoutCheck(reason="no second", started_at=""),
        events.WhatFollowedIssued(edition=1, document_digest="d", pdf_digest="d"),
    ],
)
def test_an_event_about_no_check_changes_nothing(event: events.Event) -> None:
    before, told = Story().found(), Story().found().tell(event)

    apart = {"now": 0, "last_position": 0}
    assert vars(told.state()) | apart == vars(before.state()) | apart


@pytest.mark.parametrize("kind", KINDS)
def test_what_is_written_down_is_what_happened(kind: str) -> None:
    event = KINDS[kind](**{each.name: "text" for each in fields(KINDS[kind])})

    assert from_data(kind, as_data(event)) == event


def test_a_list_that_was_written_down_is_frozen_again() -> None:
    event = events.NextReadingOpened(
        round=2, scope=(("device", ("lockout", "mode")), ("label", ())), touched=("label",), why=""
    )
    read = {**as_data(event), "scope": [["device", ["lockout", "mode"]], ["label", []]]}

    assert from_data("next-reading-opened", {**read, "touched": ["label"]}) == event


def test_the_last_position_is_the_last_entrys() -> None:
    assert Story().opened().joined().state().last_position == 3
    assert Story().state().last_position == 0


def test_of_another_checks_entries_only_a_stop_counts_and_only_from_the_opening_on() -> None:
    def of_another(told: Story) -> Story:
        told.entries[-1] = replace(told.entries[-1], check="another check", by=RUTH)
        return told

    early = of_another(Story().stopped()).opened()
    assert (after(early).stop_notes, after(early).phase) == ((), Phase.OPENED)
    late = of_another(of_another(early.started()).stopped())
    assert [each.by for each in after(late).stop_notes] == [RUTH]
    assert (after(late).started_at, after(late).phase) == (None, Phase.OPENED)


def test_until_both_have_handed_in_only_what_both_may_know_moves_the_position_that_is_told() -> None:
    joined = Story().opened().joined()
    told = joined.state().told_position
    assert joined.handed_in(FIRST).state().told_position == told
    assert joined.asked_for_help().state().told_position == told

    # A stop at the bed, and danger.
    assert joined.stopped().state().told_position == joined.state().last_position
    assert joined.voided("label").state().told_position == joined.state().last_position

    joined.both_handed_in()
    assert joined.state().told_position == joined.state().last_position
    assert joined.compared(DIFFER).next_reading().state().told_position == joined.state().last_position
    told = joined.state().told_position
    assert joined.handed_in(SECOND).state().told_position == told < joined.state().last_position
