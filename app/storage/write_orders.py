"""Adding orders from other systems, and who sends them."""

from app.people import folded
from app.records.kept_orders import KeptOrder, OrderSender, OrderSenderRevocation
from app.storage import order_tables
from app.storage.rows import as_row
from app.storage.writer import Writer


class OrderWriter(Writer):
    """Adds rows; each may raise ConstraintBroken with the name of the rule that refused it."""

    def add_order_sender(self, sender: OrderSender) -> None:
        """Another system may send orders."""
        row = as_row(sender, order_tables.order_sender)
        self._insert(order_tables.order_sender, {**row, "name_folded": folded(sender.name)})

    def revoke_order_sender(self, revoked: OrderSenderRevocation) -> None:
        """It may no more."""
        self._add(order_tables.order_sender_revoked, revoked)

    def add_order_message(self, order: KeptOrder) -> None:
        """A message came."""
        self._add(order_tables.order_message, order)
