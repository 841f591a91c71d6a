"""Nothing of one's own reading is lost, whatever fails before the press; and what is not kept says so."""

from datetime import timedelta

import pytest
from playwright.sync_api import Locator, Response, expect

from app.cli.installation import now
from app.keys import token_digest
from app.records.state import Phase
from tests.browser.beforehand import Beforehand, events_of
from tests.browser.people import Nurse
from tests.browser.ward import Scene, Ward

pytestmark = [pytest.mark.browser, pytest.mark.timeout(300)]

_BACK = "What you had written here is back. It counts only once you press Keep."
_LOT = "ZQX-7319"


def _field(nurse: Nurse, name: str) -> Locator:
    return nurse.page.locator(f"input[name={name}]")


def _types(nurse: Nurse, name: str, text: str) -> None:
    """Write something, and wait until the server has it."""

    def has_it(answer: Response) -> bool:
        return answer.url.endswith("/typing") and text in (answer.request.post_data or "")

    with nurse.page.expect_response(has_it) as answer:
        _field(nurse, name).fill(text)
    assert answer.value.status == 204


def _session_runs_out(ward: Ward, nurse: Nurse) -> None:
    cookies = {each["name"]: each["value"] for each in nurse.device.context.cookies()}
    with ward.running.site.store.write() as tx:
        tx.touch_session(token_digest(cookies["countersign-session"]), now() - timedelta(hours=11))


def test_what_is_typed_outlasts_reload_battery_network_and_session(
    ward: Ward, scene: Scene, beforehand: Beforehand
) -> None:
    beforehand.at_stage(Phase.READING)
    one = ward.nurse("n.ferrow")
    path = f"/check/{beforehand.check}/read/label"
    one.go(path)

    # A reload: also what is not yet well written is there again.
    _types(one, "lot", _LOT)
    one.page.locator("input[name=strength]").first.check()
    _types(one, "amount", ".2")
    one.page.reload()
    one.sees(_BACK)
    expect(_field(one, "amount")).to_have_value(".2")

    # The battery: the device is gone, and the nurse signs in at another.
    one.device.context.close()
    one = ward.nurse("n.ferrow")
    one.go(path)
    one.sees(_BACK)
    expect(_field(one, "lot")).to_have_value(_LOT)

    # The network: nothing is sent, the page says so and keeps what stands there; then a press sends it.
    one.device.context.set_offline(offline=True)
    _field(one, "amount").fill("30")
    one.device.complaints.clear()
    keep = one.page.get_by_role("button", name="Keep, and go on")
    keep.click()
    one.sees("No connection: nothing was sent.")
    one.device.context.set_offline(offline=False)
    one.write_source(scene.quiet["label"])
    _field(one, "lot").fill(_LOT)
    keep.click()
    one.sees_heading("Device")
    one.device.complaints.clear()

    # The session: the press comes too late, and after signing in one is where one was.
    _field(one, "lockout").fill("17.39")
    _session_runs_out(ward, one)
    one.page.get_by_role("button", name="Keep, and go on").click()
    one.sees_heading("Sign in")
    one.sees("After signing in you go on where you were.")
    one.write("Id", one.who.login)
    one.write("Secret", one.who.secret)
    one.page.get_by_label("Unit of this shift").select_option(one.who.unit)
    one.press("Sign in")
    one.sees_heading("Device")
    one.sees(_BACK)
    expect(_field(one, "lockout")).to_have_value("17.39")

    # None of it counts before it is kept, and nothing was handed in by all this.
    one.go(f"/check/{beforehand.check}/read")
    one.sees("Written and not kept yet:", _LOT)
    one.does_not_see("17.39")
    assert list(events_of(ward.running, beforehand.check, "handed-in")) == []


def test_what_is_typed_at_the_steps_outlasts_reload_and_battery(
    ward: Ward, scene: Scene, beforehand: Beforehand
) -> None:
    beforehand.at_stage(Phase.STEPS)
    one = ward.nurse("n.ferrow")
    path = f"/check/{beforehand.check}/steps"
    one.go(path)
    _types(one, "respiratory_rate", "1")
    _types(one, "volume", "2.3")
    one.page.reload()
    one.sees("is back. Look whether it still holds; it counts only once you say so.")

    one.device.context.close()
    one, other = ward.nurse("n.ferrow"), ward.nurse("t.osmund")
    one.go(path)
    for name, typed in (("respiratory_rate", "1"), ("volume", "2.3")):
        expect(_field(one, name)).to_have_value(typed)
    other.go(path)
    expect(_field(other, "volume")).to_have_value("")
    one.write_down(scene.baseline, scene.primed)
    one.press("what is ticked")
    one.does_not_see("is back.")
    assert list(events_of(ward.running, beforehand.check, "baseline-observed")) == [beforehand.first.id]
