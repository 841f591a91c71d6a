"""A whole set-up through the pages, and what each answer on its path asks of the database."""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from flask.testing import FlaskClient
from sqlalchemy import Engine, event

from tests.factories.answers import answers
from tests.support.checking import FIRST_NURSE, SECOND_NURSE, Pair
from tests.support.world import World, hand_in


def walk_set_up(world: World, bed: str) -> None:
    """Two nurses from signing in to the record."""
    first, second = world.at(FIRST_NURSE), world.at(SECOND_NURSE)
    check = world.open_check(first, bed)
    world.join(second, check)
    pair = Pair(world=world, first=first, second=second, check=check)
    for browser in pair.both:
        hand_in(browser, check, answers())
    pair.page(first)
    pair.take_steps()
    pair.sign()
    pair.look()
    pair.start()
    pair.page(first, "/record")


@contextmanager
def statements() -> Iterator[list[str]]:
    """What any database of this process is asked meanwhile, but for beginnings of transactions."""
    asked: list[str] = []

    def note(*told: Any) -> None:  # noqa: ANN401  # SQLAlchemy's own arguments
        if not told[2].startswith("BEGIN"):
            asked.append(told[2])

    event.listen(Engine, "before_cursor_execute", note)
    try:
        yield asked
    finally:
        event.remove(Engine, "before_cursor_execute", note)


class NamingClient(FlaskClient):
    """A client that knows what it asks for by the endpoint, and the source that is read."""

    def name_of(self, *args: Any, **kwargs: Any) -> str:  # noqa: ANN401  # those of `open`
        """The method, the endpoint and the source of a request."""
        path, method = str(args[0]), str(kwargs.get("method", "GET"))
        rules = self.application.url_map.bind("localhost")
        endpoint, values = rules.match(path.partition("?")[0], method)
        return " ".join(filter(None, (method, endpoint, values.get("source", ""))))
