"""Reading orders from other systems, and who sends them."""

from datetime import datetime

from sqlalchemy import Connection, bindparam, func, select

from app.records.kept import Entry
from app.records.kept_orders import ImportedOrder, KeptOrder, OrderSender, OrderSenderRevocation
from app.records.order_events import OrderRefused
from app.storage import order_tables, rows, tables
from app.storage.columns import UtcTime
from app.storage.rows import find_one, read_all, rows_by

_SENDER, _REVOKED, _MESSAGE = (
    order_tables.order_sender,
    order_tables.order_sender_revoked,
    order_tables.order_message,
)
_OF_SENDER = tuple(_SENDER.c[name] for name in ("id", "name", "token_digest", "added_by", "added_at"))
_SENDERS = select(*_OF_SENDER).order_by(_SENDER.c.added_at, _SENDER.c.id)
_REVOCATIONS = select(_REVOKED)
_IS_REVOKED = select(_REVOKED.c.sender).where(_REVOKED.c.sender == _SENDER.c.id)
_FIND_BY_TOKEN = select(*_OF_SENDER).where(
    _SENDER.c.token_digest == bindparam("token_digest"), ~_IS_REVOKED.exists()
)
_FIND_BY_NAME = select(*_OF_SENDER).where(
    _SENDER.c.name_folded == bindparam("name_folded"), ~_IS_REVOKED.exists()
)
_FIND = rows_by(_MESSAGE, "id")
_SAME = select(_MESSAGE.c.id).where(
    _MESSAGE.c.sender == bindparam("sender"), _MESSAGE.c.message_digest == bindparam("message_digest")
)
# Of every order that any message says is the patient's, all messages: the newest may say otherwise.
_THEIRS = select(_MESSAGE.c.sender, _MESSAGE.c.order_named).where(
    _MESSAGE.c.patient == bindparam("patient"), _MESSAGE.c.position < bindparam("before")
)
_THEIRS_ = _THEIRS.distinct().subquery()
_OF_PATIENT = (
    select(
        _MESSAGE.c.id,
        _MESSAGE.c.position,
        _MESSAGE.c.sender,
        _SENDER.c.name.label("sender_name"),
        _MESSAGE.c.received_at,
        _MESSAGE.c.patient,
        _MESSAGE.c.digest,
        _MESSAGE.c.read,
    )
    .join(_SENDER, _SENDER.c.id == _MESSAGE.c.sender)
    .join(
        _THEIRS_,
        (_THEIRS_.c.sender == _MESSAGE.c.sender) & (_THEIRS_.c.order_named == _MESSAGE.c.order_named),
    )
    .where(
        _MESSAGE.c.position < bindparam("before"),
        ~_IS_REVOKED.where(_REVOKED.c.position < bindparam("before")).exists(),
    )
    .order_by(_MESSAGE.c.position)
)
_LOG = tables.log_entry
_REFUSED = (
    select(_LOG)
    .where(_LOG.c.kind == OrderRefused.kind, _LOG.c.at > bindparam("since", type_=UtcTime()))
    .order_by(_LOG.c.position)
)
_COUNTS = select(_MESSAGE.c.sender, func.count().label("taken")).group_by(_MESSAGE.c.sender)


class OrderReader:
    """Orders from other systems."""

    _connection: Connection

    def order_senders(self) -> tuple[OrderSender, ...]:
        """Every sender, revoked or not, the first first."""
        return read_all(self._connection, OrderSender, _SENDERS)

    def order_sender_revocations(self) -> dict[str, OrderSenderRevocation]:
        """Those that are let in no more, by sender."""
        found = read_all(self._connection, OrderSenderRevocation, _REVOCATIONS)
        return {each.sender: each for each in found}

    def find_order_sender(self, token_digest: str) -> OrderSender | None:
        """The sender with this token, while it is let in."""
        return find_one(self._connection, OrderSender, _FIND_BY_TOKEN, token_digest=token_digest)

    def find_order_sender_named(self, name_folded: str) -> OrderSender | None:
        """The sender with this name, while it is let in."""
        return find_one(self._connection, OrderSender, _FIND_BY_NAME, name_folded=name_folded)

    def has_order_message(self, sender: str, message_digest: str) -> bool:
        """Whether this very message came before."""
        same = self._connection.execute(_SAME, {"sender": sender, "message_digest": message_digest})
        return same.first() is not None

    def find_order_message(self, order: str) -> KeptOrder | None:
        """A message as it came."""
        return find_one(self._connection, KeptOrder, _FIND, id=order)

    def orders_of(self, patient: str, *, before: int) -> tuple[ImportedOrder, ...]:
        """All messages about the orders of a patient, as the log had them before a position."""
        return read_all(self._connection, ImportedOrder, _OF_PATIENT, patient=patient, before=before)

    def order_message_counts(self) -> dict[str, int]:
        """How many messages were taken, by sender."""
        return {row.sender: row.taken for row in self._connection.execute(_COUNTS)}

    def refused_orders(self, *, since: datetime) -> tuple[Entry, ...]:
        """The log's entries of messages that could not be taken, after a moment."""
        return rows.entries(self._connection, _REFUSED, since=since)
