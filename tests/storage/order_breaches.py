# ruff: noqa: ANN401  # a row holds values of every kind
"""Rows of orders from other systems, and of who sends them, as they stand, and such as must be refused."""

from dataclasses import replace
from typing import Any

from app.people import folded
from app.records.canonical import canonical, digest
from app.records.kept_orders import KeptOrder, OrderSender, OrderSenderRevocation, order_digest
from app.storage import Transaction
from tests.storage.builders import NOW
from tests.storage.key_breaches import Breach, row_of

MESSAGE = b'{"resourceType": "MedicationRequest"}'
_READ = canonical({"order": "order-1"})
SENDER = OrderSender(
    id="sender-1", name="Orders", token_digest="digest of a token", added_by="amari", added_at=NOW
)
REVOKED = OrderSenderRevocation(sender="sender-1", position=1, revoked_by="amari", revoked_at=NOW)
ORDER = KeptOrder(
    id="order-1",
    position=1,
    sender="sender-1",
    received_at=NOW,
    order_named="order-1",
    patient="1",
    salt="salt",
    message=MESSAGE,
    message_digest=digest(MESSAGE),
    read=_READ,
    digest=order_digest(salt="salt", message=MESSAGE, read=_READ),
)


def add_orders(tx: Transaction) -> None:
    """One row in each table."""
    tx.add_order_sender(SENDER)
    tx.add_order_message(ORDER)
    tx.revoke_order_sender(REVOKED)


def _sender(**given: Any) -> Breach:
    made = replace(SENDER, **{"id": "sender-2", "name": "More orders", "token_digest": "another", **given})
    return Breach(table="order_sender", row=row_of(made, "order_sender", name_folded=folded(made.name)))


def _revoked(**given: Any) -> Breach:
    return Breach(table="order_sender_revoked", row=row_of(replace(REVOKED, **given), "order_sender_revoked"))


def _order(**given: Any) -> Breach:
    made = replace(ORDER, **{"id": "order-2", "message_digest": "another", **given})
    return Breach(table="order_message", row=row_of(made, "order_message"))


ORDER_BREACHES: dict[str, Breach] = {
    "order_sender_id_unique": _sender(id="sender-1"),
    # However it is written.
    "order_sender_name_taken": _sender(name=" ORDERS"),
    "order_sender_token_unique": _sender(token_digest="digest of a token"),
    "one_revocation_an_order_sender": _revoked(),
    "revocation_of_known_order_sender": _revoked(sender="none"),
    "order_message_id_unique": _order(id="order-1"),
    "one_order_message_a_sender": _order(message_digest=digest(MESSAGE)),
    "order_message_of_known_sender": _order(sender="none"),
}
