"""What one of the two suffices for: it counts whoever reads it, and is missed where neither does."""

import pytest

from app.comparison.fields import RISKS
from app.records.fields import FIELDS, field_of
from app.records.sources import Field, Source
from tests.factories.answers import changed
from tests.judging.test_judge import EVERY_FIELD, FULL, found_as, judged, named

ONE_SUFFICES = [
    (source, each)
    for source, each in EVERY_FIELD
    if (each.from_one or each.finding in RISKS) and not each.optional
]


def test_one_suffices_for_what_the_contract_says_and_for_lot_and_code() -> None:
    of_chart = {each.finding for source, each in ONE_SUFFICES if source is Source.CHART}

    assert of_chart == set(RISKS)
    assert {each.name for source, each in EVERY_FIELD if each.from_one and source is not Source.CHART} == {
        "lot",
        "code",
    }


@pytest.mark.parametrize(("source", "each"), ONE_SUFFICES, ids=named)
@pytest.mark.parametrize("reader", ["A", "B"])
def test_what_one_suffices_for_counts_whoever_of_the_two_reads_it(
    source: Source, each: Field, reader: str
) -> None:
    left_out = changed(FULL, **{source.value: {each.name: None}})
    read = judged(FULL, left_out) if reader == "A" else judged(left_out, FULL)

    assert each.finding not in {one.field for one in read.findings}


@pytest.mark.parametrize(
    ("source", "each"),
    [*((Source.CHART, each) for each in FIELDS[Source.CHART]), (Source.LABEL, field_of(Source.LABEL, "lot"))],
    ids=named,
)
def test_what_neither_reads_is_a_stop_about_that_field(source: Source, each: Field) -> None:
    left_out = changed(FULL, **{source.value: {each.name: None}})

    assert ("stop", "reading-missing", each.finding) in found_as(judged(left_out).findings)
