"""Flat rows of findings and of ended checks, made from a check's state."""

from dataclasses import replace
from datetime import timedelta

import pytest

from app.records.canonical import canonical
from app.records.flat_rows import Facts, find_patient, rows_of_check
from app.records.followup import Found
from app.records.formats import COMPARISON, READ
from app.records.kept import PRIMING, SOURCES, Access, FrozenRecord, KeptComparison
from app.records.kept_rows import EndedRow, RowsOfCheck, are_as_made, lacking
from app.records.kinds import RE_CHECK
from app.records.state import Phase
from tests.factories.findings import CAUTION, DEVICE_WRONG, DIFFER, NOTE, RULE, a_finding
from tests.story.events import BEGAN, CHECK, NADIA, TOMAS, Story
from tests.story.script import perform

VOLUME = {"left": {"exact": "29/2"}, "difference": None}
ACCOUNT = {"result": {"verdict": "cautioned", "infusion": {"volume": VOLUME}}}
ORDER = {"drug": "morphine"}


def comparison(
    number: int, *, order: dict[str, str] | None = None, devices: object = None, **told: object
) -> KeptComparison:
    """A comparison of a round in which both read one drug on the device, and on the order unless told."""
    entry = {"device": {"drug": "HYDROmorphone"}, "order": ORDER if order is None else order, "label": {}}
    return KeptComparison(
        check=CHECK.id,
        subject=SOURCES,
        round=number,
        at=BEGAN,
        engine="1.2.3",
        case=canonical(
            {
                "format": READ.newest,
                "case": {"entries": [entry, entry]},
                "answers": devices or {"A": {}, "B": {}},
            }
        ),
        result=canonical({"format": COMPARISON.newest, "findings": [], **told}),
    )


def volume(number: int, *found: Found, by: str = "A", minutes: int = 20) -> KeptComparison:
    """A primed volume that one of the two read, judged beside the first round."""
    return replace(
        comparison(number, findings=[each.as_data() for each in found]),
        subject=PRIMING,
        at=BEGAN + timedelta(minutes=minutes),
        case=canonical({"format": READ.newest, "against": 1, "by": by}),
    )


def rows(
    story: Story, *comparisons: KeptComparison, looks: tuple[Access, ...] = (), frozen: str = ""
) -> RowsOfCheck:
    state = story.state()
    record = FrozenRecord(
        check=CHECK.id, edition=1, at=BEGAN, document=canonical({"format": frozen}), digest=""
    )
    return rows_of_check(
        Facts(
            state=state,
            comparisons=comparisons
            or tuple(comparison(each.number) for each in state.rounds if each.compared_at is not None),
            entries=story.entries,
            frozen=[record] if frozen else [],
            looks=looks,
            versions={"policy": "policy-1", "library": "library-1"},
            invented=True,
            pseudonyms={1: "of-nadia"},
        )
    )


def ended(
    story: Story, *comparisons: KeptComparison, looks: tuple[Access, ...] = (), frozen: str = ""
) -> EndedRow:
    found = rows(story, *comparisons, looks=looks, frozen=frozen).ended
    assert found is not None
    return found


def a_look(minutes: int, person: str = NADIA) -> Access:
    at = BEGAN + timedelta(minutes=minutes)
    return Access(at=at, person=person, session="s", check="another", what="record")


def test_what_goes_on_has_findings_and_nothing_settled() -> None:
    told = rows(Story().found(DIFFER, NOTE))

    assert [(each.round, each.number, each.code, each.severity) for each in told.findings] == [
        (1, 1, "readings-differ", "stop"),
        (1, 2, "syringe-short", "note"),
    ]
    assert (told.settled, told.ended) == ((), None)


