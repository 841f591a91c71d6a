"""`countersign export` on real records: a walked check, both forms, and what is refused."""

import csv
import fcntl
import hashlib
import json
import os
import stat
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from app.cli import export as command
from app.cli import main
from app.config import create_key_file
from app.records import export_events
from app.records.state import Phase
from app.storage import ExportSpan, StoreUnavailable
from app.workflow.issuing import Issued, issue_record
from tests.factories.quick_pdf import without_rendering
from tests.story.people import NADIA, QUILL
from tests.story.ward import BEGAN, Ward, open_ward

QUILLS = f"{QUILL.login}\n{QUILL.secret}\n"
DAY = BEGAN.date().isoformat()


@pytest.fixture
def ward(sqlite_url: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Ward]:
    """Two started checks and a check that is still open, in an installation that the environment names."""
    key_file = tmp_path / "application.key"
    create_key_file(key_file, b"k" * 32)
    monkeypatch.setenv("DATABASE_URL", sqlite_url)
    monkeypatch.setenv("COUNTERSIGN_KEY_FILE", str(key_file))
    without_rendering(monkeypatch)
    # Nothing goes before the tests.
    monkeypatch.setattr(command, "give_way", lambda: None)
    monkeypatch.setattr(command, "now", lambda: BEGAN + timedelta(hours=3))
    with open_ward(sqlite_url) as made:
        for _ in range(2):
            made.at_stage(Phase.STARTED)
        made.at_stage(Phase.SIGNING)
        yield made


def run(out: Path, *, first: str = DAY, last: str = DAY, form: str = "jsonl", typed: str = QUILLS) -> Result:
    return CliRunner().invoke(
        main, ["export", "--from", first, "--to", last, "--format", form, "--out", str(out)], input=typed
    )


def frozen(ward: Ward) -> dict[str, bytes]:
    """The records of started checks as they were signed, by digest."""
    span = ExportSpan(from_=BEGAN - timedelta(days=1), before=BEGAN + timedelta(days=1))
    with ward.site.store.read() as reader:
        return {
            hashlib.sha256(each.record).hexdigest(): each.record for each in reader.ended_one_by_one(span)
        }


def test_a_line_is_a_signed_record(ward: Ward, tmp_path: Path) -> None:
    made = run(tmp_path / "records.jsonl")
    lines = (tmp_path / "records.jsonl").read_bytes().splitlines()

    assert made.exit_code == 0, made.output
    # Each check, and behind it its record.
    assert len(lines) == 4
    assert {hashlib.sha256(line).hexdigest(): line for line in lines[1::2]} == frozen(ward)
    assert str(tmp_path / "records.jsonl") in made.output


def test_the_table_has_the_rows_of_both_records(ward: Ward, tmp_path: Path) -> None:
    made = run(tmp_path / "records.csv", form="csv")
    with (tmp_path / "records.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))

    assert made.exit_code == 0, made.output
    assert {row["check"] for row in rows} == {json.loads(line)["record"] for line in frozen(ward).values()}
    assert {row["code"] for row in rows} == {""}


@pytest.mark.usefixtures("ward")
def test_nobody_else_can_read_it_and_nothing_is_left_beside_it(tmp_path: Path) -> None:
    folder = tmp_path / "out"
    folder.mkdir()
    run(folder / "records.jsonl")

    names = ["records.jsonl", "records.jsonl.manifest.json"]
    assert sorted(each.name for each in folder.iterdir()) == names
    assert {stat.S_IMODE((folder / name).stat().st_mode) for name in names} == {0o600}


def test_the_log_keeps_who_exported_what(ward: Ward, tmp_path: Path) -> None:
    run(tmp_path / "records.csv", form="csv")

    with ward.site.store.read() as reader:
        last = reader.log_entries(after=reader.head() - 1, limit=1)[0]
    assert isinstance(last.event, export_events.Exported)
    assert (last.event.form, last.event.from_date, last.event.to_date) == ("csv", DAY, DAY)
    assert last.by == QUILL.id


@pytest.mark.usefixtures("ward")
@pytest.mark.parametrize("form", ["csv", "jsonl"])
@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ("", "id and secret do not belong together"),
        (f"{QUILL.login}\nno such secret\n", "id and secret do not belong together"),
        (f"{NADIA.login}\n{NADIA.secret}\n", "this person may not export"),
    ],
)
def test_without_id_and_secret_of_one_who_may_export_nothing_is_written(
    tmp_path: Path, *, form: str, typed: str, says: str
) -> None:
    refused = run(tmp_path / "records", form=form, typed=typed)

    assert refused.exit_code == 2
    assert says in refused.output
    assert not (tmp_path / "records").exists()


