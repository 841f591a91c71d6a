"""Signings refused again and again are told at once: to the person, the charge nurse and administrators."""

from datetime import timedelta

from app.records import site_events
from app.records.state import Phase
from app.workflow.authenticators import Given, WrongFactor, try_both
from app.workflow.confirming import part_with
from app.workflow.credentials import Where, try_credential
from app.workflow.refusals import TooManyTries, WrongCredential
from app.workflow.refused_signings import read_refused, see_refused
from app.workflow.sessions import SHOWN
from tests.story.app_acts import enrols
from tests.story.people import ADELE, EVERYBODY, NADIA, RUTH, TOMAS, Somebody
from tests.story.ward import Ward
from tests.support.policies import publish_policy

RULE = {"count": 3, "within_minutes": 30}


def with_rule(ward: Ward, **rule: int) -> Ward:
    publish_policy(ward.site, ward.wait().now, refused_signings={**RULE, **rule})
    return ward


def refused(ward: Ward, who: Somebody, times: int = 1, *, what: str = "signing") -> None:
    """Tries from a screen each, so that nobody has to wait."""
    for _ in range(times):
        said = try_credential(
            ward.site,
            ward.wait().now,
            login=who.login,
            secret="not the right one at all",
            what=what,
            where=Where(signed_in=f"somebody {ward.now}"),
        )
        assert said == WrongCredential()


def told(ward: Ward, who: Somebody) -> list[tuple[str, int]]:
    return [(each.login, each.count) for each in see_refused(ward.site, ward.act(who))]


def test_the_third_of_three_is_told_to_whom_it_concerns_and_to_nobody_else(ward: Ward) -> None:
    refused(with_rule(ward), NADIA, 2)
    assert not any(told(ward, each) for each in EVERYBODY)
    refused(ward, NADIA)
    knows = {each.id for each in EVERYBODY if told(ward, each) == [(NADIA.login, 3)]}
    assert knows == {NADIA.id, RUTH.id, ADELE.id}
    assert {each.id for each in EVERYBODY if told(ward, each)} == knows


def test_it_stands_in_the_log_with_how_many_and_since_when(one_ward: Ward) -> None:
    refused(with_rule(one_ward), NADIA, 3)
    with one_ward.site.store.read() as reader:
        (entry,) = reader.entries_of_kind(site_events.SigningsRefused.kind)
        (row,) = reader.rows("refused_signings")
    assert isinstance(entry.event, site_events.SigningsRefused)
    assert (entry.event.person, entry.event.count, entry.at) == (NADIA.id, 3, one_ward.now)
    assert entry.event.refused == row["id"]
    assert row["since"].isoformat() == entry.event.since


def test_where_the_site_names_no_number_nothing_is_told(one_ward: Ward) -> None:
    refused(one_ward, NADIA, 8)
    assert told(one_ward, ADELE) == []


def test_what_is_longer_ago_is_not_counted(one_ward: Ward) -> None:
    refused(with_rule(one_ward), NADIA, 2)
    one_ward.wait(timedelta(minutes=30))
    refused(one_ward, NADIA, 2)
    assert told(one_ward, ADELE) == []
    refused(one_ward, NADIA)
    assert told(one_ward, ADELE) == [(NADIA.login, 3)]


def test_the_next_as_many_are_told_again_and_those_before_are_not_counted_twice(one_ward: Ward) -> None:
    refused(with_rule(one_ward), NADIA, 5)
    assert told(one_ward, ADELE) == [(NADIA.login, 3)]
    refused(one_ward, NADIA)
    assert told(one_ward, ADELE) == [(NADIA.login, 3)] * 2


def test_each_login_is_counted_for_itself_and_signing_in_is_no_signing(one_ward: Ward) -> None:
    refused(with_rule(one_ward), NADIA, 2)
    refused(one_ward, TOMAS, 2)
    refused(one_ward, NADIA, 3, what="sign-in")
    assert told(one_ward, ADELE) == []


def test_ids_that_nobody_has_are_told_to_the_administrator(one_ward: Ward) -> None:
    nobody = Somebody(id="nobody", printed_name="Nobody", roles=NADIA.roles)
    refused(with_rule(one_ward), nobody, 3)
    assert told(one_ward, ADELE) == [("", 3)]
    assert told(one_ward, RUTH) == []


def test_a_colleague_s_confirmation_is_a_signing_too_and_a_wait_comes_in_between(one_ward: Ward) -> None:
    with_rule(one_ward).at_stage(Phase.STEPS)
    tries = [
        part_with(one_ward.site, one_ward.act(NADIA), slot=2, login=TOMAS.login, secret="wrong" * 5)
        for _ in range(5)
    ]
    assert tries[:4] == [WrongCredential()] * 4
    assert isinstance(tries[4], TooManyTries)
    assert told(one_ward, ADELE) == [(TOMAS.login, 3)]


def test_each_is_told_until_they_have_read_it_and_of_what_came_since_anew(ward: Ward) -> None:
    refused(with_rule(ward), NADIA, 3)
    until = ward.now
    refused(ward, NADIA, 3)
    read_refused(ward.site, ward.act(RUTH), until=until)
    assert told(ward, RUTH) == [(NADIA.login, 3)]
    assert told(ward, ADELE) == [(NADIA.login, 3)] * 2
    with ward.site.store.read() as reader:
        assert [each.by for each in reader.entries_of_kind(site_events.SigningsRefusedRead.kind)] == [RUTH.id]
    ward.wait(SHOWN)
    assert told(ward, ADELE) == []


def test_a_wrong_code_beside_the_right_secret_is_a_refused_signing_too(one_ward: Ward) -> None:
    publish_policy(
        one_ward.site,
        one_ward.wait().now,
        refused_signings=RULE,
        second_factor={"nurse": "code-or-passkey"},
    )
    enrols(one_ward, NADIA)
    for number in range(3):
        said = try_both(
            one_ward.site,
            one_ward.wait().now,
            login=NADIA.login,
            secret=NADIA.secret,
            given=Given(code="000000"),
            what="signing",
            where=Where(signed_in=f"somebody {number}"),
        )
        assert isinstance(said, WrongFactor)
    assert told(one_ward, ADELE) == [(NADIA.login, 3)]
