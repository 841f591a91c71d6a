"""How an infusion stands when it is handed over, as its record says it."""

from typing import Any

import pytest

from app.records import emergency_events as happened
from app.records.as_it_stands import as_it_stands
from app.records.document import Names
from app.records.ending_events import InfusionEnded
from app.records.events import CheckDone, DeviceStopped, Event
from app.records.kinds import END_OF_PCA, RE_CHECK
from app.records.ward_events import LinePaused
from tests.records.test_emergencies import (
    AWAY,
    BEGAN,
    DIED,
    HARMED,
    LOST,
    MINUTE,
    REVERSED,
    STARTED,
    STOPPED,
    entries_of,
)

NADIA = {"by": "Nadia Ferrow", "person": "nadia"}
TOMAS = {"by": "Tomas Osmund", "person": "tomas"}
NAMES = Names(unit="", people={"nadia": "Nadia Ferrow", "tomas": "Tomas Osmund"}, staff_numbers={})


def stands(*events: Event, to: str = "tomas") -> dict[str, Any]:
    now = BEGAN + 60 * MINUTE
    return as_it_stands("infusion-1", entries_of(STARTED, *events), to=to, names=NAMES, now=now)


def at(minute: int) -> str:
    return (BEGAN + minute * MINUTE).isoformat(timespec="seconds")


def left(*events: Event) -> list[dict[str, Any]]:
    """What stands, each without who wrote it and since when."""
    own = ("since", "by", "person")
    return [
        {name: said for name, said in each.items() if name not in own} for each in stands(*events)["left"]
    ]


@pytest.mark.parametrize(
    ("events", "state", "minute"),
    [
        ((), "runs", 1),
        ((LinePaused(why="walk"),), "paused", 2),
        ((DeviceStopped(stopped_at="", why="other", totals=""),), "stopped", 2),
        ((STOPPED, InfusionEnded(check_kind=END_OF_PCA.name)), "ended", 3),
    ],
)
def test_it_says_whether_it_runs_since_when_and_who_answers_for_it(
    events: tuple[Event, ...], state: str, minute: int
) -> None:
    assert stands(*events) == {
        "at": at(60),
        "state": state,
        "since": at(minute),
        "answered": NADIA,
        "answers": TOMAS,
        "left": [],
    }
    # Where it was taken before, nobody else answers for it.
    assert stands(*events, to="")["answers"] == NADIA


def test_it_says_what_an_emergency_left_and_what_was_told_of_it() -> None:
    events = (
        STOPPED,
        REVERSED,
        happened.ToldAfterwards(of="3", told=(("agent", "naloxone"), ("dose", "40 mcg"))),
        happened.ToldAfterwards(of="7", told=(("dose", "80 mcg"),)),
        AWAY,
        REVERSED,
        DIED,
        happened.ToldAfterwards(of="6", told=(("place", "safe 2"),)),
    )
    held = {"what": "held", "which": "", "told": {"agent": "naloxone", "dose": "80 mcg"}, "decided": None}
    dead = {"what": "dead", "which": "", "told": {}}
    away = {"what": "away", "which": "mri", "told": {"place": "safe 2"}, "back_at": None}
    assert left(*events) == [{**held, "last_dose_at": at(7)}, dead, away]
    assert stands(*events)["left"][0].items() >= {"since": at(3), **NADIA}.items()

    more = (
        happened.RestartDecided(hold="3", prescriber="Dr Hale"),
        happened.CameBack(away="6", opioids="no"),
    )
    found = left(*events, *more)
    assert (found[0]["decided"], found[2]["back_at"]) == ({**NADIA, "at": at(10)}, at(11))
    # Once it has ended nothing is to be done before a start.
    assert left(*events, InfusionEnded(check_kind=END_OF_PCA.name)) == []


def test_it_says_what_is_kept_by_whom_and_which_key_is_not_found_whatever_became_of_it() -> None:
    events = (STOPPED, HARMED, LOST, InfusionEnded(check_kind=END_OF_PCA.name, counted=True))
    kept = {"what": "kept", "which": "overdose", "told": {}}
    key = {"what": "not-found", "which": "key", "told": {}, "counted_at": at(5)}
    assert left(*events) == [kept, key]
    assert left(*events[:-1])[1]["counted_at"] is None

    sealed = (
        happened.EvidenceKept(harm="3", seal="7701", holder="Ruth", left="26 mL"),
        happened.EvidenceKept(harm="3", place="safe 2", total_amount="none"),
        happened.ToldAfterwards(of="4", told=(("found", "drawer"),)),
        CheckDone(check_kind=RE_CHECK.name, counted=True),
    )
    said = {"seal": "7701", "holder": "Ruth", "place": "safe 2", "total_amount": "none", "left": "26 mL"}
    found = left(*events[:-1], *sealed)
    assert [each["told"] for each in found] == [said, {"found": "drawer"}]
    assert found[1]["counted_at"] == at(8)
