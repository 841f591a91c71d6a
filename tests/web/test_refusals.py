"""What each page says when an act behind it refuses, also where only a race or a forger brings that about."""

from collections.abc import Callable
from datetime import timedelta

import pytest

from app.records.formats import POLICY
from app.records.kept import HelpTaker
from app.records.state import Phase
from app.storage import StoreUnavailable
from app.workflow import accounts, opening, reading, signing_in
from app.workflow.refusals import Incomplete, NoSuchUnit, NotAllowed, NotFound, NotNow
from tests.support.browser import ORIGIN, Browser, Page
from tests.support.world import UNIT, World, make_world

Refuse = Callable[[str, object], None]


@pytest.fixture
def refuse(monkeypatch: pytest.MonkeyPatch) -> Refuse:
    """Have an act of the workflow answer with a refusal."""

    def made(act: str, refusal: object) -> None:
        monkeypatch.setattr(f"app.workflow.{act}", lambda *_arguments, **_named: refusal)

    return made


def open_at(browser: Browser, bed: str = "12") -> Page:
    """Try to open a check."""
    browser.get("/open")
    return browser.press("Open the check", unit=UNIT, bed=bed)


def test_whoever_took_the_request_for_help_can_be_neither_of_the_two(world: World) -> None:
    first = world.at("n.ferrow")
    check = world.open_check(first)
    charge_nurse = world.person("r.calloway").id
    with world.site.store.write() as tx:
        tx.add_help_taker(
            HelpTaker(help="h" * 32, turn=1, check=check, person=charge_nurse, taken_at=world.clock.now)
        )
    third = world.at("r.calloway")
    third.get(f"/check/{check}/join")

    page = third.press("Join and read alone")

    assert page.status == 409
    assert "The third person can be neither of the two" in page.text


def test_nor_can_that_person_open_the_infusions_next_check(world: World, refuse: Refuse) -> None:
    refuse("opening.open_check", opening.ThirdPersonElsewhere())

    page = open_at(world.at("r.calloway"))

    assert page.status == 409
    assert "The third person can be neither of the two" in page.text


def test_whoever_was_reset_meanwhile_is_told_that_a_colleague_comes_first(
    world: World, refuse: Refuse
) -> None:
    refuse("opening.open_check", opening.NotSeen())
    page = open_at(world.at("n.ferrow"))
    assert page.status == 409
    assert "No colleague has seen you since your login was made or reset." in page.text


def test_a_unit_that_is_gone_is_asked_for_again(world: World, refuse: Refuse) -> None:
    refuse("opening.open_check", NoSuchUnit())
    assert "Choose the unit." in open_at(world.at("n.ferrow")).text

    browser = world.browser()
    refuse("signing_in.sign_in", signing_in.NoSuchUnit())
    page = world.sign_in(browser, "n.ferrow")
    assert page.status == 422
    assert "Choose the unit of this shift." in page.text


def test_a_code_is_no_longer_made_once_the_second_has_joined(world: World, refuse: Refuse) -> None:
    browser = world.at("n.ferrow")
    check = world.open_check(browser)
    refuse("opening.new_code", opening.Full())

    assert browser.press("Make another code").path.startswith(f"/check/{check}/read")

    browser.get(f"/check/{check}/code")
    refuse("opening.new_code", NotFound())
    assert browser.press("Make a code").status == 404


def test_joining_too_late_says_so(world: World, refuse: Refuse) -> None:
    check = world.open_check(world.at("n.ferrow"))
    browser = world.at("t.osmund")

    for refusal, status in ((NotNow(phase=Phase.ABANDONED), 409), (NotFound(), 404)):
        browser.get(f"/check/{check}/join")
        refuse("opening.join_check", refusal)
        assert browser.press("Join and read alone").status == status


def test_joining_twice_does_no_harm(world: World) -> None:
    check = world.open_check(world.at("n.ferrow"))
    browser = world.at("t.osmund")
    form, _ = browser.get(f"/check/{check}/join").form_with("Join and read alone")

    for _ in range(2):
        assert browser.post(form.action, form.held).path == f"/check/{check}/read/wristband"


@pytest.mark.parametrize("method", ["get", "post"])
def test_a_source_is_closed_once_the_reading_is_handed_in(world: World, method: str) -> None:
    browser, _, check = world.pair()
    form, _ = browser.get(f"/check/{check}/read/wristband").form_with("Keep, and")
    browser.press("Keep, and", identifier="DM-1")
    browser.get(f"/check/{check}/read")
    browser.press("Hand in")

    path = f"/check/{check}/read/wristband"
    page = browser.get(path) if method == "get" else browser.post(path, form.held)

    assert page.path == f"/check/{check}/waiting"


