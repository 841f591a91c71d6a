"""Reading people, sessions, drafts, throttles, units and the site's published data."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, Select, bindparam, func, select

from app.people import Person, Role, folded
from app.records.kept import Draft, Locked, Session, ShiftSession, Throttle, Unit
from app.records.kept_keys import IssuedCode
from app.storage import key_tables, session_tables, tables, unit_tables
from app.storage.columns import UtcTime
from app.storage.read_people import POLICY_IN_FORCE
from app.storage.resets import refused_to_tell, resets_to_tell
from app.storage.rows import find_one, found, read_all, rows_by

_PERSON, _ROLE = tables.person, tables.person_role
_KEY, _GIVEN, _GONE = key_tables.personal_key, key_tables.key_confirmation, key_tables.key_retirement
_KEY_CONFIRMED = (
    select(_KEY.c.kid)
    .join(_GIVEN, _GIVEN.c.kid == _KEY.c.kid)
    .where(_KEY.c.person == _PERSON.c.id, ~select(_GONE.c.kid).where(_GONE.c.kid == _KEY.c.kid).exists())
    .exists()
)
_PEOPLE = (
    select(
        *(column for column in _PERSON.c if not column.name.endswith("_folded")),
        _KEY_CONFIRMED.label("key_confirmed"),
        _ROLE.c.role,
    )
    .outerjoin(_ROLE, _ROLE.c.person == _PERSON.c.id)
    .order_by(_PERSON.c.printed_name, _PERSON.c.id)
)
_FIND_PERSON = _PEOPLE.where(_PERSON.c.id == bindparam("id"))
_FIND_PERSON_BY_LOGIN = _PEOPLE.where(_PERSON.c.login_folded == bindparam("login"))
# Whoever is signed in, what there is to be told of, and the policy in force: all that every page asks.
_FIND_SIGNED_IN = _FIND_PERSON.add_columns(
    resets_to_tell(person=bindparam("id"), unit=bindparam("unit")).exists().label("resets"),
    refused_to_tell(person=bindparam("id"), unit=bindparam("unit")).exists().label("refused"),
    POLICY_IN_FORCE.scalar_subquery().label("policy"),
)
_RESETS_TO_TELL = resets_to_tell(person=bindparam("person"), unit=bindparam("unit")).order_by(
    key_tables.issued_code.c.issued_at, key_tables.issued_code.c.code
)
_SOME_PEOPLE = _PEOPLE.where(_PERSON.c.id.in_(bindparam("ids", expanding=True)))
_FIND_SESSION = rows_by(tables.session, "digest")
_SESSION_AT = rows_by(tables.session, "person", "device").limit(1)
_SESSION_BEGUN = rows_by(tables.session, "person", "signed_in_at")
_SHIFT, _SESSION = session_tables.shift_session, tables.session
_SHIFTS_OF = (
    select(_SESSION.c.person, _SESSION.c.unit)
    .where(
        _SESSION.c.person.in_(bindparam("people", expanding=True)),
        _SESSION.c.signed_in_at >= bindparam("since"),
    )
    .order_by(_SESSION.c.signed_in_at)
)
_FIND_SHIFT_SESSION = rows_by(_SHIFT, "id")
_USED_LAST = select(func.max(func.coalesce(_SESSION.c.ended_at, _SESSION.c.last_seen_at))).where(
    _SESSION.c.person == _SHIFT.c.person, _SESSION.c.device == _SHIFT.c.device
)
_LOCKED_AT = (
    select(
        _SHIFT.c.id.label("shift_session"),
        _SHIFT.c.person,
        _PERSON.c.printed_name,
        func.coalesce(_USED_LAST.scalar_subquery(), _SHIFT.c.began_at, type_=UtcTime).label("since"),
    )
    .join(_PERSON, _PERSON.c.id == _SHIFT.c.person)
    .where(
        _SHIFT.c.device == bindparam("device"),
        _SHIFT.c.ended_at.is_(None),
        _SHIFT.c.began_at >= bindparam("since"),
        _PERSON.c.active,
    )
    .order_by(_PERSON.c.printed_name, _SHIFT.c.id)
)
_DRAFTS = rows_by(tables.draft, "check", "round", "person")
_FIND_THROTTLE = rows_by(tables.throttle, "key")
_UNIT, _RENAMED = unit_tables.unit, unit_tables.unit_renamed
_CALLED_LAST = (
    select(_RENAMED.c.name)
    .where(_RENAMED.c.unit == _UNIT.c.id)
    .order_by(_RENAMED.c.number.desc())
    .limit(1)
    .scalar_subquery()
)
_CALLED = func.coalesce(_CALLED_LAST, _UNIT.c.name).label("name")
_UNITS = select(_UNIT.c.id, _CALLED).order_by(_CALLED, _UNIT.c.id)
_FIND_UNIT = select(_UNIT.c.id, _CALLED).where(_UNIT.c.id == bindparam("id"))


@dataclass(frozen=True, kw_only=True)
class AtHand:
    """Whoever is signed in, what there is to tell of resets and refused signings, and the policy's bytes."""

    person: Person
    resets: bool
    refused: bool
    policy: bytes | None


