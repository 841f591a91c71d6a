"""The site's keys: their rights and uses, rotation, what goes to verifiers, and backup."""

import shutil
import subprocess
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import serialization
from cryptography.hazmat.primitives.asymmetric import ec, ed25519
from cryptography.hazmat.primitives.serialization import Encoding

from app.keys import backup
from app.keys.backup import AlreadyThere, Held, Restored, backup_of, open_backup, restore
from app.keys.locked import WrongSecret
from app.keys.site_keys import (
    Purpose,
    SiteKeyMissingError,
    SiteKeyUnreadableError,
    create_site_keys,
    is_signed_by,
    list_site_keys,
    load_site_keys,
    public_file,
    read_public_file,
    rotate_site_key,
)
from app.records.checkpoint import Checkpoint, statement_of
from tests.factories.site_keys import INSTALLATION, owned
from tests.keys.breaking_off import broken_off_after
from tests.keys.folder import NOW, SITE, certificate, file_of

ROOT = "ab" * 32
PASSPHRASE = "nine lanterns under the bridge"


def checkpoint(folder: Path, at: datetime = NOW) -> Checkpoint:
    return load_site_keys(folder, at).sign_checkpoint(size=8, root=ROOT, at=at)


def test_one_key_for_each_purpose(folder: Path) -> None:
    assert {each.purpose for each in list_site_keys(folder)} == set(Purpose)
    keys = load_site_keys(folder, NOW)
    assert isinstance(keys.seal_private, ec.EllipticCurvePrivateKey)
    assert isinstance(keys.seal_private.curve, ec.SECP256R1)
    assert isinstance(keys.checkpoint_private, ed25519.Ed25519PrivateKey)


def test_nobody_but_the_owner_reads_the_private_halves(folder: Path) -> None:
    assert folder.stat().st_mode & 0o777 == 0o700
    for purpose in Purpose:
        assert file_of(folder, purpose, "key").stat().st_mode & 0o777 == 0o600
    assert not list(folder.glob("*PRIVATE*"))
    for public in folder.glob("*.pem"):
        assert "PRIVATE" not in public.read_text()


def test_private_halves_are_not_shown(folder: Path) -> None:
    assert "private" not in repr(load_site_keys(folder, NOW))


@pytest.mark.parametrize("purpose", Purpose)
def test_the_certificate_says_whose_and_until_when(folder: Path, purpose: Purpose) -> None:
    made = certificate(folder, purpose)
    issuer = "seal root" if purpose is Purpose.SEAL else purpose.value
    whose = f"O={SITE}"
    assert made.issuer.rfc4514_string() == f"2.5.4.5={INSTALLATION},CN=Countersign {issuer},{whose}"
    assert made.subject.rfc4514_string() == f"2.5.4.5={INSTALLATION},CN=Countersign {purpose.value},{whose}"
    assert made.not_valid_before_utc == NOW.replace(microsecond=0)
    assert made.not_valid_after_utc - made.not_valid_before_utc == timedelta(days=1095)


def test_the_uses_in_the_certificates(folder: Path) -> None:
    """Signing alone: none of the two is an authority, and vouches for another certificate."""
    for purpose in Purpose:
        usage = certificate(folder, purpose).extensions.get_extension_for_class(x509.KeyUsage)
        assert usage.critical
        assert usage.value.digital_signature
        assert usage.value.content_commitment
        assert not usage.value.key_cert_sign
        others = (usage.value.key_encipherment, usage.value.data_encipherment, usage.value.crl_sign)
        assert not any(others)
        basic = certificate(folder, purpose).extensions.get_extension_for_class(x509.BasicConstraints)
        assert not basic.value.ca
        assert basic.value.path_length is None


def test_the_root_behind_a_seal_vouches_for_it_alone_and_its_key_is_forgotten(folder: Path) -> None:
    seal, root = x509.load_pem_x509_certificates(file_of(folder, Purpose.SEAL, "pem").read_bytes())
    seal.verify_directly_issued_by(root)
    root.verify_directly_issued_by(root)
    basic = root.extensions.get_extension_for_class(x509.BasicConstraints).value
    assert (basic.ca, basic.path_length) == (True, 0)
    usage = root.extensions.get_extension_for_class(x509.KeyUsage).value
    assert usage.key_cert_sign
    assert not any((usage.digital_signature, usage.content_commitment))
    assert len(list(folder.glob("*.key"))) == len(Purpose)
    for each in folder.glob("*.key"):
        private = serialization.load_pem_private_key(each.read_bytes(), None)
        assert private.public_key() != root.public_key()


