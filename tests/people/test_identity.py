"""One person is one identity, however it is typed."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.people.identity import (
    find_login_fault,
    find_name_fault,
    find_staff_number_fault,
    folded,
    is_same_name,
)

SAME = {
    "case": "lg-2001",
    "full width": "ＬＧ-２００１",  # noqa: RUF001
    "no hyphen": "LG2001",
    "another hyphen": "LG\N{NON-BREAKING HYPHEN}2001",
    "a dash": "LG\N{EN DASH}2001",
    "a minus": "LG\N{MINUS SIGN}2001",
    "a soft hyphen": "LG\N{SOFT HYPHEN}2001",
    "a Japanese sound mark": "LG\N{KATAKANA MIDDLE DOT}2001",
    "an inner space": "LG 2001",
    "a no-break space": "LG\N{NO-BREAK SPACE}2001",
    "a zero-width space": "LG-\N{ZERO WIDTH SPACE}2001",
    "a joiner": "L\N{COMBINING GRAPHEME JOINER}G-2001",
    "a variation selector": "LG\N{VARIATION SELECTOR-1}-2001",
    "an invisible letter": "LG\N{HANGUL FILLER}-2001",
    "a blank pattern": "LG\N{BRAILLE PATTERN BLANK}-2001",
    "a reversed direction": "LG-\N{RIGHT-TO-LEFT OVERRIDE}2001",
    "a tag": "LG-2001\N{TAG LATIN SMALL LETTER A}",
}


@pytest.mark.parametrize("typed", SAME.values(), ids=SAME.keys())
def test_one_staff_number_is_one_however_it_is_typed(typed: str) -> None:
    assert folded(typed) == folded("LG-2001") == "lg2001"


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("TM-7", "ТМ-7"),  # noqa: RUF001  # Cyrillic throughout
        ("n.ferrow", "n.f\N{CYRILLIC SMALL LETTER IE}rrow"),
        ("AKM-1", "ΑΚΜ-1"),  # noqa: RUF001  # Greek throughout
        ("jose", "josé"),
        ("STRASSE", "straße"),
        ("Nadia Ferrow", " nadia  FERROW"),
    ],
)
def test_what_looks_alike_is_the_same(one: str, other: str) -> None:
    assert is_same_name(one, other)


@pytest.mark.parametrize(("one", "other"), [("LG-2001", "LG-2002"), ("कि", "कु"), ("中", "国")])
def test_what_is_read_otherwise_is_another(one: str, other: str) -> None:
    assert folded(one) != folded(other)


@given(st.text())
def test_what_was_folded_stays_as_it_is(text: str) -> None:
    assert folded(folded(text)) == folded(text)


@pytest.mark.parametrize("login", ["n.ferrow", "o-marsh2", "н.петрова", "μαρία", "josé", "कविता", "07"])
def test_letters_of_one_alphabet_digits_and_hyphens_make_an_id(login: str) -> None:
    assert find_login_fault(login) is None


@pytest.mark.parametrize(
    ("login", "says"),
    [
        ("n.f\N{CYRILLIC SMALL LETTER IE}rrow", "here Latin and Cyrillic are mixed"),
        ("n\N{NON-BREAKING HYPHEN}ferrow", "“\N{NON-BREAKING HYPHEN}” (non-breaking hyphen) is none"),
        ("n\N{ZERO WIDTH SPACE}ferrow", "a zero width space is none of them"),
        ("n ferrow", "a space is none of them"),
        ("n\0ferrow", "a u+0000 is none of them"),
        ("ｎferrow", "(fullwidth latin small letter n) is none"),  # noqa: RUF001
        ("٣٤", "(arabic-indic digit three) is none"),
        ("n_ferrow", "“_” (low line) is none of them"),
        ("--", "at least one letter or digit"),
        ("", "at least one letter or digit"),
    ],
)
def test_what_is_no_id_is_told_by_the_sign_that_makes_it_none(login: str, says: str) -> None:
    fault = find_login_fault(login)
    assert fault is not None
    assert says in fault.says


def test_a_staff_number_holds_no_full_stop() -> None:
    assert find_staff_number_fault("DM-2001") is None
    fault = find_staff_number_fault("DM.2001")
    assert fault is not None
    assert "letters, digits and plain hyphens only" in fault.says


@pytest.mark.parametrize(
    "name", ["Ana Ó Briain-Šimić", "Dr D'Arcy, RN", "王 小明", "علی\N{ZERO WIDTH NON-JOINER}رضا"]
)
def test_a_name_is_whatever_can_be_printed(name: str) -> None:
    assert find_name_fault(name) is None


@pytest.mark.parametrize(
    ("name", "says"),
    [
        ("Ana\nBell", "a u+000a cannot"),
        ("Ana \x1b[2J", "a u+001b cannot"),
        ("Ana \N{RIGHT-TO-LEFT OVERRIDE}lleB", "a right-to-left override cannot"),
    ],
)
def test_what_nobody_sees_is_no_part_of_a_name(name: str, says: str) -> None:
    fault = find_name_fault(name)
    assert fault is not None
    assert says in fault.says
