"""What travels inside the PDF, read by our own reader, by pikepdf and by poppler."""

import hashlib
import io
import json
import os
import subprocess
import sys
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pikepdf
import pytest

from app.config import root
from app.keys import RecordHeader, verify_record
from app.records.canonical import canonical
from app.records.checkpoint import Unreadable, holds
from app.reports.attachments import NoAttachments, proof_content, read_attachments, read_proof
from app.reports.record import render_record
from app.reports.renderer import renderer_content
from tests.reports import told
from tests.reports.sealed import Story

NAMES = ["log-proof.json", "record.json", "renderer.json", "signature-A.jws", "signature-B.jws"]

# ISO 19005-3, annex E: what an embedded file is to the pages. RFC 8259 and RFC 7515, 9.2.1: the media types.
KINDS = {
    "log-proof.json": ("/Supplement", "/application/json"),
    "record.json": ("/Data", "/application/json"),
    "renderer.json": ("/Supplement", "/application/json"),
    "signature-A.jws": ("/Supplement", "/application/jose"),
    "signature-B.jws": ("/Supplement", "/application/jose"),
}


def expected(story: Story) -> dict[str, bytes]:
    first, second = story.signatures
    return {
        "log-proof.json": proof_content(story.proof),
        "record.json": story.record,
        "renderer.json": renderer_content(),
        "signature-A.jws": first.jws.encode(),
        "signature-B.jws": second.jws.encode(),
    }


def test_the_record_its_signatures_and_the_proof_travel_along(story: Story) -> None:
    assert read_attachments(story.sealed) == expected(story)
    assert read_attachments(story.unsealed) == expected(story)


def test_another_library_reads_the_same_files(story: Story) -> None:
    with pikepdf.open(io.BytesIO(story.sealed)) as pdf:
        read = {name: each.get_file().read_bytes() for name, each in pdf.attachments.items()}

    assert read == expected(story)


def test_a_tool_for_everybody_takes_them_out(story: Story, tmp_path: Path) -> None:
    (tmp_path / "record.pdf").write_bytes(story.sealed)
    taken = tmp_path / "taken"
    taken.mkdir()
    subprocess.run(
        ["pdfdetach", "-saveall", "-o", taken, tmp_path / "record.pdf"], check=True, capture_output=True
    )

    assert {each.name: each.read_bytes() for each in taken.iterdir()} == expected(story)


def test_each_says_what_it_is_and_when_it_was_made(story: Story) -> None:
    with pikepdf.open(io.BytesIO(story.sealed)) as pdf:
        listed = pdf.Root.Names.EmbeddedFiles.Names
        files = {str(each.UF): each for each in pdf.Root.AF}

        # A name tree is in order, and each file is the document's own exactly once.
        assert [str(name) for name in list(listed)[::2]] == NAMES == sorted(NAMES)
        assert [str(each.UF) for each in pdf.Root.AF] == NAMES
        for name, each in files.items():
            stream = each.EF.F
            assert (str(each.AFRelationship), str(stream.Subtype)) == KINDS[name]
            assert str(each.F) == name
            assert str(each.Desc)
            # The second signature's time, which is the only one that the file knows.
            assert str(stream.Params.CreationDate) == "D:20310502130448Z"
            assert str(stream.Params.ModDate) == "D:20310502130448Z"
            assert int(stream.Params.Size) == len(stream.read_bytes())
            assert bytes(stream.Params.CheckSum) == hashlib.md5(stream.read_bytes()).digest()  # noqa: S324  # the format's


def test_both_signatures_hold_over_the_record_that_travels_along(story: Story) -> None:
    found = read_attachments(story.sealed)
    assert not isinstance(found, NoAttachments)
    for each in story.signatures:
        jws = found[f"signature-{each.letter}.jws"].decode()
        header = verify_record(jws, found["record.json"], story.public[each.letter])

        assert isinstance(header, RecordHeader)
        assert header.printed_name == each.printed_name
        assert header.signed_at == each.signed_at


def test_the_proof_leads_from_the_entry_to_a_checkpoint_that_the_site_signed(story: Story) -> None:
    found = read_attachments(story.sealed)
    assert not isinstance(found, NoAttachments)
    proof = read_proof(found["log-proof.json"])

    assert proof == story.proof
    assert not isinstance(proof, Unreadable)
    assert holds(proof.place, proof.checkpoint)
    assert story.keys.signed(proof.checkpoint)
    assert proof.checkpoint.size == proof.place.position
    # The least change: one digit of the path, one of the root.
    step = proof.place.path[0]
    other = ("0" if step[0] != "0" else "1") + step[1:]
    assert not holds(replace(proof.place, path=(other, *proof.place.path[1:])), proof.checkpoint)
    assert not story.keys.signed(replace(proof.checkpoint, root=other))


