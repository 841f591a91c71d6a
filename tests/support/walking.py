"""A whole set-up through the pages, and what each answer on its path asks of the database."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any
from unittest.mock import patch

from flask.testing import FlaskClient
from sqlalchemy import Engine, event

from app.storage import Reader, Store
from tests.factories.answers import answers
from tests.story.pages import DONE_BUTTON, SECOND_NURSE, VERIFIED_BUTTON, Pair, pair_of
from tests.support.world import World, hand_in

_MISREAD = {"lockout": "6 min"}
_SEDATED = {"sedatives": "charted"}


def walk_set_up(world: World, bed: str) -> None:
    """Two nurses from signing in to the stop: they read again, consider a caution, share a screen once."""
    pair = pair_of(world, bed=bed)
    first, second = pair.both
    pair.opens()
    second.get("/")
    pair.joins()
    _leave_typing(pair)
    hand_in(first, pair.check, answers(chart=_SEDATED, device=_MISREAD))
    hand_in(second, pair.check, answers(chart=_SEDATED))
    pair.page(first)
    first.press("Read these again")
    for browser in pair.both:
        hand_in(browser, pair.check, answers())
    pair.consider()
    _share_the_screen(pair)
    pair.confirms_all()
    pair.both_sign()
    pair.both_look()
    pair.starts()
    pair.page(first, "/record")
    pair.page(first, "/stop")
    first.press("write it down")


def _leave_typing(pair: Pair) -> None:
    """What the script of a source's page sends while one types."""
    page = pair.page(pair.first, "/read/order")
    form, _ = page.form_with("Keep, and")
    pair.first.post(f"{page.path}/typing", form.held)


def _share_the_screen(pair: Pair) -> None:
    """The second verifies a first step where the first is signed in."""
    step = pair.page(pair.first, "/steps").form_with(DONE_BUTTON)[0].choices["done"][0]
    pair.first.press(DONE_BUTTON, done=step)
    pair.page(pair.first, "/steps?by=2")
    secret = pair.world.secrets[SECOND_NURSE]
    pair.first.press(VERIFIED_BUTTON, verified=step, login=SECOND_NURSE, secret=secret)


@dataclass(kw_only=True)
class Asked:
    """What was asked of the database: statements, how often a check was loaded, transactions."""

    statements: list[str] = field(default_factory=list)
    loads: int = 0
    reads: int = 0
    writes: int = 0


@contextmanager
def asked() -> Iterator[Asked]:
    """What any database of this process is asked meanwhile; beginnings of transactions are no statements.

    Whatever loads one check asks for its comparisons; a list that reads many ahead loads none by itself.
    """
    found = Asked()

    def note(*told: Any) -> None:  # noqa: ANN401  # SQLAlchemy's own arguments
        if not told[2].startswith("BEGIN"):
            found.statements.append(told[2])

    def counting(name: str, plain: Callable[..., Any]) -> Callable[..., Any]:
        def counted(*args: Any, **kwargs: Any) -> Any:  # noqa: ANN401  # whatever it takes
            setattr(found, name, getattr(found, name) + 1)
            return plain(*args, **kwargs)

        return counted

    event.listen(Engine, "before_cursor_execute", note)
    try:
        with (
            patch.object(Reader, "comparisons", counting("loads", Reader.comparisons)),
            patch.object(Store, "read", counting("reads", Store.read)),
            patch.object(Store, "read_ahead", counting("reads", Store.read_ahead)),
            patch.object(Store, "write", counting("writes", Store.write)),
        ):
            yield found
    finally:
        event.remove(Engine, "before_cursor_execute", note)


class NamingClient(FlaskClient):
    """A client that knows what it asks for by the endpoint, and by what makes the answer another one."""

    def name_of(self, *args: Any, **kwargs: Any) -> str:  # noqa: ANN401  # those of `open`
        """The method and the endpoint of a request, and whether a secret comes with it."""
        method, (endpoint, _) = str(kwargs.get("method", "GET")), self._asked_for(*args, **kwargs)
        secret = " with a secret" if "secret=" in str(kwargs.get("data", "")) else ""
        return f"{method} {endpoint}{secret}"

    def source_of(self, *args: Any, **kwargs: Any) -> str:  # noqa: ANN401  # those of `open`
        """The source that is read; blank for any other page."""
        _, named = self._asked_for(*args, **kwargs)
        return str(named.get("source", ""))

    def _asked_for(self, path: str, **kwargs: Any) -> tuple[str, dict[str, Any]]:  # noqa: ANN401
        rules = self.application.url_map.bind("localhost")
        endpoint, named = rules.match(path.partition("?")[0], kwargs.get("method", "GET"))
        return str(endpoint), dict(named)
