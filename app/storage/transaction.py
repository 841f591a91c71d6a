"""One transaction an action: everything that can be read and written, committed once or not at all."""

from sqlalchemy import Connection

from app.storage.journal import Journal
from app.storage.reader import Reader
from app.storage.remembered import Memory
from app.storage.write_accounts import AccountWriter, DraftWriter
from app.storage.write_checks import CheckWriter
from app.storage.write_keys import KeyWriter
from app.storage.writer import Writer


class Transaction(Reader, Journal, CheckWriter, AccountWriter, DraftWriter, KeyWriter):
    """Reads and writes in one transaction."""

    # What it sees, others may not see yet.
    _remembers = False

    def __init__(self, connection: Connection, memory: Memory | None = None) -> None:
        """Work through one connection, whose transaction has begun."""
        Reader.__init__(self, connection, memory)
        Writer.__init__(self, connection)
