"""No file falls over whoever verifies it: whatever happened to it, each question has an answer.

The damage is drawn by number, and the same numbers every time: a sample in each run, the whole in `poe long`.
"""

import json
import shutil
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

import pytest
from click.testing import CliRunner

from app.auditing import verifying_contents
from app.auditing.verifying import PublicMaterial, read_material, verify_file, verify_opened
from app.cli import main
from app.keys import public_file, read_public_file
from app.records.checkpoint import file_content
from app.records.verification import About, NotReadable, Question, Verification
from app.reports.attachments import open_pdf, read_attachments
from app.reports.competency_file import competency_of
from app.reports.followed_file import followed_of
from app.reports.record_file import NotARecord, record_of
from app.review.competency import record_of as of_person
from tests.auditing.test_verifying_followed import Told
from tests.auditing.test_verifying_followed import told as told_of_what_followed
from tests.reports import sealed
from tests.story.followed import handed_out
from tests.story.people import NADIA
from tests.story.trained import signed_record
from tests.story.ward import open_ward
from tests.support.damaging import damaged, harmed_json
from tests.support.sampling import examples

FILES = ("record", "what followed", "competency")
ATTACHED = {
    "record": ("record.json", "log-proof.json", "renderer.json", "signature-A.jws", "signature-B.jws"),
    "what followed": ("what-followed.json", "log-entries.json", "renderer.json"),
    "competency": (
        "competency.json",
        "log-proof.json",
        "renderer.json",
        "signature-holder.jws",
        "signature-trainer.jws",
    ),
}
ELSEWHERE = {Question.FOLLOWED, Question.EVENTS, Question.HOLDER, Question.TRAINER, Question.REVIEWED}
ASKED = {
    About.RECORD: [each for each in Question if each not in ELSEWHERE],
    About.COMPETENCY: [
        Question.SEAL,
        Question.ISSUED,
        Question.RECORD,
        Question.HOLDER,
        Question.TRAINER,
        Question.REVIEWED,
        Question.PAGES,
    ],
}
OPENED = {"record": record_of, "what followed": followed_of, "competency": competency_of}
# Of each kind of file.
WHOLE_FILES = examples(sample=60, whole=1500)
ONE_ATTACHED = examples(sample=30, whole=1500)
MATERIALS = examples(sample=60, whole=1500)
COMMANDS = examples(sample=2, whole=60)

told = told_of_what_followed


@dataclass(frozen=True)
class Handed:
    """A file as it was handed over, and what its site hands out."""

    content: bytes
    site: bytes
    checkpoint: bytes

    @property
    def material(self) -> PublicMaterial:
        """What the site hands out, read."""
        read = read_material(self.site, self.checkpoint)
        assert isinstance(read, PublicMaterial)
        return read


@pytest.fixture(scope="module")
def trained(_migrated_sqlite: Path, tmp_path_factory: pytest.TempPathFactory) -> Handed:
    """A record of training that both signed."""
    path = tmp_path_factory.mktemp("school") / "ward.sqlite3"
    shutil.copyfile(_migrated_sqlite, path)
    with open_ward(f"sqlite:///{path}") as ward:
        signed_record(ward.opens(NADIA))
        with ward.site.store.read() as reader:
            kept = reader.find_competency_file(of_person(NADIA.id), 1)
        assert kept is not None
        return Handed(kept.content, *handed_out(ward))


@pytest.fixture(scope="module")
def handed(story: sealed.Story, told: Told, trained: Handed) -> Mapping[str, Handed]:
    return {
        "competency": trained,
        "record": Handed(
            story.sealed, public_file(story.keys.known).encode(), file_content(story.checkpoint)
        ),
        "what followed": Handed(
            told.kept.content, told.material.certificates.encode(), file_content(told.material.checkpoint)
        ),
    }


@pytest.fixture(autouse=True)
def _renderer(monkeypatch: pytest.MonkeyPatch) -> None:
    """Making pages again takes a second for each; whether they can be is asked of a few at the end."""
    monkeypatch.setattr(verifying_contents, "is_this_renderer", lambda _: False)
    monkeypatch.setattr("app.auditing.verifying_followed.is_this_renderer", lambda _: False)
    monkeypatch.setattr("app.auditing.verifying_competency.is_this_renderer", lambda _: False)


def answered(found: Verification | NotReadable) -> bool:
    """Whether everything holds; each question to such a file has an answer that can be told."""
    if isinstance(found, NotReadable):
        assert found.why
        return False
    json.dumps(found.as_data()).encode()
    asked = [each.question for each in found.answers]
    assert len(asked) == len(set(asked))
    assert found.about is About.FOLLOWED or asked == ASKED[found.about]
    return found.holds


