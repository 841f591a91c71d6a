"""Everything that can be read, over one connection and one moment."""

from sqlalchemy import Connection

from app.storage.read_accounts import AccountReader
from app.storage.read_checks import CheckReader
from app.storage.read_keys import KeyReader
from app.storage.read_lists import ListReader
from app.storage.read_log import LogReader
from app.storage.read_looks import LookReader
from app.storage.read_whole import WholeReader


class Reader(CheckReader, LogReader, AccountReader, ListReader, LookReader, KeyReader, WholeReader):
    """Reads what is stored; find_ may return None."""

    def __init__(self, connection: Connection) -> None:
        """Read through one connection, in its transaction."""
        self._connection = connection
