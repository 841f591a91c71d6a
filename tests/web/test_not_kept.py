"""A database that is full, or lost in the middle: the page says what was kept, and holds what was not."""

import importlib
import pkgutil
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager

import pytest
from prometheus_client import REGISTRY
from sqlalchemy import event, text
from werkzeug.datastructures import MultiDict
from wtforms import PasswordField

from app.storage import Rows, Store, StoreUnavailable, Trouble, contents
from app.web import forms
from app.web.forms.checking import TextForm
from app.web.not_kept import SECRETS
from tests.factories.answers import answers
from tests.story.pages import Pair, joined
from tests.support.browser import ORIGIN
from tests.support.tampering import as_database_administrator
from tests.support.world import World, read_all

Full = Callable[[], AbstractContextManager[None]]

_REFUSE = """
CREATE FUNCTION no_room() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION USING ERRCODE = 'disk_full', MESSAGE = 'could not extend file: ' || NEW.person;
END $$
"""


@pytest.fixture
def full(world_on_both: World, database_url: str) -> Full:
    """No draft more has room: SQLite's own limit on pages, and what PostgreSQL says of a full disk."""
    engine = world_on_both.site.store._engine  # noqa: SLF001  # the disk is made small

    @contextmanager
    def sqlite() -> Iterator[None]:
        def limit(connection: object) -> None:
            pages = connection.exec_driver_sql("PRAGMA page_count").scalar()  # type: ignore[attr-defined]
            connection.exec_driver_sql(f"PRAGMA max_page_count = {pages}")  # type: ignore[attr-defined]

        event.listen(engine, "begin", limit)
        yield
        event.remove(engine, "begin", limit)
        event.listen(
            engine, "begin", lambda connection: connection.exec_driver_sql("PRAGMA max_page_count = 1000000")
        )

    @contextmanager
    def postgresql() -> Iterator[None]:
        with as_database_administrator(database_url) as connection:
            connection.execute(text(_REFUSE))
            made = "CREATE TRIGGER no_room BEFORE INSERT ON draft FOR EACH ROW EXECUTE FUNCTION no_room()"
            connection.execute(text(made))
        yield
        with as_database_administrator(database_url) as connection:
            connection.execute(text("DROP TRIGGER no_room ON draft"))

    return sqlite if database_url.startswith("sqlite") else postgresql


def kept(address: str) -> dict[str, Rows]:
    """What the database holds, but for when somebody was last seen."""
    return {name: rows for name, rows in contents(address).items() if name != "session"}


def lost() -> float:
    return REGISTRY.get_sample_value("countersign_database_errors_total", {"outcome": "nothing written"}) or 0


@pytest.mark.parametrize("trouble", Trouble)
def test_each_trouble_is_told_in_words(
    world: World, monkeypatch: pytest.MonkeyPatch, trouble: Trouble
) -> None:
    def fail(_store: Store) -> None:
        raise StoreUnavailable(outcome_known=True, trouble=trouble)

    nurse = world.at("n.ferrow")
    monkeypatch.setattr(Store, "read", fail)
    page = nurse.get("/")
    assert (page.status, page.heading) == (503, "Not shown")


def typed(pair: Pair) -> list[tuple[str, str]]:
    """The form of one source with something unlike anything else in it."""
    pair.page(pair.first, "/read/label")
    form, _ = pair.first.page.form_with("Keep, and")
    return [
        *((name, value) for name, value in form.held if name != "lot"),
        ("lot", "ZQX-canary"),
        ("go", "next"),
    ]


def test_where_the_database_is_full_nothing_is_half_kept_and_what_was_sent_is_sent_again(
    world_on_both: World, database_url: str, full: Full, caplog: pytest.LogCaptureFixture
) -> None:
    pair = joined(world_on_both)
    fields = typed(pair)
    before, counted = kept(database_url), lost()
    with full():
        page = pair.first.post(f"/check/{pair.check}/read/label", fields)
        assert page.status == 503
        assert page.heading == "Not kept"
        assert "The database is full. Care does not wait for it." in page.text
        assert "Nothing of what you just sent was kept. All that was kept before stands." in page.text
        assert kept(database_url) == before
        assert lost() > counted
        assert "database: it is full, nothing was written" in caplog.text
        assert pair.first.press("Send it again").status == 503
    assert pair.first.press("Send it again").status == 200
    assert "ZQX-canary" in pair.page(pair.first, "/read").text


