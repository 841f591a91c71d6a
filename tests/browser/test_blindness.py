"""Blindness as browsers see it: nothing of one nurse's reading at the other's device, nothing kept on any."""

import re
import shutil
import sqlite3
from pathlib import Path
from urllib.parse import urlencode

import pytest
from playwright.sync_api import Playwright, expect

from app.records.reading import Answers
from app.records.state import Phase
from tests.browser.beforehand import Beforehand
from tests.browser.devices import FLAGS, Device, absent
from tests.browser.people import Nurse, Person
from tests.browser.two import two
from tests.browser.ward import Scene, Ward
from tests.support.chromium import whole_chromium

pytestmark = [pytest.mark.browser, pytest.mark.timeout(300)]

CANARIES = ("ZQX-7319", "7.3719", "QZW-CANARY-LOT", "73.19")


def canary(scene: Scene) -> Answers:
    """A reading unlike anything else."""
    return {
        **scene.quiet,
        "wristband": {**scene.quiet["wristband"], "identifier": CANARIES[0]},
        "order": {**scene.quiet["order"], "demand_dose": f"{CANARIES[1]} mg"},
        "label": {**scene.quiet["label"], "lot": CANARIES[2]},
        "monitor": {**scene.quiet["monitor"], "low_spo2": f"{CANARIES[3]} %"},
    }


def test_before_both_have_handed_in_nothing_shows_at_anybody_elses_device(
    ward: Ward, scene: Scene, beforehand: Beforehand
) -> None:
    beforehand.at_stage(Phase.READING)
    (one, other), everybody = ward.two(), _everybody_else(ward)
    for nurse in (one, other):
        nurse.look_at_check(scene.place)
    one.read(canary(scene))
    _everybody_looks_around(other, everybody)
    one.hand_in()
    _everybody_looks_around(other, everybody)
    # A second tab too shows its own person alone.
    other.device.second_tab(one.page.url.removesuffix("/waiting"))
    assert other.source_in_front is not None
    other.device.look()
    for each in ward.devices:
        if each is not one.device:
            absent(CANARIES, each)


def _everybody_else(ward: Ward) -> list[Person]:
    logins = ("r.calloway", "p.varga", "q.lindqvist", "a.moreau", "i.bexley")
    everybody = [ward.person(login) for login in logins]
    for each in everybody:
        each.device.may_be_refused |= {403, 404}
    return everybody


def _everybody_looks_around(other: Nurse, everybody: list[Person]) -> None:
    check = "/".join(other.page.url.split("/")[3:5])
    for path in ("", f"{check}", f"{check}/read", f"{check}/waiting", f"{check}/steps", f"{check}/stop"):
        other.go(f"/{path}")
    for person in everybody:
        for path in ("", check, f"{check}/record", f"{check}/sign", "findings"):
            person.go(f"/{path}")


def test_after_a_dispute_the_other_still_sees_no_value(
    ward: Ward, scene: Scene, beforehand: Beforehand
) -> None:
    beforehand.at_stage(Phase.READING).reads(beforehand.who("n.ferrow"), canary(scene))
    other = ward.nurse("t.osmund")
    other.look_at_check(scene.place)
    other.read_and_hand_in(scene.quiet)
    other.comes_to_the_comparison()
    other.sees_do_not_start("Your two readings do not come together yet")
    _everybody_looks_around(other, _everybody_else(ward))
    other.look_at_check(scene.place)
    other.read_these_again()
    other.read(scene.quiet)
    for each in ward.devices:
        absent(CANARIES, each)


def test_addresses_and_titles_hold_no_value(ward: Ward, scene: Scene) -> None:
    ward.signs_in_by_hand = True
    one, other = two(ward, scene).at_stage(Phase.READING).both
    one.read_and_hand_in(canary(scene))
    for shown in (*one.device.shown, *other.device.shown):
        path = shown.url.removeprefix(ward.running.address)
        assert _ADDRESS.fullmatch(path), path
        assert _TITLE.fullmatch(shown.title), shown.title


# Ids that say nothing, and names of screens; no number, no drug, no bed.
_ADDRESS = re.compile(r"/|/(sign-in|open|join|check/[0-9a-f]{32}(/[a-z-]+){0,2})")
_TITLE = re.compile(r"[A-Z][a-z ]+(: my reading)?")


