"""The site's keys: their rights and uses, rotation and backup; no fault of theirs is passed over."""

import shutil
import subprocess
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from cryptography import x509
from cryptography.hazmat.primitives.asymmetric import ec, rsa
from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat

from app.config import WrongSettingError
from app.keys.backup import AlreadyThere, Restored, backup_of, restore
from app.keys.locked import WrongSecret
from app.keys.site_keys import (
    Purpose,
    SiteKeyExpiredError,
    SiteKeyMissingError,
    SiteKeyUnreadableError,
    create_site_keys,
    list_site_keys,
    load_site_keys,
    public_file,
    read_public_file,
    rotate_site_key,
)

NOW = datetime(2031, 5, 2, 12, 0, 0, 250000, tzinfo=UTC)
SITE = "Saint Invented Hospital"
PASSPHRASE = "nine lanterns under the bridge"


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("keys") / "site-keys"
    create_site_keys(folder, NOW, site=SITE)
    return folder


@pytest.fixture
def folder(made: Path, tmp_path: Path) -> Path:
    """A fresh copy of the keys, with the same rights."""
    return Path(shutil.copytree(made, tmp_path / "site-keys"))


def file_of(folder: Path, purpose: Purpose, ending: str) -> Path:
    (found,) = folder.glob(f"{purpose.value}-*.{ending}")
    return found


def certificate(folder: Path, purpose: Purpose) -> x509.Certificate:
    return x509.load_pem_x509_certificate(file_of(folder, purpose, "pem").read_bytes())


# Rotation.


# No fault is passed over: each is an error of its own kind, and says what to do.


def emptied(path: Path) -> None:
    path.chmod(0o600)
    path.write_bytes(b"")


def cut(path: Path) -> None:
    path.write_bytes(path.read_bytes()[:60])


def opened_to_others(path: Path) -> None:
    path.chmod(0o640)


def made_a_folder(path: Path) -> None:
    path.unlink()
    path.mkdir()


def of_another_kind(path: Path) -> None:
    key = rsa.generate_private_key(public_exponent=65537, key_size=2048)
    path.write_bytes(key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption()))


def of_another_key(path: Path) -> None:
    key = ec.generate_private_key(ec.SECP256R1())
    path.write_bytes(key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption()))


@pytest.mark.parametrize(
    "damage", [emptied, cut, opened_to_others, made_a_folder, of_another_kind, of_another_key]
)
@pytest.mark.parametrize("purpose", Purpose)
def test_a_private_half_with_a_fault_is_unreadable(
    folder: Path, purpose: Purpose, damage: Callable[[Path], None]
) -> None:
    path = file_of(folder, purpose, "key")
    damage(path)
    with pytest.raises(SiteKeyUnreadableError) as refused:
        load_site_keys(folder, NOW)
    assert str(refused.value).startswith("COUNTERSIGN_SITE_KEYS: ")
    assert path.name in str(refused.value)


@pytest.mark.parametrize("damage", [emptied, cut, made_a_folder])
def test_a_certificate_with_a_fault_is_unreadable(folder: Path, damage: Callable[[Path], None]) -> None:
    damage(file_of(folder, Purpose.SEAL, "pem"))
    with pytest.raises(SiteKeyUnreadableError, match="does not hold a certificate"):
        load_site_keys(folder, NOW)


def test_a_changed_certificate_is_unreadable(folder: Path) -> None:
    """Its own signature no longer holds: a later end cannot be written into it."""
    path = file_of(folder, Purpose.SEAL, "pem")
    der = bytearray(certificate(folder, Purpose.SEAL).public_bytes(Encoding.DER))
    end = der.index(b"340501") + 1
    der[end] = ord("9")
    subprocess.run(
        ["openssl", "x509", "-inform", "DER", "-out", str(path)],
        input=bytes(der),
        check=True,
        capture_output=True,
    )
    with pytest.raises(SiteKeyUnreadableError, match="does not hold a certificate"):
        load_site_keys(folder, NOW)


def test_a_certificate_under_another_name_is_unreadable(folder: Path) -> None:
    path = file_of(folder, Purpose.SEAL, "pem")
    path.rename(path.with_name("seal-other.pem"))
    with pytest.raises(SiteKeyUnreadableError, match="another key"):
        list_site_keys(folder)


@pytest.mark.parametrize("purpose", Purpose)
def test_a_missing_private_half_is_missing(folder: Path, purpose: Purpose) -> None:
    file_of(folder, purpose, "key").unlink()
    with pytest.raises(SiteKeyMissingError, match=f"no {purpose.value} key"):
        load_site_keys(folder, NOW)


def test_a_missing_folder_is_missing_keys(tmp_path: Path) -> None:
    assert list_site_keys(tmp_path / "nowhere") == ()
    with pytest.raises(SiteKeyMissingError, match="keys create"):
        load_site_keys(tmp_path / "nowhere", NOW)


def test_a_key_ends(folder: Path) -> None:
    until = load_site_keys(folder, NOW).seal.until
    load_site_keys(folder, until - timedelta(microseconds=1))
    with pytest.raises(SiteKeyExpiredError, match=r"ended on 2034-05-01; run `countersign keys rotate`"):
        load_site_keys(folder, until)


def test_a_clock_that_was_moved_back_is_noticed(folder: Path) -> None:
    with pytest.raises(SiteKeyExpiredError, match="look at the clock"):
        load_site_keys(folder, NOW - timedelta(seconds=1))


def test_every_fault_stops_like_a_wrong_setting() -> None:
    for kind in (SiteKeyMissingError, SiteKeyExpiredError, SiteKeyUnreadableError):
        assert issubclass(kind, WrongSettingError)


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


def test_a_backup_brings_everything_back(folder: Path, tmp_path: Path) -> None:
    rotate_site_key(folder, NOW + timedelta(days=1), Purpose.SEAL, site=SITE)
    application_key = tmp_path / "application.key"
    application_key.write_text("00" * 32)
    kept = backup_of(PASSPHRASE, application_key=application_key, site_keys=folder)
    for each in folder.glob("*.key"):
        assert each.read_bytes() not in kept
    there = {"application_key": tmp_path / "new" / "application.key", "site_keys": tmp_path / "new" / "keys"}
    done = restore(kept, PASSPHRASE, **there)
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
    there = {"application_key": tmp_path / "a", "site_keys": tmp_path / "b"}
    assert restore(kept, PASSPHRASE.upper(), **there) == WrongSecret()
    assert restore(kept[:-1] + bytes([kept[-1] ^ 1]), PASSPHRASE, **there) == WrongSecret()
    assert not (tmp_path / "a").exists()


def test_a_backup_overwrites_nothing(folder: Path, tmp_path: Path) -> None:
    application_key = tmp_path / "application.key"
    application_key.write_text("00" * 32)
    kept = backup_of(PASSPHRASE, application_key=application_key, site_keys=folder)
    there = restore(kept, PASSPHRASE, application_key=tmp_path / "a", site_keys=folder)
    assert isinstance(there, AlreadyThere)
    assert not (tmp_path / "a").exists()
    application_key.write_text("11" * 32)
    assert isinstance(
        restore(kept, PASSPHRASE, application_key=application_key, site_keys=tmp_path / "b"), AlreadyThere
    )
    assert application_key.read_text() == "11" * 32
    assert not (tmp_path / "b").exists()
