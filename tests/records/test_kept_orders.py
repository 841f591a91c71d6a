"""Which of the orders that came count for a patient."""

from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

import pytest

from app.records.canonical import canonical, digest
from app.records.kept_orders import (
    ImportedOrder,
    KeptOrder,
    OrderOnRecord,
    active_orders,
    find_compared,
    order_digest,
)
from app.records.order_message import ReadOrder
from tests.story.events import BEGAN as NOW

HOUR = timedelta(hours=1)
DAYS = timedelta(hours=72)
WRITTEN = datetime.fromisoformat("2031-05-02T09:00:00+02:00")


def came(
    position: int,
    *,
    order: str = "A-1",
    status: str = "active",
    written: datetime = WRITTEN,
    patient: str = "4711",
    sender: str = "sender-1",
    at: datetime = NOW,
) -> ImportedOrder:
    read = ReadOrder(order=order, written_at=written, status=status, patient=patient, settings={})
    return ImportedOrder(
        id=f"order-{position}",
        position=position,
        sender=sender,
        sender_name="Orders",
        received_at=at,
        patient=patient,
        digest="digest",
        read=canonical(read.as_data()),
    )


LATER = WRITTEN + HOUR


@pytest.mark.parametrize(
    ("messages", "counts"),
    [
        ((), ()),
        ((came(1),), (1,)),
        # Written anew: the newer counts, in whatever order they come; of two of one moment the later to come.
        ((came(1), came(2, written=LATER)), (2,)),
        ((came(1, written=LATER), came(2)), (1,)),
        ((came(1), came(2)), (2,)),
        # Ended, and what was sent before it and comes after it.
        ((came(1), came(2, status="stopped", written=LATER, patient="")), ()),
        ((came(1, status="revoked", written=LATER, patient=""), came(2)), ()),
        ((came(1), came(2, status="on-hold", written=LATER), came(3, written=LATER + HOUR)), (3,)),
        # By now it is another patient's.
        ((came(1), came(2, written=LATER, patient="4712")), ()),
        # Two orders; and one name from two senders is two orders.
        ((came(1), came(2, order="A-2")), (1, 2)),
        ((came(1), came(2, sender="sender-2")), (1, 2)),
        # For as long as the policy says; a clock that was put back ends nothing.
        ((came(1, at=NOW - DAYS),), (1,)),
        ((came(1, at=NOW - DAYS - HOUR),), ()),
        ((came(1, at=NOW + HOUR),), (1,)),
        # What ends an order ends it for ever, however long ago.
        ((came(1), came(2, status="stopped", written=LATER, at=NOW - DAYS - HOUR)), ()),
    ],
)
def test_of_each_order_the_newest_counts_while_it_is_active(
    messages: tuple[ImportedOrder, ...], counts: tuple[int, ...]
) -> None:
    found = active_orders(reversed(messages), "4711", at=NOW, counts_for=DAYS)
    assert tuple(each.position for each in found) == counts


def test_a_comparison_names_an_order_without_anything_that_it_orders() -> None:
    assert came(7).on_record().as_data() == {
        "id": "order-7",
        "order": "A-1",
        "sender": "Orders",
        "received_at": NOW.isoformat(timespec="seconds"),
        "digest": "digest",
    }


def test_a_kept_comparison_names_the_one_order_that_it_was_held_against() -> None:
    one = came(7).on_record().as_data()
    found = find_compared({"orders": [one]})
    assert found is not None
    assert (found.words, found.came) == ("A-1 of Orders", NOW)
    assert find_compared({"orders": [one, one]}) is find_compared({"orders": []}) is find_compared({}) is None


def test_an_order_is_named_without_the_system_of_its_identifier() -> None:
    named = OrderOnRecord(id="1", order="urn:x|A-1", sender="Orders", received_at="", digest="")
    assert named.words == "A-1 of Orders"


def test_a_message_and_what_was_read_of_it_have_one_digest() -> None:
    read = came(1).as_read
    content = canonical(read.as_data())
    kept = KeptOrder(
        id="order-1",
        position=1,
        sender="sender-1",
        received_at=NOW,
        order_named="A-1",
        patient="4711",
        salt="salt",
        message=b"{}",
        message_digest=digest(b"{}"),
        read=content,
        digest=order_digest(salt="salt", message=b"{}", read=content),
    )
    assert kept.own_digest == kept.digest
    assert kept.as_read == read
    changes: tuple[dict[str, Any], ...] = ({"salt": "another"}, {"message": b"[]"}, {"read": b"{}"})
    for changed in changes:
        assert replace(kept, **changed).own_digest != kept.digest
