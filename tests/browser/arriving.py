"""Whoever comes to a screen: signing in, and a shared one that is locked and unlocked by six digits."""

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


def sign_in(ward: Ward, take: Callable[[Person, str], None]) -> Nurse:
    """From the sign-in page to one's own key and secret."""
    one = Nurse(ward.device(), ward.running.person("n.ferrow"), ward.running.address)
    # To the browser another site, although one machine answers for both.
    one.page.goto(f"{one.address.replace('127.0.0.1', 'localhost')}/sign-in")
    one.page.evaluate("to => { location.href = to; }", f"{one.address}/sign-in")
    one.sees_heading("This link came from another site")
    take(one, "a link from another site")
    one.follow("Go on")
    take(one, "sign in")
    one.write("Id", "n.ferrow")
    one.write("Secret", "a wrong secret")
    one.press("Sign in")
    take(one, "sign in refused")
    one.go("/first-secret")
    take(one, "first secret")
    one.sign_in()
    take(one, "my checks, none")
    one.follow("My signature")
    take(one, "my signing key")
    one.go("/keys/secret")
    take(one, "a new secret")
    one.go("/authenticator")
    take(one, "my authenticator")
    return one
