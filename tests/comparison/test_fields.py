"""What the engine compares is what the table of fields gives it to judge."""

from app.comparison.fields import COMPARED_SOURCES, FIELD_OF, FIELD_ORDER, FIELDS, places_of
from app.records.field_table import TABLE
from app.records.fields import fields_judged_by
from app.records.sources import JudgedBy


def test_whatever_the_engine_judges_stands_in_the_contracts_list() -> None:
    assert FIELD_OF.keys() == {each.finding for each in TABLE if JudgedBy.ENGINE in each.judged_by}


def test_everything_that_a_finding_can_be_about_has_its_place() -> None:
    of_wristband = {each.finding for _, each in fields_judged_by(JudgedBy.WRISTBAND)}

    assert FIELD_ORDER.keys() == {*FIELD_OF, *of_wristband, "amount_per_hour", "amount_per_4_hours"}
    assert sorted(FIELD_ORDER.values()) == list(range(len(FIELD_ORDER)))


def test_every_field_stands_in_a_source_that_the_engine_reads() -> None:
    assert all(set(places_of(each)) <= set(COMPARED_SOURCES) for each in FIELDS)