def test_an_authority_is_no_key_of_a_site(folder: Path) -> None:
    seal, root = (
        each.public_bytes(serialization.Encoding.PEM).decode()
        for each in x509.load_pem_x509_certificates(file_of(folder, Purpose.SEAL, "pem").read_bytes())
    )
    checkpoint = file_of(folder, Purpose.CHECKPOINT, "pem").read_text()
    for text in (root, root + seal, seal, seal + checkpoint + root, seal + root + root):
        with pytest.raises(SiteKeyUnreadableError):
            read_public_file(text)
    assert len(read_public_file(checkpoint + seal + root)) == len(Purpose)


def test_openssl_takes_the_certificates(folder: Path) -> None:
    for purpose in Purpose:
        path = str(file_of(folder, purpose, "pem"))
        at = str(int(NOW.timestamp()) + 60)
        asked = ["openssl", "verify", "-x509_strict", "-check_ss_sig", "-attime", at, "-CAfile", path, path]
        if purpose is Purpose.CHECKPOINT:
            # No authority: it is trusted by itself or not at all.
            asked[2:2] = ["-partial_chain"]
        ran = subprocess.run(asked, capture_output=True, check=False, text=True)
        assert ran.returncode == 0, ran.stdout + ran.stderr


def test_openssl_signs_and_verifies_with_the_seal(folder: Path, tmp_path: Path) -> None:
    """CMS is what a PDF's signature is; the purpose asked for is signing."""
    at = str(int(NOW.timestamp()) + 60)
    signer = ["-signer", str(file_of(folder, Purpose.SEAL, "pem"))]
    key = ["-inkey", str(file_of(folder, Purpose.SEAL, "key"))]
    (tmp_path / "content").write_bytes(b"invented")
    common = ["-binary", "-in", "content"]
    sign = ["openssl", "cms", "-sign", *common, *signer, *key, "-outform", "DER", "-out", "seal"]
    subprocess.run(sign, cwd=tmp_path, check=True, capture_output=True)
    trust = ["-CAfile", str(file_of(folder, Purpose.SEAL, "pem")), "-attime", at]
    verify = ["openssl", "cms", "-verify", "-binary", "-inform", "DER", "-in", "seal", "-content", "content"]

    def holds() -> bool:
        ran = subprocess.run([*verify, *trust], cwd=tmp_path, check=False, capture_output=True)
        return ran.returncode == 0

    assert holds()
    (tmp_path / "content").write_bytes(b"Invented")
    assert not holds()


def test_openssl_verifies_a_checkpoint(folder: Path, tmp_path: Path) -> None:
    signed = checkpoint(folder)
    public = certificate(folder, Purpose.CHECKPOINT).public_key()
    written = public.public_bytes(Encoding.PEM, serialization.PublicFormat.SubjectPublicKeyInfo)
    (tmp_path / "key.pem").write_bytes(written)
    (tmp_path / "signature").write_bytes(bytes.fromhex(signed.signature))

    def holds(said: bytes) -> bool:
        (tmp_path / "said").write_bytes(said)
        asked = ["openssl", "pkeyutl", "-verify", "-pubin", "-inkey", "key.pem", "-rawin", "-in", "said"]
        ran = subprocess.run(
            [*asked, "-sigfile", "signature"], cwd=tmp_path, capture_output=True, check=False
        )
        return ran.returncode == 0

    assert holds(statement_of(signed))
    assert not holds(statement_of(replace(signed, size=9)))


def test_a_checkpoint_is_verified_by_the_certificate(folder: Path) -> None:
    signed = checkpoint(folder)
    keys = load_site_keys(folder, NOW)
    assert is_signed_by(signed, keys.checkpoint.certificate)
    assert not is_signed_by(signed, keys.seal.certificate)
    for changed in (
        replace(signed, size=9),
        replace(signed, root="ba" * 32),
        replace(signed, at=NOW + timedelta(microseconds=1)),
        replace(signed, kid=keys.seal.kid),
        # Another first byte, whatever the key of this run made of it.
        replace(signed, signature=f"{int(signed.signature[:2], 16) ^ 1:02x}{signed.signature[2:]}"),
    ):
        assert not is_signed_by(changed, keys.checkpoint.certificate)