def test_where_it_is_lost_while_committing_sent_twice_counts_once(
    world_on_both: World, database_url: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It was kept, and nobody was told."""
    pair = joined(world_on_both)
    read_all(pair.first, pair.check, answers())
    form, _ = pair.first.page.form_with("Hand in")
    store, whole = world_on_both.site.store, Store.write

    @contextmanager
    def cut(self: Store) -> Iterator[object]:
        with whole(self) as tx:
            yield tx
        raise StoreUnavailable(outcome_known=False)

    with monkeypatch.context() as broken:
        broken.setattr(Store, "write", cut)
        page = pair.first.post(form.action, [*form.held, ("go", "stay")])
    assert (page.status, page.heading) == (503, "Perhaps not kept")
    assert "Whether what you just sent was kept is not known." in page.text
    with store.read() as reader:
        assert len(reader.readings(pair.check)) == 1
    page = pair.first.press("Send it again")
    assert page.status == 200
    with store.read() as reader:
        assert len(reader.readings(pair.check)) == 1
    assert database_url


@pytest.fixture
def lost_database(monkeypatch: pytest.MonkeyPatch) -> Callable[[], None]:
    """Loses it from now on, whatever is asked."""

    def fail(_store: Store) -> None:
        raise StoreUnavailable(outcome_known=True)

    def lose() -> None:
        monkeypatch.setattr(Store, "read", fail)
        monkeypatch.setattr(Store, "write", fail)

    return lose


def test_a_page_that_was_only_asked_for_says_so(world: World, lost_database: Callable[[], None]) -> None:
    nurse = world.at("n.ferrow")
    lost_database()
    page = nurse.get("/")

    assert (page.status, page.heading) == (503, "Not shown")
    assert "The database cannot be reached. Care does not wait for it." in page.text
    assert "check on paper as your unit does" in page.text
    assert page.response.headers["Retry-After"] == "5"


def test_what_was_typed_stands_in_the_page_of_whoever_typed_it_and_the_page_empties_itself(
    world: World, lost_database: Callable[[], None]
) -> None:
    pair = joined(world)
    fields = typed(pair)
    lost_database()
    page = pair.first.post(f"/check/{pair.check}/read/label", fields)

    assert page.status == 503
    assert ("lot", "ZQX-canary") in page.form_with("Send it again")[0].held
    assert "data-idle-seconds" in page.body


@pytest.mark.parametrize("forged", ["token", "origin"])
def test_what_no_form_of_this_screen_sent_is_not_put_into_a_page(
    world: World, lost_database: Callable[[], None], forged: str
) -> None:
    pair = joined(world)
    fields = typed(pair)
    lost_database()
    if forged == "token":
        fields = [
            ("csrf_token", "0" * 64),
            *((name, value) for name, value in fields if name != "csrf_token"),
        ]
    origin = "https://elsewhere.example" if forged == "origin" else ORIGIN
    answer = pair.first.client.post(
        f"/check/{pair.check}/read/label", data=MultiDict(fields), base_url=ORIGIN, headers={"Origin": origin}
    )
    assert answer.status_code == 503
    assert "ZQX-canary" not in answer.get_data(as_text=True)


def test_a_secret_stands_in_no_page(world: World, lost_database: Callable[[], None]) -> None:
    browser = world.browser()
    browser.get("/sign-in")
    lost_database()
    page = browser.press("Sign in", login="n.ferrow", secret=world.secrets["n.ferrow"], unit="ward-4-east")

    assert page.status == 503
    assert world.secrets["n.ferrow"] not in page.body
    assert "Send it again" not in page.body
    assert "write what is not once more" in page.text


def test_every_field_for_a_secret_is_known_as_one() -> None:
    for module in pkgutil.iter_modules(forms.__path__, f"{forms.__name__}."):
        importlib.import_module(module.name)

    def all_forms(of: type[TextForm]) -> Iterator[type[TextForm]]:
        for each in of.__subclasses__():
            yield each
            yield from all_forms(each)

    secret = {
        name
        for form in all_forms(TextForm)
        for name, field in vars(form).items()
        if getattr(field, "field_class", None) is PasswordField
    }
    assert secret == SECRETS
