"""The smoke test of everything: two days of an infusion, its set-up over real HTTP, and its account."""

import json
import re
import subprocess
from dataclasses import dataclass
from fractions import Fraction
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

pytestmark = pytest.mark.timeout(180)

EARLIEST_TO_LATEST = (
    # The set-up, over real HTTP.
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
    # The two days after it.
    "Day 1, 19:00.",
    "opens: Handoff",
    "answers for it from now on",
    "pauses the line",
    "lets the pressure out",
    "0.3 mg is ordered, 3 mg is set. Each demand would give 10 times the ordered dose.",
    "has put the device right",
    "starts it, after both took a last look",
    "4.4 mL more is gone from the syringe than the device gave by its totals",
    "counts it once more, together with the other",
    "opens: Syringe change",
    "gives a reversal agent, and writes it down by one tap: it is stopped, and held",
    "writes down who decided that it may run again",
    "takes the patient by one tap, and answers for it from now on; it never stopped",
    "opens: Transfer",
    "Day 2, 20:00.",
    "stops the device for good",
    "opens: End of PCA",
    "wastes 22 mL of lot DM-INV-8",
    "Petra Varga      has read the volume alone, and sees it go",
    "wastes 20.5 mL of lot DM-INV-7",
    "The account, as",
)

# By hand, in mL, and as the syringes hold 1 mg in each mL, in mg too.
#   Syringe 1: 12 doses of 0.2, then 5 of 0.2 and 12 of 0.3, are 17 x 0.2 + 12 x 0.3 = 3.4 + 3.6 = 7.
#              30 - 2.3 primed - 7 given - 20.5 wasted = 0.2: so much more is gone than is explained.
#   Syringe 2: 11 doses of 0.3, then 2 and 20 of 0.2, are 11 x 0.3 + 22 x 0.2 = 3.3 + 4.4 = 7.7.
#              30 - 0.2 slack - 7.7 given - 22 wasted = 0.1.
#   Together:  60 - 2.5 - 14.7 - 42.5 = 0.3, and 29 + 33 = 62 doses.
BY_HAND = {
    "Syringe 1, HYDROmorphone, DM-INV-7": ("30", "2.3", "7", "20.5", "0", "0.2"),
    "Syringe 2, HYDROmorphone, DM-INV-8": ("30", "0.2", "7.7", "22", "0", "0.1"),
    "All syringes": ("60", "2.5", "14.7", "42.5", "0", "0.3"),
}
ROWS = (
    "In it, by its label",
    "Primed, off the patient",
    "Given, by the device's totals",
    "Wasted",
    "Left in it",
    "Difference",
)
KINDS = (
    "set-up",
    "handoff",
    "settings-change",
    "handoff",
    "syringe-change",
    "settings-change",
    "transfer",
    "handoff",
    "end-of-pca",
)


@dataclass(frozen=True)
class Walked:
    """A walk: its folder, and what it printed."""

    folder: Path
    output: str


@pytest.fixture(scope="module")
def walked(tmp_path_factory: pytest.TempPathFactory) -> Walked:
    """The walk, taken once for all that is asked of it."""
    folder = tmp_path_factory.mktemp("walk")
    result = CliRunner().invoke(main, ["demo", "--walk", str(folder)])
    assert result.exit_code == 0, (result.output[-600:], result.exception)
    return Walked(folder=folder, output=result.output)


def test_each_act_is_told_in_the_order_in_which_it_was_done(walked: Walked) -> None:
    rest = walked.output
    for words in EARLIEST_TO_LATEST:
        assert words in rest, words
        rest = rest.partition(words)[2]
    # Whoever primed reads it; the other verifies that.
    assert walked.output.count("reads the primed volume, which is held against") == 1


