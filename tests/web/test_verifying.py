"""The quality team gives a record's PDF and reads what holds of it; everybody else is turned away."""

import subprocess
import sys
import threading
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import pytest

from app.auditing import apart, verifying_apart, verifying_contents, verifying_here
from app.auditing.verifying import verify_file
from app.config import root
from app.records.verification import NotReadable, Question
from app.web.views.verifying import LARGEST_RECORD
from app.workflow import examining
from app.workflow.issuing import Issued, issue_record
from tests.story.pages import Pair, cleared
from tests.support.browser import ORIGIN, Browser, Page
from tests.support.damaging import damaged
from tests.support.html import parse_html
from tests.support.observers import token_of
from tests.support.sampling import examples
from tests.support.world import World

OF_OTHER_FILES = {
    Question.FOLLOWED,
    Question.EVENTS,
    Question.HOLDER,
    Question.TRAINER,
    Question.REVIEWED,
}
"""What is asked of what followed a record, or of a record of training."""


def given(browser: Browser, content: bytes, *, path: str = "/verify") -> Page:
    """Send a file with the page's form."""
    response = browser.client.post(
        path,
        base_url=ORIGIN,
        headers={"Origin": ORIGIN},
        # By hand: the test client would put a large file on the disk, which is what must not happen.
        content_type="multipart/form-data; boundary=part",
        data=b"\r\n".join(
            (
                b"--part",
                b'Content-Disposition: form-data; name="csrf_token"',
                b"",
                token_of(browser).encode(),
                b"--part",
                b'Content-Disposition: form-data; name="record"; filename="record.pdf"',
                b"Content-Type: application/pdf",
                b"",
                content,
                b"--part--",
                b"",
            )
        ),
    )
    return Page(path=path, response=response, tree=parse_html(response.get_data()))


def issued(pair: Pair) -> bytes:
    """The record's PDF, really made."""
    site = pair.world.site
    assert isinstance(issue_record(site, pair.check, 1, pair.world.clock.now), Issued)
    with site.store.read() as reader:
        pdf = reader.find_pdf(pair.check, 1)
    assert pdf is not None
    return pdf.content


def test_a_record_of_this_site_and_the_same_with_one_byte_more(world: World) -> None:
    content = issued(cleared(world))
    quality = world.at("q.lindqvist")
    before = _log_and_looks(world)
    holds = given(quality, content)
    assert holds.status == 200
    assert "Everything holds" in holds.text
    assert holds.text.count("DOES NOT HOLD") == 0
    assert all(each.value in holds.text for each in set(Question) - OF_OTHER_FILES)
    assert "the pages are the same to the last byte" in holds.text

    changed = given(quality, content + b"\n")
    assert changed.status == 200
    assert "Not everything holds" in changed.text
    # The seal, and the issue.
    assert changed.text.count("DOES NOT HOLD") == 2
    assert _log_and_looks(world) == before


def test_pages_of_another_renderer_are_not_asked_and_nothing_is_said_against_the_file(
    world: World, monkeypatch: pytest.MonkeyPatch
) -> None:
    pair = cleared(world)
    content = issued(pair)
    monkeypatch.setattr(verifying_contents, "is_this_renderer", lambda _: False)
    # In this process, where the other renderer is.
    monkeypatch.setattr(
        verifying_here, "verify_apart", lambda content, of: verify_file(content, of(pair.check))
    )
    page = given(world.at("q.lindqvist"), content)
    assert "Everything that was asked holds" in page.text
    assert "not asked" in page.text
    assert page.text.count("DOES NOT HOLD") == 0


def _log_and_looks(world: World) -> tuple[int, int, int]:
    with world.site.store.read() as reader:
        looks = sum(1 for _ in reader.rows("access"))
        return reader.head(), looks, len(reader.checkpoints())


def test_what_is_no_record_is_said_and_not_judged(world: World) -> None:
    quality = world.at("q.lindqvist")
    for content, says in ((b"", "Choose the PDF"), (b"%PDF-1.7 of something else", "not a record's PDF")):
        page = given(quality, content)
        assert page.status == 422
        assert says in page.text
        assert "HOLD" not in page.text


