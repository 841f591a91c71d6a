"""What only some sites ask for, in Chromium: read blind by both, and shown once their readings agree."""

import pytest

from tests.browser.two import two
from tests.browser.ward import Scene, Ward

pytestmark = [pytest.mark.browser, pytest.mark.timeout(300)]

ASKED = "Order number", "Prescriber", "Device serial number"
READ = {
    "order": {"order_number": "RX 20-417", "prescriber": "Dr Ada Quill"},
    "device": {"device_serial": "SN-0042"},
}


def test_where_policy_asks_for_them_both_read_order_number_prescriber_and_device_serial(
    ward: Ward, scene: Scene
) -> None:
    ward.asks_for_more()
    right = scene.right_but(chart={"sedatives": "none"}, **READ)
    misread = {**right, "device": {**right["device"], "device_serial": "SN-0024"}}
    pair = two(ward, scene)
    pair.opens()
    pair.joins()

    pair.read(right, misread)

    for nurse in pair.both:
        nurse.look_at_check(scene.place)
        nurse.sees("Your two readings do not come together yet", "Device serial number")
        nurse.does_not_see("SN-0042", "SN-0024", "RX 20-417", "Ada Quill")
    pair.one.read_these_again()
    pair.read(right)
    pair.one.look_at_check(scene.place)
    pair.one.sees_heading("Order, label and device agree")
    pair.one.page.get_by_text("What agrees").click()
    pair.one.sees(*ASKED[::2], "RX 20-417", "SN-0042", "Dr Ada Quill")
