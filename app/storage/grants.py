"""What the program's role may do at a PostgreSQL server: no more than the program does, table by table.

The owner's role makes and changes tables. The program's reads, adds rows, and changes what may change: so it
can neither switch off what refuses the rest nor write what has happened.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from sqlalchemy import Table

from app.storage import tables

_PLAIN = "NOSUPERUSER NOCREATEDB NOCREATEROLE NOREPLICATION NOBYPASSRLS"
# Where Alembic keeps of which version the tables are.
VERSION = "alembic_version"


@dataclass(frozen=True, kw_only=True)
class Rights:
    """What may be done with the rows of one table, beside reading them."""

    adds: bool = True
    deletes: bool = False
    changes: tuple[str, ...] = ()


# Those of the tables of which rows may change; of every other table rows are read and added.
CHANGING: dict[str, Rights] = {
    "person": Rights(changes=("secret_hash", "code_hash", "code_expires_at", "active", "printed_name")),
    "person_role": Rights(deletes=True),
    "personal_key_sealed": Rights(deletes=True, changes=("sealed",)),
    "authenticator": Rights(deletes=True, changes=("used_until", "sign_count")),
    "session": Rights(changes=("last_seen_at", "ended_at")),
    "shift_session": Rights(changes=("tries", "ended_at")),
    "throttle": Rights(deletes=True, changes=("key", "failures", "not_before")),
    "lease": Rights(changes=("name", "holder", "until")),
    "draft": Rights(deletes=True, changes=tuple(column.name for column in tables.draft.columns)),
    # Its one row is there from the first migration on.
    "log_head": Rights(adds=False, changes=("size",)),
}
# A row is held by whoever may change a column of it; the triggers refuse the change all the same.
HELD = {"check": Rights(changes=("id",)), "infusion": Rights(changes=("id",))}


def rights_of(table: Table) -> Rights:
    """What the program does with the rows of a table."""
    return {**CHANGING, **HELD}.get(table.name, Rights())


def privileges_of(table: Table) -> frozenset[str]:
    """The same as a server names it; a change with the column that it is of."""
    rights = rights_of(table)
    whole = {"SELECT": True, "INSERT": rights.adds, "DELETE": rights.deletes}
    return frozenset(
        (*(name for name, given in whole.items() if given), *(f"UPDATE {name}" for name in rights.changes))
    )


def grants(program: str) -> Iterator[str]:
    """The statements, run by the owner, that give the role exactly these rights; each table is named."""
    role = _quoted(program)
    for name in sorted(tables.metadata.tables):
        table, rights = _quoted(name), rights_of(tables.metadata.tables[name])
        given = ["SELECT", *(["INSERT"] if rights.adds else []), *(["DELETE"] if rights.deletes else [])]
        if rights.changes:
            given.append(f"UPDATE ({', '.join(map(_quoted, rights.changes))})")
        yield f"REVOKE ALL ON {table} FROM PUBLIC, {role}"
        yield f"GRANT {', '.join(given)} ON {table} TO {role}"
    yield f"GRANT SELECT ON {VERSION} TO {role}"
    # Numbers that the server counts by itself.
    yield f"GRANT USAGE ON ALL SEQUENCES IN SCHEMA public TO {role}"


def set_up(*, owner: str, program: str, database: str) -> str:
    """What an administrator of the server runs by `psql`: two roles, the database, and the rights above.

    Run again it does no harm. No password stands in it.
    """
    text = "".join(
        f"SELECT 'CREATE ROLE {_quoted(role)} LOGIN {_PLAIN}' "  # noqa: S608  # printed, for an administrator
        f"WHERE NOT EXISTS (SELECT FROM pg_roles WHERE rolname = {_literal(role)}) \\gexec\n"
        f"ALTER ROLE {_quoted(role)} {_PLAIN};\n"
        for role in (owner, program)
    )
    database_, role = _quoted(database), _quoted(program)
    text += (
        f"SELECT 'CREATE DATABASE {database_} OWNER {_quoted(owner)}' "  # noqa: S608  # as above
        f"WHERE NOT EXISTS (SELECT FROM pg_database WHERE datname = {_literal(database)}) \\gexec\n"
        f"\\connect {database_}\n"
        # Whoever may make tables of a moment could put one in the place of one that a rule asks.
        f"REVOKE ALL ON DATABASE {database_} FROM PUBLIC, {role};\n"
        f"GRANT CONNECT ON DATABASE {database_} TO {_quoted(owner)}, {role};\n"
        f"REVOKE ALL ON SCHEMA public FROM PUBLIC, {role};\n"
        f"GRANT USAGE, CREATE ON SCHEMA public TO {_quoted(owner)};\n"
        f"GRANT USAGE ON SCHEMA public TO {role};\n"
        f"SELECT to_regclass('public.{VERSION}') IS NOT NULL AS has_tables \\gset\n"
        "-- `countersign migrate` gives these rights too, each time, as the owner.\n"
        "\\if :has_tables\n"
    )
    return text + "".join(f"{each};\n" for each in grants(program)) + "\\endif\n"


def _quoted(name: str) -> str:
    return '"' + name.replace('"', '""') + '"'


def _literal(name: str) -> str:
    return "'" + name.replace("'", "''") + "'"
