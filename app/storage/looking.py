"""How a database server is set up, for whoever runs it."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import Connection, text
from sqlalchemy.exc import DBAPIError

from app.storage import tables
from app.storage.engine import database_url, make_engine, sqlite_file
from app.storage.grants import privileges_of
from app.storage.store import StoreUnavailable

_TABLES = tables.metadata.tables
_ASKED = text(
    "SELECT now() AS clock, current_setting('is_superuser') = 'on' AS is_superuser,"
    " current_setting('log_parameter_max_length') = '0'"
    " AND current_setting('log_parameter_max_length_on_error') = '0'"
    # What it says of a row that it refuses is the row.
    " AND current_setting('log_error_verbosity') = 'terse' AS logs_no_values,"
    # Whoever is, or may become, the owner of a table can switch off what holds it.
    " EXISTS (SELECT FROM pg_class WHERE relnamespace = 'public'::regnamespace AND relkind = 'r'"
    " AND pg_has_role(relowner, 'MEMBER')) AS is_owner,"
    " has_database_privilege(current_database(), 'TEMPORARY')"
    " OR has_schema_privilege('public', 'CREATE') AS makes_tables"
)
_PRIVILEGES = text(
    "SELECT name, privilege FROM unnest(CAST(:tables AS text[])) AS name,"
    " unnest(ARRAY['SELECT', 'INSERT', 'DELETE', 'TRUNCATE', 'REFERENCES', 'TRIGGER']) AS privilege"
    " WHERE has_table_privilege(to_regclass(quote_ident(name)), privilege) UNION ALL "
    "SELECT table_name, 'UPDATE ' || column_name FROM information_schema.columns"
    " WHERE table_schema = 'public' AND table_name = ANY(CAST(:tables AS text[]))"
    " AND has_column_privilege(to_regclass(quote_ident(table_name)), column_name, 'UPDATE')"
)


@dataclass(frozen=True, kw_only=True)
class ServerState:
    """What a PostgreSQL server says of itself and of the role that the program has there."""

    clock: datetime
    is_superuser: bool
    logs_no_values: bool
    is_owner: bool
    makes_tables: bool
    # What it may do with which table beyond what the program does; and what the program does and it may not.
    exceeds: tuple[str, ...]
    lacks: tuple[str, ...]


def find_server_state(address: str) -> ServerState | None:
    """The state of the server; None for SQLite, which has none. Raises StoreUnavailable."""
    url = database_url(address)
    if sqlite_file(url) is not None:
        return None
    engine = make_engine(url)
    try:
        with engine.connect() as connection:
            asked = connection.execute(_ASKED).mappings().one()
            held = set(_privileges(connection))
    except DBAPIError as error:
        raise StoreUnavailable(outcome_known=True) from error
    finally:
        engine.dispose()
    wanted = {(name, each) for name, table in _TABLES.items() for each in privileges_of(table)}
    return ServerState(**asked, exceeds=_said(held - wanted), lacks=_said(wanted - held))


def _privileges(connection: Connection) -> Iterator[tuple[str, str]]:
    """Tables that are there, each with what the role may do."""
    for row in connection.execute(_PRIVILEGES, {"tables": list(_TABLES)}):
        yield row.name, row.privilege


def _said(rights: set[tuple[str, str]]) -> tuple[str, ...]:
    return tuple(f"{privilege} on {name}" for name, privilege in sorted(rights))
