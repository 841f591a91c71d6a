"""What storage keeps of orders from other systems and of who sends them."""

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

from app.records.canonical import canonical, digest
from app.records.order_message import ReadOrder, read_kept


@dataclass(frozen=True, kw_only=True)
class OrderSender:
    """Another system that may send orders; of its token only the digest is kept."""

    id: str
    name: str
    token_digest: str
    added_by: str
    added_at: datetime


@dataclass(frozen=True, kw_only=True)
class OrderSenderRevocation:
    """From this position of the log on nothing counts that the sender sent."""

    sender: str
    position: int
    revoked_by: str
    revoked_at: datetime


@dataclass(frozen=True, kw_only=True)
class KeptOrder:
    """One message as it came, and what was read of it; `position` is that of its entry in the log.

    `patient` is the identifier as identifiers are compared, blank in a message that ends an order. `digest`
    is of salt, message and what was read: plausible orders are few enough to try them all.
    """

    id: str
    position: int
    sender: str
    received_at: datetime
    order_named: str
    patient: str
    salt: str
    message: bytes
    message_digest: str
    read: bytes
    digest: str

    @property
    def own_digest(self) -> str:
        """The digest that it must have."""
        return order_digest(salt=self.salt, message=self.message, read=self.read)

    @property
    def as_read(self) -> ReadOrder:
        """What was read of it when it came."""
        return read_kept(json.loads(self.read))


def order_digest(*, salt: str, message: bytes, read: bytes) -> str:
    """What the log says of a message and of what was read of it."""
    return digest(canonical({"salt": salt, "message": digest(message), "read": digest(read)}))


@dataclass(frozen=True, kw_only=True)
class ImportedOrder:
    """What of a message is asked when a patient's orders are looked for."""

    id: str
    position: int
    sender: str
    sender_name: str
    received_at: datetime
    patient: str
    digest: str
    read: bytes

    @property
    def as_read(self) -> ReadOrder:
        """What was read of it when it came."""
        return read_kept(json.loads(self.read))

    def on_record(self) -> "OrderOnRecord":
        """As the judges are given it."""
        return OrderOnRecord(
            id=self.id,
            order=self.as_read.order,
            sender=self.sender_name,
            received_at=self.received_at.isoformat(timespec="seconds"),
            digest=self.digest,
            settings=self.as_read.settings,
        )


@dataclass(frozen=True, kw_only=True)
class OrderOnRecord:
    """An order that another system sent, as a comparison names it: which, from whom, when it came.

    `settings` is what it orders, in the words of the engine's contract; in a comparison that was kept it
    stands in the case.
    """

    id: str
    order: str
    sender: str
    received_at: str
    digest: str
    settings: Mapping[str, Any] = field(default_factory=dict)

    @property
    def words(self) -> str:
        """Which order it is, for a sentence: without the system of its identifier."""
        return f"{self.order.rpartition('|')[2]} of {self.sender}"

    @property
    def came(self) -> datetime:
        """When its last message came."""
        return datetime.fromisoformat(self.received_at)

    def as_data(self) -> dict[str, str]:
        """As it is kept."""
        return {
            "id": self.id,
            "order": self.order,
            "sender": self.sender,
            "received_at": self.received_at,
            "digest": self.digest,
        }


def find_compared(told: Mapping[str, Any]) -> OrderOnRecord | None:
    """The order that a kept comparison was held against; None without one, and where there were more."""
    orders = told.get("orders", ())
    return OrderOnRecord(**orders[0]) if len(orders) == 1 else None


def active_orders(
    messages: Iterable[ImportedOrder], patient: str, *, at: datetime, counts_for: timedelta
) -> tuple[ImportedOrder, ...]:
    """Of all messages about a patient's orders, the newest of each order that is active and still counts.

    The newest is the one that was written last, in whatever order they came; it may be another patient's by
    now. Of two written at one moment the later to come counts.
    """
    newest: dict[tuple[str, str], ImportedOrder] = {}
    for each in sorted(messages, key=lambda each: (each.as_read.written_at, each.position)):
        newest[each.sender, each.as_read.order] = each
    return tuple(
        each
        for each in sorted(newest.values(), key=lambda each: each.position)
        if each.as_read.is_active and each.patient == patient and at - each.received_at <= counts_for
    )
