"""The page about 21 CFR Part 11 has every paragraph once, with an answer and tests that exist."""

import pytest

from app.config import root
from app.records.state import Phase
from app.site.loading import rules_in_force
from tests.story.ward import Ward
from tests.support.named_tests import NAMED, not_tests, rows_of

PAGE = root() / "app" / "auditing" / "PART11.md"
# The paragraphs of subparts B and C that ask for something, as at ecfr.gov, title 21, part 11; their letters
# were written from memory and are to be compared there.
PARAGRAPHS = (
    [f"11.10({letter})" for letter in "abcdefghijk"]
    + ["11.30", "11.50(a)", "11.50(b)", "11.70", "11.100(a)", "11.100(b)", "11.100(c)"]
    + ["11.200(a)(1)", "11.200(a)(2)", "11.200(a)(3)", "11.200(b)"]
    + [f"11.300({letter})" for letter in "abcde"]
)
ANSWERS = {"met", "by the organisation"}


def faults(page: str) -> list[str]:
    """What is wrong with the page."""
    rows = rows_of(page)
    wrong = [] if [row[0] for row in rows] == PARAGRAPHS else ["other paragraphs"]
    for paragraph, _, answer, by in rows:
        if answer not in ANSWERS:
            wrong.append(f"{paragraph}: no answer")
        if answer == "met" and not NAMED.findall(by) and "there are none" not in by:
            wrong.append(f"{paragraph}: met by nothing")
    return wrong + not_tests(page)


def test_every_paragraph_has_an_answer_and_what_is_met_a_test() -> None:
    assert faults(PAGE.read_text(encoding="utf-8")) == []


@pytest.mark.parametrize(
    ("was", "becomes", "fault"),
    [
        ("| 11.70 |", "| 11.71 |", "other paragraphs"),
        ("| by the organisation |", "| perhaps |", "11.100(c): no answer"),
        ("tests/cli/test_wsgi.py::", "tests/cli/test_gone.py::", "tests/cli/test_gone.py::test_it_answers"),
        ("| there are none |", "| it is hoped |", "11.200(b): met by nothing"),
    ],
)
def test_a_fault_of_the_page_is_seen(was: str, becomes: str, fault: str) -> None:
    page = PAGE.read_text(encoding="utf-8")
    assert was in page
    assert any(each.startswith(fault) for each in faults(page.replace(was, becomes)))


def test_a_record_says_the_version_of_every_rule_of_the_site(one_ward: Ward) -> None:
    """11.10(k)."""
    one_ward.at_stage(Phase.SIGNING)
    with one_ward.site.store.read() as reader:
        (frozen,) = reader.frozen_records(one_ward.check)
        rules = rules_in_force(reader, one_ward.now)
        in_force = {each["what"]: rules.content(each["what"])["version"] for each in reader.rows("site_data")}
    steps = {"safety-steps": frozen.told["safety_steps"]["version"]}
    assert {**frozen.told["versions"], **steps}.items() >= in_force.items()
    assert len(in_force) > 1
