"""Whatever is read otherwise is found: every field of every source, for one of the two and for both."""

from collections.abc import Iterable, Iterator
from datetime import UTC, datetime
from fractions import Fraction
from typing import Any

import pytest

from app.comparison import ENGINE_VERSION, Verdict
from app.comparison.fields import RISKS
from app.judging.judge import Against, Judged, Read, judge
from app.records.case import settings
from app.records.fields import FIELDS, ROWS, field_of
from app.records.followup import Found
from app.records.kinds import SET_UP, Kind
from app.records.known import NOTHING_KNOWN, Known
from app.records.reading import Answers
from app.records.sources import CAN_BE_PUT_RIGHT, NONE, Field, Form, Source
from tests.factories.answers import answers, changed
from tests.factories.seeded import seeded

AT = datetime(2031, 5, 2, 12, 10, tzinfo=UTC)

# Totals are another judge's: test_account.py.
EVERY_FIELD = [
    (source, each)
    for source in CAN_BE_PUT_RIGHT
    for each in FIELDS[source]
    # What one kind alone asks for is in a table of its own.
    if each.is_compared and not each.by_kind
]
EVERY_NONE = [(source, each) for source, each in EVERY_FIELD if each.may_be_none]


RULES = Against(policy=seeded("policy")["engine"], library=seeded("library")["drugs"])


def judged(
    first: Answers, second: Answers | None = None, *, kind: Kind = SET_UP, known: Known = NOTHING_KNOWN
) -> Judged:
    both = (Read(answers=each, at=AT) for each in (first, first if second is None else second))
    return judge(kind, *both, known=known, rules=RULES)


def found_as(findings: Iterable[Found]) -> set[tuple[str, str, str]]:
    return {(each.severity, each.code, each.field) for each in findings}


# ---------------------------------------------------------------------------------------------------------
# Every field of every source, read otherwise

# Everything that can be asked is asked: all of it, or the strength per millilitre.
_MORE = {
    "mode": "demand-and-continuous",
    "continuous_rate": "0.1 mg/h",
    "limit_2_amount": "6 mg",
    "limit_2_window": "10 h",
    "limit_3_amount": "12 mg",
    "limit_3_window": "24 h",
    "loading_dose": "0.2 mg",
}
_BOLUS = {
    "staff_bolus_dose": "0.4 mg",
    "staff_bolus_interval": "10 min",
    "staff_bolus_most": "1.2 mg",
    "staff_bolus_window": "4 h",
}
# It is the yes that both must have read.
_TOLERANT = {"opioid_tolerant": "yes"}
FULL = answers(
    chart=_TOLERANT,
    order={**_MORE, **_BOLUS, "order_number": "RX 20-417"},
    device={**_MORE, "device_serial": "SN-0042"},
    label={"code": "0109520123456788"},
)
_PER_ML = {"strength": "per-millilitre", "concentration": "0.2 mg/mL", "amount": None, "volume": None}
PER_ML = changed(FULL, order=_PER_ML, label={**_PER_ML, "content_volume": "30 mL"}, device=_PER_ML)

_OTHERWISE = {
    Form.DATE: "1961-04-08",
    # Past, so that it is found on a label that both read alike.
    Form.MOMENT: "2001-01-31",
    Form.DRUG: "morphine",
    Form.FLUID: "glucose 5%",
    Form.PACK: "set-200-y",
}


def base_for(each: Field) -> Answers:
    return PER_ML if each.name in {"concentration", "content_volume"} else FULL


def others(source: Source, each: Field) -> Iterator[str]:
    """Other answers than the one that stands there: half the number, any other choice, another name."""
    stands = base_for(each)[source][each.name]
    if each.form is Form.QUANTITY:
        number, _, unit = stands.partition(" ")
        yield f"{float(Fraction(number) / 2):g} {unit}"
    elif each.choices:
        yield from (choice for choice in each.choices if choice != stands)
    else:
        yield _OTHERWISE.get(each.form, f"{stands}1")


EVERY_OTHER = [(source, each, text) for source, each in EVERY_FIELD for text in others(source, each)]


def read_otherwise(source: Source, each: Field, text: str) -> Answers:
    return changed(base_for(each), **{source.value: {each.name: text}})


def named(each: object) -> str:
    return each.name if isinstance(each, Field) else str(each)


def about(each: Field) -> frozenset[str]:
    """The fields of the row it stands in: an amount that differs is said of the concentration."""
    return next(row.about for row in ROWS if row.name == each.row_name)


