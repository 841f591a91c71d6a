"""Past the page of who may send orders."""

from tests.browser.people import Person
from tests.browser.walk_running import Visitor

_LET_IN = "Let it in: its token is shown once"


def letting_in(visitor: Visitor, administrator: Person) -> None:
    """A system is let in, and its name is used once."""
    administrator.go("/senders")
    administrator.write("Name of the system", "Orders of the house")
    administrator.press(_LET_IN)
    visitor.take(administrator, "senders of orders, a token")
    administrator.write("Name of the system", "Orders of the house")
    administrator.press(_LET_IN)
    visitor.take(administrator, "senders of orders, a fault")
