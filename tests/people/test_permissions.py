"""The table of the design, "Who may do what", cell by cell."""

from itertools import product

import pytest

from app.people import MAY, Permission, Role, may

COLUMNS = ("nurse", "charge-nurse", "pharmacist", "quality", "administrator")
TABLE = {
    #                                 nurse  charge pharm. quality admin.
    "open, join, read, confirm, sign a check": ("yes", "yes", "", "", ""),
    "see the state of every check on the unit": ("yes", "yes", "yes", "", ""),
    "take an escalation": ("", "yes", "yes", "", ""),
    "grant an exception": ("", "yes", "yes", "", ""),
    "end a check of the own unit that its two have left": ("", "yes", "", "", ""),
    "say where a stop belongs that counted for nothing": ("", "yes", "", "", ""),
    "read the list of findings of the own unit": ("", "yes", "", "", ""),
    "read every unit's list of findings": ("", "", "yes", "yes", ""),
    "export cleared records": ("", "", "yes", "yes", ""),
    "read cleared records of any unit": ("", "", "yes", "yes", ""),
    "make and change accounts": ("", "", "", "", "yes"),
    "add and retire beds of the own unit, and an administrator of each": ("", "yes", "", "", "yes"),
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
    assert MAY[Role.ADMINISTRATOR] == {Permission.ACCOUNTS, Permission.BEDS}
