"""The rules of the site on screens: proposed by one, compared, tried on ended checks, decided by another."""

import json
from datetime import datetime, timedelta

import pytest

from app.people import Role
from app.records.rules import LIBRARY, POLICY
from app.records.state import Phase
from app.site.loading import rules_in_force
from app.workflow import replaying_apart
from app.workflow.accounts import Changed, set_roles
from app.workflow.replaying import Replay, Replayed, replay
from tests.story.pages import pair_of
from tests.support.browser import ORIGIN, Browser, Page
from tests.support.html import parse_html
from tests.support.observers import token_of
from tests.support.world import World

PHARMACIST, ADMINISTRATOR = "p.varga", "a.moreau"


def in_force(world: World, what: str = POLICY) -> str:
    with world.site.store.read() as reader:
        version: str = rules_in_force(reader, world.clock.now).content(what)["version"]
    return version


def compared(world: World, browser: Browser, **typed: str) -> Page:
    """The times of the policy, changed and compared."""
    world.clock.pass_(minutes=1)
    browser.get("/rules")
    browser.follow("Policy")
    browser.follow("Times and values")
    return browser.press("See what differs", **typed)


def proposed(world: World, **typed: str) -> str:
    """A proposal of the pharmacist; its address."""
    browser = world.at(PHARMACIST)
    compared(world, browser, **(typed or {"clearance_minutes": "20"}))
    page = browser.press("Propose it", why="Porters need longer.")
    assert page.status == 200, page.text
    return page.path


def test_a_pharmacist_changes_a_time_and_an_administrator_brings_it_into_force(world: World) -> None:
    browser = world.at(PHARMACIST)
    page = compared(world, browser, clearance_minutes="20")
    assert "Policy: ready to start, minutes 15 20" in page.text
    assert "If you propose it, it waits for an administrator" in page.text
    page = browser.press("Propose it", why="Porters need longer.")
    assert "Proposed, and waits for an administrator: nothing is changed yet." in page.text
    assert "You proposed it yourself, so another person decides." in page.text
    assert in_force(world) == "policy-9"

    assert "waits for you" not in browser.get("/").text
    other = world.at(ADMINISTRATOR)
    assert "Rules of the site: a proposal waits for you" in other.page.text
    other.get("/rules")
    other.follow("policy-10, proposed by Petra Varga")
    assert "Porters need longer." in other.page.text
    assert "Policy: ready to start, minutes 15 20" in other.page.text
    page = other.press("Approve policy-10")
    assert "Approved by Adele Moreau" in page.text
    assert in_force(world) == "policy-10"
    page = other.get("/rules/policy")
    assert "policy-10 is in force since" in page.text
    assert "proposed by Petra Varga, approved by Adele Moreau" in page.text


def test_the_library_waits_for_another_pharmacist(world: World) -> None:
    browser = world.at(PHARMACIST)
    browser.get("/rules/library/change/morphine")
    page = browser.press("See what differs", **{"drugs.morphine.limits.0.hard_high": "4 mg"})
    assert "it waits for another pharmacist" in page.text
    changed = (
        "morphine: demand dose soft low 0.5 mg, soft high 2 mg, hard high 3 mg "
        "soft low 0.5 mg, soft high 2 mg, hard high 4 mg"
    )
    assert changed in page.text
    path = browser.press("Propose it", why="The pain service asked.").path
    other = world.at(ADMINISTRATOR)
    assert "Approve" not in other.get(path).text
    assert other.post(f"{path}/approve", [("csrf_token", other.token())]).status == 403
    roles = frozenset({Role.ADMINISTRATOR, Role.PHARMACIST})
    administrator = world.person(ADMINISTRATOR).id
    done = set_roles(world.site, world.clock.now, by="operator", person=administrator, roles=roles)
    assert isinstance(done, Changed)
    both = world.at(ADMINISTRATOR)
    both.get(path)
    assert "Approved by" in both.press("Approve library-6").text
    assert in_force(world, LIBRARY) == "library-6"


