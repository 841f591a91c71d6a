"""What is written down afterwards: the device was stopped; an infusion started without a check."""

import pytest

from app.records.events import DeviceStopped, StartedWithoutCheck
from app.records.state import Phase
from tests.story.pages import VERIFIED_BUTTON, cleared, pair_of, started
from tests.support.browser import words_of
from tests.support.world import UNIT, World

OTHER_BED = "Was it another bed?"


def stops(world: World, check: str) -> list[DeviceStopped]:
    """What the log has of stops."""
    with world.site.store.read() as reader:
        return [each.event for each in reader.entries(check) if isinstance(each.event, DeviceStopped)]


def test_a_stop_is_saved_with_nothing_filled_in(world: World) -> None:
    browser, _, check = world.pair()
    browser.get(f"/check/{check}/read/label")
    browser.follow("Stop the device now")
    assert browser.page.heading == "First the patient"
    assert "Ward 4 East, bed 12 · Set-up" in browser.page.text

    page = browser.press("The device was stopped")
    assert "Ward 4 East, bed 12 · Set-up" in page.text

    assert page.heading == "Written down: the device was stopped"
    assert stops(world, check) == [DeviceStopped(stopped_at="", why="", totals="")]


@pytest.mark.parametrize("login", ["t.osmund", "r.calloway", "p.varga"])
def test_one_person_is_enough_and_need_not_be_of_the_two(world: World, login: str) -> None:
    first = world.at("n.ferrow")
    check = world.open_check(first)
    browser = world.at(login)
    browser.get(f"/check/{check}/stop")

    browser.press(
        "with what stands above", why="sedation-or-breathing", stopped_at="12:50", totals="4 mg, 20 presses"
    )

    # 12:50 in Dublin in May is 11:50 UTC, and the clock stands at 12:00 UTC.
    stated = DeviceStopped(
        stopped_at="2031-05-02T12:50+01:00", why="sedation-or-breathing", totals="4 mg, 20 presses"
    )
    assert stops(world, check) == [stated]


@pytest.mark.parametrize(
    ("typed", "kept"),
    [
        ("23:10", "2031-05-01T23:10+01:00"),
        ("3.10", "2031-05-02T03:10+01:00"),
        ("just before midnight", "just before midnight"),
        ("25:00", "25:00"),
        ("x" * 600, "x" * 500),
    ],
)
def test_no_way_of_writing_the_time_keeps_a_stop_from_being_saved(
    world: World, typed: str, kept: str
) -> None:
    browser, _, check = world.pair()
    browser.get(f"/check/{check}/stop")

    page = browser.press("with what stands above", stopped_at=typed)

    assert page.status == 200
    assert stops(world, check)[0].stopped_at == kept


def test_a_reason_that_is_not_offered_is_left_out_and_the_stop_is_saved(world: World) -> None:
    browser, _, check = world.pair()
    browser.get(f"/check/{check}/stop")

    browser.post(f"/check/{check}/stop", [("csrf_token", browser.token()), ("why", "forged")])

    assert stops(world, check)[0].why == ""


def test_on_another_unit_a_stop_can_be_written_down_and_the_bed_is_not_told(world: World) -> None:
    check = world.open_check(world.at("n.ferrow"))
    other = world.at("i.bexley", unit="recovery")

    page = other.get(f"/check/{check}/stop")
    assert page.heading == "First the patient"
    assert "bed 12" not in page.text

    other.press("The device was stopped")
    assert len(stops(world, check)) == 1


def test_the_list_says_that_the_device_was_stopped_and_what_is_next(world: World) -> None:
    pair = cleared(world)
    for browser in pair.both:
        pair.page(browser, "/start")
        browser.press("The device shows exactly this")
    pair.page(pair.first, "/start")
    pair.first.press("Started: the infusion runs")
    # There is nothing to go on with, and another check may be opened.
    main = words_of(pair.first.get("/").with_id("main"))
    assert "started Show" in main
    assert "Go on" not in main

    pair.page(pair.first, "/stop")
    pair.first.press(
        "with what stands above", why="device-alarm-or-fault", stopped_at="3.10", totals="4 mg, 20 presses"
    )
    main = words_of(pair.first.get("/").with_id("main"))
    assert "the device was stopped Before it runs again, two nurses check it again." in main
    assert "Go on" not in main
    page = pair.page(pair.second, "")
    assert page.heading == "The device was stopped"
    assert "Order, label and device agree" not in page.text
    # What was written is found again, and by the one to whom the infusion is handed over too.
    for browser in (pair.second, world.at("r.calloway")):
        text = pair.page(browser, "").text
        assert "Written down by Nadia Ferrow, 2 May 2031" in text
        assert "Device alarm or fault. Stopped at: 2 May 2031, 03:10 (+01:00). 4 mg, 20 presses" in text

    world.clock.pass_(minutes=1)
    page = pair.first.press("Open the next check")
    assert page.heading == "Give this code to your colleague"
    # Once it is open, it is not offered again.
    assert "Open the next check" not in pair.first.get("/").text