def test_a_record_without_keys_and_log_carries_itself_and_its_renderer() -> None:
    document = told.clean()
    content = render_record(document, digest=told.digest_of(document), signatures=told.signed(document))

    assert read_attachments(content) == {
        "record.json": canonical(document),
        "renderer.json": renderer_content(),
    }


OTHER_FORMS: dict[str, Callable[[Any], object]] = {
    "no format": lambda data: data.pop("format"),
    "no entry": lambda data: data.pop("entry"),
    "no checkpoint": lambda data: data.pop("checkpoint"),
    "one name more": lambda data: data.update(more=1),
    "another format": lambda data: data.update(format="another"),
    "a position as text": lambda data: data["entry"].update(position="11"),
    "no path": lambda data: data["entry"].pop("path"),
    "a size below nothing": lambda data: data["checkpoint"].update(size=-1),
    "no signature": lambda data: data["checkpoint"].pop("signature"),
}


@pytest.mark.parametrize("form", OTHER_FORMS)
def test_a_proof_of_another_form_is_unreadable(story: Story, form: str) -> None:
    data = json.loads(proof_content(story.proof))
    assert read_proof(canonical(data)) == story.proof
    OTHER_FORMS[form](data)

    assert read_proof(canonical(data)) == Unreadable()


@pytest.mark.parametrize("of", ["log-proof", "checkpoint"])
def test_a_proof_of_a_newer_format_is_refused_by_its_name(story: Story, of: str) -> None:
    newer = proof_content(story.proof).replace(f"countersign.{of}/1".encode(), f"countersign.{of}/2".encode())
    read = read_proof(newer)
    assert isinstance(read, Unreadable)
    assert f"has the format countersign.{of}/2," in read.says


def test_what_is_no_proof_is_unreadable() -> None:
    for content in (b"", b"[]", b"null", b"{", b"\xff", b"[" * 100_000):
        assert read_proof(content) == Unreadable()


def test_a_file_without_attachments_or_with_a_name_twice_has_none_that_count(story: Story) -> None:
    with pikepdf.open(io.BytesIO(story.unsealed)) as pdf:
        listed = pdf.Root.Names.EmbeddedFiles.Names
        listed.append(listed[2])
        listed.append(listed[3])
        twice = saved(pdf)
        del pdf.Root.Names
        without = saved(pdf)

    for content in (twice, without, b"", b"%PDF-1.7", story.unsealed[:2000], story.record):
        assert read_attachments(content) == NoAttachments()


def saved(pdf: pikepdf.Pdf) -> bytes:
    output = io.BytesIO()
    pdf.save(output)
    return output.getvalue()


MAKE = """
import hashlib
from datetime import UTC, datetime
from dataclasses import replace
from app.records.checkpoint import Checkpoint, Place
from app.reports.attachments import LogProof
from app.reports.record import render_record
from tests.reports import told

document = told.cautions()
signatures = tuple(replace(each, jws="e30..invented") for each in told.signed(document))
proof = LogProof(
    place=Place(leaf=b"{}", position=1, path=()),
    keys=(),
    foundings=(),
    checkpoint=Checkpoint(
        size=1, root="ab" * 32, at=datetime(2031, 5, 2, tzinfo=UTC), kid="k" * 43, signature="cd" * 64
    ),
)
content = render_record(
    document, digest=told.digest_of(document), signatures=signatures, proof=proof
)
print(hashlib.sha256(content).hexdigest())
"""


def test_attachments_leave_the_bytes_the_same_everywhere() -> None:
    digests = set()
    for seed, zone in (("1", "Pacific/Auckland"), ("4242", "America/St_Johns")):
        made = subprocess.run(
            [sys.executable, "-c", MAKE],
            check=True,
            capture_output=True,
            cwd=root(),
            env={**os.environ, "PYTHONHASHSEED": seed, "TZ": zone},
            text=True,
        )
        digests.add(made.stdout.strip())

    assert len(digests) == 1


def test_another_time_of_signing_gives_other_bytes(story: Story) -> None:
    first, second = story.signatures
    later = replace(second, signed_at=datetime(2031, 5, 2, 13, 4, 49, tzinfo=UTC))
    content = render_record(
        story.document,
        digest=told.digest_of(story.document),
        signatures=(first, later),
        proof=story.proof,
    )

    assert content != story.unsealed
