"""The table of the design, "Who may do what", cell by cell."""

from itertools import product

import pytest

from app.people import ASKED, MAY, Asked, Permission, Role, asked_for, is_act, may, takes_up

COLUMNS = (
    "nurse",
    "charge-nurse",
    "pharmacist",
    "quality",
    "administrator",
    "controlled-drug-officer",
    "trainer",
)
TABLE = {
    #                                 nurse  charge pharm. quality admin. officer trainer
    "open, join, read, confirm, sign a check": ("yes", "yes", "", "", "", "", ""),
    "see the state of every check on the unit": ("yes", "yes", "yes", "", "", "", ""),
    "take an escalation": ("", "yes", "yes", "", "", "", ""),
    "grant an exception": ("", "yes", "yes", "", "", "", ""),
    "end a check of the own unit that its two have left": ("", "yes", "", "", "", "", ""),
    "say where a stop belongs that counted for nothing": ("", "yes", "", "", "", "", ""),
    "close an account that was left open": ("", "yes", "", "", "", "", ""),
    "say that a lock, a key or a code was changed": ("", "yes", "yes", "", "", "", ""),
    "confirm by the own sign-in that one holds what is kept as evidence": (
        "yes",
        "yes",
        "yes",
        "yes",
        "",
        "",
        "",
    ),
    "give free what is kept as evidence": ("", "", "", "yes", "", "", ""),
    "read the list of findings of the own unit": ("", "yes", "", "", "", "", ""),
    "read every unit's list of findings": ("", "", "yes", "yes", "", "", ""),
    "look through findings, give them to a colleague, write beside them": (
        "",
        "yes",
        "yes",
        "yes",
        "",
        "",
        "",
    ),
    "say of a finding what error it was, as a third person": ("", "", "yes", "yes", "", "", ""),
    "draw a random sample of ended checks, and say what an audit of them found": (
        "",
        "",
        "yes",
        "yes",
        "",
        "",
        "",
    ),
    "export cleared records": ("", "", "yes", "yes", "", "", ""),
    "read cleared records of any unit": ("", "", "yes", "yes", "", "", ""),
    "witness what becomes of a drug, where the policy names the role": ("yes", "yes", "yes", "", "", "", ""),
    "take what is given back, by the own signature": ("", "", "yes", "", "", "", ""),
    "make and change accounts": ("", "", "", "", "yes", "", ""),
    "propose rules of the site, and approve a colleague's drug library": ("", "", "yes", "", "", "", ""),
    "approve a colleague's policy, line sets and safety steps": ("", "", "", "", "yes", "", ""),
    "add and retire beds of the own unit, and an administrator of each": ("", "yes", "", "", "yes", "", ""),
    "see what did not add up by syringe, with the people of its checks": ("", "", "", "", "", "yes", ""),
    "see what all caught on training cards, and sign their records of it": ("", "", "", "", "", "", "yes"),
}


@pytest.mark.parametrize(("permission", "role"), list(product(Permission, Role)))
def test_each_cell_of_the_table(permission: Permission, role: Role) -> None:
    wanted = TABLE[permission.value][COLUMNS.index(role.value)] == "yes"

    assert may({role}, permission) is wanted


def test_every_role_has_a_row_and_nobody_without_a_role_may_anything() -> None:
    assert MAY.keys() == set(Role)
    assert not any(may((), permission) for permission in Permission)


def test_one_person_may_hold_several_roles() -> None:
    both = {Role.NURSE, Role.QUALITY}

    assert may(both, Permission.CHECK)
    assert may(both, Permission.EXPORT)
    assert not may(both, Permission.TAKE_ESCALATION)


def test_an_administrator_reads_no_clinical_data_by_that_role_alone() -> None:
    assert MAY[Role.ADMINISTRATOR] == {
        Permission.ACCOUNTS,
        Permission.BEDS,
        Permission.APPROVE_RULES,
    }


def test_what_is_asked_for_each_thing_is_written_down() -> None:
    assert ASKED.keys() == set(Permission)
    asked = {name: {each for each, what in ASKED.items() if what is name} for name in Asked}
    assert asked[Asked.PIN] == {
        Permission.CHECK,
        Permission.UNIT_STATE,
        Permission.END_CHECK,
        Permission.UNIT_FINDINGS,
        Permission.SETTLE_STOP,
        Permission.CHANGE_LOCK,
    }
    assert asked[Asked.EACH_TIME] == {
        Permission.CLASSIFY_FINDINGS,
        Permission.TAKE_ESCALATION,
        Permission.GRANT_EXCEPTION,
        Permission.WITNESS,
        Permission.RECEIVE,
        Permission.HOLD_EVIDENCE,
        Permission.RELEASE_EVIDENCE,
        Permission.EXPORT,
        Permission.ACCOUNTS,
        Permission.PROPOSE_RULES,
        Permission.APPROVE_RULES,
    }


@pytest.mark.parametrize(
    ("roles", "permissions", "asked"),
    [
        ({Role.NURSE}, {Permission.CHECK}, Asked.PIN),
        # The least of what the person holds: another's permission eases nothing.
        ({Role.NURSE}, {Permission.CHECK, Permission.READ_RECORDS}, Asked.PIN),
        ({Role.QUALITY}, {Permission.CHECK, Permission.READ_RECORDS}, Asked.SESSION),
        ({Role.CHARGE_NURSE}, {Permission.TAKE_ESCALATION}, Asked.EACH_TIME),
        ({Role.NURSE}, {Permission.TAKE_ESCALATION}, Asked.EACH_TIME),
        (set[Role](), set[Permission](), Asked.EACH_TIME),
    ],
)
def test_the_least_is_asked_of_what_somebody_may(
    roles: set[Role], permissions: set[Permission], asked: Asked
) -> None:
    assert asked_for(roles, permissions) is asked


def test_what_nothing_is_written_down_for_is_asked_id_and_secret_each_time(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.delitem(ASKED, Permission.CHECK)

    assert asked_for({Role.NURSE}, {Permission.CHECK}) is Asked.EACH_TIME


def test_what_may_be_looked_at_too_is_no_act() -> None:
    """Who waits to be seen looks, and stops a device, and takes up nothing."""
    assert is_act([Role.NURSE], [Permission.CHECK])
    assert is_act([Role.CHARGE_NURSE], [Permission.TAKE_ESCALATION])
    assert not is_act([Role.NURSE], [Permission.CHECK, Permission.UNIT_STATE])
    assert not is_act([Role.ADMINISTRATOR], [Permission.ACCOUNTS])
    assert not is_act([Role.ADMINISTRATOR], [Permission.CHECK])


def test_who_takes_something_up_at_a_patient() -> None:
    assert {role for role in Role if takes_up([role])} == {
        Role.NURSE,
        Role.CHARGE_NURSE,
        Role.PHARMACIST,
    }
    assert takes_up([Role.QUALITY, Role.NURSE])
    assert not takes_up([])
