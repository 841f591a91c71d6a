"""Which judges a kind of check asks, and of what: nothing is found about what it does not read."""

from dataclasses import replace

import pytest

from app.judging.judge import JUDGES
from app.records.fields import FIELDS, find_field
from app.records.kinds import KINDS, RE_CHECK, SET_UP, Kind
from app.records.known import Known, Runs
from app.records.reading import fields_in, sources_in
from app.records.sources import NONE, JudgedBy, Source
from tests.factories.answers import changed
from tests.judging.test_judge import FULL, found_as, judged


@pytest.mark.parametrize("kind", KINDS.values(), ids=lambda kind: str(kind.name))
def test_whatever_a_kind_reads_one_of_its_judges_judges(kind: Kind) -> None:
    for source in sources_in(kind.reads):
        for each in fields_in(kind.reads, source):
            is_asked = each.is_compared and (not each.by_kind or each.name in kind.also_reads)
            assert set(each.judged_by) & set(kind.judges) or not is_asked, each.name


def test_the_patients_name_is_compared_with_nothing() -> None:
    assert [each.name for each in FIELDS[Source.WRISTBAND] if not each.is_compared] == ["patient_name"]
    one, other = (changed(FULL, wristband={"patient_name": name}) for name in ("Ana Lind", "Bo Lind"))

    for pair in ((one, other), (one, FULL), (FULL, other), (one, one)):
        assert judged(*pair).findings == judged(FULL).findings


def test_every_judge_of_a_source_is_a_function_by_name() -> None:
    # The primed volume is judged by itself, when both have read it.
    # The account has more to say than findings.
    assert JUDGES.keys() == set(JudgedBy) - {
        JudgedBy.PRIMING,
        JudgedBy.ON_DEVICE,
        JudgedBy.ACCOUNT,
        JudgedBy.NOBODY,
    }


WRONG = changed(
    FULL,
    wristband={"birth_date": "1961-04-08"},
    device={"pack": "set-200-y", "carrier_fluid": NONE, "demand_dose": "0.1 mg"},
)
OF_JUDGE = {
    JudgedBy.ENGINE: ("readings-differ", "demand_dose"),
    JudgedBy.READ_ALIKE: ("readings-differ", "pack"),
    JudgedBy.NONE_IS_AN_ANSWER: ("readings-differ", "carrier.fluid"),
    JudgedBy.RUNS_ELSEWHERE: ("runs-elsewhere", "patient.identifier"),
}


def test_what_a_kind_does_not_read_is_not_found_in_it() -> None:
    wristband_alone = replace(RE_CHECK, reads=(("wristband", ()),))
    other_set = changed(FULL, device={"pack": "set-200-y"})

    assert ("stop", "readings-differ", "pack") in found_as(judged(FULL, other_set, kind=RE_CHECK).findings)
    assert judged(FULL, other_set, kind=wristband_alone).findings == ()


def test_whatever_runs_at_the_bed_stands_against_a_set_up_alone() -> None:
    here = Known(running=(Runs(unit="w", unit_name="W", bed="3", here=True, patient="DM-51111"),))

    def codes(kind: Kind) -> set[str]:
        return {each.code for each in judged(FULL, kind=kind, known=here).findings}

    assert "bed-still-runs" in codes(SET_UP)
    assert "bed-still-runs" not in codes(RE_CHECK)


RUNS = Known(running=(Runs(unit="w", unit_name="W", bed="3", here=False, patient="DM-40417"),))


@pytest.mark.parametrize("name", OF_JUDGE)
def test_only_the_judges_that_a_kind_names_judge(name: JudgedBy) -> None:
    without = replace(SET_UP, judges=tuple(each for each in SET_UP.judges if each is not name))
    alone = replace(SET_UP, judges=(name,))

    def stops(kind: Kind) -> set[tuple[str, str]]:
        found = judged(FULL, WRONG, kind=kind, known=RUNS).findings
        return {(each.code, each.field) for each in found if each.severity == "stop"}

    assert OF_JUDGE[name] in stops(SET_UP)
    assert OF_JUDGE[name] not in stops(without)
    assert stops(alone) <= stops(SET_UP)
    assert OF_JUDGE[name] in stops(alone)
    assert not stops(alone) & {each for judge, each in OF_JUDGE.items() if judge is not name}


def test_a_kind_finds_nothing_about_what_it_does_not_read() -> None:
    device_alone = replace(SET_UP, reads=((Source.DEVICE.value, ()),))
    found = judged({"device": FULL["device"]}, kind=device_alone).findings

    assert found
    assert not {each.field for each in found if each.field.startswith(("patient.", "chart.", "monitor."))}


def test_what_is_computed_from_several_things_is_found_for_every_kind() -> None:
    more = {
        "demand_dose": "0.4 mg",
        "limit_amount": "7 mg",
        "limit_2_amount": "20 mg",
        "limit_3_amount": "40 mg",
    }
    found = {each.field for each in judged(changed(FULL, order=more, device=more)).findings}

    assert {field for field in found if find_field(field) is None} == {"amount_per_4_hours"}


def test_what_nobody_else_judges_is_missed_all_the_same() -> None:
    unread = changed(FULL, device={"pack": None})
    kind = replace(SET_UP, judges=())

    assert found_as(judged(FULL, unread, kind=kind).findings) == {("stop", "reading-missing", "pack")}


@pytest.mark.parametrize("kind", [SET_UP, RE_CHECK])
def test_a_label_that_says_more_than_its_barrel_holds_is_a_stop(kind: Kind) -> None:
    for volume, amount, is_found in (
        ("30.5 mL", "6.1 mg", True),
        ("0.0305 L", "6.1 mg", True),
        ("30 mL", "6 mg", False),
        ("29.5 mL", "5.9 mg", False),
    ):
        holds = {"volume": volume, "amount": amount}
        read = changed(FULL, order=holds, label=holds, device=holds)
        found = found_as(judged(read, kind=kind).findings)
        assert (("stop", "label-over-barrel", "syringe_size") in found) is is_found, volume
    # Where the two do not read it alike nobody knows yet what it says.
    found = found_as(judged(changed(FULL, label={"volume": "31 mL"}), FULL, kind=kind).findings)
    assert ("stop", "label-over-barrel", "syringe_size") not in found


def test_what_is_not_asked_is_not_missed() -> None:
    kind = replace(SET_UP, judges=(), reads=(("wristband", ()),))

    assert judged({"wristband": FULL["wristband"]}, kind=kind).findings == ()


def test_the_worst_comes_first_and_otherwise_judge_after_judge() -> None:
    found = judged(FULL, WRONG, known=RUNS).findings
    severities = [each.severity for each in found]
    stops = [(each.code, each.field) for each in found if each.severity == "stop"]

    assert severities == sorted(severities, key=["stop", "caution", "note"].index)
    assert [each for each in stops if each in OF_JUDGE.values()] == list(OF_JUDGE.values())
