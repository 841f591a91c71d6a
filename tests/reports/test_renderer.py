"""Which renderer made the pages: its id, and what a file says that another one made."""

import io
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from importlib.metadata import version
from pathlib import Path

import pikepdf
import pytest

from app.auditing.verifying import PublicMaterial, verify_file
from app.auditing.verifying_contents import OTHER_RENDERER
from app.config import root
from app.keys import public_file
from app.records.verification import Question, Verification
from app.reports import page, renderer
from app.reports.followed_file import open_document
from app.reports.record_file import NotARecord
from tests.reports import sealed

LOADED = """
import sys
import app.reports.competency_record, app.reports.pdf, app.reports.record, app.reports.seal
print(*sorted({name.split(".")[1] for name in sys.modules if name.startswith("app.")}))
"""


@pytest.fixture
def elsewhere(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """A copy of everything that the renderer is made of, in the place of it."""
    for name in ("app", "templates", "static"):
        shutil.copytree(root() / name, tmp_path / name, ignore=shutil.ignore_patterns("__pycache__"))
    for module in (page, renderer):
        monkeypatch.setattr(module, "root", lambda: tmp_path)
    yield tmp_path
    monkeypatch.undo()
    _forget()


def _forget() -> None:
    renderer.renderer_id.cache_clear()
    # It holds on to the folder of templates.
    page.environment.cache_clear()


def verified(story: sealed.Story, content: bytes) -> Verification:
    material = PublicMaterial(certificates=public_file(story.keys.known), checkpoint=story.checkpoint)
    found = verify_file(content, material)
    assert isinstance(found, Verification)
    return found


def pages_of(found: Verification) -> tuple[bool | None, str]:
    (answer,) = [each for each in found.answers if each.question is Question.PAGES]
    return answer.holds, answer.says


def test_its_id_is_of_every_package_that_rendering_imports() -> None:
    ran = subprocess.run([sys.executable, "-c", LOADED], capture_output=True, check=True, text=True)
    assert ran.stdout.split() == sorted({*renderer.PACKAGES, "config"})


def test_a_word_that_changed_in_a_template_says_nothing_against_an_earlier_file(
    story: sealed.Story, elsewhere: Path
) -> None:
    page = elsewhere / "templates" / "reports" / "record.html"
    written = page.read_text(encoding="utf-8")
    assert "<h1>" in written
    page.write_text(written.replace("<h1>", "<h1>Another word: ", 1), encoding="utf-8")
    _forget()
    found = verified(story, story.sealed)
    assert pages_of(found) == (None, OTHER_RENDERER)
    assert found.holds
    assert not found.whole
    assert all(each.holds for each in found.answers if each.question is not Question.PAGES)


def _template(folder: Path) -> Path:
    return folder / "templates" / "reports" / "record.css"


def _words(folder: Path) -> Path:
    return folder / "app" / "words" / "names.py"


def _font(folder: Path) -> Path:
    return folder / "static" / "fonts" / "hyperlegible-bold.woff2"


@pytest.mark.parametrize("changed", [_template, _words, _font])
def test_its_id_is_another_when_one_byte_is(elsewhere: Path, changed: Callable[[Path], Path]) -> None:
    _forget()
    before = renderer.renderer_id()
    file = changed(elsewhere)
    file.write_bytes(file.read_bytes() + b"\n")
    _forget()
    assert renderer.renderer_id() != before


def test_its_id_is_another_with_another_version_of_a_library(monkeypatch: pytest.MonkeyPatch) -> None:
    before = renderer.renderer_id()
    monkeypatch.setattr(renderer, "version", lambda name: version(name) + (".1" if name == "pydyf" else ""))
    renderer.renderer_id.cache_clear()
    assert renderer.renderer_id() != before
    renderer.renderer_id.cache_clear()


@pytest.mark.parametrize("said", [b'{"renderer":"0"}', b"{}", b"[]", b"\xff"])
def test_nobody_can_say_that_another_made_the_pages_without_breaking_the_seal(
    story: sealed.Story, said: bytes
) -> None:
    with pikepdf.open(io.BytesIO(story.sealed)) as pdf:
        pdf.attachments["renderer.json"].get_file().obj.write(said)
        output = io.BytesIO()
        pdf.save(output)
    found = verified(story, output.getvalue())
    assert pages_of(found)[0] is None
    assert not found.holds
    failing = {each.question for each in found.answers if each.holds is False}
    assert failing == {Question.SEAL, Question.ISSUED}


def test_an_attachment_that_is_cut_off_is_said_and_not_judged(story: sealed.Story) -> None:
    with pikepdf.open(io.BytesIO(story.sealed)) as pdf:
        stream = pdf.attachments["renderer.json"].get_file().obj
        stream.write(stream.read_raw_bytes()[:10], filter=pikepdf.Name.FlateDecode)
        output = io.BytesIO()
        pdf.save(output)
    assert isinstance(open_document(output.getvalue()), NotARecord)
