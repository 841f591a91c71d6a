"""Orders from other systems: who may send them, what is kept, and what a sender is told."""

from datetime import datetime, timedelta

import pytest
from sqlalchemy import text

from app.auditing.verifying_store import Wanted, verify_store
from app.keys import new_id, token_digest
from app.records.order_json import RefusedMessage
from app.records.store_verification import Failing
from app.workflow.order_senders import (
    COUNTED,
    NoSuchSender,
    NotASenderName,
    SenderNameTaken,
    SenderRevoked,
    add_sender,
    revoke_sender,
    senders,
)
from app.workflow.receiving_orders import OrderTaken, TooManyOrders, receive_from
from tests.factories.orders import Json, as_both_read, as_message, order
from tests.story.orders import let_in, sends
from tests.story.ward import Ward, open_ward
from tests.support.policies import publish_policy
from tests.support.tampering import as_database_administrator
from tests.support.together import together

ORDER = as_both_read()
NAME = "Orders of the house"


def failing(ward: Ward) -> set[str]:
    steps = verify_store(ward.site, ward.now + timedelta(minutes=1), Wanted(pages=False))
    assert not hasattr(steps, "why")
    return {each.about for each in steps if isinstance(each, Failing)}


def kept(ward: Ward) -> list[dict[str, object]]:
    with ward.site.store.read() as reader:
        return [dict(row) for row in reader.rows("order_message")]


def test_a_message_is_kept_as_it_came_and_the_same_again_counts_once(ward: Ward) -> None:
    token = let_in(ward.site, ward.wait().now)
    message = as_message(ORDER)
    assert sends(ward.site, ward.wait().now, token, message) == OrderTaken()
    assert sends(ward.site, ward.wait().now, token, message) == OrderTaken()
    (row,) = kept(ward)
    assert (row["message"], row["patient"]) == (message, "dm40417")
    (told,) = senders(ward.site, ward.now)
    assert (told.sender.name, told.taken, told.refused, told.revoked_at) == (NAME, 1, {}, None)
    assert failing(ward) == set()


def test_of_a_token_only_a_digest_is_kept(one_ward: Ward) -> None:
    token = let_in(one_ward.site, one_ward.wait().now)
    with one_ward.site.store.read() as reader:
        (row,) = reader.rows("order_sender")
        entries = list(reader.leaves(after=0, up_to=reader.head()))
    assert row["token_digest"] == token_digest(token)
    assert not any(token.encode() in each for each in entries)
    assert token not in str(row)


def test_what_cannot_be_taken_is_counted_by_its_reason_and_not_kept(one_ward: Ward) -> None:
    token = let_in(one_ward.site, one_ward.wait().now)
    for _ in range(2):
        said = sends(one_ward.site, one_ward.wait().now, token, order(intent="plan"))
        assert isinstance(said, RefusedMessage)
        assert said.code == "not-an-order"
    sends(one_ward.site, one_ward.wait().now, token, b"{")
    assert kept(one_ward) == []
    (told,) = senders(one_ward.site, one_ward.now)
    assert (told.taken, told.refused) == (0, {"bad-json": 1, "not-an-order": 2})
    (later,) = senders(one_ward.site, one_ward.now + COUNTED)
    assert later.refused == {}


def test_what_is_dated_ahead_of_the_clock_is_refused_until_the_clock_has_come_so_far(one_ward: Ward) -> None:
    """It would count for ever: nothing later could take its place, not even its end."""
    token = let_in(one_ward.site, one_ward.wait().now)
    publish_policy(one_ward.site, one_ward.wait().now, orders={"ahead_minutes": 2})
    now = one_ward.wait().now

    def dated(at: datetime, **changes: object) -> Json:
        return {**ORDER, "meta": {"lastUpdated": at.isoformat()}, **changes}

    said = sends(one_ward.site, now, token, dated(now + timedelta(minutes=2, seconds=1)))
    assert isinstance(said, RefusedMessage)
    assert (said.code, said.path) == ("ahead-of-clock", "MedicationRequest.meta.lastUpdated")
    assert kept(one_ward) == []
    (told,) = senders(one_ward.site, now)
    assert told.refused == {"ahead-of-clock": 1}
    within = dated(now + timedelta(minutes=2))
    assert sends(one_ward.site, now, token, within) == OrderTaken()
    # The clock of the site was put back: the same message again is the same, and no other is taken.
    back = now - timedelta(hours=1)
    assert sends(one_ward.site, back, token, within) == OrderTaken()
    assert isinstance(sends(one_ward.site, back, token, dated(now)), RefusedMessage)
    assert sends(one_ward.site, now, token, dated(now, status="cancelled")) == OrderTaken()


def test_a_drug_is_looked_up_in_the_library_in_force(one_ward: Ward) -> None:
    token = let_in(one_ward.site, one_ward.wait().now)
    unknown = order(medicationReference=None, medicationCodeableConcept={"text": "ketamine"})
    said = sends(one_ward.site, one_ward.wait().now, token, unknown)
    assert isinstance(said, RefusedMessage)
    assert said.code == "unknown-drug"