def test_another_site_s_key_does_not_verify_it(folder: Path, tmp_path: Path) -> None:
    create_site_keys(tmp_path / "other", NOW, owner=owned(SITE))
    other = load_site_keys(tmp_path / "other", NOW)
    assert not is_signed_by(checkpoint(folder), other.checkpoint.certificate)
    assert not is_signed_by(
        replace(checkpoint(folder), kid=other.checkpoint.kid), other.checkpoint.certificate
    )


def test_keys_are_made_once(folder: Path) -> None:
    before = {each.name: each.read_bytes() for each in folder.iterdir()}
    assert create_site_keys(folder, NOW, owner=owned(SITE)) == ()
    assert {each.name: each.read_bytes() for each in folder.iterdir()} == before


def test_only_what_is_missing_is_made(folder: Path) -> None:
    file_of(folder, Purpose.SEAL, "key").unlink()
    (made,) = create_site_keys(folder, NOW + timedelta(days=1), owner=owned(SITE))
    assert made.purpose is Purpose.SEAL
    assert load_site_keys(folder, NOW + timedelta(days=1)).seal == made


def test_a_long_name_of_a_site_is_cut_to_what_a_certificate_holds(tmp_path: Path) -> None:
    create_site_keys(tmp_path, NOW, owner=owned("x" * 65))
    assert f"O={'x' * 64}" in certificate(tmp_path, Purpose.SEAL).subject.rfc4514_string()


# Rotation.


def test_after_rotation_the_old_still_verifies_and_no_longer_signs(folder: Path) -> None:
    old, later = checkpoint(folder), NOW + timedelta(days=30)
    before = load_site_keys(folder, NOW)
    made = rotate_site_key(folder, later, Purpose.CHECKPOINT, owner=owned(SITE))
    keys = load_site_keys(folder, later)
    assert keys.checkpoint == made != before.checkpoint
    assert keys.seal == before.seal
    assert not (folder / f"checkpoint-{old.kid}.key").exists()
    new = keys.sign_checkpoint(size=9, root=ROOT, at=later)
    assert keys.signed(old)
    assert keys.signed(new)
    assert not keys.signed(replace(old, size=9))
    assert not keys.signed(replace(new, kid=keys.seal.kid))
    assert not before.signed(new)
    public = read_public_file(public_file(list_site_keys(folder)))
    assert {each.kid for each in public} == {made.kid, old.kid, keys.seal.kid}
    for signed in (old, new):
        (its,) = [each for each in public if each.kid == signed.kid]
        assert is_signed_by(signed, its.certificate)


def test_a_purpose_without_a_key_is_not_rotated(folder: Path) -> None:
    file_of(folder, Purpose.SEAL, "key").unlink()
    with pytest.raises(SiteKeyMissingError, match="make the keys first"):
        rotate_site_key(folder, NOW, Purpose.SEAL, owner=owned(SITE))


def test_the_operator_is_told_sixty_days_before_the_end(folder: Path) -> None:
    seal = load_site_keys(folder, NOW).seal
    assert not seal.ends_soon(seal.until - timedelta(days=60, seconds=1))
    assert seal.ends_soon(seal.until - timedelta(days=60))


# What goes to verifiers.


@pytest.mark.parametrize(
    "text", ["", "no certificate", "-----BEGIN CERTIFICATE-----\nAAAA\n-----END CERTIFICATE-----\n"]
)
def test_a_file_without_certificates_is_unreadable(text: str) -> None:
    with pytest.raises(SiteKeyUnreadableError, match="does not hold"):
        read_public_file(text)


def test_one_bad_certificate_makes_the_file_unreadable(folder: Path) -> None:
    text = public_file(list_site_keys(folder))
    with pytest.raises(SiteKeyUnreadableError):
        read_public_file(text + text.replace("M", "N", 1))


def test_a_certificate_of_another_kind_of_key_is_unreadable(folder: Path, tmp_path: Path) -> None:
    made = [
        "openssl",
        "req",
        "-x509",
        "-newkey",
        "rsa:2048",
        "-nodes",
        "-keyout",
        "k",
        "-out",
        "c",
        "-subj",
        "/CN=x",
    ]
    subprocess.run(made, cwd=tmp_path, check=True, capture_output=True)
    with pytest.raises(SiteKeyUnreadableError):
        read_public_file((tmp_path / "c").read_text())
    shutil.copyfile(tmp_path / "c", folder / "seal-x.pem")
    with pytest.raises(SiteKeyUnreadableError, match=r"seal-x\.pem"):
        list_site_keys(folder)