def test_what_was_stopped_for_good_waits_for_no_check(world: World) -> None:
    pair = started(world)
    pair.page(pair.first, "/stop")
    pair.first.press("with what stands above", why="line-or-site")
    assert "Open the next check" in pair.first.get("/").text
    assert "open a check for this bed" in pair.page(pair.first, "").text

    pair.page(pair.first, "/stop")
    said = pair.first.press("with what stands above", why="end-of-therapy")
    assert "now two read what it gave and what is left" in words_of(said.with_id("main"))
    of_check = pair.page(pair.first, "").text
    assert "PCA is over here" in of_check
    assert "open a check for this bed" not in of_check
    main = words_of(pair.first.get("/").with_id("main"))
    assert "the device was stopped" in main
    assert "Before it runs again" not in main
    assert "Open the next check" not in main


def test_its_author_says_that_pca_did_not_end_with_it(world: World) -> None:
    pair = pair_of(world).at_stage(Phase.STARTED)
    author, other = pair.first, world.at("r.calloway")
    pair.page(author, "/stop")
    page = author.press("The device was stopped: write it down", why="end-of-therapy")
    address, to_say = page.path, page.form_with("PCA is not over")[0].action
    other.get(address)
    assert "PCA is not over" not in other.page.text
    assert other.post(to_say, [("csrf_token", other.token())]).status == 404

    author.get(address)
    page = author.press("PCA is not over")
    assert page.path == "/"
    assert "the device was stopped" in words_of(page.with_id("main"))
    assert "PCA is not over" not in author.get(address).text
    assert (
        "PCA did not end with a stop that stands here"
        in author.get(f"/infusion/{pair.state.check.infusion}").text
    )


def test_a_stop_at_a_bed_needs_neither_bed_nor_check_and_counts_for_the_check_there(world: World) -> None:
    _, _, check = world.pair()
    browser = world.at("r.calloway")
    browser.follow("A device was stopped at a bed")
    assert browser.page.heading == "First the patient"

    page = browser.press("with what stands above", unit=UNIT, bed=" 12 ", why="wrong-patient")
    assert page.heading == "Written down: the device was stopped"
    assert stops(world, check) == [DeviceStopped(stopped_at="", why="wrong-patient", totals="")]

    browser.get("/stop")
    assert browser.press("The device was stopped").heading == "Written down: the device was stopped"
    browser.post("/stop", [("csrf_token", browser.token()), ("unit", "forged"), ("bed", "x" * 30)])
    assert browser.page.heading == "Written down: the device was stopped"
    assert (
        "A device was stopped at a bed that was not named, where nothing is known to run."
        in browser.get("/").text
    )
    with world.site.store.read() as reader:
        told = [each.event for each in reader.entries_of_kind(DeviceStopped.kind)]
    assert [(each.unit, each.bed) for each in told if isinstance(each, DeviceStopped)] == [
        ("", ""),
        (UNIT, ""),
        (UNIT, "x" * 20),
    ]


def test_its_author_says_that_it_was_another_bed_and_writes_it_at_the_right_one(world: World) -> None:
    browser, _, check = world.pair()
    browser.get(f"/check/{check}/stop")
    browser.press("The device was stopped")
    note = browser.page.path.partition("?note=")[2]

    other = world.at("r.calloway")
    other.get(f"/stop/written?note={note}")
    assert other.press("It was another bed").status == 404
    assert "the device was stopped" in words_of(other.get("/").with_id("main"))

    page = browser.press("It was another bed")
    assert (page.path, page.heading) == ("/stop", "First the patient")
    assert "the device was stopped" not in words_of(other.get("/").with_id("main"))
    assert "It was another bed" not in browser.get("/stop/written").text


