"""The site's seal: what it says, what it leaves alone, and whose certificate it may be."""

import io
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from functools import partial
from pathlib import Path

import pikepdf
import pytest
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec

from app.keys import Purpose, create_site_keys, load_site_keys, public_file, rotate_site_key
from app.reports import seal
from app.reports.seal import SealBroken, Sealer, SealHolds, check_seal, seal_pdf
from tests.factories.site_keys import owned
from tests.reports.sealed import SITE, Story, recognised, sealer_of
from tests.reports.signed_log import KEYS_MADE, SEALED_AT


def sealed_again(story: Story, sealer: Sealer, at: datetime = SEALED_AT) -> bytes:
    return seal_pdf(story.unsealed, sealer, at=at, place=SITE)


def test_a_seal_holds_and_says_when(story: Story) -> None:
    assert check_seal(story.sealed, story.certificate) == SealHolds(
        certificate=alone(story.certificate), sealed_at=SEALED_AT
    )


def alone(certificate: str) -> str:
    """Without the root behind it."""
    end = "-----END CERTIFICATE-----\n"
    return certificate.partition(end)[0] + end


def test_nothing_before_the_seal_is_changed(story: Story) -> None:
    assert story.sealed.startswith(story.unsealed)
    # What the seal costs: the field, the certificate in hexadecimal, and a table of what was added.
    assert len(story.sealed) - len(story.unsealed) < seal.DIGITS_RESERVED + 2048


def test_it_says_why_and_where_in_words(story: Story) -> None:
    with pikepdf.open(io.BytesIO(story.sealed)) as pdf:
        (field,) = pdf.Root.AcroForm.Fields
        signature = field.V

        assert str(field.T) == "Seal"
        assert str(signature.Reason) == seal.REASON
        assert str(signature.Location) == SITE
        assert str(signature.M) == "D:20310502130502Z"
        # Lower levels of the seal than EN 319 142-1 asks for are other subfilters.
        assert str(signature.SubFilter) == "/ETSI.CAdES.detached"


def test_it_certifies_and_allows_no_change(story: Story) -> None:
    # ISO 32000-1, 12.8.2.2.2: P = 1 allows none; ISO 19005-3, 6.1.12, of a reference that names no digest.
    with pikepdf.open(io.BytesIO(story.sealed)) as pdf:
        (field,) = pdf.Root.AcroForm.Fields
        (reference,) = field.V.Reference

        assert pdf.Root.Perms.DocMDP.objgen == field.V.objgen
        assert str(reference.TransformMethod) == "/DocMDP"
        assert int(reference.TransformParams.P) == 1
        assert not {"/DigestMethod", "/DigestValue", "/DigestLocation"} & set(reference.keys())
        assert int(pdf.Root.AcroForm.SigFlags) == 3
        assert "/NeedAppearances" not in pdf.Root.AcroForm


def test_its_field_cannot_be_seen(story: Story) -> None:
    with pikepdf.open(io.BytesIO(story.sealed)) as pdf:
        (field,) = pdf.Root.AcroForm.Fields
        on_pages = [each for page in pdf.pages for each in page.get("/Annots", [])]

        assert [each.objgen for each in on_pages] == [field.objgen]
        assert [float(side) for side in field.Rect] == [0, 0, 0, 0]
        # ISO 19005-3, 6.3.2: printed (4), and neither invisible (1), hidden (2) nor without a view (32).
        assert int(field.F) & (1 | 2 | 4 | 32) == 4


def test_the_metadata_stay_those_of_the_record(story: Story) -> None:
    for content in (story.unsealed, story.sealed):
        with pikepdf.open(io.BytesIO(content)) as pdf, pdf.open_metadata() as metadata:
            assert metadata["xmp:ModifyDate"] == "2031-05-02T13:04:48+00:00"
            assert metadata["pdf:Producer"] == str(pdf.docinfo["/Producer"])
            assert pdf.pdf_version == "1.7"
            assert "/Version" not in pdf.Root


def test_sealed_again_at_the_same_moment_it_is_the_same_file(story: Story) -> None:
    """RFC 6979: the nonce follows from key and message."""
    assert sealed_again(story, sealer_of(story.keys)) == story.sealed


def test_sealed_at_another_moment_it_is_another_file_and_holds_too(story: Story) -> None:
    later = SEALED_AT + timedelta(seconds=1)
    other = sealed_again(story, sealer_of(story.keys), later)

    assert other != story.sealed
    assert check_seal(other, story.certificate) == SealHolds(
        certificate=alone(story.certificate), sealed_at=later
    )