def test_the_account_adds_up_to_the_last_digit_as_it_does_by_hand(walked: Walked) -> None:
    told = walked.output.partition("The account, as")[2]
    for title, figures in BY_HAND.items():
        # In both columns: there is 1 mg in each mL.
        rows = [f"{label} {each} mL {each} mg" for label, each in zip(ROWS, figures, strict=True)]
        block = " ".join(told.partition(title)[2].partition("\n\n")[0].split())
        assert block.startswith(" ".join([*rows, "It adds up"])), block
        loaded, primed, given, wasted, left, difference = (Fraction(each) for each in figures)
        assert loaded == primed + given + wasted + left + difference

    case = walked.folder / "account.json"
    balanced = CliRunner().invoke(main, ["balance", str(case)])
    result = json.loads(balanced.output)
    assert (balanced.exit_code, result["verdict"], result["findings"]) == (0, "agreed", [])
    assert (result["totals"]["doses"], result["totals"]["amount"]["exact"]) == (62, "14.7")


def test_every_paper_is_written_and_verifies_by_what_is_written_beside_it(walked: Walked) -> None:
    papers = sorted(each.name for each in walked.folder.glob("*.pdf"))
    names = [f"{number}-{kind}" for number, kind in enumerate(KINDS, start=1)]
    assert papers == sorted(f"{name}{what}.pdf" for name in names for what in ("", "-what-followed"))
    site, checkpoint = (str(walked.folder / name) for name in ("site.pem", "checkpoint.json"))
    for name in papers:
        paper = str(walked.folder / name)
        said = CliRunner().invoke(main, ["verify", paper, "--site", site, "--checkpoint", checkpoint])
        assert (said.exit_code, "EVERYTHING HOLDS." in said.output) == (0, True), said.output


def test_the_statement_stands_on_the_record_of_the_end(walked: Walked) -> None:
    text = words_in(walked.folder / "9-end-of-pca.pdf")

    for title in BY_HAND:
        assert title in text
    assert "20.5 mL left in the syringe: wasted, witnessed by Petra Varga. Lot DM-INV-7." in text


@pytest.mark.parametrize(
    ("paper", "says"),
    [
        ("3-settings-change", "Each demand would give 10 times the ordered dose."),
        ("4-handoff", "Counted once more by both together, not blind; gone in reading 2"),
        ("1-set-up-what-followed", "Both have signed: the handoff is done."),
        ("9-end-of-pca-what-followed", "End of PCA: what followed the record"),
    ],
)
def test_the_papers_tell_what_happened_on_the_second_day_too(walked: Walked, paper: str, says: str) -> None:
    assert says in words_in(walked.folder / f"{paper}.pdf")


@pytest.mark.parametrize(
    "says",
    [
        "Started, after a syringe change.",
        "How the patient answered to it: wakes when spoken to after 2 min",
    ],
)
def test_what_came_to_pass_between_two_starts_stands_on_the_paper_of_one_of_them(
    walked: Walked, says: str
) -> None:
    # A story ends with the next start, and is told as soon as the sweeper comes by: earlier, or later.
    papers = walked.folder.glob("*-what-followed.pdf")
    assert any(says in words_in(each) for each in papers)


def test_the_record_of_a_syringe_change_says_nothing_of_an_order_that_nobody_reads_in_it(
    walked: Walked,
) -> None:
    text = words_in(walked.folder / "5-syringe-change.pdf")

    assert "Demand dose 0.3 mg" in text
    # Its line was primed before, and holds what it holds.
    for words in ("not entered", "order, label", "(order)", "Drug in the primed line"):
        assert words not in text


def words_in(pdf: Path) -> str:
    """All words of a PDF."""
    return " ".join(" ".join(page.extract_text() for page in PdfReader(pdf).pages).split())


def test_the_record_of_the_set_up_shows_the_caught_error_and_both_signatures(
    walked: Walked, tmp_path: Path
) -> None:
    pdf = walked.folder / "1-set-up.pdf"
    text = words_in(pdf)
    assert "FIVE TIMES" in text
    assert "Put right: device" in text
    for name in ("Nadia Ferrow", "Tomas Osmund"):
        assert name in text
    # Each with its day, whichever that is.
    assert len(re.findall(r"signed \d{1,2} [A-Z][a-z]+ \d{4}", text)) == 2

    # What stands beside it is enough to verify it.
    content, site = pdf.read_bytes(), (walked.folder / "site.pem").read_text(encoding="ascii")
    assert isinstance(check_seal(content, site), SealHolds)
    file = read_file((walked.folder / "checkpoint.json").read_bytes())
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
