"""The tables of orders from other systems, and of who sends them: rows are added and never change."""

from sqlalchemy import (
    ForeignKeyConstraint,
    Index,
    PrimaryKeyConstraint,
    Table,
    UniqueConstraint,
)

from app.storage.schema import bytes_column as _bytes
from app.storage.schema import large_number_column as _large_number
from app.storage.schema import metadata
from app.storage.schema import text_column as _text
from app.storage.schema import time_column as _time

order_sender = Table(
    "order_sender",
    metadata,
    _text("id"),
    _text("name"),
    # In the form in which it is compared.
    _text("name_folded"),
    _text("token_digest"),
    _text("added_by"),
    _time("added_at"),
    PrimaryKeyConstraint("id", name="order_sender_id_unique"),
    UniqueConstraint("name_folded", name="order_sender_name_taken"),
    UniqueConstraint("token_digest", name="order_sender_token_unique"),
)

order_sender_revoked = Table(
    "order_sender_revoked",
    metadata,
    _text("sender"),
    # Of the entry of the log that tells of the row.
    _large_number("position"),
    _text("revoked_by"),
    _time("revoked_at"),
    PrimaryKeyConstraint("sender", name="one_revocation_an_order_sender"),
    ForeignKeyConstraint(["sender"], ["order_sender.id"], name="revocation_of_known_order_sender"),
)

order_message = Table(
    "order_message",
    metadata,
    _text("id"),
    # Of the entry of the log that tells of the row.
    _large_number("position"),
    _text("sender"),
    _time("received_at"),
    _text("order_named"),
    # In the form in which identifiers are compared; blank in a message that ends an order.
    _text("patient"),
    _text("salt"),
    _bytes("message"),
    _text("message_digest"),
    _bytes("read"),
    _text("digest"),
    PrimaryKeyConstraint("id", name="order_message_id_unique"),
    # The same message again counts once.
    UniqueConstraint("sender", "message_digest", name="one_order_message_a_sender"),
    ForeignKeyConstraint(["sender"], ["order_sender.id"], name="order_message_of_known_sender"),
    Index("order_message_by_patient", "patient"),
    Index("order_message_by_order", "sender", "order_named"),
)