def new_in(now: Judged, before: Judged) -> set[tuple[str, str, str]]:
    return found_as(now.findings) - found_as(before.findings)


@pytest.mark.parametrize("source", CAN_BE_PUT_RIGHT)
def test_the_answers_that_are_changed_are_complete(source: Source) -> None:
    compared = {each.name for of, each in EVERY_FIELD if of is source}
    assert compared <= {*FULL[source], *PER_ML[source]}
    assert not [each for each in judged(FULL).findings if each.severity == "stop"]
    assert not [each for each in judged(PER_ML).findings if each.severity == "stop"]


@pytest.mark.parametrize(("source", "each", "text"), EVERY_OTHER, ids=named)
def test_what_one_of_the_two_reads_otherwise_is_a_stop_about_that_field_or_a_note_of_a_risk(
    source: Source, each: Field, text: str
) -> None:
    base = base_for(each)
    for pair in (
        (base, read_otherwise(source, each, text)),
        (read_otherwise(source, each, text), base),
    ):
        found = new_in(judged(*pair), judged(base))

        if each.finding in RISKS:
            assert ("note", "risk-read-differently", "patient") in found
        else:
            assert about(each) & {field for severity, _, field in found if severity == "stop"}


@pytest.mark.parametrize(("source", "each"), EVERY_NONE, ids=named)
def test_none_for_one_of_the_two_is_a_stop_about_that_field(source: Source, each: Field) -> None:
    base = base_for(each)
    found = new_in(judged(base, read_otherwise(source, each, NONE)), judged(base))

    if each.finding in RISKS:
        assert ("note", "risk-read-differently", "patient") in found
    else:
        assert each.finding in {field for severity, _, field in found if severity == "stop"}


@pytest.mark.parametrize(("source", "each"), EVERY_FIELD, ids=named)
def test_what_one_of_the_two_does_not_read_is_a_stop_about_that_field(source: Source, each: Field) -> None:
    base = base_for(each)
    left_out = changed(base, **{source.value: {each.name: None}})
    found = {one.field for one in judged(base, left_out).findings if one.code == "reading-missing"}

    # A code may be left blank, and of some things one of the two suffices. A window without its limit says
    # that there is one.
    may_be_left_out = each.optional and each.name not in {"limit_2_amount", "limit_3_amount"}
    assert (each.finding in found) is not (may_be_left_out or each.from_one or each.finding in RISKS)


# Read alike by both, and found by nobody; why that may be.
_NOTHING_ELSE_SAYS_IT = "no other source says it, so that two who read it alike cannot be contradicted"
_ON_RECORD = "at a set-up nobody knows the order before; later the record does"
MAY_PASS: dict[tuple[str, str], str] = {
    ("chart", "supplemental_oxygen"): "it makes capnography required, which this site always requires",
    ("order", "staff_bolus_dose"): _ON_RECORD,
    ("order", "staff_bolus_interval"): _ON_RECORD,
    ("order", "staff_bolus_most"): _ON_RECORD,
    ("order", "staff_bolus_window"): _ON_RECORD,
    ("label", "lot"): _NOTHING_ELSE_SAYS_IT,
    ("label", "code"): _NOTHING_ELSE_SAYS_IT,
    ("label", "content_volume"): _NOTHING_ELSE_SAYS_IT,
    ("order", "order_number"): _NOTHING_ELSE_SAYS_IT,
    ("device", "device_serial"): _NOTHING_ELSE_SAYS_IT,
    ("device", "pack"): "no other source says it; the primed volume is computed from it, read and compared",
}
SAYS_NOTHING = {"not-recorded": {"sleep_apnea", "lung_disease", "kidney_or_liver_disease"}}
_NOT_REQUIRED = "this site does not require the alarm"
NONE_MAY_PASS = {
    **MAY_PASS,
    ("label", "identifier"): "a label may be for no one patient",
    ("chart", "weight"): "a weight that is not charted is no low one",
    ("monitor", "high_etco2"): _NOT_REQUIRED,
    ("monitor", "apnea_time"): _NOT_REQUIRED,
    ("label", "use_by"): "a label without a use-by date says nothing that could be past",
}


@pytest.mark.parametrize(("source", "each", "text"), EVERY_OTHER, ids=named)
def test_what_both_read_otherwise_is_found_against_the_other_sources_and_rules(
    source: Source, each: Field, text: str
) -> None:
    found = new_in(judged(read_otherwise(source, each, text)), judged(base_for(each)))

    may_pass = (source, each.name) in MAY_PASS or each.name in SAYS_NOTHING.get(text, ())
    assert bool(found) is not may_pass


