"""The table of fields: what a row must say, and what is made of it."""

from dataclasses import replace

import pytest

from app.records.field_table import TABLE
from app.records.fields import (
    FIELDS,
    ROWS,
    field_named,
    field_of,
    fields_judged_by,
    find_field,
    read_together,
    rows_from,
)
from app.records.measures import CONTINUOUS_RATE, LOCKOUT, VOLUME
from app.records.sources import AskedWhen, Field, Form, JudgedBy, Source

OF_EACH_SOURCE = [(source, each) for source, fields in FIELDS.items() for each in fields]


def named(each: object) -> str:
    return each.name if isinstance(each, Field) else str(each)


def test_no_name_stands_twice() -> None:
    assert len({each.name for each in TABLE}) == len(TABLE)


def test_a_field_that_nobody_judges_cannot_be_written() -> None:
    with pytest.raises(ValueError, match="nobody judges lot"):
        replace(field_named("lot"), judged_by=())


@pytest.mark.parametrize("each", TABLE, ids=named)
def test_a_row_says_all_that_its_form_needs(each: Field) -> None:
    assert all((each.name, each.label, each.words, each.sources, each.judged_by))
    assert bool(each.measure) is (each.form is Form.QUANTITY)
    assert bool(each.choices) is (each.form is Form.CHOICE)
    assert bool(each.units) is (each.form is Form.QUANTITY)


@pytest.mark.parametrize("each", TABLE, ids=named)
def test_what_a_row_names_stands_in_the_table_beside_it(each: Field) -> None:
    together = {each.row_name, *each.read_with}
    if each.asked_when is not None:
        together.add(each.asked_when.field)
        decides = field_named(each.asked_when.field)
        choices = {*decides.choices, *(one for some in decides.choices_in.values() for one in some)}
        # An answer that decides is a choice, or *none* said instead of a value, or that there is one.
        assert set(each.asked_when.among) <= choices
        assert each.asked_when.among or decides.may_be_none or decides.optional

    for name in together:
        assert set(each.sources) <= set(field_named(name).sources)


@pytest.mark.parametrize("each", TABLE, ids=named)
def test_a_field_that_is_read_alone_in_its_source_says_so_in_its_name(each: Field) -> None:
    alone = {Source.WRISTBAND: "patient.", Source.CHART: "chart.", Source.MONITOR: "monitor."}
    prefix = alone.get(each.sources[0], "")

    assert each.finding.startswith(prefix)
    # Who the patient is stands on every paper.
    assert prefix == "patient." or len({alone.get(source, "") for source in each.sources}) == 1


@pytest.mark.parametrize(
    ("source", "name", "wanted"),
    [
        ("chart", "allergy", "chart.allergy"),
        ("monitor", "low_spo2", "monitor.low_spo2"),
        ("device", "limit_window", "limit.window"),
        ("order", "strength", "concentration"),
        ("wristband", "birth_date", "patient.birth_date"),
        ("label", "lot", "lot"),
    ],
)
def test_the_name_of_a_field_in_findings(source: str, name: str, wanted: str) -> None:
    assert field_of(Source(source), name).finding == wanted


@pytest.mark.parametrize(("source", "each"), OF_EACH_SOURCE, ids=named)
def test_a_finding_leads_back_to_its_field(source: Source, each: Field) -> None:
    found = find_field(each.finding)

    assert found is not None
    assert found.finding == each.finding
    assert source in found.sources


def test_what_is_computed_is_no_field() -> None:
    assert find_field("amount_per_hour") is None


def test_a_strength_is_found_as_the_concentration() -> None:
    assert find_field("concentration") == field_named("concentration")


@pytest.mark.parametrize("source", [Source.ORDER, Source.LABEL, Source.DEVICE])
def test_only_an_order_can_state_no_strength(source: Source) -> None:
    assert ("states-none" in field_of(source, "strength").choices) is (source is Source.ORDER)


def test_a_hint_may_be_one_source_s_own() -> None:
    hints = {source: field_of(source, "syringe_size").hint for source in (Source.LABEL, Source.DEVICE)}

    assert hints == {
        Source.LABEL: "As printed on the barrel.",
        Source.DEVICE: "As the device has it set.",
    }


