"""A handoff: what one reads is held beside what two signed, and what either sees of the patient counts."""

from datetime import UTC, datetime

import pytest

from app.comparison.reasons import reasons_for
from app.judging.judge import Against, Judged, Read, judge
from app.judging.protocol import judge_bedside
from app.judging.rounds import against
from app.records.followup import Follow, Found, scope_to_read_again
from app.records.kept import FIRST, SECOND
from app.records.kinds import HANDOFF, KINDS, Kind
from app.records.known import Known, Runs, known_by
from app.records.reading import Answers, Scope, fields_in, sources_in, within
from app.records.sources import NONE, Source
from tests.factories.answers import AWAKE, HARD_TO_WAKE, answers, changed
from tests.factories.seeded import seeded
from tests.judging.test_judge import RULES as OF_ENGINE
from tests.judging.test_judge import judged as judged_as
from tests.judging.test_rounds import RULES as PUBLISHED

AT = datetime(2031, 5, 2, 19, 10, tzinfo=UTC)
RULES = Against(
    policy=OF_ENGINE.policy,
    library=OF_ENGINE.library,
    protocol={"within": [AWAKE], "lowest_respiratory_rate": "10 /min"},
)
IN_FORCE = known_by(judged_as(answers()).case).given_to(HANDOFF)


def part(slot: int, read: Answers) -> Answers:
    """What the holder of a slot reads of it."""
    of_part = HANDOFF.reads_of(slot)
    return {
        source.value: {
            each.name: read[source.value][each.name]
            for each in fields_in(of_part, source)
            if each.name in read.get(source.value, {})
        }
        for source in sources_in(of_part)
    }


def seen(**changes: str) -> Answers:
    """The answers of a bedside, with some otherwise."""
    return changed(answers(), bedside=changes)


def handed_over(incoming: Answers, outgoing: Answers | None = None, *, known: Known = IN_FORCE) -> Judged:
    both = (part(FIRST, incoming if outgoing is None else outgoing), part(SECOND, incoming))
    return judge(HANDOFF, *(Read(answers=each, at=AT) for each in both), known=known, rules=RULES)


def told(found: Judged) -> list[tuple[str, str, str]]:
    return [(each.severity, each.code, each.field) for each in found.findings]


def test_nothing_is_found_where_all_is_as_two_signed() -> None:
    found = handed_over(answers())

    assert told(found) == []
    assert found.case["reads"] == [
        {"is": "wristband", "by": "one"},
        {"is": "label", "by": "one"},
        {"is": "device", "by": "one"},
    ]
    assert found.case["entries"][0].keys() == {"clinician", "read_at"}


@pytest.mark.parametrize(
    ("source", "read", "fields"),
    [
        ("device", {"demand_dose": "2 mg"}, {"demand_dose"}),
        ("device", {"lockout": "6 min"}, {"lockout"}),
        ("device", {"limit_amount": NONE, "limit_window": None}, {"limit.amount", "limit.window"}),
        ("device", {"limit_2_amount": "4 mg", "limit_2_window": "8 h"}, {"limit.2.amount", "limit.2.window"}),
        ("device", {"drug": "morphine"}, {"drug"}),
        (
            "device",
            {"mode": "demand-and-continuous", "continuous_rate": "0.1 mg/h"},
            {"mode", "continuous_rate"},
        ),
        ("label", {"drug": "morphine"}, {"drug"}),
        ("label", {"amount": "30 mg"}, {"concentration"}),
        # The engine is told of no lot that is in force: another syringe of the same strength.
        ("label", {"lot": "LOT-8"}, {"lot"}),
        ("label", {"identifier": "DM-51111"}, {"patient.identifier"}),
        ("wristband", {"identifier": "DM-51111"}, {"patient.identifier"}),
        ("wristband", {"birth_date": "1961-04-08"}, {"patient.birth_date"}),
    ],
)
def test_what_one_read_otherwise_both_read_again(
    source: str, read: dict[str, str | None], fields: set[str]
) -> None:
    found = handed_over(changed(answers(), **{source: read}))

    assert {(each.code, each.follow) for each in found.findings} == {("not-in-force", Follow.READ_AGAIN)}
    assert {each.field for each in found.findings} == fields
    again = HANDOFF.read_again(scope_to_read_again(found.findings))
    assert (source, dict(HANDOFF.reads)[source]) in again


