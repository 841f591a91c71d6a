"""`countersign verify` reads what followed a record as it reads a record: as issued, and altered."""

import io
import json
import shutil
from dataclasses import dataclass
from pathlib import Path

import pikepdf
import pytest
from click.testing import CliRunner, Result

from app.cli import main
from tests.story.followed import ends, followed, handed_out, sweeps
from tests.story.ward import open_ward


@dataclass(frozen=True, kw_only=True)
class Files:
    """What followed a record, and what the site hands out, as files."""

    followed: Path
    site: Path
    checkpoint: Path

    def verified(self, *words: str) -> Result:
        """The command's answer."""
        public = ("--site", str(self.site), "--checkpoint", str(self.checkpoint))
        return CliRunner().invoke(main, ["verify", str(self.followed), *public, *words])


@pytest.fixture(scope="module")
def contents(_migrated_sqlite: Path, tmp_path_factory: pytest.TempPathFactory) -> tuple[bytes, ...]:
    path = tmp_path_factory.mktemp("followed") / "ward.sqlite3"
    shutil.copyfile(_migrated_sqlite, path)
    with open_ward(f"sqlite:///{path}") as ward:
        ends(ward)
        sweeps(ward)
        (kept,) = followed(ward)
        return kept.content, *handed_out(ward)


@pytest.fixture
def files(contents: tuple[bytes, ...], tmp_path: Path) -> Files:
    names = "what-followed.pdf", "site.pem", "checkpoint.json"
    for name, content in zip(names, contents, strict=True):
        (tmp_path / name).write_bytes(content)
    made, site, checkpoint = (tmp_path / name for name in names)
    return Files(followed=made, site=site, checkpoint=checkpoint)


def test_what_followed_as_issued(files: Files) -> None:
    ran = files.verified()

    assert ran.exit_code == 0, ran.output
    assert "EVERYTHING HOLDS." in ran.output
    assert "DOES NOT HOLD" not in ran.output
    said = json.loads(files.verified("--json").output)
    assert said["holds"] is True
    assert {each["holds"] for each in said["answers"]} == {True}


def test_what_followed_with_another_ending_does_not_hold(files: Files) -> None:
    with pikepdf.open(io.BytesIO(files.followed.read_bytes())) as pdf:
        stream = pdf.attachments["what-followed.json"].get_file().obj
        told = stream.read_bytes()
        assert told.count(b'"how":"ended"') == 1
        stream.write(told.replace(b'"how":"ended"', b'"how":"stopped"'))
        pdf.save(files.followed)

    ran = files.verified()

    assert ran.exit_code == 1, ran.output
    assert "NOT EVERYTHING HOLDS: do not rely on this file." in ran.output


def test_half_of_what_followed_cannot_be_read(files: Files) -> None:
    whole = files.followed.read_bytes()
    files.followed.write_bytes(whole[: len(whole) // 2])

    assert files.verified().exit_code == 2
