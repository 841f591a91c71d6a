"""What was checked on paper, at the screen: typed in as it stands, and confirmed by another."""

import pytest

from app.records.sources import Source
from app.reports.paper_sheet import TYPED_IN
from tests.support.browser import Browser, Page, words_of
from tests.support.world import UNIT, World
from tests.web.test_statements import Most, counted, over

BED = "19"
KEEP = "Keep it for another nurse to confirm"
SHEETS = {
    "first": "Nadia Ferrow",
    "second": "Tomas Osmund",
    "checked_at": "11:30",
    "device-demand_dose": "0.2 mg",
    "device-mode": "Demand only",
}
ROWS = {**SHEETS, "device-demand_dose-2": "7.3719 mg"}


@pytest.fixture
def nurse(world: World) -> Browser:
    """A nurse who has written down that an infusion had to start without a check."""
    browser = world.at("n.ferrow")
    browser.get("/started-without-check")
    browser.press("Write it down", unit=UNIT, bed=BED, reason="the program was down")
    return browser


def main_of(page: Page) -> str:
    return words_of(page.with_id("main"))


def typed(nurse: Browser, **said: str) -> Page:
    """Type the sheets in, as the list leads to it."""
    nurse.get("/")
    nurse.follow("It was checked on paper")
    nurse.follow("Type both sheets in")
    return nurse.press(KEEP, **(said or SHEETS))


def confirmed(world: World, nurse: Browser, **said: str) -> Browser:
    """The charge nurse has held them beside the sheets."""
    typed(nurse, **said)
    charge = world.at("r.calloway")
    charge.get("/")
    charge.follow("What was checked on paper")
    charge.press("It is what the sheets say")
    return charge


def test_from_the_list_to_checked_on_paper(world: World, nurse: Browser) -> None:
    page = typed(nurse)
    assert page.heading == "Checked on paper, Ward 4 East, bed 19"
    assert "Another nurse holds it beside the sheets" in page.text
    # Whoever typed it in is offered nothing to confirm.
    assert not [form for form in page.forms() if form.action.endswith("/paper")]
    assert "RUNNING WITHOUT A CHECK" in nurse.get("/").text
    charge = confirmed_by(world)
    said = main_of(charge.page)
    assert "This stands" in said
    assert "On paper by Nadia Ferrow (sheet 1) and Tomas Osmund (sheet 2), 2 May 2031, 11:30 (+01:00)" in said
    for path in ("/", "/shift-sheet"):
        said = main_of(charge.get(path))
        assert "CHECKED ON PAPER" in said, path
        assert "RUNNING WITHOUT A CHECK" not in said
        assert "By Nadia Ferrow and Tomas Osmund, 2 May 2031, 11:30 (+01:00)." in said
        assert "confirmed by Ruth Calloway" in said
        assert "0.2 mg" not in said
        assert "It is no check by the program." in said
        # 13:00 in Dublin, and the site gives two hours.
        assert "Two nurses check it by 2 May 2031, 15:00 (+01:00) at the latest." in said
    assert "ready to start" not in said


def confirmed_by(world: World) -> Browser:
    charge = world.at("r.calloway")
    charge.get("/")
    charge.follow("What was checked on paper")
    charge.press("It is what the sheets say")
    return charge


def test_it_shows_what_paper_says_and_judges_nothing(world: World, nurse: Browser) -> None:
    charge = confirmed(
        world, nurse, **{**SHEETS, "device-demand_dose": "forty mg", "order-limit_amount": "?"}
    )
    said = main_of(charge.page)
    assert "forty mg" in said
    assert "nothing of it is judged" in said
    for verdict in ("DO NOT START", "CONSIDER", "AGREES", "DIFFERS"):
        assert verdict not in said
    said = main_of(charge.get(f"/infusion/{infusion_at(world)}"))
    # At its head, and leading to what was typed in; what happened says it once more.
    assert said.startswith("Infusion, Ward 4 East, bed 19 Checked on paper, since")
    assert "What was checked on paper" in said