def test_the_same_written_otherwise_is_in_force() -> None:
    otherwise = changed(
        answers(),
        device={"demand_dose": "200 mcg", "lockout": "10 min"},
        label={"strength": "per-millilitre", "concentration": "0.2 mg/mL", "amount": None, "volume": None},
        wristband={"identifier": "dm 40417"},
    )

    assert told(handed_over(otherwise)) == []


def read_again(second: Answers, first: Answers | None = None) -> Judged:
    """Both have read label, device and wristband once more."""
    own = {"label", "device", "wristband"}
    outgoing = {**part(FIRST, second), **{name: (first or second)[name] for name in own}}
    both = (Read(answers=each, at=AT) for each in (outgoing, part(SECOND, second)))
    return judge(HANDOFF, *both, known=IN_FORCE, rules=RULES)


def test_what_both_read_otherwise_was_changed_and_leads_on() -> None:
    device = read_again(changed(answers(), device={"demand_dose": "2 mg"}))
    lot = read_again(changed(answers(), label={"lot": "LOT-8"}))

    assert ("stop", "device-differs", "demand_dose") in told(device)
    assert told(lot) == [("stop", "changed-since", "lot")]
    assert {each.follow for each in (*device.findings, *lot.findings)} == {Follow.PUT_RIGHT}
    assert device.case["reads"] == ["wristband", "label", "device"]


def test_what_the_first_misread_is_settled_once_both_have_read_it() -> None:
    assert told(read_again(answers())) == []
    assert ("stop", "readings-differ", "lockout") in told(
        read_again(changed(answers(), device={"lockout": "6 min"}), answers())
    )


def test_of_the_sites_rules_nothing_is_asked_anew_that_two_signed() -> None:
    # An exception was granted for it, or both acknowledged it, when it was put in force.
    bold = {"demand_dose": "1.9 mg", "limit_amount": "19 mg"}
    known = known_by(judged_as(changed(answers(), device=bold, order=bold)).case).given_to(HANDOFF)

    assert {each.code for each in judged_as(changed(answers(), device=bold, order=bold)).findings}
    assert told(handed_over(changed(answers(), device=bold), known=known)) == []


@pytest.mark.parametrize(
    ("read", "expected"),
    [
        ({"sedation": HARD_TO_WAKE}, ("stop", "outside-protocol", "bedside.sedation")),
        ({"respiratory_rate": "9 /min"}, ("stop", "outside-protocol", "bedside.respiratory_rate")),
        ({"respiratory_rate": "0 /min"}, ("stop", "outside-protocol", "bedside.respiratory_rate")),
    ],
)
def test_the_worse_of_what_two_see_counts(read: dict[str, str], expected: tuple[str, str, str]) -> None:
    for incoming, outgoing in ((seen(**read), answers()), (answers(), seen(**read))):
        found = handed_over(incoming, outgoing)
        assert told(found) == [expected]
        assert "Look at the patient now" in found.findings[0].says


def test_two_who_look_minutes_apart_may_see_different_things() -> None:
    assert told(handed_over(seen(respiratory_rate="12 /min"), seen(respiratory_rate="16 /min"))) == []
    assert told(handed_over(seen(pain_at_rest="8", pain_on_movement=NONE))) == []


@pytest.mark.parametrize(
    ("read", "code"),
    [
        ({"line_traced": "not-as-it-should-be"}, "line-not-as-it-should-be"),
        ({"button_used": "cannot-use-it"}, "button-not-the-patients"),
        ({"button_used": "others-may-press"}, "button-not-the-patients"),
    ],
)
def test_line_and_button_are_put_right_and_looked_at_again_by_both(read: dict[str, str], code: str) -> None:
    (found,) = handed_over(seen(**read)).findings

    assert (found.code, found.follow) == (code, Follow.READ_AGAIN)
    assert scope_to_read_again([found]) == (("bedside", tuple(read)),)


TOTALS = {"total_amount": "4 mg", "presses": "30", "doses": "20", "left": "8 mL", "read_at": AT.isoformat()}


@pytest.mark.parametrize(
    ("before", "doses"), [([], "20 doses were"), ([{"doses": 19}], "1 dose was"), ([{"doses": 20}], "")]
)
def test_doses_given_to_a_sedated_patient_are_a_caution(before: list[dict[str, int]], doses: str) -> None:
    read = changed(seen(sedation=HARD_TO_WAKE), totals=TOTALS)
    known = Known(account=tuple({"kind": "read", "totals": each} for each in before))
    cautions = [each for each in _bedside(read, known) if each.severity == "caution"]

    assert [each.says.partition(" given")[0] for each in cautions] == ([doses] if doses else [])
    assert all(reasons_for(each.code) for each in cautions)
    assert _bedside(changed(answers(), totals=TOTALS), known) == []


