"""How a database server is set up, for whoever runs it."""

from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import text
from sqlalchemy.exc import DBAPIError

from app.storage.engine import database_url, make_engine, sqlite_file
from app.storage.store import StoreUnavailable

_ASKED = text(
    "SELECT now() AS clock, current_setting('is_superuser') = 'on' AS is_superuser,"
    " current_setting('log_parameter_max_length') = '0'"
    " AND current_setting('log_parameter_max_length_on_error') = '0' AS logs_no_values"
)


@dataclass(frozen=True, kw_only=True)
class ServerState:
    """What a PostgreSQL server says of itself and of the role that the program has there."""

    clock: datetime
    is_superuser: bool
    logs_no_values: bool


def find_server_state(address: str) -> ServerState | None:
    """The state of the server; None for SQLite, which has none. Raises StoreUnavailable."""
    url = database_url(address)
    if sqlite_file(url) is not None:
        return None
    engine = make_engine(url)
    try:
        with engine.connect() as connection:
            return ServerState(**connection.execute(_ASKED).mappings().one())
    except DBAPIError as error:
        raise StoreUnavailable(outcome_known=True) from error
    finally:
        engine.dispose()
