"""Each thing that can be done to a sealed file, by the least possible change: the seal must not hold.

One change it cannot see, and no seal could: an ECDSA signature (r, s) over P-256 is as good as (r, n - s).
Only the digest of the whole file, which stands in the log, tells these two files apart.
"""

import hashlib
import io
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pikepdf
import pypdf
import pytest
from asn1crypto import algos, cms
from pyhanko.pdf_utils import generic
from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter
from pyhanko.sign import fields, signers
from pyhanko.sign.signers.pdf_signer import PdfSigningSession

from app.keys import SiteKeys, create_site_keys, load_site_keys
from app.reports import seal
from app.reports.attachments import read_attachments
from app.reports.seal import SealBroken, SealHolds, check_seal, seal_pdf
from app.reports.seal_as_written import attachments_of_sealed
from tests.factories.site_keys import owned
from tests.reports.sealed import SITE, Story, recognised, sealer_of
from tests.reports.signed_log import KEYS_MADE, SEALED_AT
from tests.support.library_signer import library_signer

# The order of the group of P-256 (SEC 2, 2.4.2; FIPS 186-4, D.1.2.3).
ORDER = 0xFFFFFFFF00000000FFFFFFFFFFFFFFFFBCE6FAADA7179E84F3B9CAC2FC632551


def gap(content: bytes) -> tuple[int, int]:
    """Where the seal's own bytes begin and end."""
    found = re.search(rb"/ByteRange \[0 (\d+) (\d+) \d+\]", content)
    assert found is not None
    return int(found[1]), int(found[2])


def signature_in(content: bytes) -> bytes:
    """The seal's CMS structure, without its padding."""
    begin, end = gap(content)
    written: bytes = cms.ContentInfo.load(bytes.fromhex(content[begin + 1 : end - 1].decode())).dump()
    return written


def with_signature(content: bytes, signature: bytes) -> bytes:
    """The same file with another structure in the seal's place."""
    begin, end = gap(content)
    room = end - begin - 2
    return content[: begin + 1] + signature.hex().upper().encode().ljust(room, b"0") + content[end - 1 :]


def flipped(content: bytes, place: int, bit: int = 0) -> bytes:
    return content[:place] + bytes([content[place] ^ (1 << bit)]) + content[place + 1 :]


def replaced(content: bytes, place: int, other: bytes) -> bytes:
    return content[:place] + other + content[place + len(other) :]


def saved(pdf: pikepdf.Pdf) -> bytes:
    output = io.BytesIO()
    pdf.save(output)
    return output.getvalue()


def with_a_page_added(story: Story) -> bytes:
    """Appended as a later revision, as the format allows; nothing of the sealed bytes is touched."""
    writer = IncrementalPdfFileWriter(io.BytesIO(story.sealed))
    kids = writer.root["/Pages"]["/Kids"]
    kids.append(kids.raw_get(0))
    writer.update_container(kids)
    return written(writer)


def with_another_title(story: Story) -> bytes:
    writer = IncrementalPdfFileWriter(io.BytesIO(story.sealed))
    writer.document_meta.title = "Record of another check"
    writer.update_container(writer.root)
    return written(writer)


def without_its_permissions(story: Story) -> bytes:
    writer = IncrementalPdfFileWriter(io.BytesIO(story.sealed))
    del writer.root["/Perms"]
    writer.update_container(writer.root)
    return written(writer)


def without_its_field(story: Story) -> bytes:
    writer = IncrementalPdfFileWriter(io.BytesIO(story.sealed))
    del writer.root["/AcroForm"]
    writer.update_container(writer.root)
    return written(writer)


def with_an_attachment_swapped_later(story: Story) -> bytes:
    """The names lead to other bytes, in a later revision."""
    writer = IncrementalPdfFileWriter(io.BytesIO(story.sealed))
    listed = writer.root["/Names"]["/EmbeddedFiles"]["/Names"]
    stream = listed[3]["/EF"]["/F"]
    other = generic.StreamObject(stream_data=stream.data.replace(b"Nadia", b"Imoge"))
    listed[3]["/EF"][generic.pdf_name("/F")] = writer.add_object(other)
    writer.update_container(listed[3])
    return written(writer)


def written(writer: IncrementalPdfFileWriter) -> bytes:
    output = io.BytesIO()
    writer.write(output)  # type: ignore[no-untyped-call]  # the library's
    return output.getvalue()


def with_an_attachment_swapped(story: Story) -> bytes:
    with pikepdf.open(io.BytesIO(story.sealed)) as pdf:
        stream = pdf.attachments["record.json"].obj.EF.F
        stream.write(story.record.replace(b"Nadia", b"Imoge"))
        return saved(pdf)


