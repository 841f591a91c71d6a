"""A sealed record before tools that know nothing of this project: poppler, OpenSSL, qpdf, pikepdf.

There is no full validator of PDF/A among the packages of PyPI or Debian 12, so conformance is held to by the
assertions below, each against a rule of ISO 19005-3 that can be read off the file, and by nothing more.
"""

import io
import re
import subprocess
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pikepdf
import pytest

from app.keys import create_site_keys, load_site_keys
from app.reports.seal import seal_pdf
from tests.factories.site_keys import owned
from tests.reports.sealed import SITE, Story, sealer_of

# All three must be said at once: pdfsig calls a file with an added page valid and trusted too, and its exit
# code is 0 whatever it finds.
WHOLE = "Total document signed"
VALID = "Signature is Valid."
TRUSTED = "Certificate is Trusted."
BEGIN = "-----BEGIN CERTIFICATE-----"


@pytest.fixture(scope="module")
def today(story: Story, tmp_path_factory: pytest.TempPathFactory) -> Story:
    """The same record, sealed now: pdfsig judges a certificate by the machine's clock and nothing else."""
    now = datetime.now(UTC).replace(microsecond=0)  # noqa: TID251  # see above
    folder = tmp_path_factory.mktemp("today")
    create_site_keys(folder, now - timedelta(hours=1), owner=owned(SITE))
    keys = load_site_keys(folder, now)
    sealed = seal_pdf(story.unsealed, sealer_of(keys), at=now, place=SITE)
    return replace(story, keys=keys, sealed=sealed)


