"""Which secrets may be chosen. After NIST SP 800-63B-4, section on passwords."""

import json
import re
from importlib.resources import files

import pytest

from app.keys import secret_fault
from app.keys.choosing import COMMON, LONGEST, REPEATED, TOO_LONG, TOO_SHORT, SecretFault


def fault(secret: str) -> SecretFault | None:
    return secret_fault(secret, login="l.marten", printed_name="Lina Marten-Oduya")


def test_fifteen_characters_are_enough_and_fourteen_are_not() -> None:
    assert fault("quiet kayak wa") == TOO_SHORT
    assert fault("quiet kayak wal") is None


def test_each_character_counts_as_one() -> None:
    """A code point is one character, however many bytes it takes, and composed accents are one."""
    assert fault("žluťoučký kůňů") == TOO_SHORT
    assert fault("žluťoučký kůň úp") is None
    assert fault("kayake\u0301 walruses") is None
    assert fault("kayake\u0301 walruse") == TOO_SHORT


def test_long_ones_are_allowed() -> None:
    words = "quiet kayak walrus under a northern bridge while lanterns drift "
    assert len(words * 4) == LONGEST
    assert fault((words * 3 + "and nobody counts the evening ferries home again quietly")[:LONGEST]) is None
    assert fault("q" + words * 4) == TOO_LONG


@pytest.mark.parametrize(
    "secret",
    [
        "correct horse battery staple",
        "seven herons by the canal",
        "wq8vjr2mzz91xkd",
        "ALL CAPITALS AND NOTHING ELSE",
        "onlylowercaselettershere",
        "yellow banana guitar winter",
        "пять цапель возле канала",
        "七羽の鷺が運河のほとりで静かに眠る",
    ],
)
def test_no_kind_of_character_is_demanded(secret: str) -> None:
    assert fault(secret) is None


@pytest.mark.parametrize(
    "secret",
    [
        "password1234567",
        "Password!1234567",
        "p@$$w0rd and 2024",
        "qwertyuiop12345",
        "asdfghjklqwertyuiop",
        "poiuytrewq09876",
        "123456789012345",
        "abcdefghijklmnop",
        "Winter2026Spring2027",
        "monday tuesday 2026",
        "iloveyou princess 2024",
        "monkeydragon1234",
        "countersign nurse ward",
        "hospital hydromorphone",
        "1qaz2wsx3edc4rfv",
        "LinaMarten123456",
        "l.marten l.marten 1",
        "oduya marten lina",
        "aaaaaaaaaaaaaab",
    ],
)
def test_what_is_tried_first_is_refused(secret: str) -> None:
    assert fault(secret) == COMMON


@pytest.mark.parametrize(
    "secret", ["aaaaaaaaaaaaaaa", "kayakkayakkayak", "Kayak kayak KAYAK kayak", "x1?x1?x1?x1?x1?x1?"]
)
def test_a_short_piece_said_again_is_refused(secret: str) -> None:
    """Fifteen times a is refused by what it is, not because a class of characters is missing."""
    assert fault(secret) == REPEATED


def test_a_long_piece_said_again_is_its_own_length() -> None:
    assert fault("quiet kayak walrus" * 2) is None


def test_a_colleague_s_name_is_no_reason() -> None:
    secret = "lina marten 3 herons"
    assert fault("herons lina marten") is None
    assert secret_fault("ivo castellan 12", login="ivo", printed_name="Ivo Castellan") == COMMON
    assert secret_fault(secret, login="ivo", printed_name="Ivo Castellan") is None


def test_every_whole_secret_of_the_list_is_refused() -> None:
    whole = json.loads(files("app.keys").joinpath("blocklist.json").read_text(encoding="utf-8"))["whole"]
    assert len(whole) > 30
    for secret in whole:
        assert fault(secret) in (COMMON, REPEATED), secret


def test_the_reason_says_what_to_do_and_not_what_was_typed() -> None:
    for each in (TOO_SHORT, TOO_LONG, REPEATED, COMMON):
        assert re.search(r"\b(Use|Add)\b", each.says)
        assert "{" not in each.says
    assert "15" in TOO_SHORT.says


def test_the_list_names_its_source_and_licence() -> None:
    data = json.loads(files("app.keys").joinpath("blocklist.json").read_text(encoding="utf-8"))
    assert "zxcvbn" in data["source"]
    assert "Permission is hereby granted" in data["licence"]
