"""One person is one identity: what only looks like another login, number or name makes no second one."""

import pytest

from app.workflow import accounts
from tests.story.accounts import makes
from tests.story.key_acts import account
from tests.story.people import NADIA
from tests.story.ward import BEGAN, Ward


def noted(ward: Ward) -> list[str]:
    """What the log says of accounts since the ward was opened."""
    with ward.site.store.read() as reader:
        events = [each.event for each in reader.log_entries(after=0, limit=10_000) if each.at >= BEGAN]
    return [getattr(each, "what", "") for each in events if each.kind == "account-changed"]


@pytest.mark.parametrize(
    ("field", "written"),
    [
        ("login", "n\N{CYRILLIC SMALL LETTER A}dia"),
        ("login", "nadia\N{ZERO WIDTH SPACE}.two"),
        ("staff_number", "DM\N{NON-BREAKING HYPHEN}7"),
        ("staff_number", "DM 7"),
        ("staff_number", "ＤＭ-7"),  # noqa: RUF001
    ],
)
def test_what_only_looks_plain_is_refused_by_its_field(one_ward: Ward, field: str, written: str) -> None:
    refused = makes(one_ward, **{field: written})
    assert isinstance(refused, accounts.NotWrittenSo)
    assert list(refused.faults) == [field]
    assert noted(one_ward) == []


@pytest.mark.parametrize("written", ["Nadia Ferrow", "nadia  FERROW", "Nádia Ferrow"])
def test_a_name_that_somebody_has_is_another_s_only_where_that_is_said(one_ward: Ward, written: str) -> None:
    refused = makes(one_ward, printed_name=written)
    assert refused == accounts.SameName(people=(account(one_ward, NADIA),))
    assert noted(one_ward) == []
    assert isinstance(makes(one_ward, printed_name=written, is_another=True), accounts.AccountMade)
    assert noted(one_ward) == ["made", accounts.ANOTHER_PERSON]


def test_a_number_of_another_alphabet_throughout_is_the_one_that_it_looks_like(one_ward: Ward) -> None:
    assert isinstance(makes(one_ward, staff_number="TM-7"), accounts.AccountMade)
    cyrillic = makes(one_ward, login="somebody", printed_name="Some Body", staff_number="ТМ-7")  # noqa: RUF001
    assert cyrillic == accounts.TakenName(constraint="staff_number_unique")


def test_saying_another_person_of_a_new_name_says_nothing(one_ward: Ward) -> None:
    assert isinstance(makes(one_ward, is_another=True), accounts.AccountMade)
    assert noted(one_ward) == ["made"]
