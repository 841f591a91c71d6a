"""What a check leaves: the charge nurse's log, and the analyst's exports, downloaded and read back."""

import csv
import json
import re
from pathlib import Path

import pikepdf
import pytest
from playwright.sync_api import expect

from app.cli.installation import now
from app.cli.walk import walk_through
from app.records.state import Phase
from tests.browser.beforehand import Beforehand
from tests.browser.devices import absent
from tests.browser.people import Person, save
from tests.browser.walk_running import wait_for_what_followed
from tests.browser.ward import Scene, Ward

pytestmark = [pytest.mark.browser, pytest.mark.timeout(300)]

CAUGHT = "Device is not the order: Concentration"


@pytest.fixture
def one_infusion_was_started(ward: Ward, tmp_path: Path, quick_pdf: None) -> None:  # noqa: ARG001  # before the walk
    """The demonstration's own walk: a wrong concentration is caught, and the infusion starts."""
    walk_through(ward.running, say=lambda _: None)


def _logged(person: Person) -> list[str]:
    return [" ".join(each.split()) for each in person.page.get_by_role("article").all_inner_texts()]


@pytest.mark.usefixtures("one_infusion_was_started")
def test_the_charge_nurse_reads_the_log_and_filters_it(ward: Ward) -> None:
    charge = ward.person("r.calloway")
    charge.follow("Findings of the checks that are over")
    rows = _logged(charge)
    caught = next(each for each in rows if CAUGHT in each)
    for words in ("Ward 4 East, bed 12", "reading 1", "FIVE TIMES"):
        assert words in caught, caught
    assert re.search(r"Put right, read again and agreed after [0-9]+ (s|min)", caught), caught
    assert any("Patient at risk" in each and "Acknowledged by both" in each for each in rows), rows

    charge.page.get_by_label("Severity").select_option(value="stop")
    charge.press("Show")
    stops = _logged(charge)
    assert 0 < len(stops) < len(rows)
    assert all("FIVE TIMES" in each for each in stops), stops
    charge.page.get_by_label("Severity").select_option(label="All")
    charge.page.locator("summary").filter(has_text="how it came to rest").click()
    charge.page.get_by_label("Finding", exact=True).select_option(label="Patient at risk")
    charge.press("Show")
    assert all("Patient at risk" in each for each in _logged(charge))
    charge.write("Last day", "2001-01-01")
    charge.press("Show")
    charge.sees("No finding stands in the log for this.")
    charge.write("Last day", "1.1.2001")
    charge.press("Show")
    charge.sees("Write a date as year-month-day")


def test_an_open_check_is_listed_without_a_value(ward: Ward, scene: Scene, beforehand: Beforehand) -> None:
    beforehand.scene = Scene(**{**vars(scene), "bed": "14"})
    beforehand.compared(scene.right, scene.right_but(device={"lockout": "17.39 min"}))
    charge = ward.person("r.calloway")
    charge.go("/now")
    row = charge.page.get_by_role("row", name=re.compile("^Bed 14 "))
    expect(row).to_contain_text("in progress")
    charge.page.get_by_role("link", name=re.compile("^Show: Bed 14")).click()
    charge.device.look()
    charge.sees("What was read is shown to nobody else until the check is over.")
    absent(["17.39 min"], charge.device)


@pytest.mark.usefixtures("one_infusion_was_started")
def test_the_analyst_exports_what_was_cleared(ward: Ward, scene: Scene, tmp_path: Path) -> None:
    analyst = ward.person("q.lindqvist")
    analyst.follow("Export")
    today = now().date().isoformat()
    lines = _exported(analyst, today, "Checks and the records themselves", tmp_path).read_bytes().splitlines()
    check, record = map(json.loads, lines)
    assert check["how"] == "started"
    assert scene.right["wristband"]["identifier"] in json.dumps(record)
    with _exported(analyst, today, "A table for a spreadsheet", tmp_path).open(
        encoding="utf-8-sig", newline=""
    ) as file:
        rows = list(csv.DictReader(file))
    assert {row["code"] for row in rows} >= {"device-differs", "patient-at-risk"}


def _exported(analyst: Person, day: str, form: str, folder: Path) -> Path:
    analyst.go("/export")
    analyst.write("First day", day)
    analyst.write("Last day", day)
    analyst.choose(form)
    analyst.press("Export")
    # Made apart, while the page waits.
    return save(analyst, "Take the file", folder)


def test_an_export_is_asked_for_in_whole_days(ward: Ward) -> None:
    analyst = ward.person("q.lindqvist")
    analyst.go("/export")
    analyst.write("First day", "yesterday")
    analyst.write("Last day", "2031-02-30")
    analyst.choose("A table for a spreadsheet")
    analyst.press("Export")
    analyst.sees("2 things to put right")
    assert analyst.page.get_by_label("First day").input_value() == "yesterday"


def test_what_followed_is_saved_from_the_page_of_the_record_and_holds_when_it_is_examined(
    ward: Ward, beforehand: Beforehand, tmp_path: Path
) -> None:
    beforehand.at_stage(Phase.LAPSED).abandons()
    nurse = ward.nurse("n.ferrow")
    nurse.go(f"/check/{beforehand.check}/record")
    link = nurse.page.get_by_role("link", name="Save what followed the record as PDF")
    wait_for_what_followed(nurse)
    nurse.sees("Beside the record and no part of it: sealed by the site, signed by nobody.")
    with nurse.page.expect_download() as given:
        link.click()
    path = tmp_path / given.value.suggested_filename
    given.value.save_as(path)
    assert path.name == f"countersign-what-followed-{beforehand.check[:8]}-1.pdf"

    analyst = ward.person("q.lindqvist")
    for file, says in ((path, "Everything holds"), (_with_another_ending(path), "Not everything holds")):
        analyst.go("/verify")
        analyst.page.get_by_label("The record's PDF").set_input_files(file)
        analyst.press("Examine")
        expect(analyst.page.get_by_role("heading", name=says)).to_be_visible()


def _with_another_ending(path: Path) -> Path:
    other = path.with_name("altered.pdf")
    with pikepdf.open(path) as pdf:
        stream = pdf.attachments["what-followed.json"].get_file().obj
        told = stream.read_bytes()
        assert told.count(b'"how":"abandoned"') == 1
        stream.write(told.replace(b'"how":"abandoned"', b'"how":"lapsed"'))
        pdf.save(other)
    return other
