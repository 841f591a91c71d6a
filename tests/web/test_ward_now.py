"""Now: every line of the ward in one ranking, who is there, and what follows; asked for again by itself."""

from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta

import pytest

from app.records.state import Phase
from app.workflow import emergencies, pausing
from app.workflow.ward_now import A_WHILE
from tests.factories.answers import answers, of_patient
from tests.story.pages import Pair, compared, joined, pair_of, started
from tests.support.browser import Browser, Page, words_of
from tests.support.walking import asked
from tests.support.world import IDLE, World
from tests.web.test_findings import FIVEFOLD, compared_at
from tests.web.test_settling import grant
from tests.web.test_waiting import NOTHING_NEW, RELOAD, asked_by, last_seen, told


def now(world: World, login: str = "r.calloway", unit: str = "ward-4-east") -> Page:
    return world.at(login, unit).get("/now")


def rows(page: Page) -> list[str]:
    return [words_of(each) for each in page.all("tr") if each.find("td") is not None]


def ask_for_help(pair: Pair) -> None:
    pair.page(pair.first, "/help")
    pair.first.press("Ask for help", why="sources")


def test_an_open_check_is_there_without_any_value_and_help_comes_first(world: World) -> None:
    joined(world)
    ask_for_help(compared_at(world, "14", answers(**FIVEFOLD)))
    world.clock.pass_(seconds=11 * 60)

    first, second = rows(now(world))

    for said in (
        "Bed 14",
        "Imogen Bexley, Tomas Osmund",
        "asked for help for 10 min, since",
        "Take the request",
    ):
        assert said in first, said
    assert "Bed 12" in second
    assert "in progress" in second
    for hidden in ("FIVE", "Concentration", "mg", "DM-40417"):
        assert hidden not in first + second, hidden


def test_whoever_took_a_request_is_named_and_led_back_to_it(world: World) -> None:
    pair = compared_at(world, "14", answers(**FIVEFOLD))
    ask_for_help(pair)
    helper = world.at("r.calloway")
    helper.get("/now")
    helper.follow("Take the request")
    helper.press("Take this request for help")

    (mine,), (others,) = rows(helper.get("/now")), rows(now(world, "p.varga"))

    assert "Settle it" in mine
    assert "Ruth Calloway has taken it." in mine
    assert "Ruth Calloway has taken it." in others
    assert "Take the request" not in others


def test_what_runs_says_who_answers_for_it_what_is_due_and_no_dose(world: World) -> None:
    pair = started(world)
    paused = pausing.pause_line(world.site, pair.act(pair.first), pair.state.check.infusion, why="walk")
    assert isinstance(paused, pausing.Paused)
    world.clock.pass_(hours=1)

    (row,) = rows(now(world))

    for said in ("answers for it", "the line is paused for 1 h", "Overdue: let the line run on"):
        assert said in row, said
    assert not [each for each in ("mg", "mL", "HYDROmorphone") if each in row]


def test_what_is_kept_as_it_is_is_started_by_nobody_and_the_own_unit_is_named_once(world: World) -> None:
    pair = started(world)
    noted = emergencies.note_harm(
        world.site, pair.act(pair.first), pair.state.check.infusion, what="overdose"
    )
    assert isinstance(noted, emergencies.Noted)

    (row,), (everywhere,) = rows(now(world)), rows(now(world, "p.varga"))

    assert "Kept as it is: nothing is started, cleared or emptied." in row
    assert "before it runs again" not in row
    assert row.startswith("Bed 12")
    assert everywhere.startswith("Ward 4 East, bed")


def test_a_pharmacist_sees_every_unit_and_a_charge_nurse_the_own(world: World) -> None:
    joined(world)
    assert "bed 12" in rows(now(world, "p.varga", "recovery"))[0]
    assert rows(now(world, "r.calloway", "recovery")) == []


def test_quality_sees_what_runs_and_no_check_that_is_open(world: World) -> None:
    started(world)
    compared_at(world, "14", answers(**FIVEFOLD))
    (row,) = rows(now(world, "q.lindqvist"))
    assert "bed 12" in row
    assert len(rows(now(world))) == 2  # the charge nurse is told of both


@pytest.mark.parametrize("login", ["n.ferrow", "a.moreau"])
def test_it_is_not_for_whoever_has_one_bed_or_none_in_view(world: World, login: str) -> None:
    assert now(world, login).status == 403


def running_with_a_rule_set_aside(world: World) -> Pair:
    """A pharmacist has set a rule aside, and it runs."""
    above = answers(order={"demand_dose": "0.7 mg"}, device={"demand_dose": "0.7 mg"})
    pair = compared(world, above)
    ask_for_help(pair)
    helper = world.at("p.varga")
    pair.page(helper)
    helper.press("Take this request")
    grant(helper, reason="tolerant", prescriber="Dr Invented")
    assert "set aside" not in now(world).text, "what was found of a check that is open is told to nobody"
    helper.get(f"/check/{pair.check}")
    helper.press("Give the check back", outcome="exception-granted")
    pair.consider()
    for act in (pair.take_steps, pair.sign, pair.look, pair.start):
        act()
    return pair


def test_a_rule_set_aside_for_what_runs_stands_there_until_when(world: World) -> None:
    running_with_a_rule_set_aside(world)

    said = words_of(now(world).with_id("main"))

    assert "Above the drug library's hard limit: Demand dose set aside once by Petra Varga" in said
    assert "Until two put other settings in force, or the infusion ends." in said
    assert "0.7" not in said


