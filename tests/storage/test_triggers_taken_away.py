# ruff: noqa: S608  # the attacks name the tables of the schema
"""Each trigger is needed: without it, or with one word of its condition turned, what stands here passes.

Generated from the list of triggers: a new one needs a row that it alone refuses, or is told here. That each
row is refused, and by which name, is held by `test_constraints.py` and `test_append_only.py` as well.
"""

import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from typing import cast

import pytest
from sqlalchemy import Connection, Engine, text
from sqlalchemy.exc import DBAPIError

from app.storage import ConstraintBroken, Store, Transaction, tables, triggers
from app.storage.rule import Rule
from app.storage.tables import MUTABLE
from app.storage.triggers import NEVER_DELETED, RULES, Refusal, append_only, never_deleted
from tests.storage import builders as build
from tests.storage.breaches import ALLOWED, ALLOWED_CHANGES, BREACHES, CHANGES, MORE_BREACHES, refuse
from tests.storage.key_breaches import Breach

TABLES = tables.metadata.tables
REFUSALS = [
    *(append_only(table) for table in sorted(set(TABLES) - MUTABLE)),
    *(never_deleted(table) for table in NEVER_DELETED),
]

# One word of a condition, and what is written in its place.
TURNED = (
    ("NOT EXISTS", "EXISTS"),
    ("(?<!NOT )EXISTS", "NOT EXISTS"),
    ("<>", "="),
    ("(?<![<>])=", "<>"),
    ("<=", "<"),
    ("<(?![>=])", "<="),
    ("(?<!<)>", ">="),
    (" AND ", " OR "),
    (" OR ", " AND "),
    (r" IN \(", " NOT IN ("),
    ("IS NULL", "IS NOT NULL"),
)


def _turned(condition: str) -> Iterator[str]:
    for word, other in TURNED:
        for found in re.finditer(word, condition):
            yield condition[: found.start()] + other + condition[found.end() :]


class _OneTransaction:
    """A store that writes in a transaction of the test's own, so that nothing of it stays."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection

    @contextmanager
    def write(self) -> Iterator[Transaction]:
        yield Transaction(self._connection)


@contextmanager
def _undone(engine: Engine) -> Iterator[Connection]:
    with engine.connect() as connection:
        connection.execution_options(writing=True)
        yield connection
        connection.rollback()


def _remove(connection: Connection, rule: Rule) -> None:
    triggers.drop(connection, [rule])
    triggers.drop_functions(connection, [rule.name])


def _said(connection: Connection, breach: Breach) -> str:
    with connection.begin_nested() as begun:
        try:
            return refuse(connection, breach)
        except DBAPIError:
            return "it breaks"
        finally:
            begun.rollback()


def _changed(connection: Connection, statements: tuple[str, ...]) -> str:
    """The name under which the last of some statements is refused; blank if all pass."""
    with connection.begin_nested() as begun:
        try:
            for each in statements:
                connection.execute(text(each))
        except DBAPIError as error:
            return next((rule.says for rule in RULES if rule.says in str(error.orig)), "it breaks")
        finally:
            begun.rollback()
    return ""


def _is_seen(connection: Connection, rule: Rule) -> bool:
    """Whether a row that is refused passes now, or one that passes is refused."""
    try:
        build.fill(cast("Store", _OneTransaction(connection)))
    except (ConstraintBroken, DBAPIError):
        return True
    refused = [each for name, each in (*BREACHES.items(), *MORE_BREACHES) if name == rule.says]
    return (
        any(_said(connection, each) != rule.says for each in refused if each.table == rule.table)
        or any(_said(connection, each) for name, each in ALLOWED if name == rule.name)
        or any(_changed(connection, each) != rule.says for each in CHANGES.get(rule.name, ()))
        or any(_changed(connection, each) for each in ALLOWED_CHANGES.get(rule.name, ()))
    )


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.name)
def test_as_it_stands_it_refuses_its_rows_and_no_others(rule: Rule, database_url: str, sql: Engine) -> None:
    """The twin of the two below."""
    assert database_url
    with _undone(sql) as connection:
        assert not _is_seen(connection, rule)


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.name)
def test_without_it_a_row_passes_that_it_alone_refuses(rule: Rule, database_url: str, sql: Engine) -> None:
    assert database_url
    with _undone(sql) as connection:
        _remove(connection, rule)
        assert _is_seen(connection, rule)


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.name)
def test_no_word_of_its_condition_can_be_turned(rule: Rule, database_url: str, sql: Engine) -> None:
    assert database_url
    in_other_words = rule.in_postgresql if sql.dialect.name == "postgresql" else ""
    lived = []
    for condition in _turned(in_other_words or rule.condition):
        with _undone(sql) as connection:
            _remove(connection, rule)
            try:
                triggers.create(connection, [replace(rule, condition=condition, in_postgresql="")])
            except DBAPIError:
                continue
            if not _is_seen(connection, rule):
                lived.append(condition)
    assert lived == []


def _every_change(table: str, kind: str) -> list[str]:
    if kind == "UPDATE":
        return [f'UPDATE "{table}" SET "{column.name}" = "{column.name}"' for column in TABLES[table].columns]
    return [f'DELETE FROM "{table}"' if kind == "DELETE" else f'TRUNCATE "{table}" CASCADE']


@pytest.mark.parametrize(
    ("refusal", "kind"),
    [(each, kind) for each in REFUSALS for kind in each.kinds],
    ids=lambda each: each if isinstance(each, str) else each.table,
)
def test_without_it_rows_are_changed_or_go(refusal: Refusal, kind: str, filled: Engine) -> None:
    """Of what is refused to every row, each kind by a trigger of its own."""
    on_postgresql = filled.dialect.name == "postgresql"
    if kind == "TRUNCATE" and not on_postgresql:
        assert len(refusal.names("sqlite")) == len(refusal.kinds) - 1
        return
    name = refusal.names("postgresql")[refusal.kinds.index(kind)]
    with _undone(filled) as connection:
        connection.execute(
            text(f'DROP TRIGGER {name} ON "{refusal.table}"' if on_postgresql else f"DROP TRIGGER {name}")
        )
        said = [_said_by(connection, each) for each in _every_change(refusal.table, kind)]
    # Another table's rows may point here, or another table's trigger may lose its rows with these.
    assert not [each for each in said if refusal.says in each]


def _said_by(connection: Connection, statement: str) -> str:
    try:
        with connection.begin_nested():
            connection.execute(text(statement))
    except DBAPIError as error:
        return str(error.orig)
    return ""
