"""Secrets: hashed slowly, compared whole, and no hint whether an account exists."""

import threading

import pytest

from app.keys import hash_secret, hashing, needs_rehash, verify_secret

SECRET = "seven herons by the canal"


def test_the_right_secret_and_no_other() -> None:
    kept = hash_secret(SECRET)
    assert verify_secret(kept, SECRET)
    assert not verify_secret(kept, SECRET + " ")
    assert not verify_secret(kept, SECRET.upper())
    assert not verify_secret(kept, "")


def test_the_settings_are_the_published_minimum() -> None:
    """OWASP password storage cheat sheet: argon2id, 19 MiB, two passes, one lane (19456 is 19 * 1024 KiB)."""
    assert hash_secret(SECRET).startswith("$argon2id$v=19$m=19456,t=2,p=1$")


def test_two_hashes_of_one_secret_differ() -> None:
    assert hash_secret(SECRET) != hash_secret(SECRET)


def test_all_of_a_long_secret_counts() -> None:
    """NIST SP 800-63B: no truncation; a hash of the bcrypt kind would stop at byte 72."""
    for length in (64, 200):
        kept = hash_secret("x" * (length - 1) + "a")
        assert verify_secret(kept, "x" * (length - 1) + "a")
        assert not verify_secret(kept, "x" * (length - 1) + "b")


@pytest.mark.parametrize(
    ("one", "other"),
    [("caf\u00e9 au lait", "cafe\u0301 au lait"), ("ﬁve", "five"), ("１２", "12")],  # noqa: RUF001  # as typed elsewhere
)
def test_a_secret_is_the_same_on_every_keyboard(one: str, other: str) -> None:
    assert verify_secret(hash_secret(one), other)


def test_half_a_character_is_a_wrong_secret_and_no_error() -> None:
    assert not verify_secret(hash_secret(SECRET), "\ud800")


@pytest.mark.parametrize("kept", ["", "no hash", "$argon2id$v=19$m=19456,t=2,p=1$AAAA"])
def test_a_damaged_hash_lets_nobody_in(kept: str) -> None:
    assert not verify_secret(kept, SECRET)


def test_a_changed_hash_lets_nobody_in() -> None:
    kept = hash_secret(SECRET)
    assert not verify_secret(kept[:-1] + ("A" if kept[-1] != "A" else "B"), SECRET)


def test_without_an_account_no_secret_is_right() -> None:
    assert not verify_secret(None, SECRET)
    assert not verify_secret(None, "")


def test_without_an_account_it_takes_as_long(monkeypatch: pytest.MonkeyPatch) -> None:
    """User names cannot be found out by the clock: one hash is checked either way, of the same settings."""
    checked: list[str] = []

    class Hasher:
        def verify(self, secret_hash: str, _secret: bytes) -> bool:
            checked.append(secret_hash)
            return True

    monkeypatch.setattr(hashing, "_HASHER", Hasher())
    assert verify_secret("a person's hash", SECRET)
    assert not verify_secret(None, SECRET)
    assert checked == ["a person's hash", hashing.DUMMY_HASH]


def test_the_hash_for_no_account_has_today_s_settings() -> None:
    assert not needs_rehash(hashing.DUMMY_HASH)
    assert not needs_rehash(hash_secret(SECRET))


def test_a_hash_of_other_settings_is_made_anew() -> None:
    assert needs_rehash(hash_secret(SECRET).replace("t=2", "t=1"))


def test_only_two_are_checked_at_a_time(monkeypatch: pytest.MonkeyPatch) -> None:
    """Many sign-ins at once never take more memory than two."""
    inside, most, guard = 0, 0, threading.Lock()
    pair = threading.Barrier(2)

    class Hasher:
        def verify(self, _hash: str, _secret: bytes) -> bool:
            nonlocal inside, most
            with guard:
                inside += 1
                most = max(most, inside)
            pair.wait(20)
            with guard:
                inside -= 1
            return True

    monkeypatch.setattr(hashing, "_HASHER", Hasher())
    threads = [threading.Thread(target=verify_secret, args=["hash", SECRET]) for _ in range(20)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(20)
    assert most == 2