def rewritten(story: Story) -> bytes:
    with pikepdf.open(io.BytesIO(story.sealed)) as pdf:
        return saved(pdf)


def rewritten_otherwise(story: Story) -> bytes:
    output = io.BytesIO()
    pypdf.PdfWriter(clone_from=io.BytesIO(story.sealed)).write(output)
    return output.getvalue()


def with_its_tail_from_the_unsealed(story: Story) -> bytes:
    """The file as it was before the seal, twice: a reader that looks only at the end finds no seal."""
    return story.sealed + story.unsealed


def cut_off(story: Story) -> bytes:
    return story.sealed[:-1]


def with_an_unsigned_attribute(story: Story) -> bytes:
    """A place in the structure that its signature does not cover."""
    loaded = cms.ContentInfo.load(signature_in(story.sealed))
    note = cms.CMSAttribute({"type": "content_type", "values": ["data"]})
    loaded["content"]["signer_infos"][0]["unsigned_attrs"] = cms.CMSAttributes([note])
    return with_signature(story.sealed, loaded.dump())


def with_a_second_certificate(story: Story) -> bytes:
    """The certificates beside a signature are not covered by it either."""
    loaded = cms.ContentInfo.load(signature_in(story.sealed))
    held = loaded["content"]["certificates"]
    loaded["content"]["certificates"] = cms.CertificateSet([held[0], held[0]])
    return with_signature(story.sealed, loaded.dump())


def in_small_letters(story: Story) -> bytes:
    begin, end = gap(story.sealed)
    return story.sealed[:begin] + story.sealed[begin:end].lower() + story.sealed[end:]


def with_a_space_for_a_zero(story: Story) -> bytes:
    """White space inside a hexadecimal string means nothing (ISO 32000-1, 7.3.4.3)."""
    _, end = gap(story.sealed)
    return replaced(story.sealed, end - 3, b"  ")


def with_padding(story: Story) -> bytes:
    _, end = gap(story.sealed)
    return replaced(story.sealed, end - 9, b"C0FFEE")


def of_a_later_day(story: Story) -> bytes:
    found = story.sealed.rindex(b"20310502130502Z")
    return replaced(story.sealed, found, b"20310503")


DONE: dict[str, Callable[[Story], bytes]] = {
    "one byte more": lambda story: story.sealed + b"\n",
    "a line of junk": lambda story: story.sealed + b"% nothing to see\n",
    "a second end": lambda story: story.sealed + b"startxref\n0\n%%EOF\n",
    "one byte before it": lambda story: b"\n" + story.sealed,
    "one byte less": cut_off,
    "the unsealed file behind it": with_its_tail_from_the_unsealed,
    "a page added": with_a_page_added,
    "another title": with_another_title,
    "its permissions removed": without_its_permissions,
    "its field removed": without_its_field,
    "an attachment swapped": with_an_attachment_swapped,
    "an attachment swapped in a later revision": with_an_attachment_swapped_later,
    "written anew by one library": rewritten,
    "written anew by another": rewritten_otherwise,
    "padding": with_padding,
    "small letters": in_small_letters,
    "white space in the padding": with_a_space_for_a_zero,
    "an unsigned attribute": with_an_unsigned_attribute,
    "a second certificate": with_a_second_certificate,
    "a later day": of_a_later_day,
}


@pytest.mark.parametrize("what", DONE)
def test_what_was_done_to_the_file_breaks_the_seal(story: Story, what: str) -> None:
    content = DONE[what](story)
    answer = check_seal(content, story.certificate)

    assert content != story.sealed
    assert isinstance(answer, SealBroken), answer
    assert answer.why != seal.UNREADABLE
    assert not recognised(content, story.certificate)


@pytest.mark.parametrize(
    ("what", "why"),
    [
        ("one byte more", seal.ADDED),
        ("a page added", seal.ADDED),
        ("an attachment swapped in a later revision", seal.ADDED),
        ("a later day", seal.CHANGED),
        ("padding", seal.SEAL_CHANGED),
        ("an unsigned attribute", seal.SEAL_CHANGED),
        ("its field removed", seal.NO_SEAL),
        ("written anew by one library", seal.CHANGED),
    ],
)
def test_it_says_what_was_done(story: Story, what: str, why: str) -> None:
    assert check_seal(DONE[what](story), story.certificate) == SealBroken(why=why)


def test_the_swapped_attachments_really_were(story: Story) -> None:
    for what in ("an attachment swapped", "an attachment swapped in a later revision"):
        found = read_attachments(DONE[what](story))
        assert isinstance(found, dict)
        assert found["record.json"] == story.record.replace(b"Nadia", b"Imoge") != story.record


