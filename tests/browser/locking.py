"""A shared screen between two people: locked, and unlocked by six digits."""

from collections.abc import Callable

from tests.browser.people import Nurse, Person
from tests.browser.ward import Ward


def lock_and_unlock(ward: Ward, take: Callable[[Person, str], None]) -> None:
    """A shared screen between two people."""
    shared = Nurse(ward.device(), ward.running.person("i.bexley"), ward.running.address)
    shared.sign_in("739204")
    shared.press("Lock")
    take(shared, "locked, one name")
    shared.go("/sign-in")
    take(shared, "sign in, or unlock by a name")
    shared.follow(shared.who.printed_name)
    take(shared, "unlock by six digits")
    shared.write("Six digits", "739205")
    shared.sees("4 tries are left")
    take(shared, "unlock, wrong digits")
    shared.write("Six digits", "739204")
    shared.sees_heading("My checks")
