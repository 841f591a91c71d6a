"""Everything that can be read, over one connection and one moment."""

from typing import Any

from sqlalchemy import Connection

from app.storage.read_account_trends import AccountTrendReader
from app.storage.read_accounts import AccountReader
from app.storage.read_checks import CheckReader
from app.storage.read_exports import ExportReader
from app.storage.read_findings import FindingReader
from app.storage.read_keys import KeyReader
from app.storage.read_lists import ListReader
from app.storage.read_looks import LookReader
from app.storage.read_missed import MissedReader
from app.storage.read_open import OpenReader
from app.storage.read_orders import OrderReader
from app.storage.read_people import PeopleReader
from app.storage.read_rows import RowReader
from app.storage.read_rules import RuleReader
from app.storage.read_syringes import SyringeReader
from app.storage.read_trends import TrendReader
from app.storage.read_waiting import WaitingReader
from app.storage.read_whole import WholeReader
from app.storage.recounted import RecountReader
from app.storage.remembered import Memory


class Reader(
    CheckReader,
    OpenReader,
    AccountReader,
    ListReader,
    LookReader,
    FindingReader,
    ExportReader,
    KeyReader,
    OrderReader,
    PeopleReader,
    RuleReader,
    RowReader,
    TrendReader,
    AccountTrendReader,
    MissedReader,
    SyringeReader,
    WaitingReader,
    WholeReader,
    RecountReader,
):
    """Reads what is stored; find_ may return None."""

    def __init__(self, connection: Connection, memory: Memory | None = None) -> None:
        """Read through one connection, in its transaction, with what the store remembers of lists."""
        self._connection = connection
        self._memory = memory

    def worked_out(self, key: object) -> Any | None:  # noqa: ANN401  # whatever was kept
        """What was worked out once, of rows that never change."""
        return self._memory.worked_out.find(key) if self._memory else None

    def keep_worked_out(self, key: object, answer: object) -> None:
        """Remember it for others; `key` is all that it follows from."""
        if self._memory:
            self._memory.worked_out.keep(key, answer)
