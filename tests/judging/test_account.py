"""The account of an infusion: its entries, and whether two readings of what runs can both be right."""

import json
from collections.abc import Mapping
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from app.accounting import balance, read_account
from app.comparison import CaseError
from app.judging.account import LOOK_AT_PATIENT, _is_about, _read, judge_account
from app.judging.judge import Against, Judged, Read, judge
from app.judging.rounds import compared, priming_judged
from app.records import events
from app.records.account import Account, CheckRead, fold_account
from app.records.fields import FIELDS
from app.records.followup import Found
from app.records.kept import PRIMING, SOURCES, A, B, KeptComparison
from app.records.kinds import RE_CHECK, SET_UP
from app.records.known import NOTHING_KNOWN, Known, known_in
from app.records.reading import Answers
from app.records.rules import LIBRARY
from app.records.sources import NONE, Source
from tests.factories.answers import answers, changed
from tests.judging.test_rounds import ROUND, RULES
from tests.story.events import CHECK, Story

LABEL = {"issued": {"volume": "30 mL", "amount": "6 mg", "size": "30 mL"}}
SETTINGS = {
    "kind": "settings",
    "concentration": "6 mg/30 mL",
    "mode": "demand",
    "limit": {"amount": "2 mg", "window": "4 h"},
    "demand_dose": "0.2 mg",
    "lockout": "10 min",
}


def kept(read: Answers, *, at: datetime, number: int = 1, check: str = CHECK.id) -> KeptComparison:
    """One round of the sources, as a check keeps it."""
    _, case, result = compared(SET_UP, RULES, ROUND, {1: read, 2: read}, known=NOTHING_KNOWN, salt="5a")
    return KeptComparison(
        check=check, subject=SOURCES, round=number, at=at, engine="1", case=case, result=result
    )


def primed(volume: str, against: KeptComparison) -> KeptComparison:
    engine, case, result = priming_judged(volume, by=1, reading=1, against=against)
    return KeptComparison(
        check=against.check, subject=PRIMING, round=1, at=against.at, engine=engine, case=case, result=result
    )


def account_of(story: Story, read: Answers | None = None, *, volume: str = "2.3 mL") -> Account:
    """The account that the events of one check tell, where both read this."""
    of_round = kept(answers() if read is None else read, at=story.entries[0].at)
    return fold_account(
        story.entries, {CHECK.id: CheckRead(rounds=(of_round,), primed=primed(volume, of_round))}
    )


def told(account: Account) -> list[Mapping[str, Any]]:
    return [each.data for each in account.entries]


def test_a_check_that_was_cleared_issues_a_syringe_and_puts_settings_in_force() -> None:
    account = account_of(Story().opened().started())

    assert told(account) == [
        {"kind": "issued", "syringe": "1", **LABEL["issued"]},
        {"kind": "loaded", "syringe": "1"},
        {"kind": "primed", "volume": "2.3 mL"},
        SETTINGS,
        {"kind": "started"},
    ]
    assert not isinstance(read_account(document(account.written())), CaseError)
    assert {(each.check, each.round) for each in account.entries[:4]} == {(CHECK.id, 1)}


def document(entries: tuple[Mapping[str, Any], ...]) -> dict[str, Any]:
    return {"format": "countersign.account/1", "policy": {}, "entries": list(entries)}


def test_a_label_that_gives_a_concentration_gives_the_volume_beside_it() -> None:
    per_ml = {"strength": "per-millilitre", "concentration": "0.2 mg/mL", "amount": None, "volume": None}
    read = answers(label={**per_ml, "content_volume": "30 mL"}, device=per_ml, order=per_ml)

    issued, _, _, settings, _ = told(account_of(Story().opened().started(), read))

    assert issued == {
        "kind": "issued",
        "syringe": "1",
        "volume": "30 mL",
        "concentration": "0.2 mg/mL",
        "size": "30 mL",
    }
    assert settings["concentration"] == "0.2 mg/mL"