def test_the_key_is_asked_to_sign_once(story: Story) -> None:
    asked: list[bytes] = []
    sealer = sealer_of(story.keys)

    def sign(content: bytes) -> bytes:
        asked.append(content)
        return sealer.sign(content)

    sealed_again(story, replace(sealer, sign=sign))

    assert len(asked) == 1


def test_the_clock_plays_no_part(story: Story) -> None:
    local = SEALED_AT.astimezone(tz=None)
    long_ago = datetime(2031, 4, 20, tzinfo=UTC)

    for at in (local, long_ago):
        held = check_seal(sealed_again(story, sealer_of(story.keys), at), story.certificate)
        assert isinstance(held, SealHolds)
        assert held.sealed_at == at


def test_the_longest_name_of_a_site_fits(story: Story, tmp_path: Path) -> None:
    # X.520 allows 64 characters; these take four bytes each, in UTF-8 the most.
    create_site_keys(tmp_path, KEYS_MADE, owner=owned("\U00020bb7" * 64))
    keys = load_site_keys(tmp_path, SEALED_AT)
    content = sealed_again(story, sealer_of(keys))

    assert isinstance(check_seal(content, keys.seal.certificate), SealHolds)
    # What is left of the room.
    assert b"0" * (seal.DIGITS_RESERVED // 16) + b">" in content


def test_another_site_s_certificate_does_not_do(story: Story, tmp_path: Path) -> None:
    create_site_keys(tmp_path, KEYS_MADE, owner=owned(SITE))
    other = load_site_keys(tmp_path, SEALED_AT)

    for certificates in (other.seal.certificate, public_file(other.known)):
        assert check_seal(story.sealed, certificates) == SealBroken(why=seal.OTHER_SITE)
        assert not recognised(story.sealed, certificates)


def test_without_a_certificate_of_a_seal_nothing_is_said(story: Story) -> None:
    for text in ("", "-----BEGIN CERTIFICATE-----\n", story.keys.checkpoint.certificate):
        with pytest.raises(ValueError, match=r"certificate|PEM"):
            check_seal(story.sealed, text)


def test_an_old_record_holds_after_rotation(story: Story, tmp_path: Path) -> None:
    create_site_keys(tmp_path, KEYS_MADE, owner=owned(SITE))
    before = load_site_keys(tmp_path, SEALED_AT)
    old = sealed_again(story, sealer_of(before))
    rotate_site_key(tmp_path, SEALED_AT + timedelta(days=1), Purpose.SEAL, owner=owned(SITE))
    after = load_site_keys(tmp_path, SEALED_AT + timedelta(days=2))
    new = sealed_again(story, sealer_of(after), SEALED_AT + timedelta(days=2))
    every = public_file(after.known)

    assert before.seal.certificate != after.seal.certificate
    assert check_seal(old, every) == SealHolds(
        certificate=alone(before.seal.certificate), sealed_at=SEALED_AT
    )
    assert isinstance(check_seal(new, every), SealHolds)
    assert all(recognised(each, every) for each in (old, new))
    assert check_seal(old, after.seal.certificate) == SealBroken(why=seal.OTHER_SITE)


@pytest.mark.parametrize("days", [-31, 3 * 365])
def test_a_seal_from_outside_the_certificate_s_time_does_not_hold(story: Story, days: int) -> None:
    content = sealed_again(story, sealer_of(story.keys), SEALED_AT + timedelta(days=days))

    assert check_seal(content, story.certificate) == SealBroken(why=seal.OUT_OF_TIME)
    assert not recognised(content, story.certificate)


def test_a_key_that_is_not_the_certificate_s_makes_no_seal(story: Story) -> None:
    stranger = ec.generate_private_key(ec.SECP256R1())
    sealer = Sealer(
        certificate=story.keys.seal_certificate_der,
        sign=partial(stranger.sign, signature_algorithm=ec.ECDSA(hashes.SHA256())),
    )

    assert check_seal(sealed_again(story, sealer), story.certificate) == SealBroken(why=seal.SEAL_CHANGED)


def test_what_was_never_sealed_has_no_seal(story: Story) -> None:
    assert check_seal(story.unsealed, story.certificate) == SealBroken(why=seal.NO_SEAL)


@pytest.mark.parametrize("content", [b"", b"%PDF-1.7\n", b"\x00" * 1000, b"PK\x03\x04 not a PDF"])
def test_what_is_no_pdf_cannot_be_read(story: Story, content: bytes) -> None:
    assert check_seal(content, story.certificate) == SealBroken(why=seal.UNREADABLE)


def test_the_words_are_whole_sentences() -> None:
    said: list[str] = [
        value for name, value in vars(seal).items() if name.isupper() and isinstance(value, str)
    ]

    assert seal.UNREADABLE in said
    assert [each for each in said if each != seal.FIELD and not each.endswith(".")] == []