@pytest.mark.parametrize(
    ("part", "typed", "says"),
    [
        ("policy/change/times", {"clearance_minutes": "soon"}, "this must be a whole number"),
        ("policy/change/times", {"clearance_minutes": "900"}, "900 lies above 240"),
        ("policy/change/times", {"version": "policy-9"}, "policy-9 stands already with another content"),
        (
            "library/change/morphine",
            {"drugs.morphine.limits.0.hard_high": "4mg"},
            "write a number, one space and its unit: mg, mcg, g",
        ),
        (
            "library/change/morphine",
            {"drugs.morphine.limits.0.hard_high": "1 mg"},
            "soft high lies above hard high",
        ),
        (
            "observations/change/protocol",
            {"stages.0.every_minutes": "2"},
            "2 lies below 5",
        ),
        ("packs/change/packs", {"packs.0.prime_volume": ""}, "'prime_volume' is missing"),
    ],
)
def test_what_is_wrong_is_said_beside_its_field_and_nothing_is_lost(
    world: World, part: str, typed: dict[str, str], says: str
) -> None:
    browser = world.at(PHARMACIST)
    browser.get(f"/rules/{part}")
    other = {"clearance_minutes": "21"} if "times" in part and "clearance_minutes" not in typed else {}
    page = browser.press("See what differs", **typed, **other)

    assert page.status == 422
    assert says in page.text
    beside = [each for each in page.all("p") if each.get("class") == "fault"]
    assert any(says in "".join(each.itertext()) for each in beside)
    form, _ = page.form_with("See what differs")
    held = dict(form.held)
    assert {name: held.get(name, "") for name in {**typed, **other}} == {**typed, **other}


def test_without_a_reason_or_with_a_wrong_day_nothing_is_proposed_and_nothing_is_lost(world: World) -> None:
    browser = world.at(PHARMACIST)
    compared(world, browser, clearance_minutes="20")
    page = browser.press("Propose it", why="", from_day="2 May", from_time="7 o'clock")
    assert page.status == 422
    assert "Say why." in page.text
    assert "Write a date as year-month-day" in page.text
    assert "Write a time of day such as 07:00" in page.text
    page = browser.press("Propose it", why="Porters", from_day="2031-05-01", from_time="07:00")
    assert "Nothing comes into force before now" in page.text
    page = browser.press("Propose it", why="Porters", from_day="2031-05-05", from_time="07:00")
    assert page.status == 200
    assert "5 May 2031, 07:00 (+01:00)" in page.text


def test_a_refusal_needs_a_reason_and_its_proposer_reads_it(world: World) -> None:
    path = proposed(world)
    other = world.at(ADMINISTRATOR)
    other.get(path)
    assert other.press("Refuse it", no="").status == 422
    page = other.press("Refuse it", no="Fifteen is enough.")
    assert "Refused by Adele Moreau" in page.text
    assert "Why not: Fifteen is enough." in world.at(PHARMACIST).get(path).text
    assert in_force(world) == "policy-9"


def test_what_changed_in_between_is_said_and_compared_anew(world: World) -> None:
    first, second = proposed(world, adult_age="19"), proposed(world, clearance_minutes="20")
    other = world.at(ADMINISTRATOR)
    other.get(first)
    other.press("Approve")
    page = other.get(second)
    assert "What is in force has changed since" in page.text
    assert "Approve" not in [button.words for form in page.forms() for button in form.buttons]
    assert other.post(f"{second}/approve", [("csrf_token", other.token())]).status == 409

    browser = world.at(PHARMACIST)
    browser.get(second)
    page = browser.press("Compare it anew")
    # What the first one changed would be undone, and is seen.
    assert "Policy: adult age 19 18" in page.text
    browser.get(second)
    assert "Taken back by Petra Varga" in browser.press("Take it back").text


def test_a_version_is_a_file_that_can_be_brought_again(world: World) -> None:
    browser = world.at(PHARMACIST)
    browser.get("/rules/policy")
    file = browser.get("/rules/policy/versions/policy-9.json")
    assert file.response.headers["Content-Disposition"] == 'attachment; filename="policy-9.json"'
    content = json.loads(file.body)
    schema = json.loads(browser.get("/rules/policy/schema.json").body)
    assert schema["title"] == "The policy of a site"
    assert browser.get("/rules/policy/versions/policy-8.json").status == 404

    browser.get("/rules/policy")
    assert "word for word, what is in force" in brings(browser, file.body.encode()).text
    content.update(version="policy-10", clearance_minutes=20)
    assert "ready to start, minutes 15 20" in brings(browser, json.dumps(content).encode()).text
    assert browser.press("Propose it", why="Porters need longer.").status == 200


