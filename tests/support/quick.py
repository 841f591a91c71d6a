"""What the tests need not wait for: a disk, templates compiled before, a secret that was hashed before."""

import os
import shutil
import tempfile
from collections.abc import Callable
from functools import cache, lru_cache
from pathlib import Path

import argon2
import pytest
from argon2 import PasswordHasher
from flask import Flask
from jinja2 import BytecodeCache
from jinja2.bccache import Bucket

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


# As they are for everybody else, slow on purpose; tests/keys asks these.
SLOW_VERIFY, SLOW_DERIVE = PasswordHasher.verify, argon2.low_level.hash_secret_raw


def hash_secrets_once() -> None:
    """The same people sign in and sign in every test, and the same question has the same answer.

    A wrong secret raises, and what was raised is not kept.
    """
    for owner, name, slow in (
        (PasswordHasher, "verify", SLOW_VERIFY),
        (argon2.low_level, "hash_secret_raw", SLOW_DERIVE),
    ):
        setattr(owner, name, cache(slow))


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
