"""What only some sites ask for: judged by what was read of it, and never by the engine."""

from app.records.fields import FIELDS
from app.records.sources import Source
from tests.factories.answers import changed
from tests.judging.test_judge import FULL, found_as, judged


def test_a_prescriber_is_compared_with_nothing() -> None:
    assert [each.name for each in FIELDS[Source.ORDER] if not each.is_compared] == ["prescriber"]
    one, other = (changed(FULL, order={"prescriber": name}) for name in ("Dr Ada Quill", "A. Quill"))

    for pair in ((one, other), (one, FULL), (FULL, other), (one, one)):
        assert judged(*pair).findings == judged(FULL).findings


def test_what_a_site_may_ask_for_and_neither_read_is_not_missed() -> None:
    neither = changed(FULL, order={"order_number": None}, device={"device_serial": None})

    assert found_as(judged(neither).findings) == found_as(judged(FULL).findings)


def test_the_engine_is_told_of_nothing_that_a_site_may_ask_for() -> None:
    named = changed(FULL, order={"prescriber": "Ada Quill"})
    neither = changed(FULL, order={"order_number": None}, device={"device_serial": None})

    assert judged(named).case == judged(neither).case
