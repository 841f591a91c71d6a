"""Reading the keys of people and of the site, the log's checkpoints, and the log as leaves."""

from collections.abc import Iterator

from sqlalchemy import Connection, select

from app.records.checkpoint import Checkpoint
from app.records.event_kinds import ISSUED
from app.records.events import (
    KeysFounded,
    PersonalKeyConfirmed,
    PersonalKeyMade,
    PersonalKeyRetired,
)
from app.records.kept import Entry
from app.records.kept_keys import Authenticator, IssuedCode, KeptKey, KeptSiteKey, KeyConfirmation
from app.storage import key_tables, rows, tables
from app.storage.rows import find_one, read_all, rows_by

# Entries held in memory at a time while streaming.
_STREAM = 1000


_KEY, _CONFIRMED, _RETIRED = key_tables.personal_key, key_tables.key_confirmation, key_tables.key_retirement
_IS_RETIRED = select(_RETIRED.c.kid).where(_RETIRED.c.kid == _KEY.c.kid).exists()
_IS_CONFIRMED = select(_CONFIRMED.c.kid).where(_CONFIRMED.c.kid == _KEY.c.kid).exists()
_LIVE_KEY = rows_by(_KEY, "person").where(~_IS_RETIRED)
_UNCONFIRMED = select(_KEY).where(~_IS_CONFIRMED, ~_IS_RETIRED).order_by(_KEY.c.made_at, _KEY.c.kid)
_FIND_KEY = rows_by(_KEY, "kid")
_FIND_CONFIRMATION = rows_by(_CONFIRMED, "kid")
_FIND_CODE = rows_by(key_tables.issued_code, "code")
_CODES_OF = rows_by(key_tables.issued_code, "person").order_by(
    key_tables.issued_code.c.issued_at, key_tables.issued_code.c.code
)
_AUTHENTICATORS_OF = rows_by(key_tables.authenticator, "person").order_by(key_tables.authenticator.c.id)
_SEALED = rows_by(key_tables.personal_key_sealed, "kid").with_only_columns(
    key_tables.personal_key_sealed.c.sealed
)


class KeyReader:
    """Keys, who confirmed them, and what the site signed of its log."""

    _connection: Connection

    def find_issued_code(self, code: str) -> IssuedCode | None:
        """Who gave the one-time code whose hash has this digest."""
        return find_one(self._connection, IssuedCode, _FIND_CODE, code=code)

    def issued_codes(self, person: str) -> tuple[IssuedCode, ...]:
        """Every one-time code that a person was given, the first first: the first account and each reset."""
        return read_all(self._connection, IssuedCode, _CODES_OF, person=person)

    def authenticators_of(self, person: str) -> tuple[Authenticator, ...]:
        """What a person has enrolled to be given beside the secret."""
        return read_all(self._connection, Authenticator, _AUTHENTICATORS_OF, person=person)

    def find_key(self, kid: str) -> KeptKey | None:
        """The public half of a person's key, in use or not."""
        return find_one(self._connection, KeptKey, _FIND_KEY, kid=kid)

    def live_key(self, person: str) -> KeptKey | None:
        """The key that has not been retired; a person has at most one, confirmed or not."""
        return find_one(self._connection, KeptKey, _LIVE_KEY, person=person)

    def unconfirmed_keys(self) -> tuple[KeptKey, ...]:
        """Live keys that nobody has confirmed, the first first."""
        return read_all(self._connection, KeptKey, _UNCONFIRMED)

    def find_sealed(self, kid: str) -> bytes | None:
        """The locked private half of a key."""
        return self._connection.scalar(_SEALED, {"kid": kid})

    def find_confirmation(self, kid: str) -> KeyConfirmation | None:
        """Who confirmed a key."""
        return find_one(self._connection, KeyConfirmation, _FIND_CONFIRMATION, kid=kid)

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

    def log_blocks(self) -> dict[int, str]:
        """The kept roots over the blocks of the log, by the blocks' numbers."""
        table = key_tables.log_block
        found = self._connection.execute(select(table.c.number, table.c.root).order_by(table.c.number))
        return {row.number: row.root for row in found}

    def leaves(self, *, after: int, up_to: int) -> Iterator[bytes]:
        """The canonical bytes of the log's entries after a position, in order and in bounded memory."""
        log = tables.log_entry
        wanted = select(log.c.canonical).where(log.c.position > after, log.c.position <= up_to)
        ordered = wanted.order_by(log.c.position)
        result = self._connection.execute(ordered, execution_options={"yield_per": _STREAM})
        for some in result.scalars().partitions(_STREAM):
            yield from some

    def key_entries(self) -> tuple[Entry, ...]:
        """The entries that say that a person's key was made, confirmed or retired, or that two founded."""
        log = tables.log_entry
        kinds = (PersonalKeyMade.kind, KeysFounded.kind, PersonalKeyConfirmed.kind, PersonalKeyRetired.kind)
        wanted = select(log).where(log.c.kind.in_(kinds))
        ordered = wanted.order_by(log.c.position)
        return rows.entries(self._connection, ordered)

    def issued_entries(self, *, up_to: int) -> tuple[Entry, ...]:
        """The entries that say that a sealed PDF was stored, up to a position."""
        log, kinds = tables.log_entry, [each.kind for each in ISSUED]
        wanted = select(log).where(log.c.kind.in_(kinds), log.c.position <= up_to)
        ordered = wanted.order_by(log.c.position)
        return rows.entries(self._connection, ordered)
