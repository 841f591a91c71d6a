"""Read the sources alone, one a screen, and look over the own reading."""

import re

import pytest

from app.records.fields import FIELDS
from app.records.rules import LIBRARY
from app.records.sources import CAN_BE_PUT_RIGHT, Source
from app.site.loading import rules_in_force
from tests.factories.answers import answers
from tests.support.browser import Browser, Page, words_of
from tests.support.world import World, hand_in, read_all, read_source, typed

# Of a set-up; totals are read of what runs.
SOURCES = [each.value for each in CAN_BE_PUT_RIGHT]


def rows(page: Page) -> list[tuple[str, str]]:
    """The own reading as the look over it shows it: label and words."""
    return [
        (words_of(row[0]), words_of(row[1]))
        for row in page.all("div")
        if row.get("class") == "row" and [each.tag for each in row] == ["dt", "dd"]
    ]


def to_source(browser: Browser, check: str, source: str) -> Page:
    """Open one source."""
    return browser.get(f"/check/{check}/read/{source}")


def test_the_sources_come_one_a_screen_in_order_and_then_the_look_over(world: World) -> None:
    browser, _, check = world.pair()
    visited = []
    page = browser.get(f"/check/{check}/read")
    while "/read/" in page.path:
        visited.append(page.path.rsplit("/", 1)[1])
        page = read_source(browser, answers()[visited[-1]])

    assert visited == SOURCES
    assert page.heading == "Go over my reading"
    assert page.path == f"/check/{check}/read"


def test_whoever_was_called_away_goes_on_where_nothing_is_read_yet(world: World) -> None:
    browser, _, check = world.pair()
    for source in ("wristband", "chart"):
        to_source(browser, check, source)
        read_source(browser, {name: answers()[source][name] for name in list(answers()[source])[:1]})

    page = browser.get(f"/check/{check}/read")
    assert page.links()["Go on reading: Order"] == f"/check/{check}/read/order"
    # What was left blank in a source is one press away.
    assert page.links()["Chart"] == f"/check/{check}/read/chart"


def test_a_change_when_all_is_read_leads_back_to_the_look_over(world: World) -> None:
    browser, _, check = world.pair()
    page = browser.get(f"/check/{check}/read")
    while "/read/" in page.path:
        page = read_source(browser, answers()[page.path.rsplit("/", 1)[1]])
    assert "Go on reading" not in page.text

    to_source(browser, check, "chart")
    assert browser.press("Keep, and go over it").path == f"/check/{check}/read"
    to_source(browser, check, "chart")
    assert browser.press("Keep, and go back").path == f"/check/{check}/read/wristband"


def test_nothing_is_filled_in_or_chosen_before_it_is_read(world: World) -> None:
    browser, _, check = world.pair()

    for source in SOURCES:
        form, _ = to_source(browser, check, source).form_with("Keep, and")
        held = {name: value for name, value in form.held if name not in ("csrf_token", "round", "version")}
        assert not any(held.values()), (source, held)


def test_no_word_of_a_reading_page_suggests_a_value(world: World) -> None:
    """No digit in any label, hint, option or attribute, but for a fixed span of the site's wording."""
    browser, _, check = world.pair()
    fixed = re.compile(r"24\s+h|CO2|SpO2|0\.9%|0\.45%|glucose 5%|\d+ cm set|g\. ")

    for source in SOURCES:
        page = to_source(browser, check, source)
        for row in page.all("fieldset"):
            words = fixed.sub("", words_of(row))
            assert not re.search(r"[0-9]", words), (source, words)
        for field in page.all("input"):
            assert field.get("placeholder") is None
            assert field.get("type") in ("text", "radio", "checkbox", "hidden")
        for form in page.all("form"):
            assert form.get("autocomplete") == "off" or form.get("action") == "/sign-out"


