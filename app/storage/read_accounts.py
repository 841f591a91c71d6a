"""Reading people, sessions, drafts, throttles, units and the site's published data."""

import unicodedata
from collections import defaultdict
from datetime import datetime
from typing import Any

from sqlalchemy import ColumnElement, Connection, select

from app.people import Person, Role
from app.records.kept import Draft, Session, SiteData, Throttle, Unit
from app.storage import rows, tables
from app.storage.rows import find_one, read_all


def folded(login: str) -> str:
    """The form in which logins are compared: width and case do not count."""
    return unicodedata.normalize("NFKC", unicodedata.normalize("NFKC", login).casefold()).strip()


class AccountReader:
    """People and what the site has published."""

    _connection: Connection

    def find_person(self, person: str) -> Person | None:
        """The account with this id."""
        return self._find_person(tables.person.c.id == person)

    def find_person_by_login(self, login: str) -> Person | None:
        """The account with this login, however its letters are cased."""
        return self._find_person(tables.person.c.login_folded == folded(login))

    def people(self) -> tuple[Person, ...]:
        """Every account, by printed name."""
        table = tables.person
        return self._people(select(table).order_by(table.c.printed_name, table.c.id))

    def _find_person(self, condition: ColumnElement[bool]) -> Person | None:
        found = self._people(select(tables.person).where(condition))
        return found[0] if found else None

    def _people(self, statement: Any) -> tuple[Person, ...]:  # noqa: ANN401  # a select of the person table
        found = [dict(row) for row in self._connection.execute(statement).mappings()]
        roles = self._roles([row["id"] for row in found])
        for row in found:
            del row["login_folded"]
        return tuple(Person(roles=frozenset(roles[row["id"]]), **row) for row in found)

    def _roles(self, people: list[str]) -> defaultdict[str, set[Role]]:
        table = tables.person_role
        roles: defaultdict[str, set[Role]] = defaultdict(set)
        # One account is looked up by its id; a list of all of them needs every row anyway.
        held = select(table.c.person, table.c.role)
        if len(people) == 1:
            held = held.where(table.c.person == people[0])
        for person, role in self._connection.execute(held):
            roles[person].add(Role(role))
        return roles

    def find_session(self, digest: str) -> Session | None:
        """The session whose token has this digest, ended or not."""
        table = tables.session
        return find_one(self._connection, Session, select(table).where(table.c.digest == digest))

    def find_draft(self, check: str, subject: str, round: int, person: str) -> Draft | None:  # noqa: A002  # the ward's word
        """A person's unfinished reading of a round."""
        table = tables.draft
        wanted = select(table).where(
            table.c.check == check,
            table.c.subject == subject,
            table.c.round == round,
            table.c.person == person,
        )
        return find_one(self._connection, Draft, wanted)

    def find_throttle(self, key: str) -> Throttle | None:
        """The failures counted under a key."""
        table = tables.throttle
        return find_one(self._connection, Throttle, select(table).where(table.c.key == key))

    def units(self) -> tuple[Unit, ...]:
        """Every unit, by name."""
        table = tables.unit
        return read_all(self._connection, Unit, select(table).order_by(table.c.name, table.c.id))

    def find_unit(self, unit: str) -> Unit | None:
        """The unit with this id."""
        table = tables.unit
        return find_one(self._connection, Unit, select(table).where(table.c.id == unit))

    def site_data(self, what: str, *, at: datetime) -> SiteData | None:
        """The version in force at a moment."""
        table = tables.site_data
        newest = select(table).where(table.c.what == what, table.c.in_force_from <= at)
        return self._site_data(newest.order_by(table.c.in_force_from.desc()).limit(1))

    def site_data_version(self, what: str, version: str) -> SiteData | None:
        """One version, in force or not."""
        table = tables.site_data
        return self._site_data(select(table).where(table.c.what == what, table.c.version == version))

    def _site_data(self, statement: Any) -> SiteData | None:  # noqa: ANN401  # a select of the site_data table
        row = self._connection.execute(statement).mappings().first()
        return None if row is None else rows.site_data(row)
