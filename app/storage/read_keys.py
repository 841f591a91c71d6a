"""Reading the keys of people and of the site, the log's checkpoints, and the log as leaves."""

from collections.abc import Iterator
from datetime import datetime

from sqlalchemy import ColumnElement, Connection, func, select

from app.records.checkpoint import Checkpoint
from app.records.events import PersonalKeyConfirmed, PersonalKeyMade, RecordIssued
from app.records.kept import Entry
from app.records.kept_keys import IssuedCode, KeptKey, KeptSiteKey, KeyConfirmation, KeyRetirement
from app.storage import key_tables, rows, tables
from app.storage.rows import find_one, read_all

# Entries held in memory at a time while streaming.
_STREAM = 1000


class KeyReader:
    """Keys, who confirmed them, and what the site signed of its log."""

    _connection: Connection

    def find_issued_code(self, code: str) -> IssuedCode | None:
        """Who gave the one-time code whose hash has this digest."""
        table = key_tables.issued_code
        return find_one(self._connection, IssuedCode, select(table).where(table.c.code == code))

    def issued_codes(self, person: str) -> tuple[IssuedCode, ...]:
        """Every one-time code that a person was given, the first first: the first account and each reset."""
        table = key_tables.issued_code
        its = select(table).where(table.c.person == person).order_by(table.c.issued_at, table.c.code)
        return read_all(self._connection, IssuedCode, its)

    def sign_ins_since(self, person: str, at: datetime) -> int:
        """How often a person has signed in since a moment."""
        table = tables.session
        since = select(func.count()).where(table.c.person == person, table.c.signed_in_at >= at)
        return self._connection.execute(since).scalar_one()

    def find_key(self, kid: str) -> KeptKey | None:
        """The public half of a person's key, in use or not."""
        table = key_tables.personal_key
        return find_one(self._connection, KeptKey, select(table).where(table.c.kid == kid))

    def keys_of(self, person: str) -> tuple[KeptKey, ...]:
        """Every key that a person ever had, the first first."""
        table = key_tables.personal_key
        its = select(table).where(table.c.person == person).order_by(table.c.made_at, table.c.kid)
        return read_all(self._connection, KeptKey, its)

    def live_key(self, person: str) -> KeptKey | None:
        """The key that has not been retired; a person has at most one, confirmed or not."""
        table = key_tables.personal_key
        its = select(table).where(table.c.person == person, ~self._retired())
        return find_one(self._connection, KeptKey, its)

    def unconfirmed_keys(self) -> tuple[KeptKey, ...]:
        """Live keys that nobody has confirmed, the first first."""
        table, confirmed = key_tables.personal_key, key_tables.key_confirmation
        done = select(confirmed.c.kid).where(confirmed.c.kid == table.c.kid)
        waiting = select(table).where(~done.exists(), ~self._retired())
        return read_all(self._connection, KeptKey, waiting.order_by(table.c.made_at, table.c.kid))

    def _retired(self) -> ColumnElement[bool]:
        retired = key_tables.key_retirement
        return select(retired.c.kid).where(retired.c.kid == key_tables.personal_key.c.kid).exists()

    def find_sealed(self, kid: str) -> bytes | None:
        """The locked private half of a key."""
        table = key_tables.personal_key_sealed
        return self._connection.scalar(select(table.c.sealed).where(table.c.kid == kid))

    def find_confirmation(self, kid: str) -> KeyConfirmation | None:
        """Who confirmed a key."""
        table = key_tables.key_confirmation
        return find_one(self._connection, KeyConfirmation, select(table).where(table.c.kid == kid))

    def find_retirement(self, kid: str) -> KeyRetirement | None:
        """Since when a key is out of use."""
        table = key_tables.key_retirement
        return find_one(self._connection, KeyRetirement, select(table).where(table.c.kid == kid))

    def site_keys(self) -> tuple[KeptSiteKey, ...]:
        """Every key of the site, old ones included, the first first."""
        table = key_tables.site_key
        return read_all(self._connection, KeptSiteKey, select(table).order_by(table.c.made_at, table.c.kid))

    def checkpoints(self) -> tuple[Checkpoint, ...]:
        """Every checkpoint, by size."""
        table = key_tables.checkpoint
        return read_all(self._connection, Checkpoint, select(table).order_by(table.c.size))

    def latest_checkpoint(self) -> Checkpoint | None:
        """The checkpoint of the largest size."""
        table = key_tables.checkpoint
        return find_one(self._connection, Checkpoint, select(table).order_by(table.c.size.desc()).limit(1))

    def leaves(self, *, after: int, up_to: int) -> Iterator[bytes]:
        """The canonical bytes of the log's entries after a position, in order and in bounded memory."""
        log = tables.log_entry
        wanted = select(log.c.canonical).where(log.c.position > after, log.c.position <= up_to)
        ordered = wanted.order_by(log.c.position)
        result = self._connection.execute(ordered, execution_options={"yield_per": _STREAM})
        for some in result.scalars().partitions(_STREAM):
            yield from some

    def key_entries(self) -> tuple[Entry, ...]:
        """The entries that say that a person's key was made, or confirmed by a second person."""
        log = tables.log_entry
        wanted = select(log).where(log.c.kind.in_((PersonalKeyMade.kind, PersonalKeyConfirmed.kind)))
        ordered = wanted.order_by(log.c.position)
        return tuple(rows.entry(row) for row in self._connection.execute(ordered).mappings())

    def issued_entries(self, *, up_to: int) -> tuple[Entry, ...]:
        """The entries that say that a record's PDF was stored, up to a position."""
        log = tables.log_entry
        wanted = select(log).where(log.c.kind == RecordIssued.kind, log.c.position <= up_to)
        ordered = wanted.order_by(log.c.position)
        return tuple(rows.entry(row) for row in self._connection.execute(ordered).mappings())
