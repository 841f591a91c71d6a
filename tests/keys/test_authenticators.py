"""Codes of an authenticator app: the published values of RFC 6238, and which moments they are good for."""

import base64
from datetime import UTC, datetime, timedelta
from urllib.parse import parse_qs, unquote, urlsplit

import pytest

from app.keys import ApplicationKey, address_for_app, code_secret, step_of, written

KEY = ApplicationKey(content=bytes(range(32)))
# RFC 6238, appendix B: the secret, and of each value the last six of its eight digits (SHA-1).
PUBLISHED_SECRET = b"12345678901234567890"
PUBLISHED = [
    (59, "287082"),
    (1111111109, "081804"),
    (1111111111, "050471"),
    (1234567890, "005924"),
    (2000000000, "279037"),
    (20000000000, "353130"),
]


@pytest.mark.parametrize(("seconds", "code"), PUBLISHED)
def test_the_published_values(seconds: int, code: str) -> None:
    at = datetime(1970, 1, 1, tzinfo=UTC) + timedelta(seconds=seconds)

    assert step_of(PUBLISHED_SECRET, code, at) == seconds // 30


@pytest.mark.parametrize(
    ("off", "step"), [(-60, None), (-31, 37037037), (0, 37037037), (30, 37037037), (60, None)]
)
def test_a_code_is_good_one_step_early_and_one_step_late(off: int, step: int | None) -> None:
    at = datetime(1970, 1, 1, tzinfo=UTC) + timedelta(seconds=1111111111 + off)

    # Made from 1111111110 to 1111111139.
    assert step_of(PUBLISHED_SECRET, "050471", at) == step


@pytest.mark.parametrize("code", ["", "50471", "0050471", "05047１", "abcdef", "\ud800"])  # noqa: RUF001  # a wide digit
def test_what_is_no_code_is_of_no_step(code: str) -> None:
    assert step_of(PUBLISHED_SECRET, code, datetime(2005, 3, 18, 1, 58, 31, tzinfo=UTC)) is None


def test_the_secret_of_an_app_is_of_one_session_and_one_page() -> None:
    shown = code_secret(KEY, session="digest", chosen="page")

    assert len(shown) == 20
    assert shown == code_secret(KEY, session="digest", chosen="page")
    others = {
        code_secret(KEY, session="another", chosen="page"),
        code_secret(KEY, session="digest", chosen="another"),
        code_secret(ApplicationKey(content=bytes(32)), session="digest", chosen="page"),
    }
    assert len(others | {shown}) == 4


def test_an_app_is_told_whose_it_is_and_of_which_site() -> None:
    address = urlsplit(address_for_app(PUBLISHED_SECRET, login="n.ferrow", site="Harbour, Ward & Co"))

    assert (address.scheme, address.netloc) == ("otpauth", "totp")
    assert unquote(address.path) == "/Harbour, Ward & Co:n.ferrow"
    assert parse_qs(address.query) == {
        "secret": [base64.b32encode(PUBLISHED_SECRET).decode()],
        "issuer": ["Harbour, Ward & Co"],
    }
    assert written(PUBLISHED_SECRET) == "GEZD GNBV GY3T QOJQ GEZD GNBV GY3T QOJQ"