def test_nothing_is_kept_on_the_device(ward: Ward, scene: Scene) -> None:
    one = ward.nurse("n.ferrow")
    one.open_check(scene.bed)
    one.begin_reading()
    one.read_and_hand_in(canary(scene))
    assert one.page.evaluate(_KEPT) == {
        "local": 0,
        "session": 0,
        "databases": [],
        "caches": [],
        "workers": 0,
        "cookies": "",
    }


# What a page of this origin can find again later; a cookie that script can read would be in the last.
_KEPT = """async () => ({
  local: window.localStorage.length,
  session: window.sessionStorage.length,
  databases: await window.indexedDB.databases(),
  caches: window.caches ? await window.caches.keys() : [],
  workers: (await navigator.serviceWorker.getRegistrations()).length,
  cookies: document.cookie,
})"""


_BREAK_THE_POLICY = """() => {
  const script = document.createElement("script");
  script.textContent = "window.ran = true";
  document.body.append(script);
}"""


def test_a_page_that_breaks_the_policy_is_noticed(ward: Ward) -> None:
    # Without this, that no page complains would show nothing.
    one = ward.nurse("n.ferrow")
    with one.page.expect_console_message(lambda message: "Content Security Policy" in message.text):
        one.page.evaluate(_BREAK_THE_POLICY)
    assert one.page.evaluate("window.ran === undefined")
    assert any("Content Security Policy" in each for each in one.device.complaints)
    one.device.complaints.clear()


def test_a_cookie_and_a_form_replayed_after_sign_out_are_dead(ward: Ward, scene: Scene) -> None:
    one = ward.nurse("n.ferrow")
    one.open_check(scene.bed)
    one.begin_reading()
    one.write_source(canary(scene)["wristband"])
    cookies = one.device.context.cookies()
    address, fields = _posted_by(one)
    one.read(canary(scene))
    reading = one.page.url
    one.sign_out()
    thief = ward.device()
    thief.bring(cookies)
    thief.page.goto(reading)
    expect(thief.page.get_by_role("heading", level=1)).to_have_text("Sign in")
    answer = thief.context.request.post(
        address,
        data=urlencode(fields),
        headers={"Content-Type": "application/x-www-form-urlencoded", "Origin": ward.running.address},
        max_redirects=0,
    )
    assert answer.status == 303
    assert "/sign-in" in answer.headers["location"]
    assert not any(each in answer.text() for each in CANARIES)


def _posted_by(nurse: Nurse) -> tuple[str, list[tuple[str, str]]]:
    """Where the form of the page posts, and everything that it posts now."""
    form = nurse.page.locator("main form").first
    fields = form.evaluate("form => [...new FormData(form).entries()]")
    return form.evaluate("form => form.action"), [(name, value) for name, value in fields]


def test_a_profile_on_disk_remembers_nothing(
    playwright: Playwright, ward: Ward, scene: Scene, tmp_path: Path
) -> None:
    profile = tmp_path / "profile"
    context = playwright.chromium.launch_persistent_context(
        str(profile),
        executable_path=whole_chromium(),
        args=list(FLAGS),
        ignore_default_args=["--disable-component-update"],
    )
    one = ward.nurse("n.ferrow", Device(context=context, page=context.pages[0]))
    one.open_check(scene.bed)
    one.begin_reading()
    one.hurries = False
    one.read_and_hand_in(canary(scene))
    one.sign_out()
    context.close()
    assert _remembered(profile) == []
    # What the browser fills in by itself later, it keeps in this database: it is there, and it is empty.
    kept = shutil.copy(next(profile.rglob("Web Data")), tmp_path / "web-data.sqlite3")
    with sqlite3.connect(kept) as database:
        assert database.execute("SELECT name, value FROM autofill").fetchall() == []
    database.close()


def _remembered(profile: Path) -> list[tuple[str, str]]:
    contents = {path: path.read_bytes() for path in profile.rglob("*") if path.is_file()}
    return [
        (str(path.relative_to(profile)), each)
        for path, content in contents.items()
        for each in CANARIES
        if each.encode() in content or each.encode("utf-16-le") in content
    ]
