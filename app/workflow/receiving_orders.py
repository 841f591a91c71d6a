"""Take an order from another system: read it, keep it, and tell its sender nothing of any patient.

Nothing here asks whether there is such a patient or a check: the answer, and what it takes to make it, is the
same for all.
"""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta

from app.judging.identifiers import compared_identifier
from app.keys import new_salt, token_digest
from app.people import folded
from app.records.canonical import canonical, digest
from app.records.kept import Throttle
from app.records.kept_orders import KeptOrder, OrderSender, order_digest
from app.records.order_events import OrderReceived, OrderRefused
from app.records.order_json import RefusedMessage
from app.records.order_message import read_order
from app.records.policy import OrderRule
from app.records.rules import LIBRARY
from app.site.installation import Site
from app.site.loading import rules_in_force
from app.storage import Transaction
from app.workflow.order_senders import NoSuchSender
from app.workflow.queueing import one_at_a_time

_MINUTE = timedelta(minutes=1)


@dataclass(frozen=True)
class OrderTaken:
    """The message can be read, and is kept; that it came before is not told apart."""


@dataclass(frozen=True, kw_only=True)
class TooManyOrders:
    """The sender has sent more than the policy lets it in a minute."""

    seconds: int


Outcome = OrderTaken | RefusedMessage | TooManyOrders | NoSuchSender


def receive_with_token(
    site: Site, now: datetime, *, token: str, message: bytes, new_id: Callable[[], str]
) -> Outcome:
    """From whoever has a sender's token."""
    with site.store.read() as reader:
        sender = reader.find_order_sender(token_digest(token))
        if sender is None:
            return NoSuchSender()
        policy = rules_in_force(reader, now).policy
    with site.store.write() as tx:
        wait = _seconds_to_wait(tx, now, sender, policy.orders)
        return TooManyOrders(seconds=wait) if wait else _receive(tx, now, sender, message, new_id=new_id)


def receive_from(
    site: Site, now: datetime, *, sender: str, message: bytes, new_id: Callable[[], str]
) -> OrderTaken | RefusedMessage | NoSuchSender:
    """From a sender by its name, for whoever has the host's command line; however many."""
    with site.store.read() as reader:
        found = reader.find_order_sender_named(folded(sender))
    if found is None:
        return NoSuchSender()
    with site.store.write() as tx:
        return _receive(tx, now, found, message, new_id=new_id)


def _receive(
    tx: Transaction, now: datetime, sender: OrderSender, message: bytes, *, new_id: Callable[[], str]
) -> OrderTaken | RefusedMessage:
    written = digest(message)
    if tx.has_order_message(sender.id, written):
        return OrderTaken()
    rules = rules_in_force(tx, now)
    read = read_order(
        message,
        drugs=tuple(rules.content(LIBRARY)["drugs"]),
        patient_system=rules.policy.orders.patient_system,
        latest=now + rules.policy.orders.ahead,
    )
    if isinstance(read, RefusedMessage):
        tx.append(OrderRefused(sender=sender.id, code=read.code), at=now)
        return read
    order, salt, told = new_id(), new_salt().hex(), canonical(read.as_data())
    own = order_digest(salt=salt, message=message, read=told)
    entry = tx.append(OrderReceived(order=order, sender=sender.id, digest=own), at=now)
    tx.add_order_message(
        KeptOrder(
            id=order,
            position=entry.position,
            sender=sender.id,
            received_at=now,
            order_named=read.order,
            patient=compared_identifier(read.patient),
            salt=salt,
            message=message,
            message_digest=written,
            read=told,
            digest=own,
        )
    )
    return OrderTaken()


def _seconds_to_wait(tx: Transaction, now: datetime, sender: OrderSender, rule: OrderRule) -> int:
    """Count one message more in this minute; how long to wait where that is too many."""
    key = f"orders {sender.id}"
    one_at_a_time(tx, key, now)
    before = tx.find_throttle(key)
    until = before.not_before if before and before.not_before else now
    if before is None or not now < until <= now + _MINUTE:
        tx.set_throttle(Throttle(key=key, failures=1, not_before=now + _MINUTE))
        return 0
    if before.failures >= rule.most_in_a_minute:
        return int((until - now).total_seconds()) + 1
    tx.set_throttle(Throttle(key=key, failures=before.failures + 1, not_before=until))
    return 0