def test_the_policy_names_the_system_of_the_wristbands(one_ward: Ward) -> None:
    token = let_in(one_ward.site, one_ward.wait().now)
    publish_policy(one_ward.site, one_ward.wait().now, orders={"patient_system": "urn:example:other"})
    said = sends(one_ward.site, one_ward.wait().now, token, ORDER)
    assert isinstance(said, RefusedMessage)
    assert said.code == "patient-not-known-by-one"


def test_a_sender_may_send_so_many_in_a_minute_and_no_other_is_slowed(one_ward: Ward) -> None:
    token = let_in(one_ward.site, one_ward.wait().now)
    other = let_in(one_ward.site, one_ward.now, "Another")
    publish_policy(one_ward.site, one_ward.wait().now, orders={"most_in_a_minute": 2})
    now = one_ward.wait().now
    said = [sends(one_ward.site, now, token, as_both_read(named=f"A-{n}")) for n in range(3)]
    assert said == [OrderTaken(), OrderTaken(), TooManyOrders(seconds=61)]
    assert sends(one_ward.site, now, other, ORDER) == OrderTaken()
    later = now + timedelta(minutes=1)
    assert sends(one_ward.site, later, token, ORDER) == OrderTaken()
    # A clock that was put back lets nobody wait for longer than that.
    assert sends(one_ward.site, now - timedelta(hours=2), token, ORDER) == OrderTaken()


def test_of_messages_that_come_at_the_same_instant_no_more_are_taken(ward: Ward) -> None:
    token = let_in(ward.site, ward.wait().now)
    publish_policy(ward.site, ward.wait().now, orders={"most_in_a_minute": 3})
    now = ward.wait().now
    messages = [as_both_read(named=f"A-{number}") for number in range(8)]

    said = together(*(lambda each=each: sends(ward.site, now, token, each) for each in messages))

    assert (said.count(OrderTaken()), said.count(TooManyOrders(seconds=61))) == (3, 5)


def test_whoever_has_the_host_is_not_slowed(one_ward: Ward) -> None:
    let_in(one_ward.site, one_ward.wait().now)
    publish_policy(one_ward.site, one_ward.wait().now, orders={"most_in_a_minute": 1})
    for number in range(3):
        message = as_message(as_both_read(named=f"A-{number}"))
        said = receive_from(one_ward.site, one_ward.now, sender=NAME.upper(), message=message, new_id=new_id)
        assert said == OrderTaken()
    said = receive_from(one_ward.site, one_ward.now, sender="Nobody", message=b"", new_id=new_id)
    assert said == NoSuchSender()


def test_a_sender_that_was_revoked_is_let_in_no_more_and_its_name_is_used_once(ward: Ward) -> None:
    token = let_in(ward.site, ward.wait().now)
    assert revoke_sender(ward.site, ward.wait().now, by="operator", name=f" {NAME} ") == SenderRevoked(
        name=NAME
    )
    assert revoke_sender(ward.site, ward.wait().now, by="operator", name=NAME) == NoSuchSender()
    assert sends(ward.site, ward.wait().now, token, ORDER) == NoSuchSender()
    again = add_sender(ward.site, ward.wait().now, by="operator", name=NAME, new_id=new_id)
    assert again == SenderNameTaken()
    assert failing(ward) == set()


@pytest.mark.parametrize("name", ["", " - ", "x" * 61, "a\x00b", "a\u202eb"])
def test_what_is_no_name_is_refused(one_ward: Ward, name: str) -> None:
    said = add_sender(one_ward.site, one_ward.wait().now, by="operator", name=name, new_id=new_id)
    assert said == NotASenderName()


@pytest.mark.parametrize(
    ("change", "found"),
    [
        ("UPDATE order_sender SET token_digest = 'mine'", "order_sender.token_digest"),
        ("UPDATE order_sender SET name = 'Mine', name_folded = 'mine'", "order_sender.name"),
        ("DELETE FROM order_sender_revoked", "order_sender_revoked"),
        ("UPDATE order_message SET patient = 'dm40418'", "order_message.message"),
        ("UPDATE order_message SET order_named = 'another'", "order_message.message"),
        ("UPDATE order_message SET message_digest = 'another'", "order_message.message"),
        ("UPDATE order_message SET position = position + 1", "order_message.position"),
        ("UPDATE order_message SET salt = 'another'", "order_message.message"),
        ("DELETE FROM order_message", "order_message"),
    ],
)
def test_somebody_who_changes_what_came_is_found(sqlite_url: str, change: str, found: str) -> None:
    with open_ward(sqlite_url) as ward:
        token = let_in(ward.site, ward.wait().now)
        sends(ward.site, ward.wait().now, token, ORDER)
        revoke_sender(ward.site, ward.wait().now, by="operator", name=NAME)
        with as_database_administrator(sqlite_url) as connection:
            connection.execute(text(change))
        assert found in failing(ward)