def test_a_finding_says_where_and_by_whom_it_was_found_and_no_value() -> None:
    about = replace(DIFFER, clinician="B", slip="decimal-shift", factor="10", origin="reading", group="g")
    (row,) = rows(Story().found(about)).findings

    assert (row.check, row.infusion, row.unit, row.bed, row.kind) == (
        CHECK.id,
        CHECK.infusion,
        CHECK.unit,
        CHECK.bed,
        "set-up",
    )
    assert (row.field, row.clinician, row.group, row.origin, row.slip, row.factor) == (
        "demand_dose",
        "B",
        "g",
        "reading",
        "decimal-shift",
        "10",
    )
    assert (row.independence, row.pseudonym_a, row.pseudonym_b) == ("two-devices", "of-nadia", "")
    assert not {"1 mg", "10 mg"} & {*map(str, vars(row).values())}


def test_what_an_earlier_round_had_already_is_told_apart() -> None:
    told = rows(Story().found(DIFFER).read_again(DIFFER, DEVICE_WRONG).abandoned())

    assert [(each.round, each.code, each.repeated) for each in told.findings] == [
        (1, "readings-differ", False),
        (2, "readings-differ", True),
        (2, "device-differs", False),
    ]
    assert told.ended is not None
    assert (told.ended.stops, told.ended.cautions, told.ended.notes) == (2, 0, 0)


@pytest.mark.parametrize(
    ("order", "drug"), [(ORDER, "morphine"), ({}, "HYDROmorphone")], ids=["on the order", "on the device"]
)
def test_the_drug_is_what_both_read(order: dict[str, str], drug: str) -> None:
    told = rows(Story().found(DIFFER).abandoned(), comparison(1, order=order))

    assert told.findings[0].drug == drug
    assert told.ended is not None
    assert told.ended.drug == drug


def test_a_look_before_the_comparison_counts_and_one_after_it_does_not() -> None:
    story = Story().found(DIFFER).abandoned()

    assert [rows(story, looks=(a_look(at),)).findings[0].earlier_look for at in (1, 30)] == [True, False]
    assert [ended(story, looks=(a_look(at),)).earlier_look for at in (1, 30)] == [True, False]
    assert not rows(story, looks=(a_look(1, "somebody"),)).findings[0].earlier_look


def test_how_each_came_to_rest() -> None:
    story = Story().found(DIFFER).read_again(DEVICE_WRONG)
    story.read_again(RULE, CAUTION, NOTE, touched=("device",))
    story.asked_for_help().help_taken().excepted(RULE).help_settled("other").acknowledged(CAUTION)
    told = rows(story.abandoned())
    by_code = {found.code: row for found, row in zip(told.findings, told.settled, strict=True)}

    assert {
        code: (row.settled, row.settled_in_round, row.settled_by, row.reason_a, row.reason_b)
        for code, row in by_code.items()
    } == {
        "readings-differ": ("read again", 2, "A", "", ""),
        "device-differs": ("put right", 3, "A", "", ""),
        "above-hard-limit": ("exception", 0, "", "", ""),
        "above-soft-limit": ("acknowledged", 0, "AB", "prescriber-asked", "prescriber-asked"),
        "syringe-short": ("for information", 0, "", "", ""),
    }
    assert by_code["syringe-short"].seconds_to_settle is None
    # Read again, handed in by both, compared: three minutes later.
    assert by_code["readings-differ"].seconds_to_settle == 4 * 60


def test_a_check_that_nobody_compared_has_a_row_too() -> None:
    row = ended(Story().opened().abandoned())

    assert (row.how, row.reason, row.rounds, row.joined_at, row.compared_at) == (
        "abandoned",
        "order-withdrawn",
        1,
        None,
        None,
    )
    assert (row.drug, row.independence, row.engine, row.format, row.edition) == ("", "", "", "", 0)
    assert (row.policy, row.library, row.invented) == ("policy-1", "library-1", True)


@pytest.mark.parametrize("phase", [Phase.STARTED, Phase.ABANDONED])
def test_times_are_those_of_the_acts(phase: Phase) -> None:
    story = Story()
    perform(story, phase)
    row, state = ended(story), story.state()

    assert row.how == phase.value
    assert (row.opened_at, row.joined_at) == (CHECK.opened_at, state.joined_at[2])
    assert row.compared_at == state.rounds[0].compared_at
    assert (row.cleared_at, row.started_at) == (state.cleared_at, state.started_at)
    assert row.ended_at == story.now