@pytest.mark.usefixtures("ward")
def test_days_without_a_record_give_an_empty_file(tmp_path: Path) -> None:
    made = run(tmp_path / "records.jsonl", first="2031-04-01", last="2031-05-01")

    assert made.exit_code == 0
    assert (tmp_path / "records.jsonl").read_bytes() == b""


@pytest.mark.usefixtures("ward")
def test_a_file_that_is_there_is_left_alone(tmp_path: Path) -> None:
    (tmp_path / "records.jsonl").write_text("mine")
    refused = run(tmp_path / "records.jsonl")

    assert refused.exit_code == 2
    assert "exists already" in refused.output
    assert (tmp_path / "records.jsonl").read_text() == "mine"


@pytest.mark.usefixtures("ward")
@pytest.mark.parametrize(
    ("first", "last", "says"),
    [
        (DAY, "2031-05-01", "the last day lies before the first"),
        ("2031-13-01", DAY, "does not match the format"),
        ("yesterday", DAY, "does not match the format"),
        (DAY, "9999-12-31", "no year from 1900 to 2999"),
    ],
)
def test_days_that_make_no_sense_are_refused(tmp_path: Path, *, first: str, last: str, says: str) -> None:
    refused = run(tmp_path / "records.jsonl", first=first, last=last)

    assert refused.exit_code == 2
    assert says in refused.output
    assert not (tmp_path / "records.jsonl").exists()


@pytest.mark.usefixtures("ward")
def test_de_identified_so_few_days_are_refused(tmp_path: Path) -> None:
    words = ["export", "--from", DAY, "--to", DAY, "--format", "csv", "--deidentified"]
    refused = CliRunner().invoke(main, [*words, "--out", str(tmp_path / "few.csv")], input=QUILLS)

    assert refused.exit_code == 2
    assert "at least 31 days up to today; nothing was written" in refused.output
    assert list(tmp_path.glob("few*")) == []


def test_a_folder_that_is_not_there_is_refused_before_anything_is_logged(ward: Ward, tmp_path: Path) -> None:
    with ward.site.store.read() as reader:
        before = reader.head()
    refused = run(tmp_path / "nowhere" / "records.jsonl")

    with ward.site.store.read() as reader:
        assert reader.head() == before
    assert refused.exit_code == 2
    assert "there is no folder" in refused.output


@pytest.mark.usefixtures("ward")
@pytest.mark.parametrize(
    "broken", [OSError(28, "No space left on device"), StoreUnavailable(outcome_known=True)]
)
def test_an_export_that_breaks_off_leaves_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, broken: Exception
) -> None:
    def breaking(_site: object, _asked: object, into: Path, *, name: str, **_: object) -> None:
        (into / name).write_bytes(b"half of")
        raise broken

    monkeypatch.setattr(command, "make_export", breaking)
    folder = tmp_path / "out"
    folder.mkdir()
    failed = run(folder / "records.jsonl")

    assert failed.exit_code == 2
    assert "error: " in failed.output
    assert list(folder.iterdir()) == []


def test_the_record_of_a_walked_check_is_printed(ward: Ward, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.undo()
    check = ward.at_stage(Phase.CLEARED).check

    assert isinstance(issue_record(ward.site, check, 1, ward.now), Issued)
    with ward.site.store.read() as reader:
        kept = reader.find_pdf(check, 1)
    assert kept is not None
    assert kept.content.startswith(b"%PDF-1.7")
    assert hashlib.sha256(kept.content).hexdigest() == kept.digest


@pytest.mark.usefixtures("ward")
def test_what_another_command_writes_is_left_alone_and_what_a_killed_one_left_is_not(tmp_path: Path) -> None:
    folder = tmp_path / "out"
    unfinished = folder / ".records.jsonl.unfinished"
    unfinished.mkdir(parents=True)
    (unfinished / "records.jsonl").write_text("half of")
    descriptor = os.open(unfinished, os.O_RDONLY)
    fcntl.flock(descriptor, fcntl.LOCK_EX)
    refused = run(folder / "records.jsonl")

    assert refused.exit_code == 2
    assert refused.output.splitlines()[-1].startswith("error: another command writes")
    assert (unfinished / "records.jsonl").read_text() == "half of"
    os.close(descriptor)
    assert run(folder / "records.jsonl").exit_code == 0
    assert sorted(each.name for each in folder.iterdir()) == ["records.jsonl", "records.jsonl.manifest.json"]


@pytest.mark.parametrize(
    "words", [("export", "--from", DAY, "--to", DAY, "--format", "csv", "--out"), ("verify",)]
)
@pytest.mark.parametrize("place", [".", "/", ".."])
def test_a_folder_without_a_name_is_no_file_of_an_export(words: tuple[str, ...], place: str) -> None:
    refused = CliRunner().invoke(main, [*words, place])

    assert refused.exit_code == 2
    assert refused.output.startswith("error: ")
    assert refused.output.count("\n") == 1
