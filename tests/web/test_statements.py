"""How many statements the database is given for each answer on the path of a set-up.

What a page costs in time is measured by `poe pages` and differs from machine to machine; this does not. Each
statement takes about a tenth of the time of a plain page.
"""

from typing import Any

import pytest

from app.storage import Reader
from tests.support.checking import FIRST_NURSE
from tests.support.walking import NamingClient, statements, walk_set_up
from tests.support.world import World

AT_MOST = {
    "GET signing_in.sign_in_page": 1,
    "GET opening.open_page": 3,
    "GET reading.source_form": 8,
    "GET reading.review": 8,
    "POST starting.start": 8,
    "GET opening.join_page": 9,
    "GET reading.waiting": 10,
    "GET comparison.page": 10,
    "GET stepping.page": 10,
    "GET starting.page": 10,
    "GET lists.my_checks": 10,
    "POST reading.keep_source": 14,
    "POST signing_in.sign_in_now": 14,
    "GET signing.page": 12,
    "GET record.page": 12,
    "POST starting.last_look": 16,
    "POST opening.join_now": 17,
    "POST reading.hand_in": 21,
    "POST opening.open_now": 24,
    "POST signing.sign": 26,
    "POST stepping.confirm": 26,
}


def counted(world: World) -> dict[str, int]:
    """The most that each answer of one set-up took."""
    most: dict[str, int] = {}

    class Counting(NamingClient):
        def open(self, *args: Any, **kwargs: Any) -> Any:  # noqa: ANN401  # the library's own signature
            method, endpoint, *_ = self.name_of(*args, **kwargs).split()
            name = f"{method} {endpoint}"
            with statements() as asked:
                answer = super().open(*args, **kwargs)
            most[name] = max(len(asked), most.get(name, 0))
            return answer

    world.app.test_client_class = Counting
    walk_set_up(world, "7")
    return most


def over(most: dict[str, int]) -> dict[str, int]:
    """What took more than it may, or is not in the table."""
    return {name: took for name, took in most.items() if took > AT_MOST.get(name, 0)}


def test_no_answer_on_the_path_asks_more_of_the_database_than_it_may(world: World) -> None:
    most = counted(world)

    assert over(most) == {}
    # And the table promises nothing of answers that nobody asked for.
    assert set(most) == set(AT_MOST)


def test_the_list_asks_no_more_where_there_is_more_to_list(world: World) -> None:
    nurse, took = world.at(FIRST_NURSE), []
    for bed in ("7", "8", "9"):
        world.open_check(nurse, bed)
        with statements() as asked:
            assert f"bed {bed}" in nurse.get("/").text
        took.append(len(asked))

    assert took == [AT_MOST["GET lists.my_checks"]] * 3


def test_one_statement_too_many_is_noticed(world: World, monkeypatch: pytest.MonkeyPatch) -> None:
    plain = Reader.comparisons
    monkeypatch.setattr(
        Reader, "comparisons", lambda self, check: (plain(self, check), plain(self, check))[1]
    )

    # Whatever loads a check is over by as many as it loads.
    assert "GET reading.waiting" in over(counted(world))
