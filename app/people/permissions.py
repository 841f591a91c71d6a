"""Who may do what: one table that a ward manager can read. What is not in it is denied."""

from collections.abc import Iterable

from app.people.roles import Permission, Role

MAY: dict[Role, frozenset[Permission]] = {
    Role.NURSE: frozenset({Permission.CHECK, Permission.UNIT_STATE}),
    Role.CHARGE_NURSE: frozenset(
        {
            Permission.CHECK,
            Permission.UNIT_STATE,
            Permission.TAKE_ESCALATION,
            Permission.GRANT_EXCEPTION,
            Permission.END_CHECK,
            Permission.SETTLE_STOP,
            Permission.BEDS,
            Permission.UNIT_FINDINGS,
        }
    ),
    Role.PHARMACIST: frozenset(
        {
            Permission.UNIT_STATE,
            Permission.TAKE_ESCALATION,
            Permission.GRANT_EXCEPTION,
            Permission.ALL_FINDINGS,
            Permission.EXPORT,
            Permission.READ_RECORDS,
        }
    ),
    Role.QUALITY: frozenset({Permission.ALL_FINDINGS, Permission.EXPORT, Permission.READ_RECORDS}),
    # An administrator cannot read clinical data by that role alone.
    Role.ADMINISTRATOR: frozenset({Permission.ACCOUNTS, Permission.BEDS}),
}


def may(roles: Iterable[Role], permission: Permission) -> bool:
    """Whether any of the roles permits it."""
    return any(permission in MAY[role] for role in roles)
