"""A judged round as it is kept, by the rules that a site has published."""

import json
from dataclasses import replace
from datetime import UTC, datetime

import pytest

from app.config import root
from app.judging.findings import salted
from app.judging.judge import Read, judge
from app.judging.rounds import against, compared, priming_judged
from app.records.canonical import canonical, digest
from app.records.followup import findings_in
from app.records.formats import COMPARISON
from app.records.formats import READ as READ_FORMAT
from app.records.kept import FIRST, SECOND, SOURCES, KeptComparison, SiteData
from app.records.kinds import SET_UP
from app.records.known import NOTHING_KNOWN, Known
from app.records.reading import WHOLE, Answers
from app.records.rules import LIBRARY, OBSERVATIONS, PACKS, POLICY, STEPS, Rules
from app.records.state import HandIn, Round
from tests.factories.answers import answers

AT = datetime(2031, 5, 2, 22, 30, tzinfo=UTC)


def published(what: str) -> SiteData:
    path = root() / "seed_data" / f"{what.replace('-', '_')}.json"
    content = canonical(json.loads(path.read_text(encoding="utf-8")))
    return SiteData(what=what, version="1", content=content, digest=digest(content), in_force_from=AT)


RULES = Rules(published={what: published(what) for what in (POLICY, LIBRARY, PACKS, STEPS, OBSERVATIONS)})
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
    again = judge(SET_UP, first, second, known=KNOWN, rules=against(RULES, SET_UP, READ[FIRST]))

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
        "orders": [],
        "syringe": {},
        "protocol": None,
        "account": None,
        "issued": [],
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
    made = against(RULES, SET_UP, read)

    assert (made.policy.get("prime_volume"), made.policy.get("dead_volume")) == volumes
    assert made.library == RULES.content(LIBRARY)["drugs"]
    assert RULES.policy.engine.items() <= made.policy.items()


def test_an_installation_without_published_rules_is_not_set_up() -> None:
    with pytest.raises(LookupError, match="no packs has been published"):
        Rules(published={}).content(PACKS)


def test_a_plan_is_read_from_the_published_steps() -> None:
    assert RULES.plan("with-carrier").name == "with-carrier"


AGREED = {FIRST: answers(), SECOND: answers()}


def against_of(read: dict[int, Answers]) -> KeptComparison:
    engine, case, result = compared(SET_UP, RULES, ROUND, read, known=NOTHING_KNOWN, salt="5a")
    return KeptComparison(check="c", subject=SOURCES, round=1, at=AT, engine=engine, case=case, result=result)


@pytest.mark.parametrize(
    ("volume", "codes", "stands", "drug"),
    [
        # The set in use holds 2.3 mL, and the site tolerates 0.3 mL; 0.2 mg in each mL.
        ("2.3 mL", [], True, "0.46 mg"),
        ("2 mL", [], True, "0.4 mg"),
        ("2.6 mL", [], True, "0.52 mg"),
        ("1.999 mL", [("primed-volume-below-set", "stop")], False, "0.4 mg"),
        ("2.601 mL", [("primed-volume-above-set", "caution")], True, "0.52 mg"),
        ("0 mL", [("primed-volume-below-set", "stop")], False, "0 mg"),
    ],
)
@pytest.mark.parametrize("by", [FIRST, SECOND])
def test_the_primed_volume_is_judged_against_what_the_set_in_use_holds(  # noqa: PLR0917  # a row of a table
    by: int,
    volume: str,
    codes: list[tuple[str, str]],
    stands: bool,  # noqa: FBT001  # expected
    drug: str,
) -> None:
    engine, case, result = priming_judged(volume, by=by, reading=4, against=against_of(AGREED))
    told = json.loads(result)

    assert json.loads(case) == {
        "format": READ_FORMAT.newest,
        "reading": 4,
        "by": "A" if by == FIRST else "B",
        "volume": volume,
        "against": 1,
    }
    assert [(each["code"], each["severity"]) for each in told["findings"]] == codes
    assert (told["engine"], told["within"], told["primed_drug"]["shown"]) == (engine, stands, drug)
    assert told["format"] == COMPARISON.newest


def test_findings_about_the_primed_volume_are_salted_as_those_of_the_round() -> None:
    of_round = against_of(AGREED)
    (found,) = findings_in(json.loads(priming_judged("1.9 mL", by=FIRST, reading=1, against=of_round)[2]))
    unsalted = replace(of_round, result=canonical({**of_round.told, "salt": ""}))
    (plain,) = findings_in(json.loads(priming_judged("1.9 mL", by=FIRST, reading=1, against=unsalted)[2]))

    assert salted((plain,), "5a") == (found,)
    # What was compared before there was one goes on without.
    told = {name: each for name, each in of_round.told.items() if name != "salt"}
    without = replace(of_round, result=canonical(told))
    (again,) = findings_in(json.loads(priming_judged("1.9 mL", by=FIRST, reading=1, against=without)[2]))
    assert again == plain


def test_a_set_of_which_nobody_knows_what_it_holds_judges_no_volume() -> None:
    unknown = {slot: answers(device={"pack": "set-nobody-has"}) for slot in (FIRST, SECOND)}

    assert json.loads(priming_judged("9 mL", by=FIRST, reading=1, against=against_of(unknown))[2])["within"]
