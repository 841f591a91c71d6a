"""What the engine compares is what the table of fields gives it to judge."""

from dataclasses import replace

import pytest

from app.comparison.fields import COMPARED_SOURCES, FIELD_OF, FIELD_ORDER, FIELDS, RISKS, compared_as
from app.records.field_table import TABLE
from app.records.sources import JudgedBy

OF_NO_FIELD = {
    "primed_volume",
    "patient",
    "amount_per_hour",
    "amount_per_4_hours",
    "first_hour_with_loading",
}


def test_whatever_the_engine_judges_stands_in_the_contracts_list() -> None:
    assert FIELD_OF.keys() == {each.finding for each in TABLE if JudgedBy.ENGINE in each.judged_by}


@pytest.mark.parametrize("of", ["loading_dose", "use_by"])
def test_a_field_that_is_misnamed_is_refused_and_not_left_out(of: str) -> None:
    places = {each.name: each.sources for each in FIELDS}
    misnamed = [replace(each, name="amiss") if each.name == of else each for each in TABLE]
    assert compared_as(places, TABLE) == FIELD_OF

    with pytest.raises(ValueError, match=f"'amiss', '{of}'"):
        compared_as(places, misnamed)
    with pytest.raises(ValueError, match=of):
        compared_as({name: sources for name, sources in places.items() if name != of}, TABLE)


def test_everything_that_a_finding_can_be_about_has_its_place() -> None:
    assert FIELD_ORDER.keys() == {*FIELD_OF, *OF_NO_FIELD}
    assert sorted(FIELD_ORDER.values()) == list(range(len(FIELD_ORDER)))


def test_every_field_stands_in_a_source_that_the_engine_reads() -> None:
    assert all(set(each.sources) <= set(COMPARED_SOURCES) for each in FIELDS)


def test_a_risk_is_an_answer_of_the_chart() -> None:
    assert {name for name in RISKS if not name.startswith("chart.")} == set()
    assert [each.name for each in FIELDS if each.is_risk] == list(RISKS)
