"""What is kept, and the only place that speaks SQL: one transaction an action, a journal that only grows."""

from app.storage.columns import is_storable
from app.storage.copying import Loaded, NotLoaded, Rows, contents, copy_out, load_copy, settle
from app.storage.looking import ServerState, find_server_state
from app.storage.migrate import (
    Schema,
    empty_flat_rows,
    find_schema,
    is_empty,
    migrate,
    roles_for,
    sqlite_path,
)
from app.storage.questions import OfChecks, OfInfusions
from app.storage.read_account_trends import SEVERAL, Difference, OfDevice
from app.storage.read_ahead import ReadAhead
from app.storage.read_exports import ExportSpan
from app.storage.read_findings import FindingPlace, FindingsWanted, ListedFinding
from app.storage.read_missed import ClassifiedError
from app.storage.read_syringes import AccountsWanted, InvolvedCheck
from app.storage.read_trends import Counted, DueCount, Month, Rare, Tally, Took
from app.storage.read_waiting import Awaited
from app.storage.reader import Reader
from app.storage.recounted import Recounted, RowUnreadable
from app.storage.refusals import ConstraintBroken
from app.storage.store import Store, StoreUnavailable, Trouble, is_out_of_reach, open_store
from app.storage.tables import ENVELOPE_SIZE
from app.storage.transaction import Transaction
from app.storage.triggers import SEEN_BY_A_COLLEAGUE

__all__ = [
    "ENVELOPE_SIZE",
    "SEEN_BY_A_COLLEAGUE",
    "SEVERAL",
    "AccountsWanted",
    "Awaited",
    "ClassifiedError",
    "ConstraintBroken",
    "Counted",
    "Difference",
    "DueCount",
    "ExportSpan",
    "FindingPlace",
    "FindingsWanted",
    "InvolvedCheck",
    "ListedFinding",
    "Loaded",
    "Month",
    "NotLoaded",
    "OfChecks",
    "OfDevice",
    "OfInfusions",
    "Rare",
    "ReadAhead",
    "Reader",
    "Recounted",
    "RowUnreadable",
    "Rows",
    "Schema",
    "ServerState",
    "Store",
    "StoreUnavailable",
    "Tally",
    "Took",
    "Transaction",
    "Trouble",
    "contents",
    "copy_out",
    "empty_flat_rows",
    "find_schema",
    "find_server_state",
    "is_empty",
    "is_out_of_reach",
    "is_storable",
    "load_copy",
    "migrate",
    "open_store",
    "roles_for",
    "settle",
    "sqlite_path",
]