# Backup.


def opened(kept: bytes) -> Held:
    held = open_backup(kept, PASSPHRASE)
    assert isinstance(held, Held)
    return held


def test_a_backup_brings_everything_back(folder: Path, tmp_path: Path) -> None:
    rotate_site_key(folder, NOW + timedelta(days=1), Purpose.SEAL, owner=owned(SITE))
    application_key = tmp_path / "application.key"
    application_key.write_text("00" * 32)
    kept = backup_of(PASSPHRASE, application_key=application_key, site_keys=folder)
    for each in folder.glob("*.key"):
        assert each.read_bytes() not in kept
    there = {"application_key": tmp_path / "new" / "application.key", "site_keys": tmp_path / "new" / "keys"}
    done = restore(opened(kept), **there)
    assert isinstance(done, Restored)
    assert len(done.names) == 6
    restored = {each.name: each.read_bytes() for each in there["site_keys"].iterdir()}
    assert restored == {each.name: each.read_bytes() for each in folder.iterdir()}
    assert there["application_key"].read_text() == "00" * 32
    assert there["application_key"].stat().st_mode & 0o777 == 0o600
    at = NOW + timedelta(days=1)
    assert load_site_keys(there["site_keys"], at).seal == load_site_keys(folder, at).seal


def test_a_backup_opens_with_its_passphrase_alone(folder: Path, tmp_path: Path) -> None:
    application_key = tmp_path / "application.key"
    application_key.write_text("00" * 32)
    kept = backup_of(PASSPHRASE, application_key=application_key, site_keys=folder)
    assert open_backup(kept, PASSPHRASE.upper()) == WrongSecret()
    assert open_backup(kept[:-1] + bytes([kept[-1] ^ 1]), PASSPHRASE) == WrongSecret()
    held = opened(kept)
    assert held.application_key.content == bytes(32)
    assert set(held.site_keys) == set(list_site_keys(folder))


@pytest.mark.parametrize("written", [1, 2, 3, 4])
def test_a_restore_that_was_broken_off_is_gone_on_with(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, written: int
) -> None:
    held, to = kept_and_opened(folder, tmp_path), tmp_path / "to"
    monkeypatch.setattr(backup, "write_new", broken_off_after(written))
    with pytest.raises(KeyboardInterrupt):
        restore(held, application_key=to / "application.key", site_keys=to / "site")
    monkeypatch.undo()
    again = restore(held, application_key=to / "application.key", site_keys=to / "site")

    assert isinstance(again, Restored)
    assert len(again.names) == 5 - written
    assert list_site_keys(to / "site") == list_site_keys(folder)
    load_site_keys(to / "site", NOW)
    once_more = restore(held, application_key=to / "application.key", site_keys=to / "site")
    assert isinstance(once_more, AlreadyThere)


def test_nothing_of_a_backup_joins_keys_that_were_rotated_since(folder: Path, tmp_path: Path) -> None:
    held = kept_and_opened(folder, tmp_path)
    rotate_site_key(folder, NOW + timedelta(days=1), Purpose.SEAL, owner=owned(SITE))
    before = sorted(each.name for each in folder.iterdir())

    assert isinstance(restore(held, application_key=tmp_path / "none.key", site_keys=folder), AlreadyThere)
    assert sorted(each.name for each in folder.iterdir()) == before
    assert not (tmp_path / "none.key").exists()


def kept_and_opened(folder: Path, tmp_path: Path) -> Held:
    key = tmp_path / "application.key"
    key.write_text("00" * 32)
    return opened(backup_of(PASSPHRASE, application_key=key, site_keys=folder))


def test_a_backup_overwrites_nothing(folder: Path, tmp_path: Path) -> None:
    application_key = tmp_path / "application.key"
    application_key.write_text("00" * 32)
    kept = backup_of(PASSPHRASE, application_key=application_key, site_keys=folder)
    there = restore(opened(kept), application_key=tmp_path / "a", site_keys=folder)
    assert isinstance(there, AlreadyThere)
    assert not (tmp_path / "a").exists()
    application_key.write_text("11" * 32)
    assert isinstance(
        restore(opened(kept), application_key=application_key, site_keys=tmp_path / "b"), AlreadyThere
    )
    assert application_key.read_text() == "11" * 32
    assert not (tmp_path / "b").exists()
