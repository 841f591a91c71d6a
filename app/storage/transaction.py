"""One transaction an action: everything that can be read and written, committed once or not at all."""

from sqlalchemy import Connection

from app.storage.journal import Journal
from app.storage.reader import Reader
from app.storage.write_accounts import AccountWriter, DraftWriter
from app.storage.write_checks import CheckWriter
from app.storage.write_keys import KeyWriter
from app.storage.writer import Writer


class Transaction(Reader, Journal, CheckWriter, AccountWriter, DraftWriter, KeyWriter):
    """Reads and writes in one transaction."""

    def __init__(self, connection: Connection) -> None:
        """Work through one connection, whose transaction has begun."""
        Reader.__init__(self, connection)
        Writer.__init__(self, connection)