@pytest.mark.parametrize("which", FILES)
def test_a_damaged_file_is_altered_or_not_a_record(handed: Mapping[str, Handed], which: str) -> None:
    good = handed[which]
    assert answered(verify_file(good.content, good.material))
    for number in range(WHOLE_FILES):
        content = damaged(good.content, number)
        if content != good.content:
            assert not answered(verify_file(content, good.material)), number


def _with_one_damaged(good: Handed, name: str) -> Iterator[Mapping[str, bytes]]:
    attached = read_attachments(good.content)
    assert isinstance(attached, Mapping)
    for number in range(ONE_ATTACHED):
        harm = harmed_json if name.endswith(".json") and number % 3 else damaged
        yield {**attached, name: harm(attached[name], number)}


@pytest.mark.parametrize(("which", "name"), [(which, name) for which in FILES for name in ATTACHED[which]])
def test_whatever_is_attached_every_question_has_an_answer(
    handed: Mapping[str, Handed], which: str, name: str
) -> None:
    """The seal would show it; a site that sealed such a file would be found out all the same."""
    good, reader = handed[which], open_pdf(handed[which].content)
    attached = read_attachments(good.content)
    assert isinstance(attached, Mapping)
    assert attached.keys() == set(ATTACHED[which])
    for other in _with_one_damaged(good, name):
        file = OPENED[which](good.content, other, reader=reader)
        if not isinstance(file, NotARecord):
            holds = answered(verify_opened(file, good.material))
            assert not holds or name not in ("record.json", "competency.json") or other == attached


@pytest.mark.parametrize("which", FILES)
def test_damaged_public_material_is_said_to_be_so(handed: Mapping[str, Handed], which: str) -> None:
    good = handed[which]
    for number in range(MATERIALS):
        harm = harmed_json if number % 3 else damaged
        for site, checkpoint in (
            (damaged(good.site, number), good.checkpoint),
            (good.site, harm(good.checkpoint, number)),
        ):
            read = read_material(site, checkpoint)
            answered(read if isinstance(read, NotReadable) else verify_file(good.content, read))


def test_another_kind_of_file_in_a_record_s_place_is_no_record(handed: Mapping[str, Handed]) -> None:
    good = handed["record"]
    attached = read_attachments(good.content)
    assert isinstance(attached, Mapping)
    envelope = bytes([1]) + bytes(range(256)) * 63 + bytes(255)
    exported = b"format,countersign.table/1\r\ncheck,unit\r\n1,ward\r\n"
    for other in (b"", b"%PDF-", good.site, good.checkpoint, envelope, exported, *attached.values()):
        found = verify_file(other, good.material)
        assert isinstance(found, NotReadable)
        assert "not a record's PDF" in found.why


def _ran(files: Mapping[str, Path], *words: str) -> tuple[int, str]:
    given = [str(files["record"]), "--site", str(files["site"]), "--checkpoint", str(files["checkpoint"])]
    ran = CliRunner().invoke(main, ["verify", *given, *words])
    assert ran.exception is None or isinstance(ran.exception, SystemExit), ran.exception
    return ran.exit_code, ran.stdout


@pytest.mark.parametrize("which", ["record", "site", "checkpoint"])
def test_the_command_ends_with_a_documented_answer_and_whole_json(
    handed: Mapping[str, Handed], tmp_path: Path, which: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.undo()
    good = handed["record"]
    contents = {"record": good.content, "site": good.site, "checkpoint": good.checkpoint}
    files = {name: tmp_path / name for name in contents}
    for number in range(COMMANDS):
        for name, content in contents.items():
            files[name].write_bytes(damaged(content, number) if name == which else content)
        code, said = _ran(files, "--json")
        answer = json.loads(said)
        assert code == (0 if answer.get("holds") else 2 if "readable" in answer else 1)
        assert code or which != "record"
        assert _ran(files)[0] == code


class _NotOrdinaryError(Exception):
    """What no list of faults would have on it."""


@pytest.mark.parametrize(
    "broken",
    [
        "app.auditing.verifying.open_document",
        "app.auditing.verifying.check_seal",
        "app.auditing.verifying.event_at",
        "app.auditing.verifying.signature_of",
        "app.auditing.verifying.canonical",
        "app.auditing.verifying.is_signed_in_time",
        "app.auditing.verifying.computed_again",
        "app.auditing.verifying.read_public_file",
        "pyhanko.pdf_utils.reader.PdfFileReader",
    ],
)
def test_whatever_a_library_raises_is_an_answer(
    handed: Mapping[str, Handed], monkeypatch: pytest.MonkeyPatch, broken: str
) -> None:
    good = handed["record"]
    material = good.material
    assert read_public_file(material.certificates)

    def fail(*_: object, **__: object) -> None:
        raise _NotOrdinaryError("a value of a patient")

    monkeypatch.setattr(broken, fail)
    found = verify_file(good.content, material)
    assert not answered(found)
    assert "a value of a patient" not in repr(found)
    read_material(good.site, good.checkpoint)
