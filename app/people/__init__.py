"""Who somebody is, roles and the permission table."""

from app.people.identity import (
    NotPlain,
    find_login_fault,
    find_name_fault,
    find_staff_number_fault,
    folded,
    is_same_name,
)
from app.people.permissions import ASKED, LOOKS_AT_RULES, MAY, asked_for, is_act, may, takes_up
from app.people.person import Person
from app.people.roles import Asked, Permission, Role

__all__ = [
    "ASKED",
    "LOOKS_AT_RULES",
    "MAY",
    "Asked",
    "NotPlain",
    "Permission",
    "Person",
    "Role",
    "asked_for",
    "find_login_fault",
    "find_name_fault",
    "find_staff_number_fault",
    "folded",
    "is_act",
    "is_same_name",
    "may",
    "takes_up",
]
