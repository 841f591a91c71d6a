"""Resets that somebody is still to be told of: one's own, and for a charge nurse those of the unit."""

from typing import Any

from sqlalchemy import BindParameter, Select, and_, bindparam, exists, or_, select

from app.people import Role
from app.storage import key_tables, tables
from app.storage.columns import UtcTime

_CODE, _TOLD, _PERSON, _ROLE = key_tables.issued_code, key_tables.code_told, tables.person, tables.person_role
_KEY = key_tables.personal_key
_OF_UNIT, _READER = _PERSON.alias("of_unit"), _PERSON.alias("reader")


def resets_to_tell(*, person: BindParameter[str], unit: BindParameter[str]) -> Select[Any]:
    """The codes given since a moment in the place of a secret, of which this person has not read."""
    # The first code of an account replaces nothing; a secret of one's own makes a key.
    is_reset = exists().where(_KEY.c.person == _CODE.c.person, _KEY.c.made_at < _CODE.c.issued_at)
    is_charge = exists().where(_ROLE.c.person == person, _ROLE.c.role == Role.CHARGE_NURSE.value)
    own_unit = select(_READER.c.unit).where(_READER.c.id == person).scalar_subquery()
    # Of where the shift is, and of one's own unit also during a shift elsewhere.
    of_unit = exists().where(_OF_UNIT.c.id == _CODE.c.person, _OF_UNIT.c.unit.in_((unit, own_unit)))
    has_read = exists().where(_TOLD.c.code == _CODE.c.code, _TOLD.c.person == person)
    return select(_CODE).where(
        _CODE.c.issued_at >= bindparam("since", type_=UtcTime()),
        or_(_CODE.c.person == person, and_(is_charge, of_unit)),
        is_reset,
        ~has_read,
    )
