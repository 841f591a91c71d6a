"""A passkey in Chromium, with an authenticator of the browser's own: enrolled, at sign-in and at signing."""

from collections.abc import Iterator
from dataclasses import replace

import pytest
from playwright.sync_api import CDPSession

from app.cli.installation import now
from app.records.state import Phase
from tests.browser.beforehand import Beforehand, events_of
from tests.browser.devices import Device
from tests.browser.people import Nurse
from tests.browser.ward import Scene, Ward
from tests.support.policies import publish_policy

pytestmark = [pytest.mark.browser, pytest.mark.timeout(300)]

# A key in the hand that keeps passkeys itself and knows its holder; the touch is given at once.
IN_THE_HAND = {
    "protocol": "ctap2",
    "transport": "usb",
    "hasResidentKey": True,
    "hasUserVerification": True,
    "isUserVerified": True,
    "automaticPresenceSimulation": True,
}


class Key:
    """The authenticator that a device holds."""

    def __init__(self, at: Device) -> None:
        """Put one in."""
        self._line: CDPSession = at.context.new_cdp_session(at.page)
        self._line.send("WebAuthn.enable")
        made = self._line.send("WebAuthn.addVirtualAuthenticator", {"options": IN_THE_HAND})
        self._id = made["authenticatorId"]

    def used(self) -> Iterator[int]:
        """How often each passkey on it was used."""
        kept = self._line.send("WebAuthn.getCredentials", {"authenticatorId": self._id})
        yield from (each["signCount"] for each in kept["credentials"])

    def copied(self) -> None:
        """It counts from the beginning, as a copy from before would."""
        kept = self._line.send("WebAuthn.getCredentials", {"authenticatorId": self._id})
        (one,) = kept["credentials"]
        self._line.send("WebAuthn.clearCredentials", {"authenticatorId": self._id})
        again = {"authenticatorId": self._id, "credential": {**one, "signCount": 0}}
        self._line.send("WebAuthn.addCredential", again)


def writes(one: Nurse, **fields: str) -> None:
    for name, text in fields.items():
        one.page.locator(f"#field-{name}").fill(text)


def signs_in(one: Nurse, button: str) -> None:
    writes(one, login=one.who.login, secret=one.who.secret)
    one.page.get_by_label("Unit of this shift").select_option(one.who.unit)
    one.page.get_by_role("button", name=button, exact=True).click()


def test_a_passkey_is_enrolled_signs_in_and_signs_and_a_copy_of_it_does_not(
    ward: Ward, scene: Scene, beforehand: Beforehand
) -> None:
    beforehand.at_stage(Phase.SIGNING)
    # Passkeys are made for a name, never for an address in numbers.
    ward.running = replace(ward.running, address=ward.running.address.replace("127.0.0.1", "localhost"))
    one = ward.nurse("n.ferrow")
    key = Key(one.device)
    publish_policy(ward.running.site, now(), second_factor={"nurse": "passkey"})
    one.go("/")
    one.press("Sign out")
    signs_in(one, "Sign in")
    one.sees_heading("Enrol an authenticator first")

    writes(one, secret=one.who.secret)
    one.press("Enrol a passkey instead")
    one.sees_heading("Sign in")
    signs_in(one, "Sign in with my passkey")
    one.sees_heading("My checks")

    one.look_at_check(scene.place)
    one.follow("Go on: sign")
    writes(one, login=one.who.login, secret=one.who.secret)
    one.press("Sign with my passkey")
    one.sees_heading("You have signed: your colleague signs next")
    assert len([*events_of(ward.running, beforehand.check, "signed")]) == 1
    assert [*key.used()] == [3]

    key.copied()
    one.press("Sign out")
    signs_in(one, "Sign in with my passkey")
    one.sees("there may be a copy of it")
