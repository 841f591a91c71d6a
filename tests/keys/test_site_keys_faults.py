"""No fault of the site's keys is passed over: each is an error of its own kind, and says what to do."""

import errno
import os
import subprocess
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path

import pytest
from cryptography.hazmat.primitives.asymmetric import ec, rsa
from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat

from app.config import WrongSettingError
from app.keys import site_keys
from app.keys.new_file import write_new
from app.keys.site_keys import (
    Purpose,
    SiteKeyExpiredError,
    SiteKeyMissingError,
    SiteKeyUnreadableError,
    list_site_keys,
    load_site_keys,
    mark_stolen,
    public_file,
    read_public_file,
    rotate_site_key,
)
from tests.factories.site_keys import owned
from tests.keys.breaking_off import broken_off_after
from tests.keys.folder import NOW, SITE, certificate, file_of


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


def test_a_private_half_that_cannot_be_read_is_not_said_to_be_no_key(folder: Path) -> None:
    """Most often it is another user's: what is said then sends nobody to a backup."""
    made_a_folder(file_of(folder, Purpose.SEAL, "key"))
    with pytest.raises(SiteKeyUnreadableError, match="cannot be read: Is a directory"):
        load_site_keys(folder, NOW)


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


@pytest.mark.parametrize("written", [0, 1])
def test_a_rotation_that_was_broken_off_leaves_the_key_in_use(
    folder: Path, monkeypatch: pytest.MonkeyPatch, written: int
) -> None:
    """What it signs afterwards counts: a certificate whose key was never written had ended its time."""
    before = list_site_keys(folder)
    monkeypatch.setattr(site_keys, "write_new", broken_off_after(written))
    with pytest.raises(KeyboardInterrupt):
        rotate_site_key(folder, NOW + timedelta(days=1), Purpose.CHECKPOINT, owner=owned(SITE))
    monkeypatch.undo()
    later = NOW + timedelta(days=2)
    keys = load_site_keys(folder, later)
    assert keys.known == before
    assert keys.signed(keys.sign_checkpoint(size=9, root="00" * 32, at=later))
    assert rotate_site_key(folder, later, Purpose.CHECKPOINT, owner=owned(SITE)).here


def test_two_who_rotate_at_the_same_time_both_make_a_key(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    first = file_of(folder, Purpose.SEAL, "key")

    def another_was_quicker(path: Path, content: bytes, *, mode: int) -> None:
        write_new(path, content, mode=mode)
        first.unlink(missing_ok=True)

    monkeypatch.setattr(site_keys, "write_new", another_was_quicker)
    made = rotate_site_key(folder, NOW + timedelta(days=1), Purpose.SEAL, owner=owned(SITE))
    assert load_site_keys(folder, NOW + timedelta(days=1)).seal == made


def test_nothing_is_left_of_a_file_that_a_full_disk_broke_off(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(_descriptor: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OSError, match="No space left"):
        write_new(tmp_path / "a.key", b"a key", mode=0o600)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("says", [b"", b"\xff", b"yesterday", b"2031-05-02T12:00:00"])
def test_a_declaration_that_does_not_say_since_when_is_unreadable(folder: Path, says: bytes) -> None:
    (seal,) = [each for each in list_site_keys(folder) if each.purpose is Purpose.SEAL]
    mark_stolen(folder, seal, NOW, NOW, owner=owned(SITE))
    (folder / f"seal-{seal.kid}.stolen").write_bytes(says)
    with pytest.raises(SiteKeyUnreadableError, match="does not say since when"):
        list_site_keys(folder)


def test_a_public_file_that_says_a_theft_without_its_offset_is_unreadable(folder: Path) -> None:
    known = list_site_keys(folder)
    said = f"{public_file(known)}Declared stolen from: 2031-05-02T12:00:00 {known[0].kid}\n"
    with pytest.raises(SiteKeyUnreadableError, match="does not hold"):
        read_public_file(said)


def test_every_fault_stops_like_a_wrong_setting() -> None:
    for kind in (SiteKeyMissingError, SiteKeyExpiredError, SiteKeyUnreadableError):
        assert issubclass(kind, WrongSettingError)
