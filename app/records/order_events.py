"""What happens to orders from other systems, and to who may send them; no event holds a value of an order."""

from dataclasses import dataclass
from typing import ClassVar

from app.records.events import Event


@dataclass(frozen=True, kw_only=True)
class OrderSenderAdded(Event):
    """Another system may send orders from here on, with a token of which this is the digest."""

    kind: ClassVar[str] = "order-sender-added"
    sender: str
    name: str
    token_digest: str


@dataclass(frozen=True, kw_only=True)
class OrderSenderRevoked(Event):
    """A sender is let in no more, and from here on nothing that it sent counts."""

    kind: ClassVar[str] = "order-sender-revoked"
    sender: str


@dataclass(frozen=True, kw_only=True)
class OrderReceived(Event):
    """A message came that can be read; the salted digest of it, and of what was read, tells nothing."""

    kind: ClassVar[str] = "order-received"
    order: str
    sender: str
    digest: str


@dataclass(frozen=True, kw_only=True)
class OrderRefused(Event):
    """A message came that cannot be taken; why is a code, and nothing of it is kept."""

    kind: ClassVar[str] = "order-refused"
    sender: str
    code: str
