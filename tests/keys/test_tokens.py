"""Ids, tokens and codes: unguessable, readable where people read them, stored as digests."""

import hashlib
from collections import Counter
from itertools import count

import pytest

from app.keys import code_digest, make_code, make_join_code, new_id, new_token, token_digest
from app.keys.tokens import CODE_ALPHABET


def test_ids_and_tokens_are_long_and_never_the_same() -> None:
    """64 bits or more for session secrets (NIST SP 800-63B); these have 256, ids have 128."""
    assert len({new_id() for _ in range(1000)}) == len({new_token() for _ in range(1000)}) == 1000
    assert all(len(new_id()) == 32 and len(new_token()) == 43 for _ in range(10))


def test_a_token_is_stored_as_its_digest() -> None:
    assert token_digest("abc") == hashlib.sha256(b"abc").hexdigest()
    assert token_digest("abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    assert token_digest("\ud800") != token_digest("abc")


def test_no_sign_looks_like_another() -> None:
    """At most one of each group that is taken for one another on a screen or in handwriting."""
    for group in ("0OQD", "1IL", "2Z", "5S", "6G", "8B", "UV", "EF"):
        assert sum(sign in CODE_ALPHABET for sign in group) <= 1, group
    assert not set(CODE_ALPHABET) & set("AEIOU")
    assert len(set(CODE_ALPHABET)) == len(CODE_ALPHABET) == 20


def test_a_join_code_is_six_signs() -> None:
    codes = [make_join_code() for _ in range(200)]
    assert all(len(code) == 6 and set(code) <= set(CODE_ALPHABET) for code in codes)
    assert len(set(codes)) == 200


def test_a_one_time_code_is_four_groups_of_four() -> None:
    code = make_code()
    assert [len(group) for group in code.split("-")] == [4, 4, 4, 4]
    assert set(code.replace("-", "")) <= set(CODE_ALPHABET)
    # 20 ** 16 is more than 2 ** 69.
    assert len(CODE_ALPHABET) ** 16 > 2**69


def test_every_sign_is_as_likely_as_any_other() -> None:
    """Every byte value once: the last ones, which would favour some signs, are passed over."""
    values = count()
    signs = Counter(
        "".join(
            make_join_code(lambda length: bytes(next(values) % 256 for _ in range(length))) for _ in range(40)
        )
    )
    assert max(signs.values()) - min(signs.values()) <= 1


def test_a_code_comes_from_the_random_bytes_alone() -> None:
    assert make_join_code(bytes) == CODE_ALPHABET[0] * 6
    # 255 is passed over, 1 is taken.
    assert make_join_code(lambda length: b"\xff" * (length - 1) + b"\x01") == CODE_ALPHABET[1] * 6


@pytest.mark.parametrize("typed", ["CDFG-HJKM", "cdfg hjkm", " CDFGHJKM\n", "CDFG–HJKM", "ＣＤＦＧ-ＨＪＫＭ"])  # noqa: RUF001  # as typed
def test_case_spaces_and_hyphens_of_a_typed_code_do_not_count(typed: str) -> None:
    assert code_digest(typed) == hashlib.sha256(b"CDFGHJKM").hexdigest()


def test_another_code_has_another_digest() -> None:
    assert code_digest("CDFGHJKM") != code_digest("CDFGHJKN")
