"""The printed record, read back from its PDF."""

import io
import os
import re
import subprocess
import sys
from collections.abc import Callable
from datetime import UTC, datetime
from functools import cache
from typing import Any

import pikepdf
import pypdf
import pytest

from app.config import root
from app.records.kinds import SET_UP
from app.records.settled import findings_of
from app.reports.differences import notes_of
from app.reports.readings import Line
from app.reports.record import RecordSignature, render_record
from app.words import names as words
from app.words.checking import CODES, code_words
from app.words.names import STOP_REASONS
from tests.factories.seeded import seeded
from tests.reports import told

Document = dict[str, Any]


def pdf_of(document: Document) -> bytes:
    return render_record(document, digest=told.digest_of(document), signatures=told.signed(document))


@cache
def pages_of(content: bytes) -> list[str]:
    return [page.extract_text() for page in pypdf.PdfReader(io.BytesIO(content)).pages]


@cache
def text_of(content: bytes) -> str:
    """All text in one line, so that an expectation does not depend on where a line breaks."""
    return " ".join(" ".join(pages_of(content)).split())


@pytest.fixture(scope="module")
def printed() -> Callable[[str], bytes]:
    """Each story's PDF."""
    return told.printed


@pytest.mark.parametrize("name", ["stopped", "clean"])
def test_nothing_had_to_be_considered_stands_above_no_stop_and_no_refused_baseline(
    name: str, printed: Callable[[str], bytes]
) -> None:
    said = "nothing had to be considered" in text_of(printed(name))

    assert said is (name == "clean")


@pytest.mark.parametrize("name", told.STORIES)
def test_every_page_names_the_record_and_its_digest(name: str, printed: Callable[[str], bytes]) -> None:
    document = told.STORIES[name]()
    digest = told.digest_of(document)
    first_groups = f"{digest[:4]} {digest[4:8]} {digest[8:12]} {digest[12:16]}"
    pages = pages_of(printed(name))

    assert 2 <= len(pages) <= 3
    for number, page in enumerate(pages, 1):
        flat = " ".join(page.split())
        assert f"Record check-1, edition 1, digest {first_groups}" in flat
        assert squeezed(
            f"Patient {document['rounds'][-1]['readings']['A']['wristband']['identifier']}, born 9 April 1961"
        ) in squeezed(page)
        assert document["site"] in flat
        assert f"Page {number} of {len(pages)}" in flat
        assert document["cautions"][0] in flat


@pytest.mark.parametrize("name", told.STORIES)
def test_no_code_stands_on_paper(name: str, printed: Callable[[str], bytes]) -> None:
    document = told.STORIES[name]()
    text = text_of(printed(name))
    codes = {*CODES, *STOP_REASONS, *(each["key"] for each in seeded("packs")["packs"])}

    assert [each for each in codes if "-" in each and each in text] == []
    assert all(squeezed(each) in squeezed(text) for each in document["line_sets"].values())


def test_an_agreement_takes_two_pages(printed: Callable[[str], bytes]) -> None:
    assert len(pages_of(printed("clean"))) == 2


@pytest.mark.parametrize("name", told.STORIES)
def test_the_signatures_stand_beside_the_values(name: str, printed: Callable[[str], bytes]) -> None:
    # 21 CFR 11.50 (a): the printed name, the date and time, and the meaning of each signature.
    document = told.STORIES[name]()
    first_page = " ".join(pages_of(printed(name))[0].split())

    for clinician in document["clinicians"]:
        assert squeezed(clinician["printed_name"]) in squeezed(first_page)
        assert squeezed(clinician["staff_number"]) in squeezed(first_page)
    # 13:04:07 UTC on 2 May is Irish summer time, an hour ahead (IANA, Europe/Dublin).
    assert "signed 2 May 2031, 14:04:07 (+01:00)" in first_page
    assert "signed 2 May 2031, 14:04:48 (+01:00)" in first_page
    assert SET_UP.meaning in first_page
    assert "HYDROmorphone" in first_page


def squeezed(text: str) -> str:
    return re.sub(r"\s+", "", text)