def test_a_file_that_is_too_large_is_not_read(world: World) -> None:
    quality = world.at("q.lindqvist")
    assert given(quality, bytes(LARGEST_RECORD - 4096)).status == 422
    page = given(quality, bytes(LARGEST_RECORD + 1))
    assert page.status == 413
    assert "too large a file" in page.text


def test_no_other_page_takes_a_file_of_that_size(world: World) -> None:
    assert given(world.at("q.lindqvist"), bytes(100_000), path="/export").status == 413


def test_a_file_is_never_written_to_the_disk(world: World, monkeypatch: pytest.MonkeyPatch) -> None:
    import tempfile

    def refuse(*_: object, **__: object) -> Iterator[None]:
        raise AssertionError("a file of a patient was written to the disk")

    for name in ("TemporaryFile", "SpooledTemporaryFile", "NamedTemporaryFile"):
        monkeypatch.setattr(tempfile, name, refuse)
        monkeypatch.setattr(f"werkzeug.formparser.{name}", refuse, raising=False)
    assert given(world.at("q.lindqvist"), bytes(1_000_000)).status == 422


@pytest.mark.parametrize("login", ["n.ferrow", "r.calloway", "a.moreau"])
def test_it_is_for_whoever_reads_records(world: World, login: str) -> None:
    browser = world.at(login)
    assert browser.get("/verify").status == 403
    assert given(browser, b"%PDF-1.7").status == 403
    assert "Examine a record" not in browser.get("/").links()


def test_it_is_reached_from_the_first_page(world: World) -> None:
    for login in ("q.lindqvist", "p.varga"):
        browser = world.at(login)
        browser.get("/")
        assert browser.follow("Examine a record").heading == "Examine a record"


def test_without_the_site_s_keys_nothing_is_judged(world: World, monkeypatch: pytest.MonkeyPatch) -> None:
    from app.auditing import verifying_here
    from app.site.installation import KeysUnusable

    monkeypatch.setattr(verifying_here, "readable_site_keys", lambda *_: KeysUnusable(says="there is no key"))
    page = given(world.at("q.lindqvist"), b"%PDF-1.7")
    assert page.status == 422
    assert "there is no key" in page.text


def test_a_damaged_file_is_said_to_be_altered_or_no_record(world: World) -> None:
    content = issued(cleared(world))
    quality = world.at("q.lindqvist")
    for number in range(examples(sample=2, whole=60)):
        page = given(quality, damaged(content, number))
        assert page.status in {200, 422}, number
        altered = "Not everything holds" in page.text or "was altered" in page.text
        assert altered or "not a record's PDF" in page.text, number


# What a process that reads a file would have to do to fall over or to run on -> how it is made to.
_RUNS_ON = {
    "for ever, at work": "while True: pass",
    "for ever, at rest": "import time; time.sleep(600)",
    "out of memory": "held = b'x' * (1 << 40)",
    "out of itself": "import os; os.abort()",
    "with an answer of no kind": "print('[]')",
    "with half an answer": """print('{"record": "a"}')""",
    "with an endless answer": "while True: print('x', end='')",
}


@pytest.mark.parametrize("how", _RUNS_ON)
def test_however_the_reading_of_a_file_ends_there_is_an_answer_and_nothing_is_left_running(
    world: World, monkeypatch: pytest.MonkeyPatch, how: str
) -> None:
    began: list[subprocess.Popen[bytes]] = []

    def run(_: list[str], **options: Any) -> subprocess.Popen[bytes]:  # noqa: ANN401  # passed on
        own = "from app.auditing import apart; apart.PROCESSOR_SECONDS = 2; apart._limit()"
        limited = f"{own}\n{_RUNS_ON[how]}"
        began.append(popen([sys.executable, "-c", limited], **options))
        return began[-1]

    popen = subprocess.Popen
    monkeypatch.setattr("app.auditing.verifying_apart.subprocess.Popen", run)
    monkeypatch.setattr(verifying_apart, "LONGEST", 5 if "rest" in how else 60)
    quality = world.at("q.lindqvist")
    page = given(quality, b"%PDF-1.7 of something else")
    assert page.status == 422
    # At rest it may wait for a busy machine: nothing is said against the file.
    rests = how == "for ever, at rest"
    assert (verifying_apart.TOO_SLOW if rests else verifying_apart.TOO_MUCH) in page.text
    assert [each.poll() is not None for each in began] == [True]
    # The place is free again.
    monkeypatch.undo()
    assert "not a record's PDF" in given(quality, b"%PDF-1.7 of something else").text