@pytest.mark.parametrize(
    ("finding", "together"),
    [
        ("lockout", ("lockout",)),
        ("mode", ("mode", "demand_dose", "lockout", "continuous_rate")),
        ("volume", ("strength", "amount", "volume", "concentration")),
        (
            "limit.2.window",
            (
                "limit_amount",
                "limit_window",
                "limit_2_amount",
                "limit_2_window",
                "limit_3_amount",
                "limit_3_window",
            ),
        ),
        ("carrier.fluid", ("carrier_fluid", "carrier_rate")),
    ],
)
def test_fields_that_depend_on_each_other_are_read_together(finding: str, together: tuple[str, ...]) -> None:
    assert read_together(finding) == together


# ---------------------------------------------------------------------------------------------------------
# When a field is asked

BY_MODE = AskedWhen(field="mode", among=("demand",), else_idle=False)
BY_STRENGTH = AskedWhen(field="strength", among=("per-millilitre",), while_blank=False)
BY_LIMIT = AskedWhen(field="limit_amount")


@pytest.mark.parametrize(
    ("when", "answers", "asks", "idle"),
    [
        (BY_MODE, {}, True, False),
        (BY_MODE, {"mode": "demand"}, True, False),
        (BY_MODE, {"mode": "continuous"}, False, False),
        (BY_STRENGTH, {}, False, False),
        (BY_STRENGTH, {"strength": "per-millilitre"}, True, False),
        (BY_STRENGTH, {"strength": "amount-in-volume"}, False, True),
        (BY_LIMIT, {"limit_amount": ""}, True, False),
        (BY_LIMIT, {"limit_amount": "2 mg"}, True, False),
        (BY_LIMIT, {"limit_amount": "none"}, False, True),
    ],
)
def test_another_answer_decides(when: AskedWhen, answers: dict[str, str], *, asks: bool, idle: bool) -> None:
    assert (when.asks(answers), when.makes_idle(answers)) == (asks, idle)


# ---------------------------------------------------------------------------------------------------------
# Judges, rows, numbers


@pytest.mark.parametrize("judge", JudgedBy)
def test_a_judge_is_asked_of_what_names_it(judge: JudgedBy) -> None:
    asked = {(source, each.name) for source, each in fields_judged_by(judge)}

    assert asked == {(source, each.name) for source, each in OF_EACH_SOURCE if judge in each.judged_by}
    # The primed volume is no field of a source; what is in force, was issued, or another system has, is held
    # beside what the engine judges.
    beside = (
        JudgedBy.PRIMING,
        JudgedBy.IN_FORCE,
        JudgedBy.ORDERS,
        JudgedBy.ISSUED,
        JudgedBy.ON_DEVICE,
    )
    assert bool(asked) is (judge not in beside)


def test_every_field_stands_in_one_row() -> None:
    about = [finding for row in ROWS for finding in row.about]

    assert sorted(about) == sorted({each.finding for each in TABLE if each.is_compared})


def test_a_row_is_what_its_field_says() -> None:
    (row,) = (each for each in ROWS if each.name == "limit_amount")

    assert (row.label, row.last_look) == ("Limit", True)
    assert row.sources == (Source.ORDER, Source.DEVICE)
    assert row.about == {
        f"limit.{place}{part}" for place in ("", "2.", "3.") for part in ("amount", "window")
    }


def test_rows_are_found_by_where_they_are_read_first() -> None:
    of_label = ["lot", "use_by", "code", "comes_as", "part_left", "syringe_size"]
    assert [row.name for row in rows_from(Source.LABEL)] == of_label
    assert "syringe_size" not in {row.name for row in rows_from(Source.DEVICE)}
    assert len([row for source in Source for row in rows_from(source)]) == len(ROWS)


def test_only_what_is_a_number_has_units() -> None:
    assert field_named("lockout").number is LOCKOUT
    assert field_named("continuous_rate").number is CONTINUOUS_RATE
    assert (field_named("lockout").units, field_named("drug").units) == (("min", "h"), ())


def test_a_device_may_take_a_dose_as_a_volume_and_an_order_may_not() -> None:
    on_device, ordered = (field_of(source, "demand_dose") for source in (Source.DEVICE, Source.ORDER))

    assert on_device.units == ("mg", "mcg", "mL")
    assert ordered.units == ("mg", "mcg")
    assert on_device.number.counted_in("mL") is VOLUME
    assert on_device.number.counted_in("mcg") is on_device.number
    assert ordered.number.counted_in("mg") is ordered.number


def test_a_label_may_name_no_patient_and_an_order_may_not() -> None:
    may_be_none = {
        source: field_of(source, "identifier").may_be_none for source in (Source.LABEL, Source.ORDER)
    }

    assert may_be_none == {Source.LABEL: True, Source.ORDER: False}