@pytest.mark.parametrize(
    ("device", "given"),
    [
        (
            {"mode": "continuous", "continuous_rate": "0.1 mg/h"},
            {"mode": "continuous", "continuous_rate": "0.1 mg/h"},
        ),
        # None is zero.
        ({"mode": "demand-and-continuous", "continuous_rate": "none"}, {"continuous_rate": "0 mg/h"}),
        ({"limit_amount": "none"}, {"limit": None}),
        (
            {"limit_2_amount": "6 mg", "limit_2_window": "10 h"},
            {"limit": [{"amount": "2 mg", "window": "4 h"}, {"amount": "6 mg", "window": "10 h"}]},
        ),
        # A device that takes its doses in mL has no concentration.
        (
            {
                "strength": "in-millilitres",
                "amount": None,
                "volume": None,
                "demand_dose": "1 mL",
                "limit_amount": "10 mL",
                "mode": "demand-and-continuous",
                "continuous_rate": "none",
            },
            {
                "demand_dose": "1 mL",
                "continuous_rate": "0 mL/h",
                "limit": {"amount": "10 mL", "window": "4 h"},
            },
        ),
    ],
)
def test_settings_are_what_both_read_on_the_device(
    device: dict[str, str | None], given: dict[str, Any]
) -> None:
    account = account_of(Story().opened().started(), answers(device=device))
    settings = told(account)[3]

    assert given.items() <= settings.items()
    assert ("concentration" in settings) is ("strength" not in device)
    assert not isinstance(read_account(document(account.written())), CaseError)


def test_a_stop_is_a_pause_at_the_time_that_was_stated_and_none_at_the_wrong_bed() -> None:
    story = Story().opened().started().stopped()
    at = story.now - timedelta(seconds=30)
    story.tell(events.DeviceStopped(stopped_at=at.isoformat(), why="", totals=""))
    assert [each["kind"] for each in told(account_of(story))][-2:] == ["started", "paused"]

    assert told(account_of(Story().opened().started().stopped().misplaced()))[-1] == {"kind": "started"}

    stated = Story().opened().started()
    at = stated.now + timedelta(seconds=20)
    stated.tell(events.DeviceStopped(stopped_at=at.isoformat(), why="", totals=""))
    assert account_of(stated).entries[-1].at == at

    # What is no time, or has not come yet, is no time at which it stood.
    for text in ("about two", (stated.now + timedelta(days=1)).isoformat()):
        late = Story().opened().started()
        late.tell(events.DeviceStopped(stopped_at=text, why="", totals=""))
        assert account_of(late).entries[-1].at == late.now


# -----------------------------------------------------------------------------------------------------------
# Two readings of a device that runs

BEGAN = datetime(2031, 5, 2, 12, 0, tzinfo=UTC)
ENTRIES = (
    {"kind": "issued", "syringe": "1", **LABEL["issued"]},
    {"kind": "loaded", "syringe": "1"},
    {"kind": "primed", "volume": "2.3 mL"},
    SETTINGS,
    {"kind": "started"},
)
KNOWN = Known(account=tuple({**each, "at": BEGAN.isoformat()} for each in ENTRIES))
CONTINUOUS = Known(
    account=tuple(
        {**each, "mode": "demand-and-continuous", "continuous_rate": "0.3 mg/h"}
        if each["kind"] == "settings"
        else each
        for each in KNOWN.account
    )
)
STANDS = Known(account=(*KNOWN.account, {"kind": "paused", "at": (BEGAN + timedelta(hours=3)).isoformat()}))
# Ten doses of 0.2 mg are 10 mL, and as many as the limit grants in four hours.
TEN = {"total_amount": "2 mg", "total_volume": NONE, "presses": "13", "doses": "10", "left": "17.7 mL"}


def reading(minutes: int = 240, **otherwise: str) -> Answers:
    read_at = (BEGAN + timedelta(minutes=minutes)).isoformat()
    return {**answers(), "totals": {**TEN, "read_at": read_at, **otherwise}}


def apart(first: Answers, second: Answers, known: Known = KNOWN) -> set[str]:
    judged = judge_account(known, {"policy": {}}, {A: first, B: second}, {"display_step_amount": "0.1 mg"})
    assert (judged.result is None) is any(each.code == "readings-differ" for each in judged.findings)
    return {each.field.removeprefix("totals.") for each in judged.findings if each.code == "readings-differ"}


AGREE: dict[str, tuple[Answers, Answers, Known]] = {
    "read alike": (reading(), reading(), KNOWN),
    "one dose between": (
        reading(),
        reading(245, total_amount="2.2 mg", presses="14", doses="11", left="16.7 mL"),
        KNOWN,
    ),
    "a press between that was not answered": (reading(), reading(241, presses="14"), KNOWN),
    "the continuous part between": (
        reading(total_amount="3.2 mg", left="11.7 mL"),
        reading(260, total_amount="3.3 mg", left="11.2 mL"),
        CONTINUOUS,
    ),
    "half a division apart": (reading(), reading(241, left="17.2 mL"), KNOWN),
    "a division apart": (reading(), reading(241, left="16.7 mL"), KNOWN),
    "the second read first": (
        reading(245, total_amount="2.2 mg", presses="14", doses="11", left="16.7 mL"),
        reading(),
        KNOWN,
    ),
    "standing": (reading(), reading(250), STANDS),
    "a device that shows volumes": (
        reading(total_amount=NONE, total_volume="10 mL"),
        reading(245, total_amount=NONE, total_volume="11 mL", presses="14", doses="11", left="16.7 mL"),
        KNOWN,
    ),
}