def test_what_was_cleared_and_lapsed_is_said_of_what_was_given_up() -> None:
    story = Story().cleared().lapsed()
    cleared_at = story.state().cleared_at
    row = ended(story.next_reading("device").abandoned(), frozen="countersign.record/2")

    assert (row.was_lapsed, row.cleared_at, row.rounds, row.rereadings) == (True, cleared_at, 2, 1)
    assert row.format == "countersign.record/2"
    assert not ended(Story().cleared().looked().started()).was_lapsed


def test_voided_rounds_help_and_exceptions_are_counted() -> None:
    story = Story().opened().joined().voided().both_handed_in().compared(RULE)
    row = ended(story.asked_for_help().help_taken().excepted(RULE).help_settled("other").abandoned())

    assert (row.rounds, row.rounds_voided, row.escalated, row.exceptions, row.stops) == (2, 1, 1, 1, 1)


def test_what_the_account_came_to_is_told_exactly() -> None:
    row = ended(Story().found().abandoned(), comparison(1, account=ACCOUNT))

    assert (row.account, row.account_left, row.account_difference) == ("cautioned", "29/2", "")
    assert ended(Story().found().abandoned(), comparison(1, account={"result": None})).account == ""


BELOW = a_finding("primed-volume-below-set", "primed_volume", {"A.device": "1 mL", "B.device": None})
ABOVE = a_finding("primed-volume-above-set", "primed_volume", {"A.device": "4 mL", "B.device": None})


def test_what_a_primed_volume_was_stopped_for_stands_among_the_rows() -> None:
    """Of a judgement, not of a pair of readings: it is put right when the next volume no longer has it."""
    volumes = volume(2, BELOW, by="A", minutes=30), volume(3, by="B", minutes=32), volume(1, BELOW, DIFFER)
    made = rows(Story().found(DIFFER).abandoned(), comparison(1), *volumes)
    of_volumes = [each for each in made.findings if each.subject == PRIMING]

    assert [(each.subject, each.round, each.number) for each in made.findings] == [
        (SOURCES, 1, 1),
        (PRIMING, 1, 1),
        (PRIMING, 1, 2),
        (PRIMING, 2, 1),
    ]
    first, _, again = of_volumes
    assert (first.code, first.severity, first.field) == ("primed-volume-below-set", "stop", "primed_volume")
    assert (first.drug, first.independence, first.earlier_look) == ("morphine", "", False)
    assert first.compared_at == BEGAN + timedelta(minutes=20)
    assert (first.repeated, again.repeated) == (False, True)
    settled = {(each.subject, each.round, each.number): each for each in made.settled}
    how = settled[PRIMING, 1, 1]
    assert (how.settled, how.settled_in_round, how.settled_by) == ("put right", 3, "B")
    assert (how.seconds_to_settle, how.compared_at) == (12 * 60, first.compared_at)
    assert made.ended is not None
    assert (made.ended.stops, made.ended.engine, made.ended.rounds) == (2, "1.2.3", 1)


def test_a_volume_beside_a_caution_stands_and_nobody_is_asked_anything() -> None:
    story = Story().found().abandoned()
    (above,) = rows(story, comparison(1), volume(1, ABOVE)).settled
    (below,) = rows(story, comparison(1), volume(1, BELOW)).settled

    assert (above.settled, above.settled_by, above.seconds_to_settle) == ("for information", "", None)
    assert (below.settled, below.settled_by, below.settled_at) == ("not settled", "", None)


def test_where_a_check_led_is_its_reason() -> None:
    story = Story(kind=RE_CHECK).found(DIFFER).led_on()

    assert (ended(story).how, ended(story).reason) == ("led to another check", RE_CHECK.leads_to)
    assert TOMAS not in str(vars(ended(story)))