def brings(browser: Browser, content: bytes, *, what: str = POLICY) -> Page:
    """Bring a file."""
    path = f"/rules/{what}/compare"
    response = browser.client.post(
        path,
        base_url=ORIGIN,
        headers={"Origin": ORIGIN},
        content_type="multipart/form-data; boundary=part",
        data=b"\r\n".join(
            (
                b"--part",
                b'Content-Disposition: form-data; name="csrf_token"',
                b"",
                token_of(browser).encode(),
                b"--part",
                b'Content-Disposition: form-data; name="file"; filename="policy.json"',
                b"Content-Type: application/json",
                b"",
                content,
                b"--part--",
                b"",
            )
        ),
    )
    page = Page(path=path, response=response, tree=parse_html(response.get_data()))
    browser.page = page
    return page


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"", "Choose the file."),
        (b"{", "is no JSON"),
        (b'{"adult_age": 18.5}', "18.5 is no whole number"),
        (b"[]", "write countersign.policy/1"),
        (b'{"format": "countersign.library/1"}', "write countersign.policy/1"),
    ],
)
def test_a_file_that_is_none_is_refused_with_its_reason(world: World, content: bytes, says: str) -> None:
    browser = world.at(PHARMACIST)
    browser.get("/rules/policy")
    page = brings(browser, content)
    assert page.status == 422
    assert says in page.text


def test_it_is_tried_on_ended_checks_in_counts_alone(world: World, monkeypatch: pytest.MonkeyPatch) -> None:
    def in_this_process(now: datetime, asked: Replay, _url: str) -> Replayed:
        with world.site.store.read() as reader:
            return replay(reader, now, asked)

    monkeypatch.setattr(replaying_apart, "_asked", in_this_process)
    pair_of(world).at_stage(Phase.STARTED)
    world.clock.pass_(minutes=1)
    browser = world.at(PHARMACIST)
    browser.get("/rules/policy/change/engine")
    page = browser.press("See what differs", **{"engine.caution_from_age": "18"})
    assert page.status == 200, page.text
    page = browser.press("Try it on ended checks first", why="Kept while it is tried")
    assert page.status == 200, page.text
    assert "The last 1 of them" in page.text
    assert "CONSIDER: Patient at risk 1 new none gone Ward 4 East 1 new" in page.text
    assert "Kept while it is tried" in page.text
    assert "Nothing is changed by looking" in page.text


@pytest.mark.parametrize("login", ["n.ferrow", "r.calloway"])
def test_nobody_at_the_bedside_has_anything_to_do_with_it(world: World, login: str) -> None:
    browser = world.at(login)
    assert "Rules of the site" not in browser.page.links()
    for path in ("/rules", "/rules/policy", "/rules/policy/versions/policy-9.json"):
        assert browser.get(path).status == 403


def test_the_quality_team_looks_and_changes_nothing(world: World) -> None:
    path = proposed(world)
    browser = world.at("q.lindqvist")
    browser.get("/rules/policy")
    assert "Propose a change" not in browser.page.text
    assert browser.get("/rules/policy/change/times").status == 403
    assert [each.buttons[0].words for each in browser.get(path).forms()] == ["Sign out"]


def test_invented_rules_say_so_in_the_head_of_each_page(world: World) -> None:
    browser = world.at(PHARMACIST)
    for path in ("/rules/policy", "/rules/library/change/morphine"):
        assert "Invented values: never for a patient." in browser.get(path).text


def test_what_is_not_there_is_not_found(world: World) -> None:
    browser = world.at(PHARMACIST)
    for path in ("/rules/none", "/rules/policy/change/none", "/rules/proposals/none"):
        assert browser.get(path).status == 404


def test_a_screen_of_yesterday_proposes_nothing_by_accident(world: World) -> None:
    """The page was made before another version came into force: what it was compared with is told apart."""
    browser = world.at(PHARMACIST)
    compared(world, browser, clearance_minutes="20", version="policy-late")
    old = browser.page.form_with("Propose it")[0]
    other = world.at(ADMINISTRATOR)
    other.get(proposed(world, adult_age="19"))
    other.press("Approve")
    world.clock.pass_(minutes=1)
    held = [each for each in old.held if each[0] not in {"why", "csrf_token"}]
    browser = world.at(PHARMACIST)
    browser.get("/rules")
    page = browser.post(old.action, [*held, ("why", "late"), ("csrf_token", browser.token())])
    assert page.status == 422
    assert "What is in force has changed since" in page.text
    assert "Policy: adult age 19 18" in page.text
    # Looked at again, it may be proposed all the same.
    assert browser.press("Propose it", why="It is meant").path.startswith("/rules/proposals/")


