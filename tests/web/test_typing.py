"""What is typed is there again for its author, whatever happens before the press; it counts for nothing."""

import pytest

from app.records.fields import FIELDS
from app.records.kept import TYPING
from app.records.reading import WHOLE, asked_in, sources_in
from app.records.sources import Source
from tests.factories.answers import answers
from tests.support.browser import Browser, Page, ServedForm
from tests.support.world import IDLE, UNIT, World, read_all


def to_source(browser: Browser, check: str, source: str) -> Page:
    """Open one source."""
    return browser.get(f"/check/{check}/read/{source}")


def left(browser: Browser, check: str, source: str, **typed: str) -> Page:
    """Type into a source's page, which the script keeps while one types, and press nothing."""
    form, _ = to_source(browser, check, source).form_with("Keep, and")
    held = {**dict(form.held), **typed}
    return browser.post(f"/check/{check}/read/{source}/typing", list(held.items()))


def filled(form: ServedForm, **typed: str) -> list[tuple[str, str]]:
    """What a form sends once this was typed into it."""
    return list({**dict(form.held), **typed}.items())


def names_of(source: Source) -> list[str]:
    """The names of a source's fields."""
    return [each.name for each in FIELDS[source]]


BACK = "What you had written here is back."


class TestWhatIsTypedAndNotKept:
    """It is there for its author, unfinished as it is, and counts for nothing."""

    def test_it_is_there_again_as_it_was_left(self, world: World) -> None:
        browser, _, check = world.pair()
        assert (
            left(browser, check, "device", demand_dose=".2", demand_dose_unit="mg", lockout="1").status == 204
        )

        again = world.at("n.ferrow")
        page = to_source(again, check, "device")

        held = dict(page.form_with("Keep, and")[0].held)
        assert (held["demand_dose"], held["demand_dose_unit"], held["lockout"]) == (".2", "mg", "1")
        assert BACK in page.text
        # It is not finished: nothing is called wrong before a press.
        assert not [each for each in page.all("p") if each.get("class") == "fault"]

    def test_it_counts_for_nothing(self, world: World) -> None:
        browser, _, check = world.pair()
        read_all(browser, check, answers(label={"lot": None}))
        left(browser, check, "label", lot="ZQX-7319")

        page = browser.get(f"/check/{check}/read")

        assert "ZQX-7319" not in page.body
        assert "Written and not kept yet: Label." in page.text
        assert "One field is not entered." in page.text

    def test_a_press_keeps_it_and_it_is_left_no_more(self, world: World) -> None:
        browser, _, check = world.pair()
        left(browser, check, "wristband", identifier="INVENTED-9")
        to_source(browser, check, "wristband")
        browser.press("Keep, and go on")

        page = to_source(browser, check, "wristband")

        assert BACK not in page.text
        assert 'value="INVENTED-9"' in page.body

    def test_what_arrives_after_the_press_changes_nothing(self, world: World) -> None:
        browser, _, check = world.pair()
        form, _ = to_source(browser, check, "wristband").form_with("Keep, and")
        late = [*{**dict(form.held), "identifier": "INVENTED-LATE"}.items()]
        browser.press("Keep, and go on", identifier="INVENTED-9")

        assert browser.post(f"/check/{check}/read/wristband/typing", late).status == 409
        assert "INVENTED-LATE" not in to_source(browser, check, "wristband").body

    def test_a_field_that_was_cleared_stays_cleared(self, world: World) -> None:
        browser, _, check = world.pair()
        read_all(browser, check, answers())
        left(browser, check, "label", lot="")

        assert dict(to_source(browser, check, "label").form_with("Keep, and")[0].held)["lot"] == ""

    def test_nobody_else_is_given_it_or_can_change_it(self, world: World) -> None:
        first, second, check = world.pair()
        left(first, check, "label", lot="ZQX-7319")

        assert "ZQX-7319" not in to_source(second, check, "label").body
        left(second, check, "label", lot="QZW-9137")
        assert "ZQX-7319" in to_source(first, check, "label").body
        charge = world.at("r.calloway")
        charge.get("/")
        stranger = [("csrf_token", charge.token()), ("round", "1"), ("version", "0"), ("lot", "X")]
        assert charge.post(f"/check/{check}/read/label/typing", stranger).status == 404

    def test_it_is_gone_once_handed_in(self, world: World) -> None:
        browser, _, check = world.pair()
        read_all(browser, check, answers())
        left(browser, check, "label", lot="ZQX-7319")
        browser.get(f"/check/{check}/read")
        browser.press("Hand in")

        person = world.person("n.ferrow").id
        with world.site.store.read() as reader:
            assert reader.drafts(check, 1, person) == {}

    @pytest.mark.parametrize(("tail", "button"), [("/danger", "Say it"), ("/abandon", "Give this check up")])
    def test_it_is_gone_with_its_round(self, world: World, tail: str, button: str) -> None:
        browser, _, check = world.pair()
        left(browser, check, "label", lot="ZQX-7319")
        browser.get(f"/check/{check}{tail}")
        reasons = [
            each.get("value", "") for each in browser.page.all("input") if each.get("name") == "reason"
        ]
        browser.press(button, **({"reason": reasons[0]} if reasons else {}))

        person = world.person("n.ferrow").id
        with world.site.store.read() as reader:
            assert TYPING not in reader.drafts(check, 1, person)

    def test_more_than_fits_is_not_kept_and_breaks_nothing(self, world: World) -> None:
        browser, _, check = world.pair()
        answered = {
            left(
                browser,
                check,
                source.value,
                **{each.name: "\N{BELL}" * 210 for each in asked_in(WHOLE, source, ())},
            ).status
            for source in sources_in(WHOLE)
        }

        assert answered == {204, 409}
        assert to_source(browser, check, "wristband").status == 200