def test_where_two_run_after_such_a_correction_its_author_and_the_lists_are_told(world: World) -> None:
    first = pair_of(world, bed="12").at_stage(Phase.STARTED)
    first.page(first.first, "/stop")
    first.first.press("The device was stopped")
    written = first.first.page.path
    pair_of(world, bed="14").at_stage(Phase.STARTED)

    author = world.at("n.ferrow")
    author.get(written)
    page = author.press("It was another bed")
    assert page.heading == "Look at both now"
    for words in (
        "TWO INFUSIONS RUN",
        "PCA runs already for this patient: Ward 4 East, bed 14.",
        "Only one",
        "of Ward 4 East, bed 12 runs again",
    ):
        assert words in page.text, words
    assert page.links()["Write down the stop at its bed"] == "/stop"
    assert world.at("r.calloway").get(page.path).path == "/stop", "for its author alone"

    for login in ("r.calloway", "i.bexley"):
        text = words_of(world.at(login).get("/").with_id("main"))
        assert text.count("TWO INFUSIONS RUN Ward 4 East, bed 1") == 2, text
        assert text.index("TWO INFUSIONS RUN") < text.index("Open a check")
    sheet = world.at("r.calloway").get("/shift-sheet").text
    assert sheet.count("two infusions run") == 2


def test_a_stop_before_the_start_is_on_the_pages_of_the_check_and_asks_for_a_new_baseline(
    world: World,
) -> None:
    pair = cleared(world)
    pair.page(pair.first, "/stop")
    pair.first.press("with what stands above", why="sedation-or-breathing", totals="hard to wake")

    assert pair.phase() is Phase.STEPS
    page = pair.page(pair.second, "/steps")
    assert "The device was stopped. Sedation, breathing and SpO2 are observed anew" in page.text
    page = pair.page(pair.second, "")
    assert page.heading == "The device was stopped"
    assert "Written down by Nadia Ferrow, 2 May 2031" in page.text
    assert "Sedation or breathing. hard to wake" in page.text
    assert "the device was stopped" in words_of(pair.first.get("/").with_id("main"))
    # Both sign anew, and the record has it.
    pair.observe()
    pair.tick(pair.second, VERIFIED_BUTTON)
    assert pair.phase() is Phase.SIGNING
    pair.sign()
    page = pair.page(pair.second, "/record")
    assert "The device was stopped. Written down by Nadia Ferrow" in page.text
    assert "Observed before that" in page.text


def test_whoever_reads_sees_that_it_was_stopped_and_not_what_was_written(world: World) -> None:
    first, second, check = world.pair()
    first.get(f"/check/{check}/stop")
    first.press("with what stands above", why="wrong-setting-or-drug", totals="2 mg is set")

    third = world.at("r.calloway")
    for browser, path in ((second, ""), (second, "/read/label"), (second, "/steps"), (third, "")):
        text = browser.get(f"/check/{check}{path}").text
        assert "The device was stopped. Written down" in text, path
        assert "2 mg" not in text
        assert "Wrong drug" not in text


def test_a_stop_of_no_check_is_not_found(world: World) -> None:
    browser = world.at("n.ferrow")
    browser.get("/check/none/stop")

    assert browser.press("The device was stopped").status == 404


def test_the_way_to_stop_stands_on_every_page_of_a_check(world: World) -> None:
    browser, _, check = world.pair()
    opener = world.at("i.bexley")
    own = world.open_check(opener, bed="3")

    pages = [browser.get(f"/check/{check}/{rest}") for rest in ("read/label", "read/device", "steps")]
    pages += [opener.page, world.at("r.calloway").get(f"/check/{own}/join")]

    for page in pages:
        links = [href for words, href in page.links().items() if words.startswith("Stop the device now")]
        assert len(links) == 1, page.path
        assert links[0].endswith("/stop")


