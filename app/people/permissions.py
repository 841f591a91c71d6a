"""Who may do what: one table that a ward manager can read. What is not in it is denied."""

from collections.abc import Iterable

from app.people.roles import Asked, Permission, Role

MAY: dict[Role, frozenset[Permission]] = {
    Role.NURSE: frozenset(
        {Permission.CHECK, Permission.UNIT_STATE, Permission.WITNESS, Permission.HOLD_EVIDENCE}
    ),
    Role.CHARGE_NURSE: frozenset(
        {
            Permission.CHECK,
            Permission.UNIT_STATE,
            Permission.TAKE_ESCALATION,
            Permission.GRANT_EXCEPTION,
            Permission.END_CHECK,
            Permission.SETTLE_STOP,
            Permission.CLOSE_ACCOUNT,
            Permission.CHANGE_LOCK,
            Permission.WITNESS,
            Permission.HOLD_EVIDENCE,
            Permission.BEDS,
            Permission.UNIT_FINDINGS,
            Permission.REVIEW_FINDINGS,
        }
    ),
    Role.PHARMACIST: frozenset(
        {
            Permission.UNIT_STATE,
            Permission.TAKE_ESCALATION,
            Permission.GRANT_EXCEPTION,
            Permission.CHANGE_LOCK,
            Permission.WITNESS,
            Permission.RECEIVE,
            Permission.HOLD_EVIDENCE,
            Permission.ALL_FINDINGS,
            Permission.REVIEW_FINDINGS,
            Permission.CLASSIFY_FINDINGS,
            Permission.SAMPLE,
            Permission.EXPORT,
            Permission.READ_RECORDS,
            Permission.PROPOSE_RULES,
        }
    ),
    Role.QUALITY: frozenset(
        {
            Permission.ALL_FINDINGS,
            Permission.REVIEW_FINDINGS,
            Permission.CLASSIFY_FINDINGS,
            Permission.SAMPLE,
            Permission.EXPORT,
            Permission.READ_RECORDS,
            Permission.HOLD_EVIDENCE,
            Permission.RELEASE_EVIDENCE,
        }
    ),
    # An administrator cannot read clinical data by that role alone.
    Role.ADMINISTRATOR: frozenset({Permission.ACCOUNTS, Permission.BEDS, Permission.APPROVE_RULES}),
    # Of the account alone: neither findings nor records.
    Role.CONTROLLED_DRUG_OFFICER: frozenset({Permission.SYRINGES}),
    Role.TRAINER: frozenset({Permission.TRAIN}),
}

# What is asked for to do it. What is not in it is asked id and secret each time.
ASKED: dict[Permission, Asked] = {
    Permission.CHECK: Asked.PIN,
    Permission.UNIT_STATE: Asked.PIN,
    Permission.END_CHECK: Asked.PIN,
    Permission.UNIT_FINDINGS: Asked.PIN,
    # What was stopped for a patient waits for nobody's secret.
    Permission.SETTLE_STOP: Asked.PIN,
    Permission.CLOSE_ACCOUNT: Asked.SESSION,
    Permission.CHANGE_LOCK: Asked.PIN,
    Permission.ALL_FINDINGS: Asked.SESSION,
    Permission.REVIEW_FINDINGS: Asked.SESSION,
    Permission.SAMPLE: Asked.SESSION,
    Permission.READ_RECORDS: Asked.SESSION,
    Permission.SYRINGES: Asked.SESSION,
    Permission.TRAIN: Asked.SESSION,
    Permission.BEDS: Asked.SESSION,
    Permission.TAKE_ESCALATION: Asked.EACH_TIME,
    Permission.GRANT_EXCEPTION: Asked.EACH_TIME,
    Permission.WITNESS: Asked.EACH_TIME,
    Permission.RECEIVE: Asked.EACH_TIME,
    Permission.HOLD_EVIDENCE: Asked.EACH_TIME,
    Permission.RELEASE_EVIDENCE: Asked.EACH_TIME,
    Permission.CLASSIFY_FINDINGS: Asked.EACH_TIME,
    Permission.EXPORT: Asked.EACH_TIME,
    Permission.ACCOUNTS: Asked.EACH_TIME,
    Permission.PROPOSE_RULES: Asked.EACH_TIME,
    Permission.APPROVE_RULES: Asked.EACH_TIME,
}

# Who may look at the rules of the site: whoever answers for them, or for what is found by them.
LOOKS_AT_RULES = (Permission.PROPOSE_RULES, Permission.APPROVE_RULES, Permission.ALL_FINDINGS)

# What is done at a patient. Nobody takes it up before a colleague with a confirmed key has seen them.
ACTS = frozenset(
    {
        Permission.CHECK,
        Permission.TAKE_ESCALATION,
        Permission.GRANT_EXCEPTION,
        Permission.END_CHECK,
        Permission.SETTLE_STOP,
    }
)


def may(roles: Iterable[Role], permission: Permission) -> bool:
    """Whether any of the roles permits it."""
    return any(permission in MAY[role] for role in roles)


def takes_up(roles: Iterable[Role]) -> bool:
    """Whether any of the roles permits what is done at a patient."""
    return any(MAY[role] & ACTS for role in roles)


def asked_for(roles: Iterable[Role], permissions: Iterable[Permission]) -> Asked:
    """What is asked of somebody with these roles for what any of these permissions allows: the least."""
    asked = {ASKED.get(each, Asked.EACH_TIME) for each in permissions if may(roles, each)}
    return min(asked, key=list(Asked).index, default=Asked.EACH_TIME)


def is_act(roles: Iterable[Role], permissions: Iterable[Permission]) -> bool:
    """Whether somebody with these roles asks for what is done at a patient, not for what may be looked at."""
    held = [each for each in permissions if may(roles, each)]
    return bool(held) and all(each in ACTS for each in held)
