"""Databases as they were at some moment, for tests that begin where others began; on both engines."""

import atexit
import secrets
import shutil
import sqlite3
import tempfile
from collections.abc import Callable
from functools import cache
from pathlib import Path

import psycopg
from psycopg import sql
from sqlalchemy import URL, make_url

# By what they were furnished with and the engine.
_furnished: dict[tuple[str, str], str] = {}


def furnished(address: str, furnish: Callable[[str], None]) -> str:
    """The same address, where an empty database was furnished: from the second time on with a copy."""
    key = (furnish.__qualname__, make_url(address).get_backend_name())
    if key in _furnished:
        put_copy(_furnished[key], address)
    else:
        furnish(address)
        _furnished[key] = keep_copy(address)
    return address


def keep_copy(address: str) -> str:
    """The address of a copy of a database, kept as long as this process lasts."""
    source, name = make_url(address), f"kept_{secrets.token_hex(6)}"
    place = str(_folder() / f"{name}.sqlite3") if _is_file(source) else name
    kept = source.set(database=place).render_as_string(hide_password=False)
    put_copy(address, kept)
    return kept


def put_copy(source: str, target: str) -> None:
    """Put a copy of one database in the place of another, which nobody is using just now."""
    one, other = make_url(source), make_url(target)
    if _is_file(one):
        copy_file(Path(str(one.database)), Path(str(other.database)))
        return
    with psycopg.connect(
        host=str(one.query["host"]), user=one.username, dbname="postgres", autocommit=True
    ) as connection:
        names = {"source": sql.Identifier(str(one.database)), "target": sql.Identifier(str(other.database))}
        for statement in (
            "DROP DATABASE IF EXISTS {target} WITH (FORCE)",
            # Copying the files is the quicker way where nothing waits for the disk.
            "CREATE DATABASE {target} TEMPLATE {source} STRATEGY file_copy",
        ):
            connection.execute(sql.SQL(statement).format(**names))


def copy_file(source: Path, target: Path) -> None:
    """The whole of an SQLite file, also over one that is open."""
    one, other = sqlite3.connect(source), sqlite3.connect(target)
    with one, other:
        one.backup(other)
    one.close()
    other.close()


def _is_file(address: URL) -> bool:
    return address.get_backend_name() == "sqlite"


@cache
def _folder() -> Path:
    folder = tempfile.mkdtemp(prefix="countersign-kept-")
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    return Path(folder)
