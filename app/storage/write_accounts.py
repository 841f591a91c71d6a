"""The rows that may change: accounts, sessions, drafts, throttles and leases."""

from collections.abc import Iterable
from datetime import datetime
from typing import Any

from sqlalchemy import Table, delete, update
from sqlalchemy.dialects import postgresql, sqlite

from app.people import Person, Role, folded
from app.records.kept import Draft, Session, ShiftSession, Throttle
from app.storage import session_tables, tables
from app.storage.rows import as_row
from app.storage.writer import Writer


class AccountWriter(Writer):
    """Changes accounts and sessions."""

    def add_person(self, person: Person) -> None:
        """A new account; raises ConstraintBroken("login_unique") or ("staff_number_unique")."""
        row = as_row(person, tables.person)
        compared = {f"{name}_folded": folded(row[name]) for name in ("login", "staff_number")}
        self._touched[person.id] = None
        self._insert(tables.person, {**row, **compared})
        self.set_roles(person.id, person.roles)

    def set_secret(self, person: str, secret_hash: str) -> None:
        """The person chose a secret; the one-time code is spent."""
        self._change_person(person, secret_hash=secret_hash, code_hash=None, code_expires_at=None)

    def set_code(self, person: str, code_hash: str, expires: datetime) -> None:
        """A new one-time code, which must be replaced by a secret; an older secret is void."""
        self._change_person(person, secret_hash=None, code_hash=code_hash, code_expires_at=expires)

    def set_active(self, person: str, active: bool) -> None:  # noqa: FBT001  # said by the method's name
        """An account is closed or opened again; it is never deleted."""
        self._change_person(person, active=active)

    def set_printed_name(self, person: str, name: str) -> None:
        """What the person is called from now on; what was printed before stands as it was."""
        self._change_person(person, printed_name=name)

    def set_roles(self, person: str, roles: Iterable[Role]) -> None:
        """Exactly these roles from now on."""
        self._touched[person] = None
        table = tables.person_role
        self._connection.execute(delete(table).where(table.c.person == person))
        for role in sorted(roles):
            self._insert(table, {"person": person, "role": role.value})

    def _change_person(self, person: str, **values: Any) -> None:  # noqa: ANN401  # column values
        self._touched[person] = None
        table = tables.person
        changed = self._connection.execute(update(table).where(table.c.id == person).values(**values))
        if changed.rowcount != 1:
            raise LookupError(person)

    def add_session(self, session: Session) -> None:
        """Someone signed in."""
        self._add(tables.session, session)

    def touch_session(self, digest: str, at: datetime) -> None:
        """The session was used."""
        table = tables.session
        self._connection.execute(update(table).where(table.c.digest == digest).values(last_seen_at=at))

    def end_session(self, digest: str, at: datetime) -> None:
        """Sign out; a session that has ended keeps the time at which it did."""
        table = tables.session
        live = update(table).where(table.c.digest == digest, table.c.ended_at.is_(None))
        self._connection.execute(live.values(ended_at=at))

    def end_sessions_of(self, person: str, at: datetime, *, but: str | None = None) -> None:
        """End all of a person's sessions, or all but one."""
        table = tables.session
        live = update(table).where(table.c.person == person, table.c.ended_at.is_(None))
        if but is not None:
            live = live.where(table.c.digest != but)
        self._connection.execute(live.values(ended_at=at))

    def add_shift_session(self, shift_session: ShiftSession) -> None:
        """Someone chose six digits for this shift at this device."""
        self._add(session_tables.shift_session, shift_session)

    def set_tries(self, shift_session: str, tries: int) -> None:
        """So many wrong tries since the last right one."""
        table = session_tables.shift_session
        self._connection.execute(update(table).where(table.c.id == shift_session).values(tries=tries))

    def end_shift_sessions_of(self, person: str, at: datetime, *, device: str | None = None) -> None:
        """End a person's shift sessions, everywhere or at one device."""
        table = session_tables.shift_session
        live = update(table).where(table.c.person == person, table.c.ended_at.is_(None))
        if device is not None:
            live = live.where(table.c.device == device)
        self._connection.execute(live.values(ended_at=at))


class DraftWriter(Writer):
    """Changes drafts, throttles and leases, where the last word counts and no history is kept."""

    def save_draft(self, draft: Draft, *, expected_version: int) -> bool:
        """Keep a draft if the stored one has the expected version, 0 meaning none is stored."""
        table = tables.draft
        row = as_row(draft, table)
        if expected_version == 0:
            return self._was_kept(self._upsert(table).on_conflict_do_nothing(), table, row)
        key = [table.c[name] == row[name] for name in ("check", "subject", "round", "person")]
        saved = update(table).where(*key, table.c.version == expected_version)
        return self._was_kept(saved.values(**row), table, row)

    def delete_drafts(self, check: str, subject: str, round: int, person: str | None = None) -> None:  # noqa: A002  # the ward's word
        """Forget the drafts of a round, or one person's."""
        table = tables.draft
        gone = delete(table).where(table.c.check == check, table.c.subject == subject, table.c.round == round)
        self._connection.execute(gone if person is None else gone.where(table.c.person == person))

    def set_throttle(self, throttle: Throttle) -> None:
        """Keep the count of failures under a key."""
        row = as_row(throttle, tables.throttle)
        kept = self._upsert(tables.throttle).on_conflict_do_update(index_elements=["key"], set_=row)
        self._run(kept, tables.throttle, row)

    def clear_throttle(self, key: str) -> None:
        """Forget the failures under a key."""
        table = tables.throttle
        self._connection.execute(delete(table).where(table.c.key == key))

    def take_lease(self, name: str, holder: str, *, now: datetime, until: datetime) -> bool:
        """Take or prolong a lease; False while another holds it.

        One that would outlast a lease taken now by more than its own length was taken by a clock that has
        been put back since, and is free.
        """
        table = tables.lease
        row = {"name": name, "holder": holder, "until": until}
        too_long = table.c.until > until + (until - now)
        free = (table.c.until <= now) | too_long | (table.c.holder == holder)
        taken = self._upsert(table).on_conflict_do_update(index_elements=["name"], set_=row, where=free)
        return self._was_kept(taken, table, row)

    def _was_kept(self, statement: Any, table: Table, row: dict[str, Any]) -> bool:  # noqa: ANN401  # insert or update
        """Whether a row was added or changed; told by a row that comes back: drivers count differently."""
        return self._run(statement.returning(*table.primary_key), table, row).first() is not None

    def _upsert(self, table: Table) -> Any:  # noqa: ANN401  # both dialects' inserts have the same methods
        on_sqlite = self._connection.dialect.name == "sqlite"
        return sqlite.insert(table) if on_sqlite else postgresql.insert(table)