def test_that_the_two_sheets_differ_is_said_on_lists_without_a_value(world: World, nurse: Browser) -> None:
    charge = confirmed(world, nurse, **ROWS)
    assert "The two sheets do not say the same: Demand dose (device)." in main_of(charge.page)
    assert "7.3719 mg" in main_of(charge.page)
    for path in ("/", "/shift-sheet"):
        said = main_of(charge.get(path))
        assert "The two sheets do not say the same. Look at the device and the order now." in said
        assert "7.3719" not in said


def test_nothing_that_was_typed_is_lost_and_each_fault_stands_beside_its_field(nurse: Browser) -> None:
    wrong = {"checked_at": "", "order-drug-2": "morphine", "device-mode": "x" * 121}
    page = typed(nurse, **{**SHEETS, **wrong})
    assert page.status == 422
    links = page.links()
    assert links["When"] == "#field-checked_at"
    assert links["Drug"] == "#field-order-drug"
    assert links["Mode"] == "#field-device-mode"
    assert page.with_id("field-order-drug-2").get("value") == "morphine"
    assert page.with_id("field-device-demand_dose").get("value") == "0.2 mg"
    assert "fault-order-drug" in str(page.with_id("field-order-drug").get("aria-describedby"))
    assert page.with_id("fault-order-drug") is not None
    page = nurse.press(KEEP, **{**SHEETS, "order-drug": "blank", "order-drug-2": "morphine"})
    assert page.heading.startswith("Checked on paper")


def test_sheets_that_say_nothing_are_not_kept(nurse: Browser) -> None:
    page = typed(nurse, first="A", second="B", checked_at="11:30")
    assert page.status == 422
    assert "Write what the sheets say, on at least one line." in page.text


def test_every_line_of_the_four_sources_can_be_typed_in_and_nothing_is_filled_in(nurse: Browser) -> None:
    nurse.get("/")
    nurse.follow("It was checked on paper")
    page = nurse.follow("Type both sheets in")
    form, _ = page.form_with(KEEP)
    for source in TYPED_IN:
        assert any(name.startswith(f"{source.value}-") for name in form.names)
    assert not any(name.startswith(f"{Source.CHART.value}-") for name in form.names)
    assert {value for name, value in form.held if name not in {"csrf_token", "seen"}} <= {""}


def test_pressing_twice_types_it_in_once(world: World, nurse: Browser) -> None:
    typed(nurse)
    nurse.get(f"/infusion/{infusion_at(world)}/paper/type")
    form, _ = nurse.page.form_with(KEEP)
    older = {**dict(form.held), **SHEETS, "seen": "0"}
    page = nurse.post(f"/infusion/{infusion_at(world)}/paper/type", [*older.items()])
    assert page.status == 409
    assert "These sheets were typed in meanwhile." in page.text
    assert page.text.count("On paper by") == 1


def test_whoever_typed_it_in_and_sends_the_form_all_the_same_is_refused(world: World, nurse: Browser) -> None:
    typed(nurse)
    infusion = infusion_at(world)
    with world.site.store.read() as reader:
        position = reader.course(infusion)[-1].position
    sent = [("csrf_token", nurse.token()), ("transcription", str(position)), ("said", "same")]
    page = nurse.post(f"/infusion/{infusion}/paper", sent)
    assert page.status == 409
    assert "You typed it in, or this session did." in page.text
    assert nurse.post(f"/infusion/{infusion}/paper", [*sent[:2], ("said", "perhaps")]).status == 404


