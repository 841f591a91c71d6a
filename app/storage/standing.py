"""What of an account may change, as one digest: each act that changes it leaves that digest in the log.

So the database cannot say of a person what no act made of them: roles, whether the account is open, the hash
of a secret, the locked half of a key, an authenticator. Hashes are salted, and a digest of one tells nothing
of a secret.
"""

from collections import defaultdict
from collections.abc import Mapping
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, Select, select

from app.records.canonical import canonical, digest
from app.records.written import iso
from app.storage import key_tables, tables

_PERSON, _ROLE = tables.person, tables.person_role
_KEY, _SEALED = key_tables.personal_key, key_tables.personal_key_sealed
_AUTHENTICATOR = key_tables.authenticator

_PEOPLE = select(_PERSON)
_ROLES = select(_ROLE.c.person, _ROLE.c.role).order_by(_ROLE.c.person, _ROLE.c.role)
_ENROLLED = select(
    _AUTHENTICATOR.c.person, _AUTHENTICATOR.c.id, _AUTHENTICATOR.c.kind, _AUTHENTICATOR.c.sealed
).order_by(_AUTHENTICATOR.c.person, _AUTHENTICATOR.c.id)
_LOCKED: Select[Any] = (
    select(_KEY.c.person, _SEALED.c.kid, _SEALED.c.sealed)
    .join_from(_SEALED, _KEY, _KEY.c.kid == _SEALED.c.kid)
    .order_by(_KEY.c.person, _SEALED.c.kid)
)


def accounts_standing(connection: Connection, person: str = "") -> dict[str, str]:
    """The digest of one account, or of all, by the person's id."""
    people, roles, locked, enrolled = _PEOPLE, _ROLES, _LOCKED, _ENROLLED
    if person:
        people = people.where(_PERSON.c.id == person)
        roles, locked = roles.where(_ROLE.c.person == person), locked.where(_KEY.c.person == person)
        enrolled = enrolled.where(_AUTHENTICATOR.c.person == person)
    roles_of: defaultdict[str, list[str]] = defaultdict(list)
    for who, role in connection.execute(roles):
        roles_of[who].append(role)
    given: defaultdict[str, dict[str, list[str]]] = defaultdict(dict)
    for who, its, kind, sealed in connection.execute(enrolled):
        given[who][its] = [kind, digest(sealed)]
    locked_of: defaultdict[str, dict[str, str]] = defaultdict(dict)
    for who, kid, sealed in connection.execute(locked):
        locked_of[who][kid] = digest(sealed)
    return {
        row["id"]: _digest_of(row, roles_of[row["id"]], locked_of[row["id"]], given[row["id"]])
        for row in connection.execute(people).mappings()
    }


def _digest_of(
    row: Mapping[Any, Any], roles: list[str], locked: dict[str, str], given: dict[str, list[str]]
) -> str:
    said = {name: iso(value) if isinstance(value, datetime) else value for name, value in row.items()}
    account = {"account": said, "roles": roles, "locked": locked}
    # Most people have none, and nothing is said of none.
    return digest(canonical(account | {"authenticators": given} if given else account))
