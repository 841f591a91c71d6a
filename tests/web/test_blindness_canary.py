"""A value unlike any other is typed by one nurse, and looked for everywhere but in that nurse's own pages."""

import logging
import os
import tempfile
from collections.abc import Iterator, Mapping
from pathlib import Path

import pytest
from psycopg.errors import UniqueViolation
from sqlalchemy import MetaData, create_engine, event, select

from app.records.state import Phase
from app.workflow import reading
from app.workflow.sweeping import sweep_once
from tests.factories.answers import answers
from tests.story.pages import Pair, joined
from tests.support.browser import Browser
from tests.support.postgresql import Cluster
from tests.support.world import World, hand_in, read_all

NUMBER, WORD = "7.3719", "ZQX-canary"
CANARY = answers(device={"demand_dose": f"{NUMBER} mg"}, label={"lot": WORD})
FORMS = tuple(
    form
    for word in (NUMBER, WORD)
    for form in (word.encode(), word.encode().hex().encode(), word.encode("utf-16-le"))
)


@pytest.fixture
def own_temporary_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A temporary folder in which nothing is but what the program puts there; named last, it is made last."""
    folder = tmp_path / "temporary"
    folder.mkdir()
    monkeypatch.setattr(tempfile, "tempdir", str(folder))
    return folder


def dump(address: str) -> bytes:
    """Every row of every table, as an operator with all rights reads it."""
    engine = create_engine(address)
    tables = MetaData()
    tables.reflect(engine)
    with engine.connect() as connection:
        rows = [row for table in tables.sorted_tables for row in connection.execute(select(table))]
    engine.dispose()
    return b"\n".join(_cell(cell) for row in rows for cell in row)


def _cell(cell: object) -> bytes:
    return cell if isinstance(cell, bytes) else str(cell).encode()


def _flat(sent: object) -> bytes:
    if isinstance(sent, Mapping):
        return _flat(list(sent.values()))
    if isinstance(sent, list | tuple):
        return b"\n".join(_flat(each) for each in sent)
    return _cell(sent)


def files_in(folder: Path) -> bytes:
    """The bytes of every file."""
    return b"".join(path.read_bytes() for path in folder.rglob("*") if path.is_file())


def is_in(content: bytes) -> bool:
    """Whether the canary is there, in any of the forms in which it could be kept."""
    return any(form in content for form in FORMS)


class TestBeforeBothHaveHandedIn:
    """The first nurse has written the canary down, or handed it in."""

    def test_a_draft_is_in_no_table_and_no_file(
        self, world_on_both: World, database_url: str, own_temporary_folder: Path
    ) -> None:
        pair = joined(world_on_both)
        read_all(pair.first, pair.check, CANARY)
        assert not is_in(dump(database_url))
        assert not is_in(files_in(own_temporary_folder.parent))

    def test_a_reading_that_is_handed_in_is_in_no_table_and_no_file(
        self, world_on_both: World, database_url: str, own_temporary_folder: Path
    ) -> None:
        pair = joined(world_on_both)
        hand_in(pair.first, pair.check, CANARY)
        sweep_once(world_on_both.site, world_on_both.clock.now, holder="test")
        assert not is_in(dump(database_url))
        assert not is_in(files_in(own_temporary_folder.parent))

    def test_no_statement_carries_a_value(self, world_on_both: World) -> None:
        sent: list[object] = []

        def note(*told: object) -> None:
            _connection, _cursor, statement, parameters, _context, _many = told
            sent.extend((statement, parameters))

        store = world_on_both.site.store
        for engine in {store._engine, store._reading}:  # noqa: SLF001  # what the database is told
            event.listen(engine, "before_cursor_execute", note)
        pair = joined(world_on_both)
        hand_in(pair.first, pair.check, CANARY)
        assert b"INSERT INTO reading" in (told := _flat(sent))
        assert not is_in(told)
        # What is kept for who was looked up shows that parameters are among it.
        assert world_on_both.person("n.ferrow").id.encode() in told

    def test_nothing_is_logged_or_printed(
        self, world: World, caplog: pytest.LogCaptureFixture, capfd: pytest.CaptureFixture[str]
    ) -> None:
        caplog.set_level(logging.DEBUG)
        pair = joined(world)
        hand_in(pair.first, pair.check, CANARY)
        printed = capfd.readouterr()
        assert not is_in((caplog.text + printed.out + printed.err).encode())

    def test_a_refused_value_is_logged_nowhere(self, world: World, caplog: pytest.LogCaptureFixture) -> None:
        caplog.set_level(logging.DEBUG)
        pair = joined(world)
        pair.page(pair.first, "/read/device")
        page = pair.first.press("Keep, and", demand_dose=f"{NUMBER}0", demand_dose_unit="mg")
        assert page.status == 422
        assert NUMBER in page.body, "its author sees what was typed"
        assert not is_in(caplog.text.encode())

    @pytest.mark.parametrize("broken", ["save_draft", "hand_in", "open_desk"])
    def test_a_bug_in_a_handler_tells_nothing(
        self,
        world: World,
        broken: str,
        monkeypatch: pytest.MonkeyPatch,
        caplog: pytest.LogCaptureFixture,
    ) -> None:
        caplog.set_level(logging.DEBUG)
        pair = joined(world)
        read_all(pair.first, pair.check, CANARY)
        form, _ = pair.first.page.form_with("Hand in")
        device = pair.page(pair.first, "/read/device").form_with("Keep, and")[0]

        def fail(*_: object, **given: object) -> None:
            raise RuntimeError(WORD, given)

        monkeypatch.setattr(reading, broken, fail)
        answered = [
            pair.first.post(device.action, [*device.held, ("go", "on")]),
            pair.first.post(form.action, form.held),
        ]
        assert any(page.status == 500 for page in answered)
        assert not is_in(caplog.text.encode())
        assert not any(is_in(page.response.get_data()) for page in answered if page.status == 500)


def others(world: World) -> Iterator[Browser]:
    """Everybody but the two."""
    for login in ("r.calloway", "p.varga", "q.lindqvist", "a.moreau"):
        yield world.at(login)


def test_while_readings_differ_nobody_is_shown_the_canary(world: World) -> None:
    pair: Pair = joined(world)
    pair.read(CANARY, answers())
    assert pair.phase() is Phase.DISPUTED
    for browser in (*pair.both, *others(world)):
        for tail in ("", "/steps", "/record", "/sign", "/help", "/waiting", "/read"):
            assert not is_in(pair.page(browser, tail).response.get_data()), (browser, tail)
    charge = world.at("r.calloway")
    assert not is_in(charge.get("/findings").response.get_data())


def test_the_canary_is_found_once_both_have_handed_in(world_on_both: World, database_url: str) -> None:
    """The twin that must find it: the comparison holds the opened case in clear."""
    pair = joined(world_on_both)
    hand_in(pair.first, pair.check, CANARY)
    assert not is_in(dump(database_url))
    hand_in(pair.second, pair.check, CANARY)
    assert is_in(dump(database_url))


def test_the_search_finds_what_is_there(tmp_path: Path) -> None:
    for at, form in enumerate(FORMS):
        (tmp_path / str(at)).write_bytes(os.urandom(8) + form + os.urandom(8))
        assert is_in(files_in(tmp_path))
        (tmp_path / str(at)).unlink()
    assert not is_in(files_in(tmp_path))


@pytest.mark.parametrize("verbosity", ["terse", "default"])
def test_the_server_of_the_database_writes_no_row_that_it_refuses_where_it_is_set_as_the_guide_says(
    postgresql: Cluster, postgresql_url: str, verbosity: str
) -> None:
    """Its twin, at a server as it comes, finds the canary."""
    database = postgresql_url.rpartition("/")[2].partition("?")[0]
    word = f"{WORD}-{verbosity}"
    with postgresql.connect(database) as connection:
        if verbosity == "default":
            connection.execute("SET log_error_verbosity = 'default'")
        add = "INSERT INTO unit (id, name, name_folded) VALUES (%s, 'the same twice', 'the same twice')"
        connection.execute(add, (word,))
        with pytest.raises(UniqueViolation):
            connection.execute(add, (word,))
    log = (postgresql.folder / "log").read_text(encoding="utf-8")
    assert "unit_id_unique" in log
    assert (word in log) is (verbosity == "default")
