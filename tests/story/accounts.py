"""An account that is made, through the real workflow."""

from app.people import Role
from app.workflow import accounts
from tests.story.people import ADELE, WARD
from tests.story.ward import Ward


def a_person(**changes: object) -> accounts.NewPerson:
    """What a new account is made from, but for these changes."""
    given: dict[str, object] = {
        "login": "r.hale",
        "staff_number": "DM-3001",
        "printed_name": "Rowan Hale",
        "roles": frozenset({Role.NURSE}),
        "unit": WARD,
        **changes,
    }
    return accounts.NewPerson(**given)  # type: ignore[arg-type]  # named one by one in the tables below


def makes(ward: Ward, **changes: object) -> object:
    """The administrator makes the account."""
    return accounts.make_account(
        ward.site, ward.now, by=ADELE.id, new_id=ward.new_id(), person=a_person(**changes)
    )
