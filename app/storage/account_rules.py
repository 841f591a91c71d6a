"""The rules of people and units: whose name, login and number is whose."""

from app.storage.rule import Rule

_IDENTITY = ("login", "staff_number")
_COMPARED = tuple(f"{name}_folded" for name in _IDENTITY)
_LETTERS_AND_DIGITS = "abcdefghijklmnopqrstuvwxyz0123456789"


def _is_not_folded(column: str, *, between: str) -> str:
    """Whether what somebody writes on a plain keyboard has another sign, or is compared as something else.

    Other alphabets are folded by the program alone (`app/people/identity.py`), and verified from the rows.
    """
    small = f"lower(NEW.{column})"
    bare = small
    for sign in between:
        bare = f"replace({bare}, '{sign}', '')"
    is_keyboard = f"ltrim({small}, '{_LETTERS_AND_DIGITS} -._,/()&+*#@') = ''"
    is_shaped = f"ltrim({small}, '{_LETTERS_AND_DIGITS}{between}') = ''"
    return f"({is_keyboard} AND NOT ({is_shaped} AND NEW.{column}_folded = {bare} AND {bare} <> ''))"


# What a unit is called now, in the form in which names are compared.
_CALLED_NOW = """coalesce((
    SELECT renamed.name_folded FROM unit_renamed AS renamed WHERE renamed.unit = other.id
    ORDER BY renamed.number DESC LIMIT 1
), other.name_folded)"""
_ANOTHERS_NAME = (
    "EXISTS (SELECT 1 FROM unit AS other "  # noqa: S608  # text of this file alone
    f"WHERE other.id <> NEW.{{own}} AND {_CALLED_NOW} = NEW.name_folded)"
)
# Two units that are named at the same instant would not see each other.
_ONE_NAMING = "PERFORM 1 FROM log_head FOR UPDATE;"

# Those of the second migration.
UNIT_RULES = (
    Rule(
        name="unit_has_a_name_of_its_own",
        table="unit",
        when="INSERT",
        says="unit_name_taken",
        lock=_ONE_NAMING,
        condition=_ANOTHERS_NAME.format(own="id"),
    ),
    Rule(
        name="renamed_unit_has_a_name_of_its_own",
        table="unit_renamed",
        when="INSERT",
        says="unit_name_taken",
        lock=_ONE_NAMING,
        condition=_ANOTHERS_NAME.format(own="unit"),
    ),
    Rule(
        name="unit_is_renamed_in_order",
        table="unit_renamed",
        when="INSERT",
        says="unit_is_renamed_in_order",
        condition="NEW.number <> 1 + (SELECT count(*) FROM unit_renamed WHERE unit = NEW.unit)",
    ),
)

# Those of the first.
PERSON_RULES = (
    Rule(
        name="person_keeps_id_login_and_staff_number",
        table="person",
        when="UPDATE",
        says="person_keeps_id_login_and_staff_number",
        # One that could be changed could be used again for another.
        condition=" OR ".join(f"NEW.{name} <> OLD.{name}" for name in ("id", *_IDENTITY, *_COMPARED)),
    ),
    Rule(
        name="person_is_compared_by_login_and_staff_number",
        table="person",
        when="INSERT",
        says="identity_is_folded",
        condition=f"{_is_not_folded('login', between='-.')} OR {_is_not_folded('staff_number', between='-')}",
    ),
)
