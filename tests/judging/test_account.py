"""The account of an infusion: its entries, and whether two readings of what runs can both be right."""

from collections.abc import Mapping
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from app.accounting import read_account
from app.comparison import CaseError
from app.judging.account import judge_account
from app.judging.rounds import compared, priming_judged
from app.records import events
from app.records.account import fold_account
from app.records.account_so_far import Account
from app.records.check_read import CheckRead
from app.records.fields import FIELDS
from app.records.kept import PRIMING, SOURCES, A, B, KeptComparison
from app.records.kinds import SET_UP
from app.records.known import NOTHING_KNOWN, Known
from app.records.reading import Answers
from app.records.sources import NONE, Source
from tests.factories.answers import answers
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


def test_a_syringe_that_was_read_to_hold_more_than_its_barrel_has_an_account_all_the_same() -> None:
    holds = {"volume": "31 mL", "amount": "6.2 mg"}
    account = account_of(Story().opened().started(), answers(order=holds, label=holds, device=holds))

    assert told(account)[0] == {"kind": "issued", "syringe": "1", **holds, "size": "31 mL"}
    assert not isinstance(read_account(document(account.written())), CaseError)


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

    # What is no time, has not come yet, or was another year, is no time at which it stood.
    a_day, a_year = timedelta(days=1), timedelta(days=365)
    for text in ("about two", *((stated.now + each).isoformat() for each in (a_day, -a_year))):
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


EARLIER_FEWER_PRESSES = (
    {
        "kind": "read",
        "at": (BEGAN + timedelta(minutes=60)).isoformat(),
        "totals": {"amount": "0.4 mg", "presses": 1, "doses": 2},
        "left": "25.7 mL",
    },
)

AGREE: dict[str, tuple[Answers, Answers, Known]] = {
    "read alike": (reading(), reading(), KNOWN),
    "one dose between": (
        reading(),
        reading(245, total_amount="2.2 mg", presses="14", doses="11", left="16.7 mL"),
        KNOWN,
    ),
    "three doses between": (
        reading(),
        reading(275, total_amount="2.6 mg", presses="16", doses="13", left="14.7 mL"),
        KNOWN,
    ),
    # It is found of both, and nothing of it lies between them.
    "fewer presses than doses at both": (reading(presses="9"), reading(241, presses="9"), KNOWN),
    "what an earlier reading had found": (
        reading(),
        reading(241),
        Known(account=(*KNOWN.account, *EARLIER_FEWER_PRESSES)),
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
    counts = {"total_amount": NONE, "total_volume": NONE}
    assert apart(reading(240, **counts), reading(241, **counts, left="16.6 mL"), known) == {"left"}
    assert apart(reading(240), reading(241, **alone, left="17.7 mL"), known) == {
        "total_amount",
        "presses",
        "doses",
    }


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
