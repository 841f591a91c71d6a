"""What was read and kept is judged again by other rules, beside what was known then."""

import json
from dataclasses import replace

from app.judging.again import found_again
from app.judging.findings import salted
from app.judging.rounds import compared
from app.records.canonical import canonical, digest
from app.records.followup import findings_in
from app.records.kept import FIRST, SECOND, SOURCES, KeptComparison
from app.records.kinds import SET_UP
from app.records.rules import LIBRARY, Rules
from tests.factories.answers import answers
from tests.judging.test_rounds import AT, KNOWN, ROUND, RULES


def kept() -> KeptComparison:
    read = {FIRST: answers(), SECOND: answers()}
    engine, case, result = compared(SET_UP, RULES, ROUND, read, known=KNOWN, salt="5a")
    return KeptComparison(check="c", subject=SOURCES, round=1, at=AT, engine=engine, case=case, result=result)


def test_by_the_same_rules_it_is_what_was_found() -> None:
    assert salted(found_again(kept(), SET_UP, RULES), "5a") == findings_in(kept().told)


def test_by_a_narrower_limit_what_passed_is_stopped() -> None:
    library = json.loads(RULES.published[LIBRARY].content)
    for drug in library["drugs"].values():
        drug["limits"] = [{"field": "demand_dose", "hard_high": "0.01 mg"}]
    content = canonical(library)
    narrower = replace(RULES.published[LIBRARY], content=content, digest=digest(content))
    found = found_again(kept(), SET_UP, Rules(published={**RULES.published, LIBRARY: narrower}))
    before = {(each.code, each.severity) for each in found_again(kept(), SET_UP, RULES)}
    assert {(each.code, each.severity) for each in found} - before == {("above-hard-limit", "stop")}
