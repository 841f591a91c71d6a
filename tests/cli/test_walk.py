"""The smoke test of everything: the demonstration plays a whole set-up over real HTTP."""

from pathlib import Path

import pytest
from click.testing import CliRunner
from pypdf import PdfReader

from app.cli import main
from app.cli.walk_browser import Page

EARLIEST_TO_LATEST = (
    "signs in",
    "joins by the code",
    "hands in",
    "DO NOT START",
    "both read all of it again",
    "agree with order and label",
    "says why it may go on",
    "primed volume, without sight of the other's",
    "done: ",
    "signs with id and secret",
    "last look",
    "starts the infusion",
    "the signed record",
)


@pytest.mark.timeout(180)
def test_the_walk_ends_with_a_record_that_shows_the_caught_error_and_both_signatures(tmp_path: Path) -> None:
    walked = CliRunner().invoke(main, ["demo", "--walk", str(tmp_path)])

    assert walked.exit_code == 0, walked.output
    places = [walked.output.find(words) for words in EARLIEST_TO_LATEST]
    assert -1 not in places, walked.output
    assert places == sorted(places)
    (pdf,) = tmp_path.glob("*.pdf")
    text = " ".join(page.extract_text() for page in PdfReader(pdf).pages)
    assert "FIVE TIMES" in text
    assert "Put right: device" in " ".join(text.split())
    for name in ("Nadia Ferrow", "Tomas Osmund"):
        assert name in text
    assert text.count("signed 2") == 2


def test_a_page_without_the_button_is_named() -> None:
    page = Page(
        url="/check/1", status=200, content=b"", forms=[], links=[("/", "My checks")], text="Nothing here"
    )

    with pytest.raises(LookupError, match="no button"):
        page.form_with("Sign")
    with pytest.raises(LookupError, match="no link"):
        page.link_with("Sign")
    assert page.link_with("my checks") == "/"