def test_of_what_is_kept_what_is_missing_is_told_from_what_differs() -> None:
    made = rows(Story().found(DIFFER, NOTE).abandoned())
    first, other = made.findings
    changed = replace(first, code="changed")

    assert lacking(made, made) == RowsOfCheck(findings=())
    assert lacking(RowsOfCheck(findings=(first,)), made) == replace(made, findings=(other,))
    assert are_as_made(RowsOfCheck(findings=(first,)), made)
    assert not are_as_made(replace(made, findings=(changed, other)), made)
    assert lacking(replace(made, findings=(changed, other)), made) == RowsOfCheck(findings=())
    assert not are_as_made(replace(made, settled=(replace(made.settled[0], settled="changed"),)), made)
    assert made.ended is not None
    assert not are_as_made(replace(made, ended=replace(made.ended, stops=7)), made)


def test_a_drug_that_two_read_otherwise_is_not_clear_on_that_source() -> None:
    def drug(first: str, second: str) -> str:
        order = [{"order": {"drug": each}, "device": {"drug": "morphine"}} for each in (first, second)]
        case = canonical({"format": READ.newest, "case": {"entries": order}, "answers": {"A": {}, "B": {}}})
        return ended(Story().found().abandoned(), replace(comparison(1), case=case)).drug

    assert drug("HYDROmorphone", "hydromorphone") == "HYDROmorphone"
    assert drug("HYDROmorphone", "fentaNYL") == "morphine"


def test_where_no_drug_is_read_it_is_the_one_in_force() -> None:
    entries = {"entries": [{}, {}], "previous": {"drug": "morphine"}}
    case = canonical({"format": READ.newest, "case": entries, "answers": {"A": {}, "B": {}}})
    assert ended(Story().found().abandoned(), replace(comparison(1), case=case)).drug == "morphine"


@pytest.mark.parametrize(
    ("first", "second", "device"),
    [
        ({"device_serial": "SN-0042"}, {"device_serial": "sn 0042"}, "SN0042"),
        ({"device_serial": "SN-0042"}, {"device_serial": "SN-0024"}, ""),
        ({"device_serial": "SN-0042"}, {}, ""),
        ({}, {}, ""),
    ],
    ids=["alike", "not alike", "by one alone", "by nobody"],
)
def test_the_device_is_the_one_whose_number_both_read_alike(
    first: dict[str, str], second: dict[str, str], device: str
) -> None:
    read = {"A": {"device": first}, "B": {"device": second}}

    assert ended(Story().found().abandoned(), comparison(1, devices=read)).device == device
    assert ended(Story().opened().abandoned()).device == ""


def wristband(number: int, *identifiers: str, subject: str = SOURCES) -> KeptComparison:
    entries = [{"patient": {"identifier": each}} for each in identifiers]
    case = {"case": {"entries": entries}}
    return replace(comparison(number), case=canonical({"format": READ.newest, **case}), subject=subject)


def test_the_patient_is_whom_both_read_last_or_nobody() -> None:
    assert find_patient([]) == ""
    assert find_patient([wristband(1, "DM-40417", "DM-40417")]) == "DM-40417"
    assert find_patient([wristband(1, "DM-40417", "dm 40417")]) == "DM-40417"
    assert find_patient([wristband(1, "DM-40417", "DM-40471")]) == ""
    # A check that reads no wristband is of whom its infusion is.
    assert find_patient([wristband(1)]) == ""
    of_infusion = {"case": {"entries": [], "patient": {"identifier": "DM-7"}}}
    assert (
        find_patient([replace(comparison(1), case=canonical({"format": READ.newest, **of_infusion}))])
        == "DM-7"
    )
    both = [wristband(2, "DM-5", "DM-5"), wristband(1, "DM-40417", "DM-40417"), wristband(3, "DM-6", "DM-6")]
    assert find_patient(both) == "DM-6"
    assert find_patient([replace(both[0], subject=PRIMING)]) == ""