def test_as_soon_as_a_line_is_another_the_page_is_loaded_again(world: World) -> None:
    charge = world.at("r.calloway")
    where = asked_by(charge.get("/now").body)
    assert told(charge, where) == NOTHING_NEW

    pair = joined(world)
    assert told(charge, where) == RELOAD
    where = asked_by(charge.get("/now/shown").body)
    assert told(charge, where) == NOTHING_NEW

    pair.hand_in(pair.first, answers())
    assert told(charge, where) == NOTHING_NEW, "that one of the two has handed in is told to nobody"
    assert told(world.at("n.ferrow"), where) == RELOAD, "nor is anybody told what the page of another shows"


def test_how_help_was_given_stands_there_for_as_long_as_they_read_again(world: World) -> None:
    pair = compared_at(world, "14", answers(**FIVEFOLD))
    ask_for_help(pair)
    helper = world.at("r.calloway")
    pair.page(helper)
    helper.press("Take this request for help")
    helper.press("Give the check back", outcome="order-clarified", more="it said 0.2")

    (row,) = rows(now(world, "p.varga"))
    assert "Order clarified with the prescriber: both read again." in row
    assert "in progress" in row
    assert "0.2" not in row
    pair.read(answers())
    assert "clarified" not in rows(now(world, "p.varga"))[0]


def test_what_the_clock_alone_changes_is_told_within_a_while(world: World) -> None:
    stood = world.clock.now - joined(world).state.check.opened_at
    world.clock.pass_(seconds=(timedelta(minutes=4) - stood).total_seconds())
    charge = world.at("r.calloway")
    where = asked_by(charge.get("/now").body)
    world.clock.pass_(seconds=59)
    assert told(charge, where) == NOTHING_NEW

    world.clock.pass_(seconds=1 + A_WHILE.total_seconds())
    assert told(charge, where) == RELOAD, "it has stood for five minutes now"
    assert told(charge, asked_by(charge.get("/now/shown").body)) == NOTHING_NEW


def test_what_one_was_shown_is_remembered_for_that_one_on_that_unit_alone(world: World) -> None:
    joined(world)
    asked_where = {
        (login, unit): asked_by(now(world, login, unit).body)
        for login in ("r.calloway", "p.varga")
        for unit in ("ward-4-east", "recovery")
    }
    for (login, unit), own in asked_where.items():
        browser = world.at(login, unit)
        for other in asked_where.values():
            # Whose page it is makes it another only where it shows something else.
            assert told(browser, other) == (NOTHING_NEW if other == own else RELOAD)
    assert len(set(asked_where.values())) > 2


def test_a_charge_nurse_who_reads_blind_is_shown_nothing_that_a_blind_reader_may_not_see(
    worlds: Callable[[], World],
) -> None:
    """What she reads is what runs at that bed: what her colleague read of it, and what is known of it."""
    seen = []
    for read in (answers(), answers(device={"demand_dose": "7.3719 mg"})):
        world = worlds()
        pair = running_with_a_rule_set_aside(world)
        world.clock.pass_(hours=30)
        before = words_of(now(world).with_id("main"))
        charge = world.at("r.calloway")
        pair = replace(pair, first=world.at("n.ferrow"), second=charge)
        pair.re_checks()
        where = asked_by(charge.get("/now").body)
        shown = words_of(charge.page.with_id("main"))
        pair.hand_in(pair.first, read)
        answer = told(charge, where)
        page = charge.get("/now/shown")
        seen.append((shown, answer, words_of(page.with_id("main")), asked_by(page.body) == where))

        assert "syringe low has run for 30 h" in before
        for known in ("syringe low", "set aside once"):
            assert known in before
            assert known in words_of(now(world, "p.varga").with_id("main"))
            assert known not in shown
        assert answer == NOTHING_NEW, "that her colleague has handed in is not told"
        assert "asked for help" not in shown
        ask_for_help(pair)
        own = rows(charge.get("/now"))
        assert not [each for each in own if "Take the request" in each], "she is no third person"

    assert seen[0] == seen[1]


def test_a_page_that_loads_itself_again_never_counts_as_being_there(world: World) -> None:
    charge = world.at("r.calloway")
    where = asked_by(charge.get("/now").body)
    seen, minute = last_seen(charge, world), timedelta(minutes=1)
    for _ in range(IDLE // minute):
        world.clock.pass_(seconds=minute.total_seconds())
        assert told(charge, where) == NOTHING_NEW
        assert charge.get("/now/shown").heading == "Now"
    assert last_seen(charge, world) == seen

    world.clock.pass_(seconds=1)
    assert told(charge, where) == RELOAD
    assert charge.get("/now/shown").heading == "Sign in"


def test_it_asks_no_more_of_the_database_however_many_beds_there_are(world: World) -> None:
    charge = world.at("r.calloway")
    one = pair_of(world, bed="7").at_stage(Phase.STARTED)
    world.open_check(one.first, "10")
    # What the syringe lasts is worked out once.
    _statements(charge)
    took = [_statements(charge)]
    for bed in ("8", "9"):
        pair = pair_of(world, bed=bed, logins=("i.bexley", "t.osmund")).at_stage(Phase.READING)
        pair.read(of_patient(f"DM-5000{bed}", answers()))
        for act in (pair.take_steps, pair.sign, pair.look, pair.start):
            act()
        world.open_check(pair.first, f"1{bed}")
    _statements(charge)
    took.append(_statements(charge))

    assert len(rows(charge.page)) == 6  # three that run, and three checks that are open
    assert took[0] == took[1], took
    # The page, and what it asks by itself every two seconds: whose session, who that is, what happened last.
    assert took[1] == (16, 3)


def _statements(charge: Browser) -> tuple[int, int]:
    with asked() as given:
        page = charge.get("/now")
    with asked() as again:
        assert told(charge, asked_by(page.body)) == NOTHING_NEW
    return len(given.statements), len(again.statements)