def _bedside(read: Answers, known: Known) -> list[Found]:
    return list(judge_bedside({"A": part(FIRST, read), "B": part(SECOND, read)}, known, RULES.protocol))


def test_without_totals_nobody_can_tell_who_was_given_a_dose() -> None:
    read = changed(seen(sedation=HARD_TO_WAKE), totals=dict.fromkeys(TOTALS))

    assert [each.code for each in _bedside(read, IN_FORCE)] == ["outside-protocol"]


def test_what_runs_elsewhere_for_the_patient_on_the_band_is_found_by_one_reading() -> None:
    elsewhere = Runs(unit="w", unit_name="W", bed="3", here=False, patient="DM-40417")
    found = handed_over(answers(), known=Known(**{**vars(IN_FORCE), "running": (elsewhere,)}))

    assert ("stop", "runs-elsewhere", "patient.identifier") in told(found)


@pytest.mark.parametrize("slot", [FIRST, SECOND])
def test_each_is_missed_what_that_one_is_asked_for(slot: int) -> None:
    none_read: Answers = {}
    both = {FIRST: part(FIRST, answers()), SECOND: part(SECOND, answers())} | {slot: none_read}
    first, second = (Read(answers=both[each], at=AT) for each in (FIRST, SECOND))
    found = judge(HANDOFF, first, second, known=IN_FORCE, rules=RULES)

    asked = {
        each.finding
        for source in sources_in(HANDOFF.reads_of(slot))
        for each in fields_in(HANDOFF.reads_of(slot), source)
    }
    missed = {each.field for each in found.findings if each.code == "reading-missing"}
    assert missed
    assert missed <= asked


def test_the_protocol_is_kept_as_levels_with_their_scale() -> None:
    kept = against(PUBLISHED, HANDOFF, {}).protocol

    assert kept["within"] == [
        "0: awake (site sedation scale 0 to 3)",
        "1: drowsy, easy to wake (site sedation scale 0 to 3)",
    ]
    assert kept["lowest_respiratory_rate"] == seeded("policy")["baseline"]["lowest_respiratory_rate"]


# -----------------------------------------------------------------------------------------------------------
# What each part reads


@pytest.mark.parametrize("kind", KINDS.values(), ids=lambda kind: str(kind.name))
def test_what_the_two_read_is_what_the_kind_reads(kind: Kind) -> None:
    both = [dict(kind.reads_of(slot)) for slot in (FIRST, SECOND)]

    assert set(both[0]) | set(both[1]) == set(dict(kind.reads))
    for name, fields in kind.reads:
        whole = {each.name for each in fields_in(((name, fields),), Source(name))}
        each_reads = (
            {each.name for each in fields_in(tuple(own.items()), Source(name))} for own in both if name in own
        )
        assert set().union(*each_reads) == whole


def test_the_outgoing_nurse_reads_what_changes_and_the_incoming_one_all_else_too() -> None:
    outgoing, incoming = (sources_in(HANDOFF.reads_of(slot)) for slot in (FIRST, SECOND))

    assert outgoing == (Source.TOTALS, Source.BEDSIDE)
    assert incoming == (Source.WRISTBAND, Source.LABEL, Source.DEVICE, Source.TOTALS, Source.BEDSIDE)
    assert [each.name for each in fields_in(HANDOFF.reads_of(FIRST), Source.BEDSIDE)] == [
        "sedation",
        "respiratory_rate",
    ]
    assert [name for name, _ in HANDOFF.read_by_one] == ["wristband", "label", "device"]


@pytest.mark.parametrize(
    ("scope", "own", "expected"),
    [
        ((("label", ()),), (("label", ("lot",)),), (("label", ("lot",)),)),
        ((("label", ("lot", "drug")),), (("label", ()),), (("label", ("lot", "drug")),)),
        ((("label", ("lot", "drug")),), (("label", ("drug",)),), (("label", ("drug",)),)),
        ((("label", ("lot",)),), (("label", ("drug",)),), ()),
        ((("label", ()),), (("label", ()),), (("label", ()),)),
        ((("label", ()), ("totals", ())), (("totals", ()),), (("totals", ()),)),
    ],
)
def test_what_belongs_to_a_part_of_a_scope(scope: Scope, own: Scope, expected: Scope) -> None:
    assert within(scope, own) == expected
