"""The roles a person may hold, the things a role may permit, and what is asked for to do them."""

from enum import StrEnum


class Role(StrEnum):
    """One person may hold several."""

    NURSE = "nurse"
    CHARGE_NURSE = "charge-nurse"
    PHARMACIST = "pharmacist"
    QUALITY = "quality"
    ADMINISTRATOR = "administrator"
    CONTROLLED_DRUG_OFFICER = "controlled-drug-officer"
    # In an installation for training alone: elsewhere there is nothing of it to be seen.
    TRAINER = "trainer"


class Permission(StrEnum):
    """What a route or an action asks for; the table in `permissions` says who has it."""

    CHECK = "open, join, read, confirm, sign a check"
    UNIT_STATE = "see the state of every check on the unit"
    TAKE_ESCALATION = "take an escalation"
    GRANT_EXCEPTION = "grant an exception"
    END_CHECK = "end a check of the own unit that its two have left"
    SETTLE_STOP = "say where a stop belongs that counted for nothing"
    CLOSE_ACCOUNT = "close an account that was left open"
    UNIT_FINDINGS = "read the list of findings of the own unit"
    SYRINGES = "see what did not add up by syringe, with the people of its checks"
    ALL_FINDINGS = "read every unit's list of findings"
    REVIEW_FINDINGS = "look through findings, give them to a colleague, write beside them"
    CLASSIFY_FINDINGS = "say of a finding what error it was, as a third person"
    SAMPLE = "draw a random sample of ended checks, and say what an audit of them found"
    EXPORT = "export cleared records"
    READ_RECORDS = "read cleared records of any unit"
    ACCOUNTS = "make and change accounts"
    WITNESS = "witness what becomes of a drug, where the policy names the role"
    RECEIVE = "take what is given back, by the own signature"
    PROPOSE_RULES = "propose rules of the site, and approve a colleague's drug library"
    APPROVE_RULES = "approve a colleague's policy, line sets and safety steps"
    CHANGE_LOCK = "say that a lock, a key or a code was changed"
    HOLD_EVIDENCE = "confirm by the own sign-in that one holds what is kept as evidence"
    RELEASE_EVIDENCE = "give free what is kept as evidence"
    TRAIN = "see what all caught on training cards, and sign their records of it"
    BEDS = "add and retire beds of the own unit, and an administrator of each"


class Asked(StrEnum):
    """What somebody must have given to do a thing, the least first."""

    PIN = "a session, also one that six digits opened"
    SESSION = "a session begun with id and secret"
    EACH_TIME = "id and secret with each act, and a session begun with them to look"
    IN_ITS_FORM = "id and secret in the form itself: who gives them may be another than whoever is signed in"