def test_what_is_approved_for_later_meanwhile_is_not_passed_over_unsaid(world: World) -> None:
    browser = world.at(PHARMACIST)
    compared(world, browser, adult_age="19")
    june = browser.press("Propose it", why="x", from_day="2031-06-01", from_time="07:00").path
    today = proposed(world, clearance_minutes="20")
    other = world.at(ADMINISTRATOR)
    other.get(june)
    other.press("Approve")
    # By a page from before nobody was told of June's.
    page = other.post(f"{today}/approve", [("csrf_token", other.token())])
    assert page.status == 409
    assert "Approved for later: policy-10." in page.text
    assert in_force(world) == "policy-9"
    other.get(today)
    other.press("Approve policy-11 in place of policy-10")
    assert in_force(world) == "policy-11"
    # What comes to nothing already is not said again.
    world.clock.pass_(minutes=1)
    other.get(proposed(world, adult_age="20"))
    assert "Approve policy-12" in other.page.text
    assert "Approved for later" not in other.page.text


def test_who_lost_the_role_meanwhile_approves_nothing(world: World) -> None:
    path, other = proposed(world), world.at(ADMINISTRATOR)
    other.get(path)
    person = world.person(ADMINISTRATOR).id
    roles = frozenset({Role.QUALITY})
    assert isinstance(
        set_roles(world.site, world.clock.now, by="operator", person=person, roles=roles), Changed
    )
    assert other.press("Approve").status in {401, 403}
    assert in_force(world) == "policy-9"


def test_it_counts_from_its_time_on(world: World) -> None:
    browser = world.at(PHARMACIST)
    compared(world, browser, clearance_minutes="20")
    at = world.clock.now + timedelta(days=1)
    page = browser.press("Propose it", why="x", from_day=f"{at:%Y-%m-%d}", from_time="07:00")
    other = world.at(ADMINISTRATOR)
    other.get(page.path)
    other.press("Approve")
    assert in_force(world) == "policy-9"
    assert "policy-10 from 3 May 2031, 07:00 (+01:00)" in other.get("/rules").text
    world.clock.pass_(days=1)
    assert in_force(world) == "policy-10"


def test_any_unit_may_have_its_own_and_whoever_looks_at_the_units_sees_it(world: World) -> None:
    browser = world.at(PHARMACIST)
    browser.get("/rules/policy/change/units")
    own = {"units.ward-4-east.pharmacist_required": "no", "units.recovery.pharmacist_required": ""}
    page = browser.press("See what differs", **own)
    assert "Policy, otherwise on Ward 4 East: pharmacist required not there no" in page.text
    assert "Policy, otherwise on Recovery room: pharmacist required no taken away" in page.text
    path = browser.press("Propose it", why="Orders are urgent there.").path
    other = world.at(ADMINISTRATOR)
    other.get(path)
    other.press("Approve")
    assert "Ward 4 East Otherwise than the site: pharmacist required no" in other.get("/units").text


def test_the_administrator_sees_who_can_change_what(world: World) -> None:
    page = world.at(ADMINISTRATOR).get("/accounts")
    assert "Pharmacist Petra Varga" in page.text
    assert "Only one pharmacist has a login: nobody could approve a change of the drug library." in page.text


def test_a_large_library_is_kept_while_id_and_secret_are_asked(world: World) -> None:
    """More drugs than any hospital's: what is sent as a field is three times as long."""
    browser = world.at(PHARMACIST)
    content = json.loads(browser.get("/rules/library/versions/library-5.json").body)
    morphine = content["drugs"]["morphine"]
    content["drugs"].update({f"drug {number}": morphine for number in range(40)})
    content["version"] = "library-6"
    browser.get("/rules/library")
    assert brings(browser, json.dumps(content).encode(), what="library").status == 200
    assert "waits for another pharmacist" in browser.press("Propose it", why="All of them.").text