def ranges(content: bytes) -> dict[str, range]:
    begin, end = gap(content)
    return {
        "before the seal": range(begin),
        "the seal": range(begin, end),
        "after the seal": range(end, len(content)),
    }


@pytest.mark.parametrize("where", ["before the seal", "the seal", "after the seal"])
def test_no_bit_of_any_range_can_be_flipped(story: Story, where: str) -> None:
    among = ranges(story.sealed)[where]
    # Both ends, and places between; closer in the seal, for its signature covers little of its own structure.
    step = len(among) // (500 if where == "the seal" else 80) | 1
    places = sorted({*among[::step], among[-1]})
    held = [
        place
        for number, place in enumerate(places)
        if isinstance(check_seal(flipped(story.sealed, place, number % 8), story.certificate), SealHolds)
    ]

    assert held == []


@pytest.mark.parametrize("where", ["before the seal", "the seal", "after the seal"])
def test_the_quick_look_lets_no_flipped_bit_through(story: Story, where: str) -> None:
    among = ranges(story.sealed)[where]
    # So quick that it can look at every byte behind the seal, and at every other one of the seal's own.
    places = among[:: {"before the seal": 97, "the seal": 2}.get(where, 1)]
    assert recognised(story.sealed, story.certificate)
    held = [
        place
        for number, place in enumerate(places)
        if recognised(flipped(story.sealed, place, number % 8), story.certificate)
    ]

    assert held == []


def test_a_seal_moved_from_another_record_does_not_hold(story: Story) -> None:
    other = seal_pdf(story.unsealed, sealer_of(story.keys), at=SEALED_AT, place="Another place")

    assert isinstance(check_seal(other, story.certificate), SealHolds)
    assert recognised(other, story.certificate)
    moved = with_signature(story.sealed, signature_in(other))
    assert check_seal(moved, story.certificate) == SealBroken(why=seal.CHANGED)
    assert not recognised(moved, story.certificate)


def test_a_seal_that_only_approves_is_no_seal(story: Story) -> None:
    """What a valid signature of the site's own key says still has to be: no change is allowed."""
    for changes in (
        {"certify": False},
        {"certify": True, "docmdp_permissions": fields.MDPPerm.FILL_FORMS},
        {"certify": True, "docmdp_permissions": fields.MDPPerm.ANNOTATE},
    ):
        content = signed_by_the_library(story.unsealed, story.keys, **changes)
        assert check_seal(content, story.certificate) == SealBroken(why=seal.ALLOWS_CHANGES)
        assert not recognised(content, story.certificate)


class Signing(signers.PdfSigner):
    """The library's own signer, at the time of the story."""

    def init_signing_session(self, *arguments: Any, **named: Any) -> PdfSigningSession:  # noqa: ANN401  # passed on
        session = super().init_signing_session(*arguments, **named)
        session.system_time = SEALED_AT
        return session


def signed_by_the_library(
    content: bytes,
    site: SiteKeys,
    *,
    field: str = "Seal",
    **changes: Any,  # noqa: ANN401  # its own options
) -> bytes:
    """Signed with a site's key, and in the library's own ways otherwise."""
    metadata = signers.PdfSignatureMetadata(
        field_name=field, md_algorithm="sha256", subfilter=fields.SigSeedSubFilter.PADES, **changes
    )
    writer = IncrementalPdfFileWriter(io.BytesIO(content))
    signed: bytes = Signing(metadata, library_signer(site)).sign_pdf(writer).getvalue()
    return signed


def test_a_file_signed_twice_is_no_record(story: Story, tmp_path: Path) -> None:
    create_site_keys(tmp_path, KEYS_MADE, owner=owned(SITE))
    other = load_site_keys(tmp_path, SEALED_AT)
    approved = signed_by_the_library(story.unsealed, story.keys, certify=False)
    twice = signed_by_the_library(approved, other, field="Second")

    assert check_seal(twice, story.certificate) == SealBroken(why=seal.SEVERAL)
    assert not recognised(twice, story.certificate)
    assert attachments_of_sealed(twice) is None


def test_one_change_only_the_digest_in_the_log_can_tell(story: Story) -> None:
    loaded = cms.ContentInfo.load(signature_in(story.sealed))
    signer = loaded["content"]["signer_infos"][0]
    pair = algos.DSASignature.load(signer["signature"].native)
    turned = algos.DSASignature({"r": pair["r"].native, "s": ORDER - pair["s"].native})
    signer["signature"] = turned.dump()
    other = with_signature(story.sealed, loaded.dump())

    assert other != story.sealed
    assert isinstance(check_seal(other, story.certificate), SealHolds)
    assert recognised(other, story.certificate)
    assert hashlib.sha256(other).digest() != hashlib.sha256(story.sealed).digest()
