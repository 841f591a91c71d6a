"""Roles and the permission table."""

from app.people.permissions import ASKED, MAY, asked_for, may
from app.people.person import Person
from app.people.roles import Asked, Permission, Role

__all__ = ["ASKED", "MAY", "Asked", "Permission", "Person", "Role", "asked_for", "may"]