def _as_people(rows: Iterable[dict[str, Any]]) -> tuple[Person, ...]:
    """People from rows of which each has one role, or none where a person holds none."""
    accounts: dict[str, dict[str, Any]] = {}
    for row in rows:
        role = row.pop("role")
        account = accounts.setdefault(row["id"], {**row, "roles": frozenset()})
        if role is not None:
            account["roles"] |= {Role(role)}
    return tuple(Person(**each) for each in accounts.values())


class AccountReader:
    """People and what the site has published."""

    _connection: Connection

    def find_person(self, person: str) -> Person | None:
        """The account with this id."""
        return next(iter(self._people(_FIND_PERSON, id=person)), None)

    def find_signed_in(self, person: str, *, unit: str, since: datetime, at: datetime) -> AtHand | None:
        """The account of whoever is signed in at a unit, and what there is to be told since a moment."""
        rows = [*found(self._connection, _FIND_SIGNED_IN, id=person, unit=unit, since=since, at=at)]
        beside = [{name: row.pop(name) for name in ("resets", "refused", "policy")} for row in rows]
        if not rows:
            return None
        told = {name: bool(beside[0][name]) for name in ("resets", "refused")}
        return AtHand(person=_as_people(rows)[0], policy=beside[0]["policy"], **told)

    def resets_to_tell(self, person: str, *, unit: str, since: datetime) -> tuple[IssuedCode, ...]:
        """Which they are, the first first."""
        return read_all(self._connection, IssuedCode, _RESETS_TO_TELL, person=person, unit=unit, since=since)

    def find_person_by_login(self, login: str) -> Person | None:
        """The account with this login, however it is typed."""
        return next(iter(self._people(_FIND_PERSON_BY_LOGIN, login=folded(login))), None)

    def people(self) -> tuple[Person, ...]:
        """Every account, by printed name."""
        return self._people(_PEOPLE)

    def people_with(self, ids: Collection[str]) -> dict[str, Person]:
        """The accounts with these ids, by id."""
        return {each.id: each for each in self._people(_SOME_PEOPLE, ids=sorted(ids))}

    def _people(self, statement: Select[Any], **values: object) -> tuple[Person, ...]:
        return _as_people(found(self._connection, statement, **values))

    def find_session(self, digest: str) -> Session | None:
        """The session whose token has this digest, ended or not."""
        return find_one(self._connection, Session, _FIND_SESSION, digest=digest)

    def has_signed_in(self, person: str, *, device: str) -> bool:
        """Whether this person was ever signed in at this device."""
        return any(found(self._connection, _SESSION_AT, person=person, device=device))

    def sessions_begun(self, person: str, at: datetime) -> tuple[Session, ...]:
        """The sessions of a person that began at a moment."""
        return read_all(self._connection, Session, _SESSION_BEGUN, person=person, signed_in_at=at)

    def shifts_of(self, people: Collection[str], *, since: datetime) -> dict[str, str]:
        """On which unit each of these people signed in last, for whoever did since a moment."""
        rows = found(self._connection, _SHIFTS_OF, people=sorted(people), since=since)
        return {each["person"]: each["unit"] for each in rows}

    def find_shift_session(self, shift_session: str) -> ShiftSession | None:
        """The shift session with this id, ended or not."""
        return find_one(self._connection, ShiftSession, _FIND_SHIFT_SESSION, id=shift_session)

    def locked_at(self, device: str, *, since: datetime) -> tuple[Locked, ...]:
        """Whose shift session, begun after a moment, has not ended at a device; by printed name."""
        return read_all(self._connection, Locked, _LOCKED_AT, device=device, since=since)

    def drafts(self, check: str, round: int, person: str) -> dict[str, Draft]:  # noqa: A002  # the ward's word
        """All that a person has not finished in a round, by subject."""
        its = read_all(self._connection, Draft, _DRAFTS, check=check, round=round, person=person)
        return {each.subject: each for each in its}

    def find_throttle(self, key: str) -> Throttle | None:
        """The failures counted under a key."""
        return find_one(self._connection, Throttle, _FIND_THROTTLE, key=key)

    def units(self) -> tuple[Unit, ...]:
        """Every unit, by name."""
        return read_all(self._connection, Unit, _UNITS)

    def find_unit(self, unit: str) -> Unit | None:
        """The unit with this id."""
        return find_one(self._connection, Unit, _FIND_UNIT, id=unit)