@pytest.mark.parametrize(("source", "each"), EVERY_NONE, ids=named)
def test_none_for_both_is_found_against_the_other_sources_and_rules(source: Source, each: Field) -> None:
    found = new_in(judged(read_otherwise(source, each, NONE)), judged(base_for(each)))

    assert bool(found) is ((source, each.name) not in NONE_MAY_PASS)


@pytest.mark.parametrize(("source", "name"), NONE_MAY_PASS)
def test_what_may_pass_stands_in_the_table(source: str, name: str) -> None:
    assert field_of(Source(source), name).name == name


PATIENT = {key: FULL["wristband"][key] for key in ("identifier", "birth_date")}


@pytest.mark.parametrize("name", PATIENT)
def test_another_patient_than_the_infusions_is_a_stop(name: str) -> None:
    known = Known(patient={**PATIENT, name: "1959-01-01"})

    assert judged(FULL, known=Known(patient=PATIENT)).findings == judged(FULL).findings
    assert ("stop", "patient-differs", f"patient.{name}") in found_as(judged(FULL, known=known).findings)


def test_another_order_than_the_one_on_record_is_a_stop() -> None:
    ordered = {key: value for key, value in settings(Source.ORDER, FULL["order"]).items() if key != "patient"}
    known = Known(order_of_record={**ordered, "demand_dose": "0.4 mg"})

    assert ("stop", "order-differs-from-record", "demand_dose") in found_as(
        judged(FULL, known=known).findings
    )


def test_a_setting_from_before_is_said_to_be_one() -> None:
    before = Known(previous={"demand_dose": "0.1 mg"})
    stale = changed(FULL, device={"demand_dose": "0.1 mg"})
    (found,) = (each for each in judged(stale, known=before).findings if each.code == "device-differs")

    assert found.slip == "stale-value"


# ---------------------------------------------------------------------------------------------------------
# What it comes to


def test_nothing_is_found_twice() -> None:
    found = judged(FULL, changed(FULL, device={"carrier_fluid": None, "carrier_rate": None})).findings
    told = [(each.code, each.field) for each in found]

    assert len(set(told)) == len(told)
    assert ("reading-missing", "carrier.fluid") in told


@pytest.mark.parametrize(
    ("read", "verdict"),
    [
        (changed(FULL, device={"demand_dose": "0.1 mg"}), Verdict.STOPPED),
        (changed(FULL, chart={"sedatives": "charted"}), Verdict.CAUTIONED),
        (answers(), Verdict.AGREED),
    ],
)
def test_the_verdict_is_that_of_the_worst_finding(read: Answers, verdict: Verdict) -> None:
    assert judged(read).verdict is verdict


def test_the_figures_are_those_of_the_engine() -> None:
    made = judged(FULL)

    assert made.engine == ENGINE_VERSION
    assert made.math["A"]["device"]["concentration"]["shown"] == "0.2 mg/mL"
    assert made.delivery["B"]["factor"]["shown"] == "1"
    assert made.case["entries"][1]["read_at"] == "2031-05-02T12:10:00+00:00"
    assert made.case["entries"][0]["chart"]["weight"] == "82 kg"
    assert (made.case["policy"], made.case["library"]) == (RULES.policy, RULES.library)
    assert {"patient", "previous", "order_of_record"}.isdisjoint(made.case)
    assert made.case["reads"] == ["wristband", "chart", "order", "label", "device"]


@pytest.mark.parametrize(
    ("first", "second", "plan"),
    [
        ("sodium chloride 0.9%", "sodium chloride 0.9%", "with-carrier"),
        ("none", "none", "dedicated-line"),
        # Where the two do not agree the usual one, which tells nothing.
        ("none", "sodium chloride 0.9%", "with-carrier"),
        ("sodium chloride 0.9%", "none", "with-carrier"),
    ],
)
def test_the_plan_is_the_one_that_both_orders_ask_for(first: str, second: str, plan: str) -> None:
    one, other = (changed(FULL, order={"carrier_fluid": each}) for each in (first, second))

    assert judged(one, other).plan == plan


def test_nothing_read_at_all_is_judged_too() -> None:
    nothing: dict[str, Any] = {}
    made = judged(nothing)

    assert made.verdict is Verdict.STOPPED
    assert made.plan == "dedicated-line"
