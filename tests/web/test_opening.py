"""Open a check, find it by its code, join it; and the lists in which it stands."""

import re

import pytest
import zxingcpp

from app.records.canonical import canonical, digest
from app.records.kept import SiteData
from app.records.rules import LIBRARY
from tests.support.browser import Browser
from tests.support.world import UNIT, World


def shown_code(browser: Browser) -> str:
    """The code on the page."""
    return next(
        "".join(each.itertext()).strip()
        for each in browser.page.all("p")
        if each.get("class") == "join-code exact"
    )


def test_opening_asks_for_unit_and_bed_and_nothing_else(world: World) -> None:
    browser = world.at("n.ferrow")
    browser.get("/open")

    form, _ = browser.page.form_with("Open the check")

    assert form.names == {"csrf_token", "unit", "bed"}
    assert dict(form.held)["unit"] == UNIT


def test_whoever_needs_no_code_begins_to_read_with_the_press_that_opens(world: World) -> None:
    browser = world.at("n.ferrow")
    browser.get("/open")

    # Enter in the field of the bed presses the first button.
    form, button = browser.page.form_with("Open it, and begin my reading")
    assert form.buttons[0] == button
    page = browser.press("Open it, and begin my reading", unit=UNIT, bed="12")

    assert page.path.endswith("/read/wristband")
    # The code is a way further, for whoever wants it.
    check = page.path.split("/")[2]
    assert browser.get(f"/check/{check}/code").heading == "A second person is wanted"


def test_the_code_brings_the_second_in_from_another_device(world: World) -> None:
    first, second = world.at("n.ferrow"), world.at("t.osmund")
    check = world.open_check(first)
    code = shown_code(first)
    assert len(code) == 6
    second.get("/join")

    page = second.press("Find the check", code=f" {code[:3].lower()} {code[3:].lower()} ")
    assert page.path == f"/check/{check}/join"
    assert "Nadia Ferrow" in page.text
    assert "Ward 4 East, bed 12" in page.text

    page = second.press("Join and read alone")
    assert page.path == f"/check/{check}/read/wristband"


def scanned(browser: Browser) -> str:
    """What another library reads off the square code on the page, drawn with four dots a module."""
    (code,) = [
        each
        for each in browser.page.all("{http://www.w3.org/2000/svg}svg")
        if each.get("class") == "square-code"
    ]
    side = int(code.get("viewBox", "").split()[-1])
    drawn = [bytearray(b"\xff" * side) for _ in range(side)]
    across = down = 0
    # Of the path there are only moves and level lines, each one module high: "M4 4.5h7m3 0h3".
    path = next(each for each in code.iter() if each.get("stroke"))
    for kind, x, y in re.findall(r"([Mmh])(-?\d+)(?: (-?[\d.]+))?", path.get("d", "")):
        if kind == "h":
            drawn[down][across : across + int(x)] = bytes(int(x))
        across, down = (int(x), int(float(y))) if kind == "M" else (across + int(x), down + int(y or 0))
    rows = b"".join(bytes(dot for dot in row for _ in range(4)) * 4 for row in drawn)
    image = zxingcpp.ImageView(rows, 4 * side, 4 * side, zxingcpp.ImageFormat.Lum)  # type: ignore[arg-type]
    (found,) = zxingcpp.read_barcodes(image)
    return found.text


def test_a_scan_brings_the_code_and_still_asks(world: World) -> None:
    first, second = world.at("n.ferrow"), world.at("t.osmund")
    check = world.open_check(first)
    address = scanned(first)
    assert re.fullmatch(r"https?://[^/]+/join\?code=" + shown_code(first), address)

    second.get(address[address.index("/join") :])
    assert second.press("Find the check").path == f"/check/{check}/join"


def test_without_a_code_there_is_nothing_to_scan(world: World) -> None:
    first = world.at("n.ferrow")
    check = world.open_check(first)
    first.get(f"/check/{check}/code")

    with pytest.raises(ValueError, match="unpack"):
        scanned(first)


def test_an_overlong_address_fills_in_no_more_than_a_code(world: World) -> None:
    second = world.at("t.osmund")
    form, _ = second.get("/join?code=" + "A" * 500).form_with("Find the check")

    assert dict(form.held)["code"] == "A" * 40


def test_a_code_lives_ten_minutes(world: World) -> None:
    first, second = world.at("n.ferrow"), world.at("t.osmund")
    world.open_check(first)
    code = shown_code(first)
    assert "10 minutes" in first.page.text

    world.clock.pass_(minutes=4)
    second.get("/join")
    world.clock.pass_(minutes=4)
    second.get("/join")
    world.clock.pass_(minutes=2, seconds=1)
    page = second.press("Find the check", code=code)

    assert page.status == 422
    assert "wrong, used or too old" in page.text


def test_a_new_code_is_made_for_those_two_only(world: World) -> None:
    first, other = world.at("n.ferrow"), world.at("t.osmund")
    check = world.open_check(first)
    old = shown_code(first)

    first.get(f"/check/{check}/code")
    assert "shown once" in first.page.text
    first.press("Make a code")
    assert shown_code(first) != old

    assert other.get(f"/check/{check}/code").status == 404


