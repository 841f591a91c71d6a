"""What tests need not wait for: a disk, templates and statements compiled before, secrets hashed before."""

import gc
import os
import shutil
import tempfile
from collections.abc import Callable, Hashable
from functools import cache, lru_cache
from pathlib import Path

import argon2
import pytest
from argon2 import PasswordHasher
from argon2.exceptions import VerifyMismatchError
from flask import Flask
from jinja2 import BytecodeCache
from jinja2.bccache import Bucket
from sqlalchemy import Compiled, Connection, Engine, event

IN_MEMORY = Path("/dev/shm")  # noqa: S108  # a folder for such files, on Linux
ROOM = 4 * 2**30


def keep_files_in_memory() -> None:
    """Temporary files go where nothing waits for a disk, if there is such a place with room for them."""
    if "TMPDIR" in os.environ or not IN_MEMORY.is_dir() or shutil.disk_usage(IN_MEMORY).free < ROOM:
        return
    os.environ["TMPDIR"] = str(IN_MEMORY)
    tempfile.tempdir = None  # it is looked up again


class _Compiled(BytecodeCache):
    """Templates as they were compiled for the first application of this process."""

    def __init__(self) -> None:
        self._kept: dict[str, bytes] = {}

    def load_bytecode(self, bucket: Bucket) -> None:
        kept = self._kept.get(bucket.key)
        if kept is not None:
            bucket.bytecode_from_string(kept)

    def dump_bytecode(self, bucket: Bucket) -> None:
        self._kept[bucket.key] = bucket.bytecode_to_string()


def compile_templates_once() -> None:
    """Every test makes an application of its own, from the same templates."""
    Flask.jinja_options = {"bytecode_cache": _Compiled()}


class _Statements(dict[tuple[Hashable, ...], Compiled]):
    """Statements as they were compiled for the first engine of each kind in this process."""

    def get(  # type: ignore[override]  # the library asks no more of it
        self, key: tuple[Hashable, ...], default: None = None
    ) -> Compiled | None:
        return super().get(_for_any_engine(key), default)

    def __setitem__(self, key: tuple[Hashable, ...], compiled: Compiled) -> None:
        super().__setitem__(_for_any_engine(key), compiled)


def _for_any_engine(key: tuple[Hashable, ...]) -> tuple[Hashable, ...]:
    dialect, *statement = key
    return (type(dialect), *statement)


def compile_statements_once() -> None:
    """Every test makes an engine of its own, for the same statements."""
    compiled = _Statements()

    def shares(connection: Connection) -> None:
        connection.execution_options(compiled_cache=compiled)

    event.listen(Engine, "engine_connect", shares)


# As they are for everybody else, slow on purpose; tests/keys asks these.
SLOW_VERIFY, SLOW_DERIVE = PasswordHasher.verify, argon2.low_level.hash_secret_raw


def hash_secrets_once() -> None:
    """The same people sign in and sign in every test, and the same question has the same answer."""
    right = cache(SLOW_VERIFY)
    wrong: set[tuple[str | bytes, str | bytes]] = set()

    def verify(hasher: PasswordHasher, kept: str | bytes, secret: str | bytes) -> bool:
        if (kept, secret) in wrong:
            raise VerifyMismatchError
        try:
            return right(hasher, kept, secret)
        except VerifyMismatchError:
            wrong.add((kept, secret))
            raise

    for owner, name, quick in (
        (PasswordHasher, "verify", verify),
        (argon2.low_level, "hash_secret_raw", cache(SLOW_DERIVE)),
    ):
        setattr(owner, name, quick)


def collect_less() -> None:
    """Nothing that stands once the tests were found is ever garbage, and what one test leaves is little."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(50_000, 20, 20)


@cache
def drawn_once() -> Callable[..., bytes]:
    """How a page is drawn where its drawing is not asked about: a page like one before has its bytes.

    That they are the same is held by tests/reports, which draw each.
    """
    from app.reports.pdf import make_pdf  # loading it takes long, and most tests draw nothing

    return lru_cache(maxsize=_PAGES_KEPT)(make_pdf)


_PAGES_KEPT = 100


def begin_with_the_longest(items: list[pytest.Item]) -> None:
    """At the end no worker waits for another's long test; a test that needs long says so in its limit.

    Those in a browser stay together: it is started once for them.
    """
    items.sort(key=_limit, reverse=True)


def _limit(item: pytest.Item) -> tuple[int, bool]:
    own = item.get_closest_marker("timeout")
    return int(own.args[0]) if own else 0, item.get_closest_marker("browser") is not None