def test_titles_and_addresses_name_no_patient_and_no_drug(world: World) -> None:
    browser, _, check = world.pair()
    hand_in(browser, check, answers())

    assert words_of(next(browser.page.all("title"))) == "Handed in"
    for source in SOURCES:
        page = to_source(world.at("t.osmund"), check, source)
        assert words_of(next(page.all("title"))) == f"{page.heading}: my reading"
        assert not re.search(r"DM-|morphone|12", page.path.replace(check, ""))


def test_what_was_read_is_shown_to_its_author_in_the_own_words(world: World) -> None:
    browser, _, check = world.pair()

    shown = dict(rows(read_all(browser, check, answers())))

    assert shown["Date of birth"] == "9 April 1961"
    assert shown["Demand dose"] == "0.2 mg"
    assert shown["Loading dose"] == "No loading dose"
    assert shown["Mode"] == "Demand only"
    assert shown["Line set in use"] == "150 cm set, joins the carrier at a Y with valve"
    assert shown["Use by"] == "2031-12-31"
    assert "Concentration" not in shown
    assert "NOT ENTERED" not in shown.values()


def test_a_use_by_with_a_time_of_day_comes_back_as_it_was_written(world: World) -> None:
    browser, _, check = world.pair()

    shown = dict(rows(read_all(browser, check, answers(label={"use_by": "2031-05-04 08:30"}))))
    assert shown["Use by"] == "2031-05-04 08:30"

    assert 'value="2031-05-04 08:30"' in to_source(browser, check, "label").body


def test_what_is_not_entered_is_marked_and_counted_and_leads_back(world: World) -> None:
    browser, _, check = world.pair()
    partly = answers(device={"lockout": None}, label={"drug": None})

    page = read_all(browser, check, partly)

    assert [label for label, words in rows(page) if words == "NOT ENTERED"] == ["Drug", "Lockout"]
    assert "2 fields are not entered." in page.text
    ways_back = [each.get("href", "") for each in page.all("a") if words_of(each).startswith("Back to ")]
    assert [each.rsplit("/", 1)[1] for each in ways_back] == SOURCES


def test_one_blank_field_is_called_one(world: World) -> None:
    browser, _, check = world.pair()

    assert "One field is not entered." in read_all(browser, check, answers(device={"lockout": None})).text


def test_a_reading_may_be_left_and_taken_up_again(world: World) -> None:
    browser, _, check = world.pair()
    to_source(browser, check, "order")
    read_source(browser, answers()["order"])

    again = world.at("n.ferrow")
    form, _ = to_source(again, check, "order").form_with("Keep, and")

    held = dict(form.held)
    # A day comes back with its month as a word.
    wanted = typed(Source.ORDER, {**answers()["order"], "birth_date": "9 April 1961"})
    assert {name: held.get(name) for name in wanted if name in form.names} == {
        name: text for name, text in wanted.items() if name in form.names
    }


def test_going_back_keeps_what_was_written(world: World) -> None:
    browser, _, check = world.pair()
    to_source(browser, check, "order")

    page = browser.press("go back", demand_dose="0.3", demand_dose_unit="mg")

    assert page.path.endswith("/read/chart")
    assert 'value="0.3"' in to_source(browser, check, "order").body


