"""The smoke test of everything: the demonstration plays a whole set-up over real HTTP."""

import re
import subprocess
from pathlib import Path

import pytest
from click.testing import CliRunner
from pypdf import PdfReader

from app.cli import main
from app.cli.walk_browser import Page
from app.keys import Purpose, is_signed_by, read_public_file
from app.records.canonical import digest
from app.records.checkpoint import CheckpointFile, holds, read_file
from app.reports.seal import SealHolds, check_seal

EARLIEST_TO_LATEST = (
    "signs in",
    "joins by the code",
    "hands in",
    "DO NOT START",
    "both read all of it again",
    "agree with order and label",
    "says why it may go on",
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
    # Whoever primed reads it; the other verifies that.
    assert walked.output.count("reads the primed volume, which is held against") == 1
    (pdf,) = tmp_path.glob("*.pdf")
    text = " ".join(page.extract_text() for page in PdfReader(pdf).pages)
    assert "FIVE TIMES" in text
    assert "Put right: device" in " ".join(text.split())
    for name in ("Nadia Ferrow", "Tomas Osmund"):
        assert name in text
    # Each with its day, whichever that is.
    assert len(re.findall(r"signed \d{1,2} [A-Z][a-z]+ \d{4}", " ".join(text.split()))) == 2

    # What stands beside it is enough to verify it.
    content, site = pdf.read_bytes(), (tmp_path / "site.pem").read_text(encoding="ascii")
    assert isinstance(check_seal(content, site), SealHolds)
    file = read_file((tmp_path / "checkpoint.json").read_bytes())
    assert isinstance(file, CheckpointFile)
    assert holds(file.issued[digest(content)], file.checkpoint)
    (signer,) = [each for each in read_public_file(site) if each.kid == file.checkpoint.kid]
    assert is_signed_by(file.checkpoint, signer.certificate)
    said = pdfsig(pdf, site, tmp_path / "trust")
    assert all(each in said for each in THREE), said


# All three must be said at once: "valid" alone is said of a file with an added page too.
THREE = ("Total document signed", "Signature is Valid.", "Certificate is Trusted.")


def pdfsig(pdf: Path, site: str, trust: Path) -> str:
    """What poppler says with the site's certificates as the only ones trusted; its exit code says nothing."""
    trust.mkdir()
    store = f"sql:{trust}"
    subprocess.run(["certutil", "-N", "-d", store, "--empty-password"], check=True)
    for each in read_public_file(site):
        if each.purpose is Purpose.SEAL:
            add = ["certutil", "-A", "-d", store, "-n", "site", "-t", "CT,CT,CT", "-a"]
            # The last: the root that issued it, which is the one that such programs trust.
            root = "-----BEGIN" + each.certificate.split("-----BEGIN")[-1]
            subprocess.run(add, check=True, input=root, text=True)
    asked = ["pdfsig", "-nssdir", store, str(pdf)]
    return subprocess.run(asked, check=False, capture_output=True, text=True).stdout


def test_a_page_without_the_button_is_named() -> None:
    page = Page(
        url="/check/1", status=200, content=b"", forms=[], links=[("/", "My checks")], text="Nothing here"
    )

    with pytest.raises(LookupError, match="no button"):
        page.form_with("Sign")
    with pytest.raises(LookupError, match="no link"):
        page.link_with("Sign")
    assert page.link_with("my checks") == "/"
