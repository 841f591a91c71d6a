"""Make the samples anew: `python -m tests.samples.make`.

Until the first release they are made anew whenever a format changes. From then on those of each release stay
as they are, and every later program must verify them.
"""

import sqlite3
import tempfile
from collections.abc import Callable, Mapping
from contextlib import closing
from datetime import timedelta
from pathlib import Path

from alembic import command
from sqlalchemy import MetaData, text

from app.auditing.checkpointing import HistoryChanged, checkpoint_file
from app.keys import load_site_keys, public_file
from app.records import events
from app.records.checkpoint import file_content
from app.records.kept import FIRST, SECOND
from app.records.state import Phase
from app.records.written import iso
from app.storage import migrate
from app.storage.engine import database_url, make_engine
from app.storage.migrate import alembic_config
from app.workflow.issuing import Issued, issue_record
from tests.factories.seed import install_seed
from tests.samples.older import written_as_before
from tests.samples.rows import keep_rows
from tests.story.people import EVERYBODY, NADIA, TOMAS
from tests.story.ward import BEGAN, Ward, site_at, written_anew
from tests.support.tampering import as_database_administrator

HERE = Path(__file__).parent


def today(address: str) -> None:
    """As it is written now: a check with its sealed record, and one given up after a comparison."""
    with written_anew(address) as ward:
        _with_a_record(ward)
        _keep_public_material(ward, HERE / "today")


def with_rows(address: str) -> None:
    """The same, from when findings and ended checks had got rows."""
    with written_anew(address) as ward:
        _with_a_record(ward)
        _keep_public_material(ward, HERE / "0003")


def with_keys(address: str) -> None:
    """The same as it was written before formats were said and names were in the log."""
    with written_as_before(), written_anew(address) as ward:
        _with_a_record(ward)
        _keep_public_material(ward, HERE / "0002")


def _with_a_record(ward: Ward) -> None:
    ward.at_stage(Phase.CLEARED).both_look().starts()
    assert isinstance(issue_record(ward.site, ward.check, 1, ward.wait().now), Issued)


def _keep_public_material(ward: Ward, folder: Path) -> None:
    keys = load_site_keys(ward.site.site_keys, ward.now)
    written = checkpoint_file(ward.site, keys, ward.wait().now)
    assert not isinstance(written, HistoryChanged)
    (folder / "checkpoint.json").write_bytes(file_content(written))
    (folder / "site.pem").write_text(public_file(keys.known), encoding="ascii")


def without_keys(address: str) -> None:
    """From before people and the site had keys: two signatures without one, and no sealed file."""
    site = site_at(address)
    with written_as_before():
        install_seed(site, BEGAN - timedelta(days=1))
        with site.store.write() as tx:
            for each in EVERYBODY:
                tx.add_person(each.newcomer.person)
        ward = Ward(site)
        ward.opens().joins().both_read().compares().confirms_all()
        with site.store.read() as reader:
            (frozen,) = reader.frozen_records(ward.check)
        for who, slot in ((TOMAS, SECOND), (NADIA, FIRST)):
            act = ward.act(who)
            signed = events.Signed(edition=1, slot=slot, digest=frozen.digest, meaning="as agreed")
            with site.store.write() as tx:
                tx.append(signed, act=act, check=ward.check)
            with as_database_administrator(address) as connection:
                connection.execute(
                    text(
                        'INSERT INTO signature ("check", edition, slot, person, printed_name, digest, '
                        "meaning, signed_at, session, device, signed_in_at) VALUES (:check, 1, :slot, "
                        ":person, :name, :digest, 'as agreed', :at, :session, :device, :signed_in_at)"
                    ),
                    {
                        "check": ward.check,
                        "slot": slot,
                        "person": who.id,
                        "name": who.printed_name,
                        "digest": frozen.digest,
                        "at": iso(act.now),
                        "session": act.by.session,
                        "device": act.by.device,
                        "signed_in_at": iso(act.by.signed_in_at),
                    },
                )
    site.store.close()


# What a store of each revision of the schema holds.
STORIES: Mapping[str, Callable[[str], None]] = {
    "0001": without_keys,
    "0002": with_keys,
    "0003": with_rows,
}


def main() -> None:
    """Every sample, over what is there."""
    with tempfile.TemporaryDirectory() as folder:
        for name, story in {**STORIES, "today": today}.items():
            (HERE / name).mkdir(exist_ok=True)
            file = Path(folder) / f"{name}.sqlite3"
            migrate(f"sqlite:///{file}")
            story(f"sqlite:///{file}")
            revision = name if name in STORIES else "head"
            columns = _columns_of(revision, Path(folder) / f"{name}-empty.sqlite3")
            engine = make_engine(database_url(f"sqlite:///{file}"))
            with engine.connect() as connection:
                keep_rows(connection, HERE / name / "rows.json", columns)
            engine.dispose()
            if name == "today":
                _keep_file(file, HERE / name / "store.sqlite3")
    for kept in sorted(HERE.glob("*/*")):
        print(f"{kept.relative_to(HERE)}: {kept.stat().st_size:,} bytes")  # noqa: T201  # a command's answer


def _columns_of(revision: str, file: Path) -> Mapping[str, frozenset[str]]:
    """The tables of one revision of the schema, and their columns."""
    engine = make_engine(database_url(f"sqlite:///{file}"))
    found = MetaData()
    with engine.connect() as connection:
        connection.execution_options(writing=True)
        with connection.begin():
            config = alembic_config()
            config.attributes["connection"] = connection
            command.upgrade(config, revision)
            found.reflect(connection)
    engine.dispose()
    return {name: frozenset(table.c.keys()) for name, table in found.tables.items()}


def _keep_file(source: Path, target: Path) -> None:
    """The whole database in one small file."""
    target.unlink(missing_ok=True)
    with closing(sqlite3.connect(source)) as connection:
        connection.execute("PRAGMA page_size = 1024")
        connection.execute(f"VACUUM INTO '{target}'")  # a path of this folder


if __name__ == "__main__":
    main()
