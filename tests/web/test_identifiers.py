"""Who the patient is, on the forms of wristband, order and label."""

import pytest

from app.records.sources import Source
from tests.story.pages import Pair, joined
from tests.support.browser import Page
from tests.support.world import World

# A code with a service relation number, as a wristband may carry it (see tests/quantities/test_scanned.py).
CODE = "]d28018950110153000123454"
IN_CODE = "950110153000123454"


def typed_in(pair: Pair, source: Source, identifier: str) -> Page:
    pair.page(pair.first, f"/read/{source.value}")
    return pair.first.press("Keep, and", identifier=identifier)


@pytest.mark.parametrize("source", [Source.ORDER, Source.LABEL])
@pytest.mark.parametrize("typed", ["*0417", "DM-40417", "dm 40417"])
def test_order_and_label_may_give_it_whole_or_by_its_last_four(
    world: World, source: Source, typed: str
) -> None:
    pair = joined(world)

    assert typed_in(pair, source, typed).status == 200
    assert typed in pair.page(pair.first, "/read").text


@pytest.mark.parametrize(
    ("source", "typed", "says"),
    [
        (Source.WRISTBAND, "*0417", "Write the whole identifier, as the wristband has it."),
        (Source.ORDER, "*417", "After the star write at least its last 4 characters."),
        (Source.LABEL, "*", "After the star write at least its last 4 characters."),
        (Source.ORDER, "--", "Write the identifier as it is printed."),
    ],
)
def test_what_is_none_stays_beside_its_fault(world: World, source: Source, typed: str, says: str) -> None:
    pair = joined(world)
    page = typed_in(pair, source, typed)

    assert page.status == 422
    assert says in page.text
    assert dict(page.form_with("Keep, and")[0].held)["identifier"] == typed


@pytest.mark.parametrize("source", [Source.ORDER, Source.LABEL])
def test_a_code_that_a_scanner_types_there_is_all_of_it(world: World, source: Source) -> None:
    pair = joined(world)

    assert typed_in(pair, source, CODE).status == 200
    assert IN_CODE in pair.page(pair.first, "/read").text
    assert CODE not in pair.page(pair.first, "/read").text
