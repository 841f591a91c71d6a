"""What somebody is still to be told of a login: that it was reset, that signings with it were refused.

One's own, for a charge nurse those of the unit, and of what was refused all for an administrator. Every page
asks whether there is any: the few of some weeks are found by an index of their own.
"""

from typing import Any

from sqlalchemy import BindParameter, ColumnElement, Select, and_, bindparam, exists, or_, select

from app.people import Role
from app.storage import key_tables, people_tables, tables
from app.storage.columns import UtcTime

# What was done to a login that its person has to know of.
TOLD_OF = ("reset", "authenticator taken away")
_CODE, _TOLD, _PERSON, _ROLE = key_tables.issued_code, key_tables.code_told, tables.person, tables.person_role
_REFUSED, _READ = people_tables.refused_signings, people_tables.refused_signings_told
_OF_UNIT, _READER = _PERSON.alias("of_unit"), _PERSON.alias("reader")


def resets_to_tell(*, person: BindParameter[str], unit: BindParameter[str]) -> Select[Any]:
    """The codes given since a moment in the place of a secret, of which this person has not read."""
    is_own = _CODE.c.person == person
    is_of_unit = _is_of_unit(_CODE.c.person, person, unit)
    return _unread(person).where(or_(is_own, and_(_is(Role.CHARGE_NURSE, person), is_of_unit)))


def refused_to_tell(*, person: BindParameter[str], unit: BindParameter[str]) -> Select[Any]:
    """The refused signings since a moment of which this person has not read."""
    has_read = exists().where(_READ.c.refused == _REFUSED.c.id, _READ.c.person == person)
    is_of_unit = _is_of_unit(_REFUSED.c.person, person, unit)
    is_theirs = or_(
        _REFUSED.c.person == person,
        _is(Role.ADMINISTRATOR, person),
        and_(_is(Role.CHARGE_NURSE, person), is_of_unit),
    )
    since = bindparam("since", type_=UtcTime())
    return select(_REFUSED).where(_REFUSED.c.at >= since, ~has_read, is_theirs)


def _unread(person: BindParameter[str]) -> Select[Any]:
    has_read = exists().where(_TOLD.c.code == _CODE.c.code, _TOLD.c.person == person)
    since = bindparam("since", type_=UtcTime())
    return select(_CODE).where(_CODE.c.what.in_(TOLD_OF), _CODE.c.issued_at >= since, ~has_read)


def _is(role: Role, person: BindParameter[str]) -> ColumnElement[bool]:
    return exists().where(_ROLE.c.person == person, _ROLE.c.role == role.value)


def _is_of_unit(
    whose: ColumnElement[str], person: BindParameter[str], unit: BindParameter[str]
) -> ColumnElement[bool]:
    """Of where the shift is, and of one's own unit also during a shift elsewhere."""
    own_unit = select(_READER.c.unit).where(_READER.c.id == person).scalar_subquery()
    return exists().where(_OF_UNIT.c.id == whose, _OF_UNIT.c.unit.in_((unit, own_unit)))
