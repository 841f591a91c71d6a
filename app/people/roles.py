"""The roles a person may hold, and the things a role may permit."""

from enum import StrEnum


class Role(StrEnum):
    """One person may hold several."""

    NURSE = "nurse"
    CHARGE_NURSE = "charge-nurse"
    PHARMACIST = "pharmacist"
    QUALITY = "quality"
    ADMINISTRATOR = "administrator"


class Permission(StrEnum):
    """What a route or an action asks for; the table in `permissions` says who has it."""

    CHECK = "open, join, read, confirm, sign a check"
    UNIT_STATE = "see the state of every check on the unit"
    TAKE_ESCALATION = "take an escalation"
    GRANT_EXCEPTION = "grant an exception"
    END_CHECK = "end a check of the own unit that its two have left"
    SETTLE_STOP = "say where a stop belongs that counted for nothing"
    UNIT_FINDINGS = "read the list of findings of the own unit"
    ALL_FINDINGS = "read every unit's list of findings"
    EXPORT = "export cleared records"
    READ_RECORDS = "read cleared records of any unit"
    ACCOUNTS = "make and change accounts"
    BEDS = "add and retire beds of the own unit, and an administrator of each"
