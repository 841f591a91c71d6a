"""A judged round as it is kept, by the rules that a site has published."""

import json
from dataclasses import replace
from datetime import UTC, datetime

import pytest

from app.config import root
from app.judging.findings import salted
from app.judging.judge import Read, judge
from app.judging.rounds import against, compared, priming_compared
from app.records.canonical import canonical, digest
from app.records.followup import findings_in
from app.records.formats import COMPARISON
from app.records.formats import READ as READ_FORMAT
from app.records.kept import FIRST, SECOND, SiteData
from app.records.kinds import SET_UP
from app.records.known import Known
from app.records.reading import WHOLE
from app.records.rules import LIBRARY, PACKS, POLICY, STEPS, Rules
from app.records.state import HandIn, Round
from tests.factories.answers import answers

AT = datetime(2031, 5, 2, 22, 30, tzinfo=UTC)


def published(what: str) -> SiteData:
    path = root() / "seed_data" / f"{what.replace('-', '_')}.json"
    content = canonical(json.loads(path.read_text(encoding="utf-8")))
    return SiteData(what=what, version="1", content=content, digest=digest(content), in_force_from=AT)


RULES = Rules(published={what: published(what) for what in (POLICY, LIBRARY, PACKS, STEPS)})
ROUND = Round(
    number=1,
    scope=WHOLE,
    touched=(),
    opened_at=AT,
    handed_in={
        slot: HandIn(slot=slot, at=AT, session="s", device="d", signed_in_at=AT, method="secret")
        for slot in (FIRST, SECOND)
    },
)
READ = {FIRST: answers(), SECOND: answers(device={"pack": "set-200-y"})}
KNOWN = Known(patient={"identifier": "DM-1", "birth_date": "1961-04-09"})


def test_case_and_result_are_kept_with_all_that_they_rest_on() -> None:
    engine, case, result = compared(SET_UP, RULES, ROUND, READ, known=KNOWN, salt="5a")
    opened, told = json.loads(case), json.loads(result)
    # Half past eleven in the evening in Dublin: the day of a use-by date is the ward's.
    at = datetime.fromisoformat("2031-05-02T23:30:00+01:00")
    first, second = (Read(answers=READ[slot], at=at) for slot in (FIRST, SECOND))
    again = judge(SET_UP, first, second, known=KNOWN, rules=against(RULES, READ[FIRST]))

    assert opened == {
        "format": READ_FORMAT.newest,
        "case": again.case,
        "answers": {"A": READ[FIRST], "B": READ[SECOND]},
        "versions": {
            "policy": RULES.policy.version,
            "library": RULES.content(LIBRARY)["version"],
            "packs": RULES.content(PACKS)["version"],
        },
    }
    assert opened["case"]["entries"][0]["read_at"] == "2031-05-02T23:30:00+01:00"
    assert findings_in(told) == salted(again.findings, "5a")
    assert {**told, "findings": None} == {
        "format": COMPARISON.newest,
        "verdict": "stopped",
        "engine": engine,
        "salt": "5a",
        "not_judged": [],
        "findings": None,
        "math": again.math,
        "delivery": again.delivery,
        "running": [],
        "plan": "with-carrier",
    }
    assert (case, result) == (canonical(opened), canonical(told))


def test_the_salt_names_the_findings_and_changes_nothing_else() -> None:
    one, other = (
        findings_in(json.loads(compared(SET_UP, RULES, ROUND, READ, known=KNOWN, salt=salt)[2]))
        for salt in ("5a", "5b")
    )

    assert [replace(each, key="") for each in one] == [replace(each, key="") for each in other]
    assert not {each.key for each in one} & {each.key for each in other}


@pytest.mark.parametrize(
    ("read", "volumes"),
    [
        (answers(), ("2.3 mL", "0.5 mL")),
        (answers(device={"pack": "set-nobody-has"}), (None, None)),
        ({}, (None, None)),
    ],
)
def test_the_volumes_are_those_of_the_set_in_use(
    read: dict[str, dict[str, str]], volumes: tuple[str | None, str | None]
) -> None:
    made = against(RULES, read)

    assert (made.policy.get("prime_volume"), made.policy.get("dead_volume")) == volumes
    assert made.library == RULES.content(LIBRARY)["drugs"]
    assert RULES.policy.engine.items() <= made.policy.items()


def test_an_installation_without_published_rules_is_not_set_up() -> None:
    with pytest.raises(LookupError, match="no packs has been published"):
        Rules(published={}).content(PACKS)


def test_a_plan_is_read_from_the_published_steps() -> None:
    assert RULES.plan("with-carrier").name == "with-carrier"


def test_two_primed_volumes_are_kept_with_what_they_come_to() -> None:
    read, told = priming_compared({"A": "2.3 mL", "B": "2.7 mL"}, within=False, tolerance="0.3 mL")

    assert read == canonical({"format": READ_FORMAT.newest, "A": "2.3 mL", "B": "2.7 mL"})
    assert told == canonical({"format": COMPARISON.newest, "within": False, "tolerance": "0.3 mL"})