def test_a_hand_in_that_another_window_was_faster_with_ends_at_the_waiting_page(
    world: World, refuse: Refuse
) -> None:
    browser, _, check = world.pair()
    form, _ = browser.get(f"/check/{check}/read/wristband").form_with("Keep, and")
    refuse("reading.save_draft", reading.SignInAnew())

    page = browser.post(form.action, form.held)

    assert page.status == 409
    assert page.heading == "Sign in anew, then read"


def test_an_account_that_lacks_something_says_what(world: World, refuse: Refuse) -> None:
    browser = world.at("a.moreau")
    browser.get("/accounts/new")
    refuse("accounts.make_account", Incomplete(fields=("login",)))

    page = browser.press(
        "Make the login",
        printed_name="Oona Marsh",
        login="o.marsh",
        staff_number="DM-1",
        unit=UNIT,
        roles="nurse",
    )
    assert page.status == 422
    assert page.links()["Id"] == "#field-login"

    browser.get(f"/accounts/{world.person('n.ferrow').id}")
    refuse("accounts.set_roles", Incomplete(fields=("roles",)))
    assert "Choose at least one role." in browser.press("Change the roles", roles="nurse").text

    browser.get(f"/accounts/{world.person('n.ferrow').id}")
    refuse("accounts.set_roles", accounts.NoSuchPerson())
    assert browser.press("Change the roles", roles="nurse").status == 404


def test_a_stop_that_may_not_be_noted_and_a_start_that_lacks_something(world: World, refuse: Refuse) -> None:
    browser, _, check = world.pair()
    browser.get(f"/check/{check}/stop")
    refuse("stopping.note_stop", NotAllowed())
    assert browser.press("The device was stopped").status == 403

    for refusal, field in ((Incomplete(fields=("reason",)), "reason"), (NoSuchUnit(), "unit")):
        browser.get("/started-without-check")
        refuse("starting.note_start_without_check", refusal)
        page = browser.press("Write it down", unit=UNIT, bed="7", reason="Nobody could come")
        assert page.status == 422
        assert f"#field-{field}" in page.links().values()


@pytest.mark.parametrize(
    ("known", "says"),
    [
        ("known", "Nothing of what you just sent was kept."),
        ("unknown", "Whether what you just sent was kept is not known."),
    ],
)
def test_a_database_out_of_reach_is_never_called_done(
    world: World, monkeypatch: pytest.MonkeyPatch, known: str, says: str
) -> None:
    browser = world.at("n.ferrow")

    def fail(*_arguments: object, **_named: object) -> None:
        raise StoreUnavailable(outcome_known=known == "known")

    browser.get("/open")
    monkeypatch.setattr("app.workflow.opening.open_check", fail)
    page = browser.press("Open the check", unit=UNIT, bed="12")

    assert page.status == 503
    assert page.response.headers["Retry-After"] == "5"
    assert says in page.text
    assert "All that was kept before stands." in page.text


def test_what_a_newer_program_wrote_is_refused_by_its_name(
    world: World, monkeypatch: pytest.MonkeyPatch
) -> None:
    browser = world.at("n.ferrow")

    def fail(*_arguments: object, **_named: object) -> None:
        POLICY.version_of({"format": "countersign.policy/9"})

    browser.get("/open")
    monkeypatch.setattr("app.workflow.opening.open_check", fail)
    page = browser.press("Open the check", unit=UNIT, bed="12")

    assert page.status == 503
    assert "Nothing was stored: the policy has the format countersign.policy/9, which" in page.text


def test_a_demonstration_says_so_and_works_without_https(world: World) -> None:
    demo = make_world(world.site.store, world.clock, demo=True)

    answer = demo.browser().client.get("/sign-in", base_url="http://localhost")

    assert "This is a demonstration." in answer.get_data(as_text=True)
    assert "Strict-Transport-Security" not in answer.headers
    assert answer.headers["Set-Cookie"].startswith("countersign-device=")
    assert "This is a demonstration." not in world.browser().get("/sign-in").text


def test_a_device_keeps_its_name_for_years_and_gets_no_second(world: World) -> None:
    browser = world.browser()
    first = browser.client.get("/sign-in", base_url=ORIGIN)
    second = browser.client.get("/sign-in", base_url=ORIGIN)

    assert f"Max-Age={int(timedelta(days=730).total_seconds())}" in first.headers["Set-Cookie"]
    assert "Set-Cookie" not in second.headers


@pytest.mark.parametrize("planted", ["x", "Z" * 32, "0" * 31])
def test_a_device_s_name_that_we_did_not_give_is_replaced(world: World, planted: str) -> None:
    browser = world.browser()
    browser.client.set_cookie(world.settings.device_cookie, planted, domain="localhost", secure=True)

    answer = browser.client.get("/sign-in", base_url=ORIGIN)

    assert f"={planted};" not in answer.headers["Set-Cookie"]