@pytest.mark.parametrize(
    ("source", "given", "says"),
    [
        ("device", {"demand_dose": ".5", "demand_dose_unit": "mg"}, "zero before the decimal point"),
        ("device", {"demand_dose": "1.0", "demand_dose_unit": "mg"}, "zero"),
        ("device", {"demand_dose": "0,2", "demand_dose_unit": "mg"}, "decimal point, not a comma"),
        ("device", {"demand_dose": "0.2"}, "Choose the unit"),
        # Both at once: how the number is written, and the unit that lacks.
        ("device", {"demand_dose": ".5"}, "easily overlooked. Choose the unit"),
        ("device", {"demand_dose": "0.2 mg"}, "Demand dose: Choose the unit"),
        ("device", {"demand_dose": "1e3", "demand_dose_unit": "mg"}, "number"),
        ("device", {"limit_amount": "4", "limit_amount_unit": "mg", "limit_amount_none": "none"}, "not both"),
        ("device", {"demand_dose": "x" * 201, "demand_dose_unit": "mg"}, "at most"),
        ("wristband", {"birth_date": "09.04.61"}, "all four digits"),
        ("wristband", {"birth_date": "2031-05-03"}, "has not come yet"),
        ("wristband", {"birth_date": "2013-05-03"}, "children"),
        ("label", {"use_by": "12/2031"}, "year-month-day"),
        ("label", {"use_by": "9999-12-31"}, "cannot be the year"),
        ("label", {"drug": "other"}, "as the source gives it"),
        ("label", {"drug": "morphine", "drug_other": "morphine sulfate"}, "not both"),
    ],
)
def test_what_cannot_be_read_is_said_in_words_and_kept_as_typed(
    world: World, source: str, given: dict[str, str], says: str
) -> None:
    browser, _, check = world.pair()
    to_source(browser, check, source)

    page = browser.press("Keep, and", **given)

    assert page.status == 422
    assert says in words_of(page.with_id("faults")), words_of(page.with_id("faults"))
    held = dict(page.form_with("Keep, and")[0].held)
    assert {name: held.get(name) for name in given} == given
    reader_id = world.person("n.ferrow").id
    with world.site.store.read() as reader:
        assert "sources" not in reader.drafts(check, 1, reader_id)


def test_a_fault_is_tied_to_its_field_and_to_the_summary(world: World) -> None:
    browser, _, check = world.pair()
    to_source(browser, check, "device")

    page = browser.press("Keep, and", demand_dose="0,2", demand_dose_unit="mg")

    assert page.links()["Demand dose"] == "#field-demand_dose"
    field = page.with_id("field-demand_dose")
    assert field.get("aria-invalid") == "true"
    assert page.with_id("fault-demand_dose") is not None
    row = next(each for each in page.all("fieldset") if each.get("data-field") == "demand_dose")
    assert "fault-demand_dose" in (row.get("aria-describedby") or "").split()


@pytest.mark.parametrize("source", ["order", "label", "device"])
def test_the_drugs_on_offer_are_those_of_the_published_library_in_the_order_of_the_alphabet(
    world: World, source: str
) -> None:
    browser, _, check = world.pair()
    with world.site.store.read() as reader:
        listed = rules_in_force(reader, world.clock.now).content(LIBRARY)["drugs"]

    page = to_source(browser, check, source)

    (choice,) = (each for each in page.all("select") if each.get("name") == "drug")
    offered = [each.get("value") for each in choice.iter() if each.get("value")]
    assert offered == [*sorted(listed, key=str.casefold), "other"]


def test_a_choice_that_is_not_offered_is_refused(world: World) -> None:
    browser, _, check = world.pair()
    form, _ = to_source(browser, check, "chart").form_with("Keep, and")

    page = browser.post(form.action, [*form.held, ("allergy", "forged"), ("go", "next")])

    assert page.status == 422
    assert "Choose one of the answers." in page.text


def test_another_name_is_kept_also_where_nobody_said_that_it_is_another(world: World) -> None:
    browser, _, check = world.pair()
    to_source(browser, check, "label")

    browser.press("Keep, and", drug_other="pethidine")

    held = dict(to_source(browser, check, "label").form_with("Keep, and")[0].held)
    assert (held["drug"], held["drug_other"]) == ("other", "pethidine")


def test_two_windows_of_one_person_never_overwrite_each_other(world: World) -> None:
    browser, _, check = world.pair()
    stale = to_source(browser, check, "wristband")
    form, _ = stale.form_with("Keep, and")
    browser.press("Keep, and", identifier="DM-1")

    kept = [each for each in form.held if each[0] != "identifier"]
    page = browser.post(form.action, [*kept, ("identifier", "DM-2"), ("go", "next")])
    assert page.status == 409
    assert "on another page since" in page.text
    assert page.links()["Show what is kept"] == f"/check/{check}/read/wristband"
    assert 'value="DM-2"' in page.body
    assert 'value="DM-1"' in to_source(browser, check, "wristband").body

    # Nothing has to be typed again: a second press, on the page that says so, keeps what stands there.
    browser.page = page
    browser.press("Keep, and go on")
    assert 'value="DM-2"' in to_source(browser, check, "wristband").body


