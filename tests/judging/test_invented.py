"""An invented answer to whatever a test does not name."""

import pytest

from app.cli.invented import completed, invented
from app.records.fields import FIELDS
from app.records.sources import Field, Source

EVERY_FIELD = [(source, each) for source, fields in FIELDS.items() for each in fields]


def named(each: object) -> str:
    return each.name if isinstance(each, Field) else str(each)


@pytest.mark.parametrize(("source", "each"), EVERY_FIELD, ids=named)
def test_a_field_that_nobody_names_has_an_invented_answer(source: Source, each: Field) -> None:
    said = completed(source, {})

    assert said.keys() <= {one.name for one in FIELDS[source]}
    assert each.name not in said or said[each.name] == invented(each)