def test_the_process_that_reads_a_file_has_limits_no_keys_and_no_database() -> None:
    asked = """
import os, resource
from app.auditing.apart import _limit
_limit()
for name in ("CPU", "AS", "NOFILE", "CORE", "FSIZE"):
    print(resource.getrlimit(getattr(resource, "RLIMIT_" + name)))
print(os.nice(0))
"""
    ran = subprocess.run(
        [sys.executable, "-c", asked], capture_output=True, text=True, check=True, cwd=root()
    )
    *limits, nice = ran.stdout.splitlines()
    most = (apart.PROCESSOR_SECONDS, apart.MEMORY, apart.OPEN_FILES, 0, apart.FONT)
    assert limits == [f"({each}, {each})" for each in most]
    assert int(nice) >= apart.NICE
    settings = {"DATABASE_URL", "COUNTERSIGN_KEY_FILE", "COUNTERSIGN_SITE_KEYS"}
    assert not settings & set(verifying_apart.PASSED_ON)
    loaded = "import sys, app.auditing.apart; print('app.storage' in sys.modules)"
    assert (
        "False"
        in subprocess.run(
            [sys.executable, "-c", loaded], capture_output=True, text=True, check=True, cwd=root()
        ).stdout
    )


def test_two_files_at_once_in_all_and_one_of_each_person(
    world_on_both: World, monkeypatch: pytest.MonkeyPatch
) -> None:
    site, now = world_on_both.site, world_on_both.clock.now
    read, go_on = threading.Semaphore(0), threading.Event()

    def slowly(*_: object) -> NotReadable:
        read.release()
        assert go_on.wait(timeout=30)
        return NotReadable(why="it was read")

    monkeypatch.setattr(examining, "verify_here", slowly)

    def given_by(person: str) -> object:
        return examining.examine(site, person, b"", now=now)

    with ThreadPoolExecutor(max_workers=2) as pool:
        first = pool.submit(given_by, "quill")
        assert read.acquire(timeout=30)
        assert given_by("quill") == examining.OwnIsExamined()
        second = pool.submit(given_by, "petra")
        assert read.acquire(timeout=30)
        assert given_by("imogen") == examining.OthersAreExamined()
        # Whoever was turned away holds nothing.
        assert given_by("imogen") == examining.OthersAreExamined()
        go_on.set()
        assert first.result() == second.result() == NotReadable(why="it was read")
    assert given_by("imogen") == given_by("quill") == NotReadable(why="it was read")


def test_a_place_that_a_lost_process_held_is_free_again(
    world: World, monkeypatch: pytest.MonkeyPatch
) -> None:
    site, now = world.site, world.clock.now
    with site.store.write() as tx:
        for number, name in enumerate((*examining.PLACES, "examining for quill")):
            assert tx.take_lease(name, f"lost {number}", now=now, until=now + examining.HELD)
    monkeypatch.setattr(examining, "verify_here", lambda *_: NotReadable(why="it was read"))
    assert examining.examine(site, "quill", b"", now=now) == examining.OwnIsExamined()
    assert examining.examine(site, "petra", b"", now=now) == examining.OthersAreExamined()
    later = now + examining.HELD
    assert examining.examine(site, "quill", b"", now=later) == NotReadable(why="it was read")


@pytest.mark.parametrize("turned_away", [examining.OwnIsExamined(), examining.OthersAreExamined()])
def test_whoever_is_turned_away_is_told_when_to_come_again(
    world: World, monkeypatch: pytest.MonkeyPatch, turned_away: object
) -> None:
    monkeypatch.setattr("app.web.views.verifying.examine", lambda *_, **__: turned_away)
    page = given(world.at("q.lindqvist"), b"%PDF-1.7")
    assert page.status == 503
    assert "being examined" in page.text
    assert "Choose this one again" in page.text