def test_no_code_is_made_once_both_have_joined(world: World) -> None:
    first, _, check = world.pair()

    assert first.get(f"/check/{check}/code").path.startswith(f"/check/{check}/read")


def test_a_wrong_code_and_a_blank_one_are_said_beside_the_field(world: World) -> None:
    browser = world.at("t.osmund")
    browser.get("/join")

    for code, says in (("CCCCCC", "wrong, used or too old"), ("", "Write the code."), ("C" * 41, "too long")):
        page = browser.press("Find the check", code=code)
        assert page.status == 422
        assert says in page.text
        assert page.with_id("fault-code") is not None


def test_a_code_of_another_unit_says_how_to_get_there(world: World) -> None:
    first, second = world.at("n.ferrow"), world.at("i.bexley", unit="recovery")
    world.open_check(first)
    second.get("/join")

    page = second.press("Find the check", code=shown_code(first))

    assert page.status == 422
    assert "another unit" in page.text


def test_one_check_at_a_bed(world: World) -> None:
    first, second = world.at("n.ferrow"), world.at("t.osmund")
    check = world.open_check(first)
    second.get("/open")

    page = second.press("Open the check", unit=UNIT, bed="12")

    assert page.status == 409
    assert page.links()["Show that check"] == f"/check/{check}"


def test_the_opener_is_told_which_infusion_it_is(world: World) -> None:
    browser = world.at("n.ferrow")
    world.open_check(browser)
    assert "infusion" not in browser.page.text
    browser.follow("Opened by mistake: end this check")
    browser.press("Give this check up", reason="opened-in-error")

    world.open_check(browser)
    assert "This check belongs to the same infusion" in browser.page.text


def test_a_check_on_another_unit_wants_a_shift_there(world: World) -> None:
    browser = world.at("n.ferrow")
    browser.get("/open")

    page = browser.press("Open the check", unit="recovery", bed="12")

    assert page.status == 422
    assert "sign in again for this one" in page.text


def test_unit_and_bed_are_needed(world: World) -> None:
    browser = world.at("n.ferrow")
    browser.get("/open")

    page = browser.press("Open the check", unit="", bed="  ")
    assert page.status == 422
    assert "Choose the unit." in page.text
    assert "Write the bed." in page.text

    form, _ = page.form_with("Open the check")
    forged = [("csrf_token", browser.token()), ("unit", "nowhere"), ("bed", "1")]
    assert "Choose the unit." in browser.post(form.action, forged).text


def test_a_third_person_cannot_join(world: World) -> None:
    _, _, check = world.pair()
    third = world.at("r.calloway")
    third.get(f"/check/{check}/join")

    page = third.press("Join and read alone")

    assert page.status == 409
    assert "A third cannot." in page.text


def test_whoever_has_joined_goes_straight_to_the_check(world: World) -> None:
    first, _, check = world.pair()

    assert first.get(f"/check/{check}/join").path == f"/check/{check}/read/wristband"


def test_whoever_opened_is_the_first_nurse_on_every_page(world: World) -> None:
    first, second, check = world.pair()

    assert "You are the first nurse" in first.get(f"/check/{check}/read/wristband").text
    assert "You are the second nurse" in second.get(f"/check/{check}/read/wristband").text


def test_a_check_stands_in_the_lists_of_those_who_may_know_of_it(world: World) -> None:
    first = world.at("n.ferrow")
    world.open_check(first)

    assert "Go on: Ward 4 East, bed 12" in first.get("/").body.replace("\xa0", " ")
    colleague = world.at("t.osmund")
    assert "second wanted" in colleague.page.text
    assert "Join as second" in colleague.page.text
    assert "Join as second" not in world.at("p.varga").page.text
    for login in ("q.lindqvist", "a.moreau"):
        assert "bed 12" not in world.at(login).page.text
    assert "bed 12" not in world.at("i.bexley", unit="recovery").page.text


def test_each_role_is_offered_what_it_may_do(world: World) -> None:
    offered = {
        "n.ferrow": {"Open a check", "Join by code", "An infusion had to start without a check"},
        "r.calloway": {"Findings of the checks that are over", "Open a check"},
        "p.varga": {"Findings of the checks that are over", "Export"},
        "q.lindqvist": {"Findings of the checks that are over", "Export"},
        "a.moreau": {"Logins"},
    }
    for login, links in offered.items():
        assert links <= set(world.at(login).page.links()), login
    assert not set(world.at("a.moreau").page.links()) & {"Open a check", "Join by code", "Export"}


def test_no_check_opens_without_a_drug_library(world: World) -> None:
    with world.site.store.write() as tx:
        none = canonical({"format": "countersign.library/1", "version": "none", "drugs": {}})
        tx.publish(
            SiteData(
                what=LIBRARY,
                version="none",
                content=none,
                digest=digest(none),
                in_force_from=world.clock.now,
                number=2,
            )
        )
    world.clock.pass_(minutes=1)
    browser = world.at("n.ferrow")
    browser.get("/open")

    page = browser.press("Open the check", unit=UNIT, bed="12")

    assert page.status == 409
    assert "No drug library is in force, so no dose can be judged." in page.text