@pytest.mark.parametrize("name", told.STORIES)
def test_every_reading_of_every_compared_round_can_be_found(
    name: str, printed: Callable[[str], bytes]
) -> None:
    document = told.STORIES[name]()
    text = squeezed(text_of(printed(name))).lower()
    lost = [
        (each["round"], letter, source, field, value)
        for each in document["rounds"]
        for letter, sources in each.get("readings", {}).items()
        for source, fields in sources.items()
        for field, value in fields.items()
        if field not in {"strength", "birth_date", "use_by", "pack"}
        if squeezed(words.answer_words(value)).lower() not in text
    ]

    assert lost == []
    assert "9april1961" in text
    assert "31december2031" in text


@pytest.mark.parametrize("name", told.STORIES)
def test_every_finding_is_said_and_settled(name: str, printed: Callable[[str], bytes]) -> None:
    document = told.STORIES[name]()
    text = text_of(printed(name))
    *_, last = document["rounds"]
    # What was for information about values that no longer stand is in the data only.
    said = [found for each in document["rounds"] for found in findings_of(each) if found.severity != "note"]
    noted = [found for found in findings_of(last) if found.says in notes_of(document)]

    # One that is soon empty where the dose is high, and nothing of what nobody acts on.
    assert {found.code for found in noted} == ({"syringe-short"} if name == "exception" else set())
    assert "NOT SETTLED" not in text
    # A line may end behind the stroke of mg/mL.
    assert [found.says for found in said + noted if squeezed(found.says) not in squeezed(text)] == []
    assert [found.code for found in said if code_words(found.code) not in text] == []


@pytest.mark.parametrize(
    ("name", "sentence"),
    [
        ("clean", "Both read the same in reading 1, and both signed."),
        ("clean", "Nothing differed, and nothing had to be considered."),
        ("fivefold", "Both read the same in reading 3, and both signed."),
        ("fivefold", "Findings: 1 put right and 1 settled by reading again."),
        ("fivefold", "order and device 6 mg/30 mL label 30 mg/30 mL"),
        ("fivefold", "order 10 min 1st device 10 min 2nd device 6 min"),
        ("fivefold", "5 FIVE TIMES"),
        ("fivefold", "Put right: label. Both read all of it again, blind; gone in reading 3, 13:24:00."),
        ("fivefold", "Read again by both, blind; gone in reading 2, 13:20:00."),
        ("fivefold", "Concentration: still as in reading 1."),
        ("fivefold", "Read otherwise than in reading 3: lot LOT-7 (label)."),
        ("read-again", "10 TEN TIMES"),
        ("read-again", "Consistent with a moved decimal point."),
        ("read-again", "1st label 2031-12-31 2nd label not entered"),
        ("cautions", "Findings: 4 acknowledged by both."),
        (
            "cautions",
            "1st 13:17:00, 2nd 13:18:00: The prescriber was asked and wants it so (asked: Dr Brandt).",
        ),
        ("cautions", "“Last dose yesterday evening, patient awake.”"),
        (
            "exception",
            "by Ruth Calloway, 13:19:00: Long-term opioid treatment at home (prescriber: Dr Brandt).",
        ),
        ("exception", "Set aside, this once, by Ruth Calloway"),
        ("exception", "Taken by Ruth Calloway, 13:18:00: settled otherwise. “I looked.”"),
        ("voided", "Voided as not blind: danger. No reading of it is shown or counts."),
        ("voided", "Independence: one screen, signed in anew; one of the two had seen earlier values"),
        ("voided", "Primed volume, read by the first nurse: 1.2 mL, with 0.24 mg of drug."),
        ("voided", "a gap may be left in the line. (So the first nurse read it.) Primed again."),
        ("voided", "Primed volume, read by the first nurse: 2.4 mL, with 0.48 mg of drug."),
        ("stopped", "Nothing differed. The device was stopped before both had signed: see below."),
        ("stopped", "What was observed before any dose was outside the protocol: see below."),
        ("stopped", "The device was stopped: “Sedation or breathing”. Written down by Ruth Calloway,"),
        ("stopped", "“23 presses, 4 mg”."),
        ("stopped", "It was at another bed, its author says."),
        ("stopped", "SpO2 97 %; outside the protocol: no start."),
        ("stopped", "SpO2 97 %; observed anew."),
        ("dedicated", "Safety steps, on a line of its own"),
        ("dedicated", "order states none"),
        # 6 mg in 30 mL, 0.2 mg, 10 min, 2 mg in 4 h, 2.3 mL of priming (common practice, no source).
        ("clean", "Each demand moves 1 mL"),
        ("clean", "Demands in 1 h at most, by lockout 6"),
        ("clean", "Line set in use 150 cm set, joins the carrier at a Y with valve"),
        ("clean", "Not part of this mode: continuous rate."),
        ("clean", "Drug in the primed line 0.46 mg"),
        (
            "clean",
            "13:17:00, Nadia Ferrow: sedation 0 (0 to 3), respiratory rate 14 /min, SpO2 97 %.",
        ),
        ("clean", "engine 0.1.0"),
        ("clean", "Times on 2 May 2031, Europe/Dublin (+01:00), unless a day stands beside them."),
    ],
)
def test_the_record_says(name: str, sentence: str, printed: Callable[[str], bytes]) -> None:
    assert sentence in text_of(printed(name)).replace("states none order", "order states none")


