"""What the database is asked for each answer on the path of a set-up: statements, loads, transactions.

What a page costs in time is measured by `poe pages` and differs from machine to machine; this does not. Each
statement takes about a tenth of the time of a plain page, and so does each transaction.
"""

from collections.abc import Callable
from dataclasses import astuple, dataclass
from typing import Any

import pytest

from app.storage import Reader
from tests.factories.answers import answers
from tests.story.pages import FIRST_NURSE, compared, started
from tests.support.walking import Asked, NamingClient, asked, walk_set_up
from tests.support.world import World


@dataclass(frozen=True)
class Most:
    """The most that an answer may take: statements, loads of a check, transactions that read, that write."""

    statements: int
    loads: int
    reads: int
    writes: int


def set_up(world: World) -> None:
    """The whole of it."""
    walk_set_up(world, "7")


AT_MOST = {
    # One asks whether the site wants more than the secret; so does signing.
    "GET signing_in.sign_in_page": Most(3, 0, 3, 0),
    "GET opening.open_page": Most(4, 0, 3, 0),
    "POST stopping.stop_now": Most(12, 0, 1, 1),
    "POST settling.acknowledge": Most(8, 1, 1, 1),
    "POST settling.read_again": Most(8, 1, 1, 1),
    # Two turns at which it is asked what runs elsewhere, of what something happened to since.
    "POST starting.last_look": Most(10, 1, 1, 1),
    # The check as one row, how each finding came to rest, and what both rest on: the record, earlier
    # looks, and whether one of the two ever exported.
    "POST starting.start": Most(15, 1, 1, 1),
    "GET opening.join_page": Most(9, 1, 2, 0),
    "GET reading.review": Most(9, 1, 2, 0),
    "GET reading.source_form": Most(9, 1, 2, 0),
    "GET reading.waiting": Most(9, 1, 2, 0),
    "GET stopping.stop_page": Most(9, 1, 2, 0),
    # Five ask whether whoever looks wrote that PCA ended with this stop, and has not said otherwise since.
    "GET stopping.stopped_page": Most(14, 1, 3, 0),
    "POST reading.keep_typing": Most(9, 1, 1, 1),
    "GET comparison.page": Most(10, 1, 2, 1),
    # Six ask what is open, what runs, what runs unchecked, what is told above, what another unit took and
    # what was issued, of what something happened to since.
    "GET lists.my_checks": Most(18, 0, 4, 0),
    "GET starting.page": Most(10, 1, 2, 1),
    "GET stepping.page": Most(11, 1, 3, 1),
    "POST opening.join_now": Most(10, 1, 1, 1),
    "POST reading.keep_source": Most(10, 1, 1, 1),
    # Once started it says when the patient is observed: by what is in force, and since when.
    "GET record.page": Most(15, 2, 2, 1),
    # The record names the version of each document of the rules, the observation protocol's among them.
    "GET signing.page": Most(14, 1, 3, 1),
    # One asks whether this screen knows the person.
    "POST signing_in.sign_in_now with a secret": Most(14, 0, 3, 2),
    "POST stepping.confirm with a secret": Most(14, 1, 1, 2),
    # With the primed volume, which is judged in the same transaction; what was typed of it is forgotten.
    "POST stepping.confirm": Most(16, 1, 1, 1),
    "POST opening.open_now": Most(27, 1, 3, 1),
    # With what was found, who had looked at the infusion before or exported, what was issued for others, and
    # orders that other systems sent.
    "POST reading.hand_in": Most(31, 2, 1, 2),
    "POST signing.sign with a secret": Most(28, 1, 3, 2),
}


# Where a syringe was replaced.
TAKING_BACK = {
    # One asks what is kept as evidence, of which nothing goes.
    "GET taking_back.page": Most(10, 1, 3, 1),
    "POST taking_back.read": Most(16, 1, 1, 1),
    # Whoever prescribed it is no witness: the orders of all checks of the infusion are looked at.
    "POST taking_back.witness with a secret": Most(23, 2, 1, 2),
}


# A patient is taken from another unit.
TAKING = {
    "GET transferring.take_page": Most(5, 0, 4, 0),
    # One asks which check is open there: it ends with the taking.
    "POST transferring.take_now": Most(17, 0, 2, 1),
    "GET transferring.taken_page": Most(11, 0, 2, 0),
}


def counted(world: World, walk: Callable[[World], object] = set_up) -> dict[str, Most]:
    """The most that each answer of a walk took, of one set-up unless told otherwise."""
    most: dict[str, Most] = {}

    class Counting(NamingClient):
        def open(self, *args: Any, **kwargs: Any) -> Any:  # noqa: ANN401  # the library's own signature
            with asked() as given:
                answer = super().open(*args, **kwargs)
            name = self.name_of(*args, **kwargs)
            most[name] = _larger(given, most.get(name))
            return answer

    world.app.test_client_class = Counting
    walk(world)
    return most


def _larger(given: Asked, before: Most | None) -> Most:
    now = (len(given.statements), given.loads, given.reads, given.writes)
    return Most(*map(max, zip(now, astuple(before) if before else now, strict=True)))


def over(most: dict[str, Most], table: dict[str, Most] = AT_MOST) -> dict[str, Most]:
    """What took more than it may, or is not in the table."""
    return {
        name: took
        for name, took in most.items()
        if name not in table
        or any(one > other for one, other in zip(astuple(took), astuple(table[name]), strict=True))
    }


def test_no_answer_on_the_path_asks_more_of_the_database_than_it_may(world: World) -> None:
    most = counted(world)

    assert over(most) == {}
    # And the table promises nothing of answers that nobody asked for.
    assert set(most) == set(AT_MOST)


def test_nor_does_the_tap_by_which_a_patient_is_taken(world: World) -> None:
    def walk(world: World) -> None:
        started(world).is_taken()

    most = {name: took for name, took in counted(world, walk).items() if "transferring" in name}

    assert over(most, TAKING) == {}
    assert set(most) == set(TAKING)


def test_nor_does_what_writes_down_what_was_taken_back(world: World) -> None:
    def walk(world: World) -> None:
        pair = compared(world, answers(label={"amount": "30 mg"}))
        pair.page(pair.first)
        pair.first.press("Syringe replaced")
        pair.read(answers())
        pair.take_back()

    most = {name: took for name, took in counted(world, walk).items() if "taking_back" in name}

    assert over(most, TAKING_BACK) == {}
    assert set(most) == set(TAKING_BACK)


def test_the_list_asks_no_more_where_there_is_more_to_list(world: World) -> None:
    nurse, took = world.at(FIRST_NURSE), []
    for bed in ("7", "8", "9"):
        world.open_check(nurse, bed)
        with asked() as given:
            assert f"bed {bed}" in nurse.get("/").text
        took.append(len(given.statements))

    assert took == [AT_MOST["GET lists.my_checks"].statements] * 3


def test_one_statement_too_many_is_noticed(world: World, monkeypatch: pytest.MonkeyPatch) -> None:
    plain = Reader.comparisons
    monkeypatch.setattr(
        Reader, "comparisons", lambda self, check: (plain(self, check), plain(self, check))[1]
    )

    # Whatever loads a check is over by as many as it loads.
    assert "GET reading.waiting" in over(counted(world))