class TestASecondScreen:
    """The same person at another screen finds everything, and neither screen loses what the other keeps."""

    def test_it_has_what_was_kept_and_what_was_typed(self, world: World) -> None:
        first, _, check = world.pair()
        to_source(first, check, "wristband")
        first.press("Keep, and go on", identifier="INVENTED-9")
        left(first, check, "label", lot="ZQX-7319")

        second = world.at("n.ferrow")

        assert 'value="INVENTED-9"' in to_source(second, check, "wristband").body
        assert 'value="ZQX-7319"' in to_source(second, check, "label").body

    def test_a_press_at_the_first_screen_is_not_lost(self, world: World) -> None:
        """Its session ended when the same person signed in at the second."""
        first, _, check = world.pair()
        form, _ = to_source(first, check, "label").form_with("Keep, and")
        world.clock.pass_(seconds=60)
        second = world.at("n.ferrow")

        page = first.post(form.action, filled(form, lot="ZQX-7319"))

        assert page.heading == "Sign in"
        assert 'value="ZQX-7319"' in to_source(second, check, "label").body

    def test_whoever_signs_in_at_the_first_screen_instead_is_not_given_it(self, world: World) -> None:
        first, _, check = world.pair()
        form, _ = to_source(first, check, "label").form_with("Keep, and")
        world.clock.pass_(seconds=60)
        world.at("n.ferrow")
        first.post(form.action, filled(form, lot="ZQX-7319"))

        first.press("Sign in", login="t.osmund", secret=world.secrets["t.osmund"], unit=UNIT)

        assert "ZQX" not in to_source(first, check, "label").body

    def test_once_somebody_else_has_signed_in_there_a_form_is_dead(self, world: World) -> None:
        first, _, check = world.pair()
        form, _ = to_source(first, check, "label").form_with("Keep, and")
        world.clock.pass_(seconds=60)
        world.sign_in(first, "t.osmund")

        assert first.post(form.action, filled(form, lot="ZQX-7319")).status == 400
        assert "ZQX" not in to_source(world.at("n.ferrow"), check, "label").body

    def test_a_source_kept_at_one_hinders_no_other_at_the_other(self, world: World) -> None:
        first, _, check = world.pair()
        left(first, check, "device", lockout="10")
        to_source(first, check, "device")
        at_first, _ = first.page.form_with("Keep, and")
        second = world.at("n.ferrow")
        to_source(second, check, "wristband")
        second.press("Keep, and go on", identifier="INVENTED-9")
        world.sign_in(first, "n.ferrow")
        first.get("/")
        sent = filled(at_first, csrf_token=first.token(), lockout="17", lockout_unit="min")

        assert first.post(f"/check/{check}/read/device/typing", sent).status == 204
        assert first.post(at_first.action, [*sent, ("go", "next")]).path == f"/check/{check}/read/monitor"


