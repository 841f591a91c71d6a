"""Roles and the permission table."""

from app.people.permissions import MAY, may
from app.people.person import Person
from app.people.roles import Permission, Role

__all__ = ["MAY", "Permission", "Person", "Role", "may"]
