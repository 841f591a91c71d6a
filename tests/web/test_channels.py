"""The table of channels names every channel, and tests that exist."""

import pytest

from app.config import root
from tests.support.named_tests import NAMED, not_tests
from tests.support.world import World

TABLE = root() / "app" / "web" / "CHANNELS.md"
CHANNELS = range(1, 51)


def faults(table: str) -> list[str]:
    """What is wrong with a table: a channel without a line, a line without a test, a test that is none."""
    rows = [
        [cell.strip() for cell in line.strip("|").split("|")] for line in table.splitlines() if "|" in line
    ]
    lines = {row[0]: row for row in rows if row[0].isdigit()}
    wrong = [f"channel {number} has no line" for number in CHANNELS if str(number) not in lines]
    for number, row in lines.items():
        named = NAMED.findall(row[-1])
        if not named or len(row) != len(("no", "channel", "how", "held by")):
            wrong.append(f"channel {number} is held by nothing")
        wrong += [f"channel {number}: no {each}" for each in not_tests(row[-1])]
    return wrong


def test_every_channel_has_a_line_and_its_tests_exist() -> None:
    assert faults(TABLE.read_text(encoding="utf-8")) == []


@pytest.mark.parametrize(
    ("was", "becomes", "fault"),
    [
        ("| 17 | time of an answer", "| 99 | time of an answer", "channel 17 has no line"),
        ("::test_each_cell", "::test_each_sell", "no tests/records/test_visibility.py::test_each_sell"),
        (
            "tests/web/test_signing_in.py::",
            "tests/web/test_gone.py::",
            "channel 27: no tests/web/test_gone.py",
        ),
        (
            "tests/web/test_blindness_worlds.py::test_the_second_hand_in_itself_tells_nothing",
            "it is hoped",
            "channel 16 is held by nothing",
        ),
    ],
)
def test_a_table_that_is_wrong_is_told(was: str, becomes: str, fault: str) -> None:
    table = TABLE.read_text(encoding="utf-8")
    assert was in table

    told = faults(table.replace(was, becomes, 1))

    assert any(fault in each for each in told)


# The first part of every address. A page for metrics, health, support or messages would be one more.
KNOWN = {
    "",
    "accounts",
    "beds",
    "my-infusions",
    "authenticator",
    # What a passkey is to answer: random, but for the time.
    "passkey-challenge",
    "check",
    "downtime",
    "findings",
    "export",
    "first-secret",
    "handed-over",
    "health",
    "here",
    "infusion",
    # What was issued for a bed, by whoever does not read there.
    "issue",
    "join",
    "keys",
    "lock",
    "open",
    # Where other systems send orders: the same answer whoever their patients are.
    "orders",
    "ready",
    # Which systems send orders, by an administrator; how many came is told to nobody who may meet a check.
    "samples",
    "senders",
    "shift-sheet",
    "sign-in",
    "sign-out",
    "started-without-check",
    "static",
    "stop",
    # From which bed to which a patient was taken: state, and nothing that is read.
    "take",
    # Of the site's rules nothing is read at a bed; how they are tried on ended checks is a row of its own.
    "rules",
    # Accounts of checks that have ended, to the controlled-drug officer.
    "syringes",
    # Counts over checks that have ended.
    # In an installation for training alone.
    "training",
    "trends",
    "now",
    # Names of units, by an administrator: of nothing that is read.
    "units",
    "unlock",
    "verify",
}


def test_there_is_no_page_but_these(world: World) -> None:
    assert {each.rule.split("/")[1] for each in world.app.url_map.iter_rules()} == KNOWN