@pytest.mark.parametrize("name", told.STORIES)
def test_every_caution_line_and_the_whole_digest_stand_in_it(
    name: str, printed: Callable[[str], bytes]
) -> None:
    document = told.STORIES[name]()
    text = text_of(printed(name))

    assert all(caution in text for caution in document["cautions"])
    assert told.digest_of(document) in squeezed(text)


@pytest.mark.parametrize("name", told.STORIES)
def test_every_step_has_two_names_and_two_times(name: str, printed: Callable[[str], bytes]) -> None:
    document = told.STORIES[name]()
    text = text_of(printed(name))

    assert "NOT DONE" not in text
    assert "NOT VERIFIED" not in text
    for step in document["safety_steps"]["steps"]:
        ending = r" 1st \d\d:\d\d:\d\d 2nd \d\d:\d\d:\d\d"
        assert re.search(re.escape(step["do"]) + ending, text), step["id"]


# The published rules for writing doses: no naked point, no trailing zero, a space before the unit, no Greek.
# ISMP, List of Error-Prone Abbreviations, Symbols, and Dose Designations.
ERROR_PRONE = {
    "naked point": r"(?<![0-9])\.[0-9]",
    "trailing zero": r"[0-9]\.[0-9]*0(?![0-9.])",
    "no space before the unit": r"[0-9](mg|mL|mcg)\b",
    "Greek letter": r"[\u00b5\u03bc]g",
    "no comma from 1,000 up": r"(?<![0-9A-Za-z-])[0-9]{4,}(?= (mg|mL|mcg|min))",
}


@pytest.mark.parametrize("rule", ERROR_PRONE)
@pytest.mark.parametrize("name", told.STORIES)
def test_no_dose_is_written_in_a_way_that_is_misread(
    name: str, rule: str, printed: Callable[[str], bytes]
) -> None:
    # The version of the engine is no dose.
    text = text_of(printed(name)).replace("engine 0.1.0", "")

    assert re.findall(ERROR_PRONE[rule], text) == []


def test_the_rules_find_what_they_forbid() -> None:
    for rule, wrong in zip(ERROR_PRONE, (".5 mg", "1.0 mg", "5mg", "5 \u00b5g", "1000 mcg"), strict=True):
        assert re.search(ERROR_PRONE[rule], wrong)


def test_all_points_of_the_settings_stand_on_one_line(printed: Callable[[str], bytes]) -> None:
    found: list[int] = []

    def visit(text: str, _: object, matrix: list[float], __: object, size: float) -> None:
        # Key values are 14 points, 18.7 of the page's own units; their decimals begin with the point.
        if text.startswith(".") and round(size, 1) == 18.7:
            found.append(round(matrix[4]))

    pypdf.PdfReader(io.BytesIO(printed("cautions"))).pages[0].extract_text(visitor_text=visit)

    assert len(found) >= 3
    assert len(set(found)) == 1