def test_what_is_not_the_same_is_typed_in_anew_and_both_stay(world: World, nurse: Browser) -> None:
    typed(nurse)
    charge = world.at("r.calloway")
    charge.get("/")
    charge.follow("What was checked on paper")
    page = charge.press("It is not the same")
    assert "Not the same as the sheets" in page.text
    charge.follow("Something is wrong: type it in anew")
    charge.press(KEEP, **ROWS)
    nurse.get(f"/infusion/{infusion_at(world)}/paper")
    said = main_of(nurse.press("It is what the sheets say"))
    assert said.index("This stands") < said.index("Not the same as the sheets")
    assert said.index("Typed in anew by Ruth Calloway") < said.index("Typed in by Nadia Ferrow")
    # It was answered meanwhile.
    page = charge.get(f"/infusion/{infusion_at(world)}/paper")
    assert "It is what the sheets say" not in page.text


def test_overdue_is_said(world: World, nurse: Browser) -> None:
    confirmed(world, nurse)
    world.clock.pass_(minutes=121)
    charge = world.at("r.calloway")
    for path in ("/", "/shift-sheet", f"/infusion/{infusion_at(world)}/paper"):
        assert "Overdue: two nurses were to check it, blind, by 2 May 2031, 15:00" in main_of(
            charge.get(path)
        )


@pytest.mark.parametrize(
    ("login", "status"),
    [("t.osmund", 200), ("p.varga", 200), ("q.lindqvist", 200), ("i.bexley", 404), ("a.moreau", 403)],
)
def test_who_may_look(world: World, nurse: Browser, login: str, status: int) -> None:
    confirmed(world, nurse)
    unit = "recovery" if login == "i.bexley" else UNIT
    assert world.at(login, unit).get(f"/infusion/{infusion_at(world)}/paper").status == status


def test_whoever_may_not_check_types_nothing_in(world: World, nurse: Browser) -> None:
    confirmed(world, nurse)
    pharmacist = world.at("p.varga")
    page = pharmacist.get(f"/infusion/{infusion_at(world)}/paper")
    assert "Something is wrong: type it in anew" not in page.links()
    assert pharmacist.get(f"/infusion/{infusion_at(world)}/paper/type").status == 403
    assert world.at("i.bexley", "recovery").get(f"/infusion/{infusion_at(world)}/paper/type").status == 404


def test_once_it_has_ended_nothing_more_is_typed_in(world: World, nurse: Browser) -> None:
    infusion = infusion_at(world)
    nurse.get(f"/infusion/{infusion}/paper/type")
    form, _ = nurse.page.form_with(KEEP)
    colleague = world.at("r.calloway")
    colleague.get(f"/infusion/{infusion}/stop")
    colleague.press("with what stands above", why="end-of-therapy")
    page = nurse.post(f"/infusion/{infusion}/paper/type", [*{**dict(form.held), **SHEETS}.items()])
    assert page.status == 409
    assert "does not run without a check" in page.text


def infusion_at(world: World) -> str:
    with world.site.store.read() as reader:
        (kept,) = reader.infusions_at(UNIT, BED)
    return kept.id


AT_MOST = {
    "GET transcribing.page": Most(14, 0, 2, 1),
    "GET transcribing.type_page": Most(12, 0, 2, 1),
    "POST transcribing.type_now": Most(12, 0, 2, 2),
    "POST transcribing.hold_now": Most(12, 0, 1, 1),
    "GET downtime.page": Most(4, 0, 2, 0),
    "GET downtime.forms": Most(6, 0, 2, 0),
    "GET downtime.settings": Most(12, 0, 2, 0),
}


def test_no_answer_asks_more_of_the_database_than_it_may(world: World) -> None:
    def walk(world: World) -> None:
        nurse = world.at("n.ferrow")
        nurse.get("/started-without-check")
        nurse.press("Write it down", unit=UNIT, bed=BED, reason="the program was down")
        confirmed(world, nurse)
        for path in ("/downtime", "/downtime/forms.pdf", "/downtime/settings.pdf"):
            nurse.get(path)

    ours = ("transcribing", "downtime")
    most = {name: took for name, took in counted(world, walk).items() if name.split(" ")[1].startswith(ours)}

    assert over(most, AT_MOST) == {}
    assert set(most) == set(AT_MOST)