@pytest.fixture(scope="module")
def folder(today: Story, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The sealed file, and a store of trust that holds the site's certificate alone."""
    made = tmp_path_factory.mktemp("outside")
    (made / "record.pdf").write_bytes(today.sealed)
    # Such programs trust an authority: the root behind the seal's own certificate.
    (made / "root.pem").write_text(BEGIN + today.certificate.split(BEGIN)[2])
    trust = made / "trust"
    trust.mkdir()
    run("certutil", "-N", "-d", f"sql:{trust}", "--empty-password")
    run("certutil", "-A", "-d", f"sql:{trust}", "-n", "site", "-t", "CT,CT,CT", "-i", str(made / "root.pem"))
    return made


def run(*command: str) -> str:
    return subprocess.run(command, check=True, capture_output=True, text=True).stdout


def pdfsig(folder: Path, content: bytes) -> str:
    """What pdfsig says of a file with the site's certificate as the only one trusted."""
    path = folder / "asked.pdf"
    path.write_bytes(content)
    said = subprocess.run(
        ["pdfsig", "-nssdir", f"sql:{folder / 'trust'}", path], check=False, capture_output=True, text=True
    )
    return said.stdout


def flipped(content: bytes, place: int) -> bytes:
    return content[:place] + bytes([content[place] ^ 1]) + content[place + 1 :]


def gap(content: bytes) -> tuple[int, int]:
    """Where the seal's own bytes begin and end, read from the file as text."""
    found = re.search(rb"/ByteRange \[0 (\d+) (\d+) (\d+)\]", content)
    assert found is not None
    begin, end, rest = (int(number) for number in found.groups())
    assert end + rest == len(content)
    return begin, end


def test_pdfsig_says_all_three(today: Story, folder: Path) -> None:
    said = pdfsig(folder, today.sealed)

    assert all(phrase in said for phrase in (WHOLE, VALID, TRUSTED)), said
    assert "Signature Type: ETSI.CAdES.detached" in said
    assert "Signing Hash Algorithm: SHA-256" in said
    assert said.count("Signature #") == 1


def test_pdfsig_does_not_say_all_three_of_a_changed_file(today: Story, folder: Path) -> None:
    begin, end = gap(today.sealed)
    with pikepdf.open(io.BytesIO(today.sealed)) as pdf:
        rewritten = io.BytesIO()
        pdf.save(rewritten)
    changed = {
        "a bit before the seal": flipped(today.sealed, begin // 2),
        "a bit after the seal": flipped(today.sealed, end + 40),
        "a bit of the signature": flipped(today.sealed, begin + 60),
        "the zeros behind the signature": flipped(today.sealed, end - 10),
        "something appended": today.sealed + b"\n%",
        "another library's rewrite": rewritten.getvalue(),
    }

    said = {name: pdfsig(folder, content) for name, content in changed.items()}
    assert [name for name, each in said.items() if all(w in each for w in (WHOLE, VALID, TRUSTED))] == []
    # Why 'valid' alone is not enough.
    assert VALID in said["something appended"]


def test_pdfsig_does_not_trust_what_it_was_not_given(today: Story, tmp_path: Path) -> None:
    (tmp_path / "trust").mkdir()
    run("certutil", "-N", "-d", f"sql:{tmp_path / 'trust'}", "--empty-password")
    said = pdfsig(tmp_path, today.sealed)

    assert VALID in said
    assert TRUSTED not in said


def openssl(folder: Path, signature: bytes, content: bytes) -> int:
    """The verdict of OpenSSL on a CMS signature (RFC 5652) over two byte ranges."""
    (folder / "seal.der").write_bytes(signature)
    (folder / "content").write_bytes(content)
    command = (
        f"openssl cms -verify -binary -cades -inform DER -in {folder}/seal.der -content {folder}/content"
    )
    trust = f"-CAfile {folder}/root.pem -out {folder}/verified"
    return subprocess.run(f"{command} {trust}".split(), check=False, capture_output=True).returncode


def parts(content: bytes) -> tuple[bytes, bytes]:
    """The signature in its padding, and what it is over."""
    begin, end = gap(content)
    return bytes.fromhex(content[begin + 1 : end - 1].decode("ascii")), content[:begin] + content[end:]


def test_openssl_verifies_the_signature_over_the_two_byte_ranges(today: Story, folder: Path) -> None:
    signature, content = parts(today.sealed)

    assert openssl(folder, signature, content) == 0
    assert openssl(folder, signature, flipped(content, 0)) != 0
    assert openssl(folder, signature, flipped(content, len(content) - 1)) != 0
    assert openssl(folder, flipped(signature, len(signature.rstrip(b"\0")) - 1), content) != 0


def test_the_signature_names_its_certificate(today: Story, folder: Path) -> None:
    # EN 319 122-1, 5.2.2: the signing certificate is bound in the signed attributes; no time stands there.
    signature, _ = parts(today.sealed)
    (folder / "printed.der").write_bytes(signature)
    printed = run("openssl", "cms", "-cmsout", "-print", "-inform", "DER", "-in", str(folder / "printed.der"))

    assert "id-smime-aa-signingCertificateV2" in printed
    assert "signingTime" not in printed
    assert "unsignedAttrs:\n" in printed
    assert re.search(r"unsignedAttrs:\s+<ABSENT>", printed)


def test_qpdf_finds_nothing_wrong_with_the_structure(folder: Path) -> None:
    said = run("qpdf", "--check", str(folder / "record.pdf"))

    assert "No syntax or stream encoding errors found" in said
    assert "File is not encrypted" in said


def test_all_fonts_are_embedded(folder: Path) -> None:
    _, _, *lines = run("pdffonts", str(folder / "record.pdf")).splitlines()

    assert len(lines) == 2
    # The columns before the object's number: embedded, subset, with a map to Unicode (level A asks for it).
    assert [line.split()[-5:-2] for line in lines] == [["yes", "yes", "yes"]] * 2


@pytest.fixture(params=["unsealed", "sealed"])
def pdf(request: pytest.FixtureRequest, today: Story) -> Any:  # noqa: ANN401  # a generator's end
    """The file before it is sealed, and after."""
    with pikepdf.open(io.BytesIO(getattr(today, request.param))) as opened:
        yield opened


# The rules below: ISO 19005-3 (PDF/A-3), by the number of its section; ISO 32000-1 for the words.
def test_6_1_3_it_is_not_encrypted_and_has_an_identifier(pdf: pikepdf.Pdf) -> None:
    assert not pdf.is_encrypted
    assert len(pdf.trailer.ID) == 2


def test_6_1_12_permissions_are_those_of_the_seal_alone(pdf: pikepdf.Pdf) -> None:
    assert set(pdf.Root.get("/Perms", {}).keys()) <= {"/DocMDP"}


def test_6_2_3_colours_have_a_meaning(pdf: pikepdf.Pdf) -> None:
    (intent,) = pdf.Root.OutputIntents

    assert str(intent.S) == "/GTS_PDFA1"
    # The header of an ICC profile says that it is one (ICC.1, 7.2).
    assert intent.DestOutputProfile.read_bytes()[36:40] == b"acsp"


def test_6_3_and_6_5_nothing_acts_runs_or_links_outwards(pdf: pikepdf.Pdf) -> None:
    forbidden = {"/JavaScript", "/Launch", "/URI", "/SubmitForm", "/ImportData", "/GoToR", "/GoToE", "/Sound"}
    found = {
        str(each.get("/S")) for each in pdf.objects if isinstance(each, pikepdf.Dictionary) and "/S" in each
    }

    assert found & forbidden == set()
    assert not {"/OpenAction", "/AA", "/Requirements"} & set(pdf.Root.keys())
    assert "/JavaScript" not in pdf.Root.get("/Names", {})
    assert all("/AA" not in page for page in pdf.pages)
    # Streams that lie outside the file, and code of other kinds.
    assert [each for each in pdf.objects if isinstance(each, pikepdf.Stream) and "/FFilter" in each] == []


def test_6_6_4_it_says_that_it_is_pdf_a_3_a(pdf: pikepdf.Pdf) -> None:
    with pdf.open_metadata() as metadata:
        assert metadata["pdfaid:part"] == "3"
        assert metadata["pdfaid:conformance"] == "A"
        # 6.6.3: what stands in both places is the same.
        assert metadata["dc:title"] == str(pdf.docinfo["/Title"])
        assert metadata["xmp:CreatorTool"] == str(pdf.docinfo["/Creator"])
    assert "/Filter" not in pdf.Root.Metadata or str(pdf.Root.Metadata.Filter) == "/FlateDecode"


def test_6_7_it_is_tagged_in_a_language_and_has_a_title(pdf: pikepdf.Pdf) -> None:
    assert bool(pdf.Root.MarkInfo.Marked)
    assert str(pdf.Root.Lang) == "en"
    assert bool(pdf.Root.ViewerPreferences.DisplayDocTitle)
    assert str(pdf.docinfo["/Title"]).startswith("Record check-1, edition 1")
    kinds = structure(pdf.Root.StructTreeRoot)
    assert {"/Document", "/H1", "/H2", "/Table", "/TR", "/TH", "/TD", "/P"} <= kinds


def structure(element: Any) -> set[str]:  # noqa: ANN401  # a tree of dictionaries and numbers
    """The kinds of element that a structure tree is made of."""
    if isinstance(element, pikepdf.Array):
        return set().union(*(structure(each) for each in element))
    if not isinstance(element, pikepdf.Dictionary):
        return set()
    own = {str(element.S)} if "/S" in element else set()
    return own | (structure(element.K) if "/K" in element else set())


def test_6_8_exactly_these_files_are_embedded_each_with_its_relationship(pdf: pikepdf.Pdf) -> None:
    names = ["log-proof.json", "record.json", "renderer.json", "signature-A.jws", "signature-B.jws"]
    specifications = [each for each in pdf.objects if isinstance(each, pikepdf.Dictionary) and "/EF" in each]

    assert list(pdf.attachments) == names
    assert sorted(str(each.UF) for each in specifications) == names
    assert {str(each.AFRelationship) for each in specifications} == {"/Data", "/Supplement"}
    assert [str(each.UF) for each in pdf.Root.AF] == names
    assert all("/AF" not in page for page in pdf.pages)
