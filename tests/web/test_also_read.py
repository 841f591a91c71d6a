"""What only some sites ask for: the order's number and prescriber, the device's serial."""

import csv
import io
import json
from collections.abc import Iterator

import pytest

from app.auditing.verifying_here import verify_here
from app.auditing.verifying_store import Wanted, verify_store
from app.records.state import Phase
from app.records.store_verification import Began, Progress
from app.records.verification import Verification
from app.reports.export import Exported, csv_lines
from app.workflow.sweeping import sweep_once
from tests.factories.answers import answers, changed
from tests.story.pages import Pair, compared, joined
from tests.support.world import World

ASKED = ("order_number", "prescriber", "device_serial")
READ = answers(
    order={"order_number": "RX 20-417", "prescriber": "Dr Ada Quill"}, device={"device_serial": "SN-0042"}
)
TYPED = ("RX 20-417", "Dr Ada Quill", "SN-0042")


@pytest.fixture
def asking(world: World) -> World:
    """A site whose policy asks for all of it."""
    return world.asks_for_more()


def asked(pair: Pair, source: str) -> set[str]:
    """What the page of a source asks for, of what a policy may ask for."""
    held = dict(pair.page(pair.first, f"/read/{source}").form_with("Keep, and")[0].held)
    return held.keys() & set(ASKED)


def test_by_the_seeded_rules_nothing_of_it_is_asked(world: World) -> None:
    pair = joined(world)

    assert [asked(pair, source) for source in ("order", "device")] == [set(), set()]


def test_where_policy_asks_for_it_both_pages_do(asking: World) -> None:
    pair = joined(asking)

    assert asked(pair, "order") == {"order_number", "prescriber"}
    assert asked(pair, "device") == {"device_serial"}


@pytest.mark.parametrize(
    ("name", "typed", "says"),
    [
        ("order_number", "1" * 41, "Write at most 40 signs of the number."),
        ("order_number", "7\N{RIGHT-TO-LEFT OVERRIDE}1", "This holds a sign that cannot be seen."),
        ("order_number", "7\N{ZERO WIDTH JOINER}1", "This holds a sign that cannot be seen."),
        ("order_number", "---", "A number has letters or digits."),
        ("prescriber", "A" * 81, "Write at most 80 signs of the name."),
        ("prescriber", "Ada\N{ZERO WIDTH SPACE}Quill", "This holds a sign that cannot be seen."),
    ],
    ids=["long number", "turned about", "joined", "no number", "long name", "unseen"],
)
def test_what_cannot_be_stays_beside_its_fault(asking: World, name: str, typed: str, says: str) -> None:
    pair = joined(asking)
    pair.page(pair.first, "/read/order")
    page = pair.first.press("Keep, and", **{name: typed})

    assert page.status == 422
    assert says in page.text
    assert dict(page.form_with("Keep, and")[0].held)[name] == typed


def test_whoever_looks_the_reading_over_sees_which_number_is_not_entered(asking: World) -> None:
    pair = joined(asking)
    for source in ("order", "device"):
        pair.page(pair.first, f"/read/{source}")
        pair.first.press("Keep, and")
    text = pair.page(pair.first, "/read").text

    assert "Order number" in text
    assert "Device serial number" in text
    assert "Prescriber" not in text


def test_a_number_set_otherwise_is_the_same(asking: World) -> None:
    set_otherwise = changed(READ, order={"order_number": "rx20\N{EN DASH}417"})

    assert compared(asking, READ, set_otherwise).phase() is Phase.STEPS


@pytest.mark.parametrize("other", ["RX 20-418", None], ids=["another", "not read"])
def test_a_number_that_differs_or_that_one_alone_read_is_read_again_and_then_agrees(
    asking: World, other: str | None
) -> None:
    pair = compared(asking, READ, changed(READ, order={"order_number": other}))
    assert pair.phase() is Phase.DISPUTED
    text = pair.page(pair.second).text
    assert "Order number" in text
    assert not [each for each in TYPED if each in text]

    pair.read_again(READ)
    assert pair.phase() is Phase.STEPS
    assert "RX 20-417" in pair.page(pair.second).text


def test_once_both_have_handed_in_the_other_sees_it_and_prescribers_that_differ_stop_nothing(
    asking: World,
) -> None:
    pair = compared(asking, READ, changed(READ, order={"prescriber": "A. Quill"}))
    text = pair.page(pair.second).text

    assert pair.phase() is Phase.STEPS
    assert "Prescriber on the order: Dr Ada Quill read by the first nurse, compared with nothing" in text
    assert "Prescriber on the order: A. Quill read by the second nurse, compared with nothing" in text
    assert "RX 20-417" in text
    assert "SN-0042" in text


def signed_record(pair: Pair) -> tuple[str, bytes]:
    """The words of the page that is signed, and the bytes of the record."""
    pair.take_steps()
    with pair.world.site.store.read() as reader:
        (frozen,) = reader.frozen_records(pair.check)
    return pair.page(pair.first, "/sign").text, frozen.document


def test_what_was_read_stands_on_the_record_and_in_the_export(asking: World) -> None:
    text, document = signed_record(compared(asking, READ, READ))

    assert not [each for each in TYPED if each not in text]
    rows = csv.DictReader(io.StringIO(b"".join(csv_lines(iter([Exported(record=document)]))).decode()))
    for row in rows:
        assert [row[f"{name}_{letter}"] for letter in "ab" for name in ASKED] == [*TYPED, *TYPED]
    for letter in ("A", "B"):
        read = json.loads(document)["rounds"][-1]["readings"][letter]
        assert [read["order"]["order_number"], read["order"]["prescriber"]] == ["RX 20-417", "Dr Ada Quill"]
        assert read["device"]["device_serial"] == "SN-0042"


def test_what_neither_read_is_not_on_the_record_and_stops_nothing(asking: World) -> None:
    pair = compared(asking, answers(), answers())
    assert pair.phase() is Phase.STEPS
    text, document = signed_record(pair)

    assert not [each for each in ASKED if each.encode() in document]
    assert "Order number" not in text


def test_what_the_site_does_not_ask_for_stands_nowhere_even_when_it_is_sent(world: World) -> None:
    _, document = signed_record(compared(world, READ, READ))

    assert not [each for each in ASKED if each.encode() in document]


def test_a_record_with_it_holds_from_its_file_and_in_its_store(asking: World) -> None:
    pair = compared(asking, READ, changed(READ, device={"device_serial": None}))
    pair.read_again(READ)
    pair.take_steps()
    pair.sign()
    site, now = asking.site, asking.clock.now
    sweep_once(site, now, holder="test")
    with site.store.read() as reader:
        pdf = reader.find_pdf(pair.check, 1)
    assert pdf is not None

    said = verify_here(site, now, pdf.content)
    assert isinstance(said, Verification)
    assert [each for each in said.answers if each.holds is not True] == []
    steps = verify_store(site, now, Wanted(pages=True))
    assert isinstance(steps, Iterator)
    assert [each for each in steps if not isinstance(each, Began | Progress)] == []