def test_a_start_without_a_check_tops_the_list_until_a_check_is_cleared(world: World) -> None:
    browser = world.at("n.ferrow")
    browser.follow("had to start without a check")

    page = browser.press(
        "Write it down", unit=UNIT, bed="7", reason="Second nurse in resuscitation", started_at="12:30"
    )
    assert page.path == "/"
    assert page.text.index("RUNNING WITHOUT A CHECK") < page.text.index("Open a check")
    assert "Second nurse in resuscitation" in page.text
    # The clock stands at 12:00 UTC, 13:00 in Dublin, and the site gives half an hour.
    assert "Two nurses check it by 2 May 2031, 13:30 (+01:00) at the latest." in page.text
    charge = world.at("r.calloway")
    assert "RUNNING WITHOUT A CHECK" in charge.page.text
    assert "Two nurses check it by 2 May 2031, 13:30 (+01:00)" in charge.get("/shift-sheet").text

    # The check that is due is one press away, until it is open.
    assert browser.press("Open the check that is due").heading == "Give this code to your colleague"
    # Open is not cleared, and who reads blind is not told what somebody wrote.
    page = browser.get("/")
    assert "RUNNING WITHOUT A CHECK" in page.text
    assert "Second nurse in resuscitation" not in page.text
    assert "Open the check that is due" not in page.text


def test_what_runs_without_a_check_has_its_stop_page(world: World) -> None:
    browser = world.at("n.ferrow")
    browser.get("/started-without-check")
    browser.press("Write it down", unit=UNIT, bed="7", reason="Nobody could come")
    page = browser.follow("Stop the device now")
    assert page.heading == "First the patient"
    assert "Ward 4 East, bed 7" in page.text

    assert browser.press("with what stands above", why="end-of-therapy").status == 200

    assert browser.page.heading == "Written down: the device was stopped"
    assert "RUNNING WITHOUT A CHECK" not in browser.get("/").text
    with world.site.store.read() as reader:
        noted = [each.event for each in reader.log_entries(after=0, limit=1000)]
    assert DeviceStopped(stopped_at="", why="end-of-therapy", totals="") in noted
    assert browser.get("/infusion/none/stop").heading == "First the patient"
    assert browser.press("The device was stopped").status == 404


def test_a_start_without_a_check_needs_place_and_reason_and_no_time(world: World) -> None:
    browser = world.at("n.ferrow")
    browser.get("/started-without-check")

    page = browser.press("Write it down", unit="", bed="", reason="")
    assert page.status == 422
    assert {"#field-unit", "#field-bed", "#field-reason"} <= set(page.links().values())

    page = browser.press("Write it down", unit=UNIT, bed="7", reason=" ")
    assert page.status == 422

    page = browser.press("Write it down", unit=UNIT, bed=" ", reason="Nobody could come")
    assert page.status == 422

    browser.press("Write it down", unit=UNIT, bed="7", reason="Nobody could come")
    with world.site.store.read() as reader:
        noted = [
            each.event
            for each in reader.log_entries(after=0, limit=1000)
            if isinstance(each.event, StartedWithoutCheck)
        ]
    assert [(each.reason, each.started_at) for each in noted] == [("Nobody could come", "")]


def test_on_the_checks_own_page_its_author_alone_says_that_it_was_another_bed(world: World) -> None:
    pair = cleared(world)
    pair.page(pair.first, "/stop")
    pair.first.press("The device was stopped")
    assert pair.phase() is Phase.STEPS

    assert OTHER_BED not in pair.page(pair.second, "").links()
    page = pair.page(pair.first, "")
    assert page.heading == "The device was stopped"
    pair.first.follow(OTHER_BED)
    assert pair.first.press("It was another bed").path == "/stop"

    # What both had signed does not come back.
    assert pair.phase() is Phase.STEPS
    page = pair.page(pair.first, "")
    assert "It was at another bed, its author says." in page.text
    assert OTHER_BED not in page.links()
    assert "Ready to start" not in page.text


def test_so_it_is_while_they_read_alone(world: World) -> None:
    first, second, check = world.pair()
    second.get(f"/check/{check}/stop")
    second.press("with what stands above", totals="2 mg is set")

    for path in ("", "/read/label", "/read/device"):
        assert OTHER_BED in second.get(f"/check/{check}{path}").links()
        assert OTHER_BED not in first.get(f"/check/{check}{path}").links()
    second.follow(OTHER_BED)
    second.press("It was another bed")
    assert "The device was stopped" not in first.get(f"/check/{check}/read/label").text
