"""Another system sends orders."""

from datetime import datetime

from app.keys import new_id
from app.site.installation import Site
from app.workflow.order_senders import SenderAdded, add_sender
from app.workflow.receiving_orders import Outcome, receive_with_token
from tests.factories.orders import Json, as_message


def let_in(site: Site, now: datetime, name: str = "Orders of the house") -> str:
    """A sender's token."""
    added = add_sender(site, now, by="operator", name=name, new_id=new_id)
    assert isinstance(added, SenderAdded), added
    return added.token


def sends(site: Site, now: datetime, token: str, order: Json | bytes) -> Outcome:
    """One message."""
    message = order if isinstance(order, bytes) else as_message(order)
    return receive_with_token(site, now, token=token, message=message, new_id=new_id)