@pytest.mark.parametrize("case", AGREE)
def test_what_can_both_be_right_agrees(case: str) -> None:
    assert apart(*AGREE[case]) == set()


@pytest.mark.parametrize("known", [KNOWN, STANDS])
def test_where_a_device_shows_no_totals_what_is_left_is_compared(known: Known) -> None:
    alone = dict.fromkeys(("total_amount", "total_volume", "presses", "doses"), NONE)

    assert apart(reading(240, **alone), reading(241, **alone, left="16.7 mL"), known) == set()
    assert apart(reading(240, **alone), reading(241, **alone, left="16.6 mL"), known) == {"left"}


DIFFER: dict[str, tuple[Answers, Answers, Known, set[str]]] = {
    "twelve misread as twenty-one": (
        reading(800, total_amount="2.4 mg", doses="12", presses="14", left="15.7 mL"),
        reading(801, total_amount="2.4 mg", doses="21", presses="24", left="15.7 mL"),
        KNOWN,
        {"doses"},
    ),
    "more presses than one can make": (reading(), reading(241, presses="12"), KNOWN, {"presses"}),
    "a total that went back": (reading(), reading(241, total_amount="1.8 mg"), KNOWN, {"total_amount"}),
    "two doses counted and not given": (reading(), reading(270, doses="12", presses="15"), KNOWN, {"doses"}),
    "more than a division": (reading(), reading(241, left="16.6 mL"), KNOWN, {"left"}),
    "more left than before": (reading(), reading(241, left="18.8 mL"), KNOWN, {"left"}),
    "counts of a device that stands": (reading(), reading(241, presses="14"), STANDS, {"presses"}),
    "shown to one of the two": (reading(), reading(241, presses=NONE), KNOWN, {"presses"}),
}


@pytest.mark.parametrize("case", DIFFER)
def test_what_cannot_both_be_right_is_read_again(case: str) -> None:
    first, second, known, wanted = DIFFER[case]

    assert wanted <= apart(first, second, known)
    assert wanted <= apart(second, first, known) or case != "twelve misread as twenty-one"


OTHERWISE = {
    "total_amount": "9.4 mg",
    "total_volume": "40 mL",
    "presses": "9",
    "doses": "90",
    "left": "29 mL",
}


@pytest.mark.parametrize("name", [each.name for each in FIELDS[Source.TOTALS] if not each.stamped])
def test_each_of_them_is_judged(name: str) -> None:
    assert name in apart(reading(), reading(241, **{name: OTHERWISE[name]}))
    assert name in apart(reading(), reading(241, **{name: "0 mL" if text_is_none(name) else NONE}))


def text_is_none(name: str) -> bool:
    return TEN[name] == NONE


# -----------------------------------------------------------------------------------------------------------
# What the account then says


def test_the_reading_of_the_second_enters_the_account() -> None:
    judged = judge_account(KNOWN, {"policy": {}}, {A: reading(), B: reading(241, left="17.2 mL")}, {})

    assert judged.findings == ()
    assert judged.result is not None
    assert judged.result["syringes"][0]["volume"]["left"]["shown"] == "17.2 mL"
    assert judged.result["infusion"]["volume"]["delivered_by_device"]["shown"] == "10 mL"


def test_what_does_not_add_up_is_found_with_the_words_of_the_account() -> None:
    both = {A: reading(left="9 mL"), B: reading(241, left="9 mL")}
    (found,) = judge_account(KNOWN, {"policy": {}}, both, {}).findings

    assert (found.code, found.severity, found.field) == (
        "account-left-below-predicted",
        "stop",
        "totals.left",
    )
    assert found.origin == "account"
    # Less is left than what the device says it gave: that is about the patient first.
    assert found.says.startswith(f"{LOOK_AT_PATIENT} Recount together")
    assert (found.about, found.is_of_account, found.is_recounted) == ("patient", True, True)
    # Both sign that it is open: it keeps nobody from signing.
    assert not found.is_open(set())
    assert not found.reads_apart


def judged_of(**totals: str) -> list[Found]:
    """What is found where both read the same."""
    both = {A: reading(240, **totals), B: reading(241, **totals)}
    return list(judge_account(KNOWN, {"policy": {}}, both, {}).findings)


