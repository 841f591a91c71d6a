"""The quality team gives a record's PDF and reads what holds of it; everybody else is turned away."""

from collections.abc import Iterator

import pytest

from app.auditing import verifying_contents
from app.records.verification import Question
from app.web.views.verifying import LARGEST_RECORD
from app.workflow.issuing import Issued, issue_record
from tests.story.pages import Pair, cleared
from tests.support.browser import ORIGIN, Browser, Page
from tests.support.html import parse_html
from tests.support.observers import token_of
from tests.support.world import World


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
    assert all(each.value in holds.text for each in set(Question) - {Question.FOLLOWED, Question.EVENTS})
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
    content = issued(cleared(world))
    monkeypatch.setattr(verifying_contents, "is_this_renderer", lambda _: False)
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

    monkeypatch.setattr(verifying_here, "usable_site_keys", lambda *_: KeysUnusable(says="there is no key"))
    page = given(world.at("q.lindqvist"), b"%PDF-1.7")
    assert page.status == 422
    assert "there is no key" in page.text
