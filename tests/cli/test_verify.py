"""`countersign verify` as somebody runs it who has the file and the site's public material, and no more."""

import io
import json
from dataclasses import dataclass
from pathlib import Path

import pikepdf
import pytest
from click.testing import CliRunner, Result

from app.auditing import verifying_contents
from app.cli import main
from app.keys import public_file
from app.records.checkpoint import file_content
from tests.factories.invented_site import install
from tests.reports import sealed


@dataclass(frozen=True)
class Handed:
    """The three files as they were handed over."""

    record: Path
    site: Path
    checkpoint: Path

    def verified(self, *words: str) -> Result:
        """The command's answer."""
        return verified(
            str(self.record), "--site", str(self.site), "--checkpoint", str(self.checkpoint), *words
        )


def verified(*words: str) -> Result:
    return CliRunner().invoke(main, ["verify", *words])


@pytest.fixture
def handed(story: sealed.Story, tmp_path: Path) -> Handed:
    """Fresh copies of the files."""
    files = Handed(tmp_path / "record.pdf", tmp_path / "site.pem", tmp_path / "checkpoint.json")
    files.record.write_bytes(story.sealed)
    files.site.write_text(public_file(story.keys.known))
    files.checkpoint.write_bytes(file_content(story.checkpoint))
    return files


def test_a_record_as_issued(handed: Handed) -> None:
    ran = handed.verified()
    assert ran.exit_code == 0, ran.output
    assert "EVERYTHING HOLDS." in ran.output
    assert "DOES NOT HOLD" not in ran.output
    assert "Nadia Ferrow signed it at 2031-05-02T13:04:07+00:00" in ran.output


def test_pages_of_another_renderer_are_not_asked(handed: Handed, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(verifying_contents, "is_this_renderer", lambda _: False)
    ran = handed.verified()
    assert ran.exit_code == 0
    assert "EVERYTHING THAT WAS ASKED HOLDS." in ran.output
    said = json.loads(handed.verified("--json").output)
    assert said["holds"] is True
    assert [each["about"] for each in said["answers"] if each["holds"] == "not asked"] == ["pages"]


@pytest.mark.parametrize("of", ["record", "log-proof"])
def test_a_file_of_a_newer_format_is_refused_by_its_name(
    handed: Handed, story: sealed.Story, of: str
) -> None:
    name = {"record": "record.json", "log-proof": "log-proof.json"}[of]
    with pikepdf.open(io.BytesIO(story.sealed)) as pdf:
        stream = pdf.attachments[name].get_file().obj
        content = stream.read_bytes()
        version = content.partition(f"countersign.{of}/".encode())[2][:1]
        stream.write(content.replace(f"countersign.{of}/".encode() + version, f"countersign.{of}/9".encode()))
        pdf.save(handed.record)
    ran = handed.verified()
    assert ran.exit_code == 2
    assert f"has the format countersign.{of}/9, which this version of the program does not know" in ran.output


def test_a_checkpoint_of_a_newer_format_is_refused_by_its_name(handed: Handed) -> None:
    content = handed.checkpoint.read_bytes()
    handed.checkpoint.write_bytes(content.replace(b"checkpoint-file/1", b"checkpoint-file/9"))
    ran = handed.verified()
    assert ran.exit_code == 2
    assert "has the format countersign.checkpoint-file/9," in ran.output


def test_one_byte_more(handed: Handed) -> None:
    handed.record.write_bytes(handed.record.read_bytes() + b"\n")
    ran = handed.verified("--json")
    assert ran.exit_code == 1
    said = json.loads(ran.output)
    assert said["holds"] is False
    assert [each["about"] for each in said["answers"] if not each["holds"]] == ["seal", "issued"]
    assert "NOT EVERYTHING HOLDS" in handed.verified().output


@pytest.mark.parametrize("which", ["record", "site", "checkpoint"])
def test_a_file_that_cannot_be_read(handed: Handed, which: str) -> None:
    getattr(handed, which).write_bytes(b"nothing of the kind")
    ran = handed.verified()
    assert ran.exit_code == 2
    assert "HOLD" not in ran.output
    said = json.loads(handed.verified("--json").output)
    assert said["readable"] is False


def test_a_certificate_without_a_checkpoint_is_half_of_what_is_needed(handed: Handed) -> None:
    ran = verified(str(handed.record), "--site", str(handed.site))
    assert ran.exit_code == 2
    assert "give both or neither" in ran.output


def test_the_installation_s_own_material_knows_its_own_records_only(
    handed: Handed, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, sqlite_url: str
) -> None:
    monkeypatch.setenv("DATABASE_URL", sqlite_url)
    monkeypatch.setenv("COUNTERSIGN_KEY_FILE", str(tmp_path / "keys" / "application.key"))
    monkeypatch.setenv("COUNTERSIGN_SITE_KEYS", str(tmp_path / "keys" / "site"))
    assert install().exit_code == 0
    ran = verified(str(handed.record), "--json")
    assert ran.exit_code == 1, ran.output
    failing = {each["about"] for each in json.loads(ran.output)["answers"] if not each["holds"]}
    assert {"seal", "issued", "log", "signature_a", "signature_b"} <= failing