def test_more_left_than_predicted_is_about_the_account_and_asks_for_no_patient() -> None:
    (found,) = judged_of(left="27.7 mL")

    assert (found.code, found.about) == ("account-left-above-predicted", "account")
    assert LOOK_AT_PATIENT not in found.says


@pytest.mark.parametrize(
    ("totals", "code"),
    [
        ({"doses": "40", "presses": "40"}, "account-doses-above-possible"),
        ({"total_amount": "2.9 mg", "left": "13.2 mL"}, "account-totals-above-predicted"),
        ({"total_amount": "6 mg", "doses": "none", "presses": "none"}, "account-totals-above-possible"),
    ],
)
def test_what_may_be_too_much_is_about_the_patient(totals: dict[str, str], code: str) -> None:
    found = {each.code: each for each in judged_of(**totals)}

    assert found[code].about == "patient"
    assert found[code].says.startswith(LOOK_AT_PATIENT)


def test_a_caution_is_about_neither() -> None:
    found = {each.code: each.about for each in judged_of(total_amount="1.5 mg")}

    assert found["account-totals-below-predicted"] == ""


def test_a_syringe_that_was_taken_off_short_is_about_the_patient_until_the_infusion_has_ended() -> None:
    at = (BEGAN + timedelta(hours=4)).isoformat()
    off = {
        "kind": "removed",
        "totals": {"amount": "2 mg", "presses": 13, "doses": 10},
        "left": "9 mL",
        "at": at,
    }
    entries = (*KNOWN.account, {"kind": "paused", "at": at}, off)
    wasted = {"kind": "wasted", "syringe": "1", "volume": "9 mL", "witnessed": True, "at": at}
    said = {
        ended: {
            each["code"]: _is_about(each, has_ended=ended)
            for each in balance(_read((*entries, wasted, {"kind": "end", "at": at}), {})).as_json()[
                "findings"
            ]
        }
        for ended in (False, True)
    }

    assert said == {False: {"unexplained": "patient"}, True: {"unexplained": "account"}}


def test_the_sites_rules_of_the_account_count() -> None:
    both = {A: reading(left="9 mL"), B: reading(241, left="9 mL")}

    assert judge_account(KNOWN, {"policy": {}}, both, {"at_least": "10 mL"}).findings == ()


@pytest.mark.parametrize(
    ("known", "first"),
    [
        (NOTHING_KNOWN, reading()),
        (KNOWN, {**answers(), "totals": {}}),
        (KNOWN, {**answers(), "totals": {"left": NONE, "total_amount": NONE, "read_at": BEGAN.isoformat()}}),
    ],
)
def test_without_an_account_or_a_reading_of_it_nothing_is_said(known: Known, first: Answers) -> None:
    judged = judge_account(known, {"policy": {}}, {A: first, B: reading()}, {})

    assert (judged.findings, judged.result) == ((), None)


def re_checked(known: Known, *, first: Answers, second: Answers) -> Judged:
    at = BEGAN + timedelta(hours=5)
    rules = Against(policy=RULES.policy.engine, library=RULES.content(LIBRARY)["drugs"])
    return judge(RE_CHECK, Read(answers=first, at=at), Read(answers=second, at=at), known=known, rules=rules)


def test_what_was_started_without_a_check_has_an_account_once_label_and_device_are_read_alike() -> None:
    begun = Known(begun=BEGAN.isoformat())

    agreed = re_checked(begun, first=reading(), second=reading(241))
    assert agreed.account is not None
    assert agreed.account["syringes"][0]["volume"]["loaded"]["shown"] == "30 mL"

    otherwise = changed(reading(241), label={"amount": "12 mg"})
    assert re_checked(begun, first=reading(), second=otherwise).account is None


def test_a_set_up_has_no_account_yet() -> None:
    at = BEGAN + timedelta(hours=5)
    rules = Against(policy=RULES.policy.engine, library=RULES.content(LIBRARY)["drugs"])
    read = Read(answers=reading(), at=at)

    assert judge(SET_UP, read, read, known=NOTHING_KNOWN, rules=rules).account is None


def test_what_is_kept_of_a_round_has_all_that_the_account_rests_on() -> None:
    _, _, result = compared(RE_CHECK, RULES, ROUND, {1: reading(), 2: reading(241)}, known=KNOWN, salt="5a")
    told_of_it = json.loads(result)["account"]

    assert (told_of_it["entries"], told_of_it["begun"]) == ([*KNOWN.account], "")
    assert told_of_it["policy"] == RULES.policy.account
    assert told_of_it["result"]["infusion"]["volume"]["left"]["shown"] == "17.7 mL"
    # Verified by that alone.
    assert known_in(json.loads(result), json.loads(result)).account == KNOWN.account
