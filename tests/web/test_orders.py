"""Where other systems send orders: who is let in, and answers that tell nothing of any patient."""

import pytest
from werkzeug.test import TestResponse

from app.records.order_json import LARGEST_MESSAGE
from app.web.factory import LARGEST_REQUEST
from tests.factories.orders import as_both_read, as_message, order
from tests.story.orders import let_in
from tests.support.browser import ORIGIN
from tests.support.world import World

FHIR = "application/fhir+json"


@pytest.fixture
def token(world: World) -> str:
    return let_in(world.site, world.clock.now)


def send(world: World, token: str, message: bytes, *, kind: str = FHIR) -> TestResponse:
    headers = {"Authorization": f"Bearer {token}"} if token else {}
    return world.app.test_client().post(
        "/orders", base_url=ORIGIN, data=message, content_type=kind, headers=headers
    )


def said(answer: TestResponse) -> tuple[int, str]:
    (issue,) = answer.get_json()["issue"]
    return answer.status_code, issue["details"]["text"]


def told(answer: TestResponse) -> tuple[int, bytes, list[tuple[str, str]]]:
    """All that a sender sees."""
    return answer.status_code, answer.get_data(), list(answer.headers)


def test_the_answer_is_the_same_whoever_the_patient_is_and_whether_it_came_before(
    world: World, token: str
) -> None:
    of_nobody = as_message(as_both_read("DM-00000"))
    taken = [
        told(send(world, token, message))
        for message in (of_nobody, of_nobody, as_message(as_both_read()), as_message(order(status="stopped")))
    ]
    assert len({repr(each) for each in taken}) == 1
    status, body, _ = taken[0]
    assert status == 202
    assert b'"text": "The order was taken."' in body


def test_a_refusal_says_where_and_why_and_repeats_nothing(world: World, token: str) -> None:
    answer = send(world, token, as_message(order(intent="secretplan")))
    (issue,) = answer.get_json()["issue"]
    assert answer.status_code == 422
    assert issue["expression"] == ["MedicationRequest.intent"]
    assert issue["details"]["coding"] == [{"code": "not-an-order"}]
    assert issue["details"]["text"].startswith("Only an order is taken")
    assert b"secretplan" not in answer.get_data()


@pytest.mark.parametrize("header", ["", "Bearer ", "Bearer another", "Basic dXNlcjpzZWNyZXQ=", "Bearer \xe9"])
def test_without_a_token_of_a_sender_nobody_is_let_in(world: World, token: str, header: str) -> None:
    headers = {"Authorization": header} if header else {}
    answer = world.app.test_client().post(
        "/orders", base_url=ORIGIN, data=as_message(order()), content_type=FHIR, headers=headers
    )
    assert token
    assert said(answer) == (401, "Send the token of a sender that is let in.")
    assert answer.headers["WWW-Authenticate"] == "Bearer"


def test_the_token_opens_nothing_else(world: World, token: str) -> None:
    client = world.app.test_client()
    for path in ("/", "/findings", "/export", "/accounts"):
        answer = client.get(path, base_url=ORIGIN, headers={"Authorization": f"Bearer {token}"})
        assert (answer.status_code, answer.headers["Location"][:8]) == (303, "/sign-in")


def test_a_person_who_is_signed_in_sends_none(world: World) -> None:
    browser = world.at("n.ferrow")
    answer = browser.client.post("/orders", base_url=ORIGIN, data=as_message(order()), content_type=FHIR)
    assert answer.status_code == 401


def test_there_is_nothing_to_look_at(world: World) -> None:
    assert world.app.test_client().get("/orders", base_url=ORIGIN).status_code == 405


def test_what_is_too_large_or_no_json_is_refused_before_it_is_read(world: World, token: str) -> None:
    assert LARGEST_REQUEST == LARGEST_MESSAGE
    whole = as_message(order()).ljust(LARGEST_MESSAGE)
    assert send(world, token, whole).status_code == 202
    assert said(send(world, token, whole + b" ")) == (413, "A message has at most 64 KiB.")
    assert send(world, token, whole, kind="application/x-www-form-urlencoded").status_code == 415


def test_whoever_sends_too_many_is_told_when_to_go_on(world: World, token: str) -> None:
    world.publishes_policy(orders={"most_in_a_minute": 1})
    message = as_message(order())
    assert send(world, token, message).status_code == 202
    answer = send(world, token, message)
    assert said(answer) == (429, "This sender sent too many orders at once. Wait 61 s.")
    assert answer.headers["Retry-After"] == "61"
    world.clock.pass_(minutes=2)
    assert send(world, token, message).status_code == 202
