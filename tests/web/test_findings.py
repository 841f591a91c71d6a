import re
from datetime import timedelta

import pytest

from app.records.state import Phase
from app.storage import FindingPlace, read_findings
from app.web.forms.findings import find_place, write_place
from app.words.checking import CODES, spell
from app.words.names import loud_times, quiet_times
from app.workflow import findings
from tests.factories.answers import answers
from tests.story.pages import Pair, compared, pair_of
from tests.support.browser import Browser, Page, words_of
from tests.support.world import START, World


def ended(world: World, **changes: dict[str, str]) -> Pair:
    """A check that found something and was ended."""
    pair = compared(world, answers(**changes))
    pair.page(pair.first, "/abandon")
    pair.first.press("Give this check up", reason="supply-fault")
    return pair


def titles(page: Page) -> list[str]:
    """What each finding of the page is called, and the field it is about."""
    return [words_of(next(each.iter("h3"))) for each in page.all("article")]


def log(world: World, login: str = "r.calloway", query: str = "") -> Page:
    """The log as somebody sees it."""
    return world.at(login).get(f"/findings{query}")


FIVEFOLD = {"label": {"amount": "30 mg"}}


def test_every_finding_of_an_ended_check_with_what_came_of_it(world: World) -> None:
    pair = compared(world, answers(label={"amount": "30 mg"}, chart={"sedatives": "charted"}))
    world.clock.pass_(minutes=3)
    pair.put_right("label", answers())
    pair.consider()
    pair.take_steps()
    pair.sign()
    assert titles(log(world)) == [], "signed by both, it has not ended"
    pair.look()
    pair.start()
    text = log(world).text
    for stands in (
        "Label is not the order: Concentration",
        "FIVE TIMES",
        "Ward 4 East, bed 12 · Set-up, reading 1",
        "Put right, read again and agreed after 3 min",
        "Patient at risk: Patient",
        "Acknowledged by both",
        "signed by both, and started",
    ):
        assert stands in text, stands


def test_the_list_has_no_dose_in_it_and_the_finding_s_page_has(world: World) -> None:
    ended(world, **FIVEFOLD)
    page = log(world, query="?severity=stop")
    assert not re.search(r"\d ?(mg|mL)", words_of(page.with_id("main")))
    (one,) = [link for link in page.links().values() if link.endswith("/sources/1/1")]
    assert "1 mg/mL" in world.at("r.calloway").get(one).text


def test_what_a_re_check_found_is_listed_once_it_led_to_another_check(world: World) -> None:
    pair_of(world).at_stage(Phase.LED)

    assert "led to another check" in log(world).text


def test_nothing_of_an_open_check_is_listed(world: World) -> None:
    compared_at(world, "14", answers(**FIVEFOLD))
    page = log(world)
    assert titles(page) == []
    assert "bed 14" not in words_of(page.with_id("main"))


def compared_at(world: World, bed: str, read: dict[str, dict[str, str]]) -> Pair:
    """Another check of the same two at another bed."""
    pair = pair_of(world, bed=bed, logins=("i.bexley", "t.osmund")).at_stage(Phase.READING)
    pair.read(read)
    return pair


@pytest.mark.parametrize(
    ("query", "found"),
    [
        ("?severity=stop", ["Label is not the order: Concentration"]),
        ("?severity=caution", ["Patient at risk: Patient"]),
        ("?code=patient-at-risk", ["Patient at risk: Patient"]),
        ("?code=label-expired", []),
        ("?severity=stop&review=not-reviewed", ["Label is not the order: Concentration"]),
        ("?review=given-to-me", []),
        ("?first=2031-05-02&last=2031-05-02&severity=stop", ["Label is not the order: Concentration"]),
        ("?last=2031-05-01", []),
        ("?first=2031-05-03", []),
    ],
)
def test_filters_by_time_finding_and_severity(world: World, query: str, found: list[str]) -> None:
    ended(world, chart={"sedatives": "charted"}, **FIVEFOLD)
    assert titles(log(world, query=query)) == found


