"""One transaction an action: everything that can be read and written, committed once or not at all."""

from sqlalchemy import Connection

from app.records.site_events import AccountStands
from app.storage.journal import Journal
from app.storage.reader import Reader
from app.storage.remembered import Memory
from app.storage.standing import accounts_standing
from app.storage.write_accounts import AccountWriter, DraftWriter
from app.storage.write_checks import CheckWriter
from app.storage.write_keys import KeyWriter
from app.storage.write_orders import OrderWriter
from app.storage.write_people import PeopleWriter
from app.storage.write_rules import RuleWriter
from app.storage.writer import Writer


class Transaction(
    Reader,
    Journal,
    CheckWriter,
    AccountWriter,
    DraftWriter,
    KeyWriter,
    OrderWriter,
    PeopleWriter,
    RuleWriter,
):
    """Reads and writes in one transaction."""

    # What it sees, others may not see yet.
    _remembers = False

    def __init__(self, connection: Connection, memory: Memory | None = None) -> None:
        """Work through one connection, whose transaction has begun."""
        Reader.__init__(self, connection, memory)
        Writer.__init__(self, connection)

    def tell_accounts(self) -> None:
        """Leave in the log what became of each account that was changed, at the moment of the act before."""
        for person in self._touched if self._appended else ():
            standing = accounts_standing(self._connection, person)
            self.append(AccountStands(person=person, digest=standing[person]), at=self._appended[-1].at)