class TestSigningOut:
    """What stands in the fields goes with the press that signs out; it is there after signing in again."""

    def signs_out(self, browser: Browser, check: str) -> Page:
        form, button = to_source(browser, check, "label").form_with("Sign out")
        assert button.action == f"/check/{check}/read/label/sign-out"
        return browser.post(button.action, filled(form, lot="ZQX-7319", amount=".2"))

    def test_it_is_there_for_the_same_person(self, world: World) -> None:
        browser, _, check = world.pair()
        assert self.signs_out(browser, check).heading == "Sign in"
        assert browser.get(f"/check/{check}/read/label").heading == "Sign in"

        world.sign_in(browser, "n.ferrow")
        page = to_source(browser, check, "label")

        held = dict(page.form_with("Keep, and")[0].held)
        assert (held["lot"], held["amount"]) == ("ZQX-7319", ".2")
        assert BACK in page.text

    def test_it_is_there_for_nobody_else(self, world: World) -> None:
        browser, _, check = world.pair()
        self.signs_out(browser, check)

        world.sign_in(browser, "t.osmund")

        assert "ZQX" not in to_source(browser, check, "label").body

    def test_whoever_reads_nothing_there_signs_out_all_the_same(self, world: World) -> None:
        browser, _, check = world.pair()
        form, button = to_source(browser, check, "label").form_with("Sign out")
        to_source(browser, check, "label")
        read_all(browser, check, answers())
        browser.press("Hand in")

        assert browser.post(button.action, list(form.held)).heading == "Sign in"

    def test_after_a_lost_session_too(self, world: World) -> None:
        browser, _, check = world.pair()
        form, button = to_source(browser, check, "label").form_with("Sign out")
        world.clock.pass_(seconds=int(IDLE.total_seconds()) + 1)
        browser.post(button.action, filled(form, lot="ZQX-7319"))

        assert "ZQX-7319" in to_source(world.at("n.ferrow"), check, "label").body

    @pytest.mark.parametrize(
        ("source", "goes", "to"), [("label", "fill-in", "#scanned"), ("device", "next", None)]
    )
    def test_enter_in_a_field_does_not_sign_out(
        self, world: World, source: str, goes: str, to: str | None
    ) -> None:
        """A browser presses the first button of the form, wherever it stands on the page."""
        browser, _, check = world.pair()
        page = to_source(browser, check, source)
        inside = list(page.with_id("reading").iter("button"))
        first = next(each for each in page.all("button") if each.get("form") == "reading" or each in inside)

        assert (first.get("name"), first.get("value"), first.get("formaction")) == ("go", goes, to)


class TestAPressThatCameTooLate:
    """The session ran out before the press: what was typed is there after signing in again."""

    def typed_too_late(self, world: World, browser: Browser, check: str, *, but: str = "") -> Page:
        form, _ = to_source(browser, check, "label").form_with("Keep, and")
        held = {**dict(form.held), "lot": "ZQX-7319"}
        if but:
            held["csrf_token"] = but
        world.clock.pass_(seconds=int(IDLE.total_seconds()) + 1)
        return browser.post(form.action, list(held.items()))

    def test_it_is_there_after_signing_in_again(self, world: World) -> None:
        browser, _, check = world.pair()
        page = self.typed_too_late(world, browser, check)
        assert page.heading == "Sign in"
        assert "ZQX" not in page.body

        page = browser.press("Sign in", login="n.ferrow", secret=world.secrets["n.ferrow"], unit=UNIT)

        assert page.path == f"/check/{check}/read/label"
        assert BACK in page.text
        assert 'value="ZQX-7319"' in page.body

    def test_whoever_signs_in_instead_is_not_given_it(self, world: World) -> None:
        browser, _, check = world.pair()
        self.typed_too_late(world, browser, check)

        page = browser.press("Sign in", login="t.osmund", secret=world.secrets["t.osmund"], unit=UNIT)

        assert page.path == f"/check/{check}/read/label"
        assert "ZQX" not in page.body
        assert BACK not in page.text

    def test_a_form_that_is_not_that_sessions_own_is_not_kept(self, world: World) -> None:
        browser, _, check = world.pair()
        self.typed_too_late(world, browser, check, but="0" * 64)

        assert "ZQX" not in to_source(world.at("n.ferrow"), check, "label").body

    def test_after_signing_out_a_form_is_dead(self, world: World) -> None:
        browser, _, check = world.pair()
        form, _ = to_source(browser, check, "label").form_with("Keep, and")
        cookie = browser.client.get_cookie(world.settings.session_cookie, domain="localhost")
        assert cookie is not None
        browser.press("Sign out")
        browser.client.set_cookie(
            world.settings.session_cookie, cookie.value, domain="localhost", path="/", secure=True
        )
        browser.post(form.action, list({**dict(form.held), "lot": "ZQX-7319"}.items()))

        assert "ZQX" not in to_source(world.at("n.ferrow"), check, "label").body