def test_the_same_answers_sent_twice_do_no_harm(world: World) -> None:
    browser, _, check = world.pair()
    form, _ = to_source(browser, check, "wristband").form_with("Keep, and")
    sent = [each for each in form.held if each[0] != "identifier"] + [("identifier", "DM-1"), ("go", "next")]

    first, second = browser.post(form.action, sent), browser.post(form.action, sent)

    assert first.path == second.path == f"/check/{check}/read/chart"


@pytest.mark.parametrize("version", ["", "x", "-1", "1" * 7, "٣"])
def test_a_forged_version_is_refused(world: World, version: str) -> None:
    browser, _, check = world.pair()
    form, _ = to_source(browser, check, "wristband").form_with("Keep, and")
    held = [each for each in form.held if each[0] != "version"]

    assert browser.post(form.action, [*held, ("version", version)]).status == 400


def test_only_the_check_s_two_read_and_only_its_sources(world: World) -> None:
    browser, _, check = world.pair()
    third = world.at("r.calloway")

    assert to_source(browser, check, "ceiling").status == 404
    for rest in ("read", "read/label", "waiting"):
        assert third.get(f"/check/{check}/{rest}").status == 404, rest
        assert browser.get(f"/check/none/{rest}").status == 404, rest


def test_every_field_of_the_table_can_be_read_on_its_page(world: World) -> None:
    browser, _, check = world.asks_for_more().pair()

    for source in CAN_BE_PUT_RIGHT:
        fields = [each for each in FIELDS[source] if not each.by_kind]
        page = to_source(browser, check, source.value)
        assert [each.get("data-field") for each in page.all("fieldset")] == [each.name for each in fields]
        ids = {each.get("id") for each in page.all("input")} | {each.get("id") for each in page.all("select")}
        assert {f"field-{each.name}" for each in fields} <= ids


def folded(page: Page) -> set[str]:
    """The fields that stand in a part of the page which is closed until it is opened."""
    closed = (each for each in page.all("details") if "open" not in each.attrib)
    return {
        field.attrib["data-field"] for each in closed for field in each.iter() if "data-field" in field.attrib
    }


def test_the_second_nurse_is_not_asked_for_what_the_first_reads(world: World) -> None:
    first, second, check = world.pair()
    assert folded(to_source(first, check, "chart")) == set()
    assert folded(to_source(first, check, "label")) == set()
    assert folded(to_source(second, check, "label")) == {"lot", "code"}
    assert folded(to_source(second, check, "chart")) == {
        *("other_opioids", "sedatives", "neuraxial_opioid", "sleep_apnea", "lung_disease"),
        *("kidney_or_liver_disease", "supplemental_oxygen", "weight"),
    }
    assert "Read by the first nurse: add only what you know to be so" in second.page.text

    without = answers(chart=dict.fromkeys(folded(second.page)), label={"lot": None, "code": None})
    for source in SOURCES:
        to_source(second, check, source)
        read_source(second, without[source])
    page = second.get(f"/check/{check}/read")
    assert page.path.endswith("/read")
    assert "not entered" not in page.text
    assert "Sedatives charted" not in {label for label, _ in rows(page)}


def test_what_the_second_nurse_adds_stands_open_and_counts(world: World) -> None:
    _, second, check = world.pair()
    to_source(second, check, "chart")
    read_source(second, answers(chart={"sedatives": "charted"})["chart"])

    page = to_source(second, check, "chart")

    assert folded(page) == set()
    assert ("Sedatives charted", "Charted") in rows(second.get(f"/check/{check}/read"))
