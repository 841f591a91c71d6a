"""A link on another site: whoever is signed in here stays so, and the screen keeps its name."""

from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import expect

from tests.browser.secure import serving
from tests.browser.ward import Ward

if TYPE_CHECKING:
    from wsgiref.types import StartResponse, WSGIEnvironment

pytestmark = [pytest.mark.browser, pytest.mark.timeout(300)]

# To the browser two sites, although one machine answers for both.
ONE, OTHER = "127.0.0.1", "localhost"


def test_a_link_from_another_site_neither_signs_out_nor_renews_the_screen(ward: Ward) -> None:
    def linking(_environ: "WSGIEnvironment", start_response: "StartResponse") -> list[bytes]:
        start_response("200 OK", [("Content-Type", "text/html")])
        to = f"{ward.running.address}/open".encode()
        return [b"<!DOCTYPE html><title>Linking</title><a href=%s>Checks</a>" % to]

    ward.signs_in_by_hand = True
    one = ward.nurse("n.ferrow", ward.device())
    before = one.device.context.cookies()

    with serving(linking, https=False) as address:
        one.page.goto(address.replace(ONE, OTHER))
        one.page.get_by_role("link", name="Checks").click()
        one.sees_heading("This link came from another site")
        assert one.device.context.cookies() == before
        one.follow("Go on")

    expect(one.page).to_have_url(f"{ward.running.address}/open")
    one.sees_heading("Open a check")
