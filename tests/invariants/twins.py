# ruff: noqa: ANN401  # values of any column
"""A whole database, and twins of it in which somebody changed something; for the tests of verifying it."""

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from app.auditing.invariants import Broken, check_invariants
from app.auditing.verifying import PublicMaterial, verify_file
from app.auditing.verifying_store import Wanted, verify_store
from app.records.store_verification import Failing, Step
from app.records.verification import NotReadable, Verification
from app.storage import Store, tables
from tests.story.ward import Ward
from tests.story.whole_life import Kept

EVERY = dict(tables.metadata.tables)
GROWING = {name: each for name, each in EVERY.items() if name not in tables.MUTABLE}

BY_CODE = "a code brings a second device to an open check for some minutes; no record rests on it"
BY_LOOK = "behind the last digest of the list: a look of today, or as good as one"
BY_SESSION = "a sign-in of one shift; whatever was done in it names it in the log"
BY_DRAFT = "not handed in: its author sees and may change it"
BY_MOMENT = "moved back it lets a code of that very minute, or an answer of that page, be given twice"
WHILE_IT_LASTS = "it only says who waits for whom, and until when"


@dataclass(frozen=True, kw_only=True)
class Told:
    """The database as it was filled, in a file without triggers, and when that was.

    All twins stand one after the other in one place, opened by one store: what a store learns of statements
    takes longer than reading a twin.
    """

    file: Path
    ward: Ward
    kept: Kept
    place: Path
    store: Store


@dataclass(frozen=True, kw_only=True)
class Twin:
    """A copy of it, to be changed."""

    file: Path
    told: Told

    def changed(self, *statements: str) -> "Twin":
        """By plain SQL, as somebody can who owns the file."""
        with closing(opened(self.file)) as connection:
            for each in statements:
                assert connection.execute(each).rowcount > 0, each
            connection.commit()
        return self

    def steps(self, **wanted: Any) -> list[Step]:
        """Everything that verifying it says; records' pages are not made again."""
        site = replace(self.told.ward.site, store=self.told.store)
        try:
            steps = verify_store(site, self.told.ward.now, Wanted(**{"pages": False, **wanted}))
            assert isinstance(steps, Iterator)
            return list(steps)
        finally:
            site.store.close()

    def broken(self) -> tuple[Broken, ...]:
        """Which invariants do not hold."""
        site = replace(self.told.ward.site, store=self.told.store)
        try:
            return check_invariants(site, self.told.ward.now)
        finally:
            site.store.close()

    def failing(self, **wanted: Any) -> list[Failing]:
        """What does not hold."""
        return [each for each in self.steps(**wanted) if isinstance(each, Failing)]


def opened(file: Path) -> sqlite3.Connection:
    """The file as it is open to whoever owns it."""
    connection = sqlite3.connect(file)
    connection.execute("PRAGMA ignore_check_constraints = ON")
    return connection


def least_change(value: Any, *, is_boolean: bool = False) -> Any:
    """The other of two; one more; one microsecond; one bit; one letter."""
    if is_boolean:
        return 1 - value
    if isinstance(value, int):
        return value + 1
    if isinstance(value, bytes):
        middle = len(value) // 2
        return value[:middle] + bytes([value[middle] ^ 1]) + value[middle + 1 :]
    if value[:2] == "20" and value.endswith("Z") and len(value) == len("2031-05-02T12:10:00.000000Z"):
        return value[:-2] + ("1" if value[-2] != "1" else "2") + "Z"
    return value[:-1] + ("a" if value[-1:] != "a" else "b")


# The rows in which what is changed belongs to what happened: of units, the one at which it did.
OF_WHAT_HAPPENED = {"unit": "id = 'ward-4-east'"}

_ANSWERS: dict[tuple[Any, ...], Verification | NotReadable] = {}


def verify_once(content: bytes, material: PublicMaterial, *, pages: bool) -> Verification | NotReadable:
    """The same question about the same bytes under the same checkpoint has the same answer: asked once."""
    issued = tuple(material.checkpoint.issued.items())
    asked = (content, material.certificates, material.checkpoint.checkpoint, repr(issued), pages)
    if asked not in _ANSWERS:
        _ANSWERS[asked] = verify_file(content, material, pages=pages)
    return _ANSWERS[asked]