@pytest.mark.parametrize(
    ("text", "number"),
    [
        ("0.2 mg", ("0", ".2", " mg")),
        ("1,000 mcg/mL", ("1,000", "", " mcg/mL")),
        ("50 mg in 50 mL", ("50", "", " mg in 50 mL")),
        ("14 /min", ("14", "", " /min")),
        ("8", ("8", "", "")),
        # Text that begins with a digit: kept on one line it would run off the paper.
        ("15 December 2031, 08:00 (+00:00)", None),
        ("7 May 2031", None),
        ("7K112", None),
        ("40417-hs-2", None),
        ("31m", None),
        (None, None),
    ],
)
def test_only_a_number_with_its_unit_is_kept_on_one_line(
    text: str | None, number: tuple[str, str, str] | None
) -> None:
    assert Line(who="", sources=(), text=text).number == number


MAKE = """
import hashlib
from tests.factories.seeded import seeded
from tests.reports import told
from tests.reports.test_record import pdf_of
print(hashlib.sha256(pdf_of(told.fivefold())).hexdigest())
"""


def test_the_same_record_gives_the_same_bytes_everywhere() -> None:
    digests = set()
    for seed, zone, epoch in (("1", "Pacific/Auckland", "0"), ("4242", "America/St_Johns", "1900000000")):
        environment = {**os.environ, "PYTHONHASHSEED": seed, "TZ": zone, "SOURCE_DATE_EPOCH": epoch}
        made = subprocess.run(
            [sys.executable, "-c", MAKE],
            check=True,
            capture_output=True,
            cwd=root(),
            env=environment,
            text=True,
        )
        digests.add(made.stdout.strip())

    assert len(digests) == 1


def test_another_digit_gives_other_bytes(printed: Callable[[str], bytes]) -> None:
    document = told.clean()
    document["check"]["bed"] = "13"

    assert pdf_of(document) != printed("clean")


def test_it_is_an_archival_pdf_with_its_reading_order(printed: Callable[[str], bytes]) -> None:
    # ISO 19005-3: part 3, level A; the last signature is the only time that the file knows.
    with pikepdf.open(io.BytesIO(printed("clean"))) as pdf:
        with pdf.open_metadata() as metadata:
            assert metadata["pdfaid:part"] == "3"
            assert metadata["pdfaid:conformance"] == "A"
            assert metadata["xmp:CreateDate"] == "2031-05-02T13:04:48+00:00"
            assert metadata["xmp:ModifyDate"] == "2031-05-02T13:04:48+00:00"
        assert bool(pdf.Root.MarkInfo.Marked)
        assert "/StructTreeRoot" in pdf.Root
        assert str(pdf.Root.Lang) == "en"
        # Nobody had a key in these stories, and no log was signed.
        assert list(pdf.attachments) == ["record.json", "renderer.json"]


def test_only_the_bundled_fonts_are_embedded(printed: Callable[[str], bytes]) -> None:
    with pikepdf.open(io.BytesIO(printed("long-texts"))) as pdf:
        fonts = {str(font.BaseFont) for page in pdf.pages for font in page.Resources.Font.as_dict().values()}

    assert {name.partition("+")[2] for name in fonts} == {"Countersign-Text", "Countersign-Text-Bold"}


def test_a_digest_of_another_record_is_refused() -> None:
    document = told.clean()
    signatures = told.signed(document)
    digest = told.digest_of(document)
    document["check"]["bed"] = "13"

    with pytest.raises(ValueError, match="digest"):
        render_record(document, digest=digest, signatures=signatures)


def test_signatures_of_others_are_refused() -> None:
    document = told.clean()
    first, second = told.signed(document)
    other = RecordSignature(
        letter="B",
        printed_name="Ruth Calloway",
        person="ruth",
        signed_at=datetime(2031, 5, 2, 13, tzinfo=UTC),
        meaning="",
    )
    for wrong in ((first,), (first, other), (first, first), ()):
        with pytest.raises(ValueError, match="signatures"):
            render_record(document, digest=told.digest_of(document), signatures=wrong)

    assert render_record(document, digest=told.digest_of(document), signatures=(second, first))
