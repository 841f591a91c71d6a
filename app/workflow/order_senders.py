"""Who may send orders: another system is let in by a token of its own, shown once, until it is revoked."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta

from app.keys import new_token, token_digest
from app.people import folded
from app.records.kept_orders import OrderSender, OrderSenderRevocation
from app.records.order_events import OrderRefused, OrderSenderAdded, OrderSenderRevoked
from app.site.installation import Site
from app.storage import ConstraintBroken, is_storable

LONGEST_NAME = 60
# How far back refusals are counted.
COUNTED = timedelta(days=30)


@dataclass(frozen=True, kw_only=True)
class SenderAdded:
    """The system may send orders; the token is shown now and never again."""

    name: str
    token: str


@dataclass(frozen=True)
class NotASenderName:
    """A name is a word or more that can be printed."""


@dataclass(frozen=True)
class SenderNameTaken:
    """Another sender has, or had, this name."""


@dataclass(frozen=True, kw_only=True)
class SenderRevoked:
    """The sender is let in no more, and nothing that it sent counts."""

    name: str


@dataclass(frozen=True)
class NoSuchSender:
    """No sender that is let in has this name."""


@dataclass(frozen=True, kw_only=True)
class SenderTold:
    """A sender with what came from it: how many messages were taken, and how many refused, by why."""

    sender: OrderSender
    revoked_at: datetime | None
    taken: int
    refused: dict[str, int]


def add_sender(
    site: Site, now: datetime, *, by: str, name: str, new_id: Callable[[], str]
) -> SenderAdded | NotASenderName | SenderNameTaken:
    """Let another system in. A name is used once: records say it."""
    called = name.strip()
    if (
        not folded(called)
        or len(called) > LONGEST_NAME
        or not called.isprintable()
        or not is_storable(called)
    ):
        return NotASenderName()
    sender, token = new_id(), new_token()
    kept = OrderSender(id=sender, name=called, token_digest=token_digest(token), added_by=by, added_at=now)
    with site.store.write() as tx:
        event = OrderSenderAdded(sender=sender, name=called, token_digest=kept.token_digest)
        tx.append(event, at=now, by=by)
        try:
            tx.add_order_sender(kept)
        except ConstraintBroken as broken:
            if broken.name != "order_sender_name_taken":
                raise
            return tx.refuse(SenderNameTaken())
    return SenderAdded(name=called, token=token)


def revoke_sender(site: Site, now: datetime, *, by: str, name: str) -> SenderRevoked | NoSuchSender:
    """Let a sender in no more; of two who do so at once one finds none."""
    with site.store.write() as tx:
        sender = tx.find_order_sender_named(folded(name))
        if sender is None:
            return NoSuchSender()
        entry = tx.append(OrderSenderRevoked(sender=sender.id), at=now, by=by)
        revoked = OrderSenderRevocation(
            sender=sender.id, position=entry.position, revoked_by=by, revoked_at=now
        )
        try:
            tx.revoke_order_sender(revoked)
        except ConstraintBroken as broken:
            if broken.name != "one_revocation_an_order_sender":
                raise
            return tx.refuse(NoSuchSender())
    return SenderRevoked(name=sender.name)


def senders(site: Site, now: datetime) -> tuple[SenderTold, ...]:
    """Every sender, with what came from it; of whom the orders are is not counted."""
    with site.store.read() as reader:
        revoked, taken = reader.order_sender_revocations(), reader.order_message_counts()
        refused: dict[str, dict[str, int]] = {}
        for entry in reader.refused_orders(since=now - COUNTED):
            assert isinstance(entry.event, OrderRefused)  # noqa: S101  # what was asked for
            of_sender = refused.setdefault(entry.event.sender, {})
            of_sender[entry.event.code] = of_sender.get(entry.event.code, 0) + 1
        return tuple(
            SenderTold(
                sender=each,
                revoked_at=revoked[each.id].revoked_at if each.id in revoked else None,
                taken=taken.get(each.id, 0),
                refused=dict(sorted(refused.get(each.id, {}).items())),
            )
            for each in reader.order_senders()
        )
