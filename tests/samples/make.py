"""Make the samples anew: `python -m tests.samples.make`.

Until the first release they are made anew whenever a format changes. From then on those of each release stay
as they are, and every later program must verify them.
"""

import sqlite3
import tempfile
from contextlib import closing
from pathlib import Path

from app.auditing.checkpointing import HistoryChanged, checkpoint_file
from app.keys import load_site_keys, public_file
from app.records.checkpoint import file_content
from app.records.state import Phase
from app.storage import migrate
from app.storage.engine import database_url, make_engine
from app.workflow.issuing import Issued, issue_record
from tests.samples.rows import keep_rows
from tests.story.ward import Ward, written_anew

HERE = Path(__file__).parent


def today(address: str) -> None:
    """As it is written now: a check with its sealed record, and one given up after a comparison."""
    with written_anew(address) as ward:
        _with_a_record(ward)
        _keep_public_material(ward, HERE / "today")


def _with_a_record(ward: Ward) -> None:
    ward.at_stage(Phase.CLEARED).both_look().starts()
    assert isinstance(issue_record(ward.site, ward.check, 1, ward.wait().now), Issued)


def _keep_public_material(ward: Ward, folder: Path) -> None:
    keys = load_site_keys(ward.site.site_keys, ward.now)
    written = checkpoint_file(ward.site, keys, ward.wait().now)
    assert not isinstance(written, HistoryChanged)
    (folder / "checkpoint.json").write_bytes(file_content(written))
    (folder / "site.pem").write_text(public_file(keys.known), encoding="ascii")


def main() -> None:
    """Every sample, over what is there."""
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "today.sqlite3"
        migrate(f"sqlite:///{file}")
        today(f"sqlite:///{file}")
        engine = make_engine(database_url(f"sqlite:///{file}"))
        with engine.connect() as connection:
            keep_rows(connection, HERE / "today" / "rows.json")
        engine.dispose()
        _keep_file(file, HERE / "today" / "store.sqlite3")
    for kept in sorted(HERE.glob("*/*")):
        print(f"{kept.relative_to(HERE)}: {kept.stat().st_size:,} bytes")  # noqa: T201  # a command's answer


def _keep_file(source: Path, target: Path) -> None:
    """The whole database in one small file."""
    target.unlink(missing_ok=True)
    with closing(sqlite3.connect(source)) as connection:
        connection.execute("PRAGMA page_size = 1024")
        connection.execute(f"VACUUM INTO '{target}'")  # a path of this folder


if __name__ == "__main__":
    main()