def test_days_are_the_sites_days(world: World) -> None:
    # 23:30 in Dublin on 2 May is 22:30 UTC; half an hour later the day is another there and not in UTC.
    world.clock.now = START.replace(hour=22, minute=30)
    ended(world, **FIVEFOLD)
    world.clock.now += timedelta(minutes=31)
    second = ended(world, **FIVEFOLD)
    assert len(titles(log(world, query="?last=2031-05-02&severity=stop"))) == 1
    page = log(world, query="?first=2031-05-03&severity=stop")
    assert len(titles(page)) == 1
    assert f"/findings/{second.check}/sources/1/1" in page.links().values()


@pytest.mark.parametrize("query", ["?first=2.5.2031", "?last=9999-12-31", "?severity=worst", "?unit=nowhere"])
def test_a_filter_that_cannot_be_read_is_said_so_and_kept(world: World, query: str) -> None:
    page = log(world, query=query)
    assert page.status == 422
    assert "to put right" in page.text


def test_pages_follow_each_other_without_gap_or_repeat(world: World, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(findings, "PAGE", 2)
    checks = []
    for _ in range(3):
        checks.append(ended(world, **FIVEFOLD).check)
        world.clock.pass_(minutes=1)
    browser = world.at("q.lindqvist")
    page = browser.get("/findings?severity=stop")
    seen = linked(page)
    while "Older" in page.links():
        page = browser.follow("Older")
        assert page.status == 200
        seen += linked(page)
    assert seen == [f"/findings/{check}/sources/1/1" for check in reversed(checks)]


def linked(page: Page) -> list[str]:
    """Where the findings of a page lead to."""
    return [next(each.iter("a")).get("href", "") for each in page.all("article")]


def test_a_charge_nurse_sees_the_own_unit_and_the_others_every_unit(world: World) -> None:
    ended(world, **FIVEFOLD)
    elsewhere = world.at("r.calloway", "recovery")
    assert titles(elsewhere.get("/findings?unit=ward-4-east&severity=stop")) == []
    for login in ("q.lindqvist", "p.varga"):
        assert len(titles(log(world, login, "?severity=stop"))) == 1
        assert titles(log(world, login, "?severity=stop&unit=recovery")) == []


@pytest.mark.parametrize("login", ["n.ferrow", "a.moreau"])
def test_who_may_not_read_the_log(world: World, login: str) -> None:
    assert log(world, login).status == 403


def test_a_mistyped_place_begins_at_the_newest(world: World) -> None:
    ended(world, **FIVEFOLD)
    browser: Browser = world.at("q.lindqvist")
    whole = "2031-05-02T10:00:00%2B00:00~x"
    for place in (
        "nonsense",
        "2031-05-02~x~sources~1~1",
        "~",
        "2031-05-02T10:00:00~x~sources~1~1",
        f"{whole}~sources~1~{'9' * 30}",
        "0001-01-01T00:00:00%2B14:00~x~sources~1~1",
        "9999-12-31T23:59:59-14:00~x~sources~1~1",
    ):
        assert len(titles(browser.get(f"/findings?severity=stop&after={place}"))) == 1


def test_a_place_survives_its_way_through_an_address() -> None:
    place = FindingPlace(START + timedelta(microseconds=17), "0f" * 16, "sources", 2, 13)
    assert find_place(write_place(place)) == place


@pytest.mark.parametrize(
    ("factor", "words"),
    [
        ("", ""),
        ("1", ""),
        ("5", "FIVE TIMES"),
        ("0.1", "A TENTH"),
        ("2.5", "2.5 TIMES"),
        ("1,000", "A THOUSAND TIMES"),
        ("12,500", "12,500 TIMES"),
        ("2", "TWICE"),
        ("0.5", "HALF"),
        # Too near to one to be shouted.
        ("1.99", "1.99 times"),
        ("0.501", "0.501 times"),
        ("1.02", "1.02 times"),
        ("0.6", "0.6 times"),
    ],
)
def test_ratios_are_said_in_words_and_loudly_from_twice_or_half_on(factor: str, words: str) -> None:
    is_loud = words.isupper()
    assert loud_times(factor) == (words if is_loud else "")
    assert quiet_times(factor) == ("" if is_loud else words)


@pytest.mark.parametrize(("seconds", "said"), [(7, "7 s"), (61, "1 min"), (3720, "1 h 2 min")])
def test_time_to_settle_is_said_in_one_or_two_units(seconds: int, said: str) -> None:
    assert spell(seconds) == said


def test_every_code_has_words() -> None:
    from app.comparison.findings import SEVERITIES
    from app.comparison.reasons import REASONS
    from app.records.followup import AFTER

    assert {*SEVERITIES, *REASONS, *AFTER} <= CODES.keys()


def test_how_far_a_review_has_come_stands_beside_each_and_is_looked_for(world: World) -> None:
    pair = ended(world, **FIVEFOLD)
    browser = world.at("r.calloway")
    browser.get(f"/findings/{pair.check}/sources/1/1")
    form, _ = browser.page.form_with("Give it")
    quill = next(each for each in form.choices["to"] if "q" in each)
    browser.press("Give it", to=quill, to_text="please")
    given_to = world.at("q.lindqvist")
    mine = given_to.get("/findings?review=given-to-me")

    assert titles(mine) == ["Label is not the order: Concentration"]
    assert "Not looked through yet, given to you" in mine.text
    assert "given to somebody" in browser.get("/findings?review=given").text
    assert titles(browser.get("/findings?review=given-to-me")) == []
    browser.get(f"/findings/{pair.check}/sources/1/1")
    browser.press("I have looked through it")
    assert titles(given_to.get("/findings?review=given-to-me")) == []
    assert "Looked through, given to somebody" in browser.get("/findings?review=reviewed").text


def test_what_waits_to_be_classified_is_found_by_who_classifies_and_by_nobody_else(world: World) -> None:
    pair = pair_of(world).at_stage(Phase.LED)
    analyst = world.at("q.lindqvist")
    analyst.get("/")
    page = analyst.follow("Findings to be classified")
    assert "You would be the first to classify it" in page.text
    stop = f"/findings/{pair.check}/sources/1/1"
    assert f"{stop}?classify=yes" in page.links().values()
    assert page.path == "/findings/to-classify"
    analyst.get(stop)
    analyst.press("Classify", category="C", readers="nobody")
    assert stop not in str(analyst.get("/findings/to-classify").links().values())

    second = world.at("p.varga").get("/findings/to-classify")
    assert "you would be the second" in second.text
    assert "reached the patient, no harm" not in second.text
    assert analyst.get("/findings/to-classify?sample=none").status == 404
    charge = world.at("r.calloway")
    assert "Unit" not in [each.text for each in charge.get("/findings").all("label")]
    assert "To be classified" not in charge.get("/findings").links()
    assert charge.get("/findings/to-classify").status == 403


def test_a_page_that_ends_early_says_how_far_back_it_looked(
    world: World, monkeypatch: pytest.MonkeyPatch
) -> None:
    pair = ended(world, **FIVEFOLD)
    browser = world.at("r.calloway")
    browser.get(f"/findings/{pair.check}/sources/1/1")
    browser.press("I have looked through it")
    monkeypatch.setattr(read_findings, "LOOKED_AT", 1)
    page = browser.get("/findings?review=not-reviewed&severity=stop")

    assert "Looked for among those since 2 May 2031" in page.text
    assert "No finding stands in the log for this." not in page.text
    assert "No finding stands in the log for this." in browser.follow("Look further back").text
