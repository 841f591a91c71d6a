"""What an emergency leaves on an infusion, until what ends it has been done."""

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, timedelta

import pytest

from app.records import emergency_events as happened
from app.records.course import Course, course_after
from app.records.emergencies import TELLING, TOLD
from app.records.event_kinds import KINDS
from app.records.events import (
    CheckDone,
    DeviceStopped,
    Event,
    LedToCheck,
    Started,
    StartedWithoutCheck,
    StopMisplaced,
)
from app.records.infusion import InfusionState, fold_infusion
from app.records.kept import Entry
from app.records.kinds import CLEARING, DEVICE_CHANGE, RE_CHECK, REPEAT_SET_UP, SETTINGS_CHANGE, Kind
from app.records.policy import SitePolicy, policy_from
from app.records.ranking import Standing
from app.records.restarting import BROUGHT_BY, HeldBack, Wants, Why, held_back, left_on, wanted
from app.records.visibility import standing_of_infusion
from tests.factories.seeded import seeded
from tests.judging.test_rounds import RULES

BEGAN = datetime.fromisoformat("2031-05-02T12:00:00+00:00")
MINUTE = timedelta(minutes=1)
STARTED = Started()
HURRIED = StartedWithoutCheck(reason="pain", started_at="")
STOPPED = DeviceStopped(stopped_at="", why="reversal-agent", totals="")
REVERSED = happened.ReversalGiven(note="2")
AWAY = happened.WentAway(note="2", what="mri")
DIED = happened.DeviceDied()
HARMED = happened.HarmSuspected(note="2", what="overdose")
SEALED = happened.EvidenceKept(harm="3", seal="7701", left="20 mL")
FREE = happened.EvidenceReleased(harm="3")
LOST = happened.KeyNotFound(what="key")


def entries_of(*events: Event, check: str = "1") -> list[Entry]:
    """These, a minute apart, from position 1 on."""
    return [
        Entry(
            position=place,
            at=BEGAN + place * MINUTE,
            by="nadia",
            session="",
            device="",
            signed_in_at=None,
            canonical=b"",
            check=check if isinstance(event, Started | CheckDone) else "",
            infusion="infusion-1",
            event=event,
        )
        for place, event in enumerate(events, start=1)
    ]


def told(*events: Event, check: str = "1") -> InfusionState:
    """The state after these."""
    return fold_infusion("infusion-1", entries_of(*events, check=check))


def policy() -> SitePolicy:
    return policy_from(seeded("policy"))


def held(*events: Event) -> InfusionState:
    return told(STARTED, STOPPED, REVERSED, *events)


DECIDED = happened.RestartDecided(hold="3", prescriber="Dr Hale")

COURSES: dict[str, tuple[Callable[[], InfusionState], Standing]] = {
    "held": (held, Standing.HELD),
    "held, and a prescriber decided": (lambda: held(DECIDED), Standing.HELD),
    "held, and its stop once more": (lambda: held(STOPPED), Standing.HELD),
    "held, and started anew": (lambda: held(DECIDED, STARTED), Standing.RUNNING),
    "held, and had to start without a check": (
        lambda: held(StartedWithoutCheck(reason="pain", started_at="")),
        Standing.UNCHECKED,
    ),
    "away": (lambda: told(STARTED, STOPPED, AWAY), Standing.AWAY),
    "away and back": (
        lambda: told(STARTED, STOPPED, AWAY, happened.CameBack(away="3", opioids="no")),
        Standing.AWAY,
    ),
    "held while away": (lambda: told(STARTED, STOPPED, AWAY, REVERSED), Standing.HELD),
    "kept as evidence": (lambda: told(STARTED, STOPPED, HARMED), Standing.KEPT),
    "kept as evidence, and sealed": (lambda: told(STARTED, STOPPED, HARMED, SEALED), Standing.KEPT),
    "kept as evidence while away": (lambda: told(STARTED, STOPPED, AWAY, HARMED), Standing.KEPT),
    "kept, and held after a reversal agent": (lambda: held(HARMED), Standing.HELD),
    "kept, and given free": (
        lambda: told(STARTED, STOPPED, HARMED, SEALED, FREE),
        Standing.STOPPED,
    ),
    "kept, and the device died": (lambda: told(STARTED, STOPPED, HARMED, SEALED, DIED), Standing.KEPT),
    "the device died": (lambda: told(STARTED, DIED), Standing.DEAD),
    "itch alone": (lambda: told(STARTED, happened.ItchTreated()), Standing.RUNNING),
    "the key is lost": (lambda: told(STARTED, LOST), Standing.RUNNING),
    "held, and that was at another bed": (
        lambda: held(StopMisplaced(stop="2"), StopMisplaced(stop="3")),
        Standing.RUNNING,
    ),
}


@pytest.mark.parametrize("course", COURSES)
def test_what_a_list_says(course: str) -> None:
    state, standing = COURSES[course]

    assert standing_of_infusion(state()) is standing


def test_the_hold_counts_from_the_last_dose_and_another_dose_undoes_the_decision() -> None:
    hold = held(DECIDED).emergencies.hold
    assert hold is not None
    assert hold.decided is not None
    assert (hold.first.position, hold.last_dose_at) == (3, BEGAN + 3 * MINUTE)

    again = held(DECIDED, REVERSED).emergencies.hold
    assert again is not None
    assert (again.first.position, again.last_dose_at, again.decided) == (3, BEGAN + 5 * MINUTE, None)
    assert again.watched_until(timedelta(hours=2)) == BEGAN + timedelta(hours=2, minutes=5)
    # A decision about an earlier hold decides nothing, nor does one of no hold.
    other = held(happened.RestartDecided(hold="1", prescriber="x")).emergencies.hold
    assert other is not None
    assert other.decided is None
    assert told(STARTED, DECIDED).emergencies.hold is None


def test_a_start_without_a_check_ends_no_hold_and_undoes_no_decision() -> None:
    """Only a check that is cleared does, and that waits for the decision."""
    again = StartedWithoutCheck(reason="pain", started_at="")
    state = held(again)
    hold = state.emergencies.hold
    assert hold is not None
    assert (hold.decided, state.is_running, state.waits) == (None, True, True)
    assert held_back(state, SETTINGS_CHANGE, policy(), BEGAN) == HeldBack(why=Why.DECISION)
    assert left_on(state, RULES, BEGAN).runs_all_the_same
    assert not left_on(held(), RULES, BEGAN).runs_all_the_same
    assert not left_on(held(again, DIED), RULES, BEGAN).runs_all_the_same
    for decided in (held(again, DECIDED), held(DECIDED, again)):
        assert decided.emergencies.hold is not None
        assert held_back(decided, SETTINGS_CHANGE, policy(), BEGAN) is None
    assert held(again, DECIDED, STARTED).emergencies.hold is None
    # What else waited is over: it was started with another device, or the patient is back.
    assert not told(STARTED, STOPPED, AWAY, again).waits
    assert not told(STARTED, DIED, again).waits


def test_evidence_is_kept_until_it_is_given_free_whatever_else_happens() -> None:
    ended = DeviceStopped(stopped_at="", why="end-of-therapy", totals="")
    state = told(STARTED, STOPPED, HARMED, HARMED, ended)
    assert state.emergencies.evidence is not None
    assert (state.emergencies.evidence.position, state.emergencies.evidence.what) == (3, "overdose")
    assert state.is_held_back
    assert state.emergencies.is_told
    free = happened.EvidenceReleased(harm="3")
    assert told(STARTED, STOPPED, HARMED, free).emergencies.evidence is None
    assert (
        told(STARTED, STOPPED, HARMED, happened.EvidenceReleased(harm="9")).emergencies.evidence is not None
    )
    assert told(free).emergencies.evidence is None


def test_a_lost_key_is_counted_by_two_and_ends_with_the_lock() -> None:
    lost = told(STARTED, LOST, LOST).emergencies.key
    assert lost is not None
    assert (lost.missing.position, lost.counted) == (2, None)
    read = CheckDone(check_kind="re-check", counted=True)
    counted = told(STARTED, LOST, read, StartedWithoutCheck(reason="r", started_at="")).emergencies.key
    assert counted is not None
    assert counted.counted is not None
    assert counted.counted.position == 3
    again = told(STARTED, LOST, read, LOST).emergencies.key
    assert again is not None
    assert (again.missing.position, again.counted) == (2, None)
    assert told(STARTED, LOST, happened.LockChanged(missing="2")).emergencies.key is None
    assert told(STARTED, LOST, happened.LockChanged(missing="1")).emergencies.key is not None
    assert told(STARTED, happened.LockChanged(missing="1")).emergencies.key is None


@pytest.mark.parametrize(
    ("event", "counts"),
    [
        (CheckDone(check_kind="re-check"), False),
        (Started(check_kind="settings-change"), False),
        (Started(check_kind="syringe-change"), True),
    ],
)
def test_a_syringe_is_counted_where_what_is_left_was_read(event: Event, counts: bool) -> None:  # noqa: FBT001  # drawn
    """Behind a lock nobody can open, two may have read nothing of it."""
    key = told(STARTED, LOST, event).emergencies.key
    assert key is not None
    assert (key.counted is not None) == counts


def test_who_went_away_twice_went_the_first_time_unless_back_between() -> None:
    back = happened.CameBack(away="3", opioids="no")
    absence = told(STARTED, STOPPED, AWAY, AWAY, back, back).emergencies.absence
    assert absence is not None
    assert absence.back is not None
    assert (absence.went.position, absence.back.position) == (3, 5)
    again = told(STARTED, STOPPED, AWAY, back, AWAY).emergencies.absence
    assert again is not None
    assert (again.went.position, again.back) == (5, None)
    assert told(back).emergencies.absence is None
    other = told(STARTED, STOPPED, AWAY, happened.CameBack(away="1", opioids="no")).emergencies.absence
    assert other is not None
    assert other.back is None


def test_nothing_waits_where_nothing_was_started_or_all_has_ended() -> None:
    assert not told(REVERSED).waits
    assert not told(
        STARTED, STOPPED, REVERSED, DeviceStopped(stopped_at="", why="end-of-therapy", totals="")
    ).waits


def test_what_follows_is_of_the_same_infusion_however_late() -> None:
    """Only its end frees the bed for another patient."""
    late = BEGAN + timedelta(days=3)
    limit = timedelta(hours=12)
    assert course_after(held(), None, passes_on=limit, now=late) is Course.STOPPED
    assert course_after(told(STARTED, STOPPED), None, passes_on=limit, now=late) is Course.TOO_LONG_AGO
    assert course_after(told(STARTED, DIED), None, passes_on=limit, now=late) is Course.LED_TO
    assert course_after(told(STARTED), None, passes_on=limit, now=late) is Course.STARTED


CAPPED = BEGAN + 3 * MINUTE


def came_back(*events: Event) -> InfusionState:
    return told(STARTED, STOPPED, AWAY, happened.CameBack(away="3", opioids="no"), *events)


def back_after(**span: float) -> tuple[InfusionState, datetime]:
    state = told(STARTED, STOPPED, AWAY)
    return state, CAPPED + timedelta(**span)


@pytest.mark.parametrize(
    ("state", "now", "wants"),
    [
        (told(STARTED), BEGAN, None),
        (held(), BEGAN, Wants.NEW_SETTINGS),
        (told(STARTED, DIED), BEGAN, Wants.ANOTHER_DEVICE),
        # A settings change reads the order and is of one device, a device change reads no order.
        (held(DIED), BEGAN, Wants.ALL_ANEW),
        (told(STARTED, STOPPED, AWAY, DIED), BEGAN + 4 * MINUTE, Wants.ALL_ANEW),
        # So it is where an earlier check led to something else.
        (held(LedToCheck(check_kind="syringe-change")), BEGAN, Wants.ALL_ANEW),
        (held(LedToCheck(check_kind="settings-change")), BEGAN, Wants.NEW_SETTINGS),
        (told(STARTED, DIED, LedToCheck(check_kind="device-change")), BEGAN, Wants.ANOTHER_DEVICE),
        (told(STARTED, DIED, LedToCheck(check_kind="repeat-set-up")), BEGAN, Wants.ALL_ANEW),
        # Nobody has read what another device would be set to.
        (told(HURRIED, DIED), BEGAN, Wants.ALL_ANEW),
        (*back_after(hours=4), Wants.NEW_SETTINGS),
        (*back_after(hours=4, seconds=1), Wants.NEW_SET),
        # By a clock that was put back nobody can tell how long it was.
        (*back_after(hours=-1), Wants.NEW_SET),
        # Its syringe was taken for evidence: free again or not, none is on.
        (told(STARTED, STOPPED, HARMED, SEALED), BEGAN, Wants.SYRINGE),
        (told(STARTED, STOPPED, REVERSED, HARMED, replace(SEALED, harm="4"), FREE), BEGAN, Wants.SYRINGE),
        (told(STARTED, STOPPED, HARMED, SEALED, FREE, STARTED), BEGAN, None),
        (told(STARTED, STOPPED, HARMED, FREE, SEALED), BEGAN, None),
        # It is capped until it is started, and from the first going on.
        (came_back(), CAPPED + timedelta(hours=4), Wants.NEW_SETTINGS),
        (came_back(), CAPPED + timedelta(hours=4, seconds=1), Wants.NEW_SET),
        (came_back(AWAY), CAPPED + timedelta(hours=4, seconds=1), Wants.NEW_SET),
        (came_back(STARTED, STOPPED, AWAY), CAPPED + timedelta(hours=4, seconds=1), Wants.NEW_SETTINGS),
    ],
)
def test_what_must_come_before_it_is_started_again(
    state: InfusionState, now: datetime, wants: Wants | None
) -> None:
    assert wanted(state, policy(), now) is wants
    assert left_on(state, RULES, now).wants is wants


OTHER = Kind(**{**vars(REPEAT_SET_UP), "name": "another"})


@pytest.mark.parametrize(
    ("state", "kind", "back"),
    [
        (told(STARTED), REPEAT_SET_UP, None),
        (told(STARTED, STOPPED), REPEAT_SET_UP, None),
        (held(), REPEAT_SET_UP, HeldBack(why=Why.DECISION)),
        (held(DECIDED), BROUGHT_BY[Wants.NEW_SETTINGS], None),
        (held(DECIDED), OTHER, HeldBack(why=Why.OTHER_KIND, kind=BROUGHT_BY[Wants.NEW_SETTINGS].name)),
        (held(DECIDED, REVERSED), BROUGHT_BY[Wants.NEW_SETTINGS], HeldBack(why=Why.DECISION)),
        # Another device does not make up for the order that nobody has read.
        (held(DECIDED, DIED), DEVICE_CHANGE, HeldBack(why=Why.OTHER_KIND, kind="repeat-set-up")),
        (held(DECIDED, DIED), REPEAT_SET_UP, None),
        (told(STARTED, STOPPED, AWAY), CLEARING, HeldBack(why=Why.NOT_BACK)),
        (told(STARTED, STOPPED, AWAY), SETTINGS_CHANGE, HeldBack(why=Why.NOT_BACK)),
        (came_back(), CLEARING, HeldBack(why=Why.OTHER_KIND, kind="settings-change")),
        (came_back(), SETTINGS_CHANGE, None),
        (told(STARTED, DIED), OTHER, None),
        # What runs without a check is read as it runs; but for what a check of it led to, or once it stands.
        (told(HURRIED), REPEAT_SET_UP, HeldBack(why=Why.OTHER_KIND, kind=RE_CHECK.name)),
        (told(HURRIED), SETTINGS_CHANGE, None),
        (told(HURRIED, STOPPED), REPEAT_SET_UP, None),
        (told(HURRIED, LedToCheck(check_kind=REPEAT_SET_UP.name)), REPEAT_SET_UP, None),
        (told(HURRIED, DIED), REPEAT_SET_UP, None),
        (told(STARTED, STOPPED, HARMED), REPEAT_SET_UP, HeldBack(why=Why.EVIDENCE)),
        (told(STARTED, STOPPED, HARMED), RE_CHECK, None),
        (told(STARTED, STOPPED, HARMED, SEALED, FREE), REPEAT_SET_UP, None),
        (
            told(STARTED, STOPPED, HARMED, SEALED, FREE),
            SETTINGS_CHANGE,
            HeldBack(why=Why.OTHER_KIND, kind=REPEAT_SET_UP.name),
        ),
        # Of one that has ended nothing is held back: the next is another infusion.
        (held(DeviceStopped(stopped_at="", why="end-of-therapy", totals="")), REPEAT_SET_UP, None),
    ],
)
def test_what_stands_against_a_start(state: InfusionState, kind: Kind, back: HeldBack | None) -> None:
    assert held_back(state, kind, policy(), BEGAN + 5 * MINUTE) == back


def test_after_too_long_away_only_a_new_set_leads_on() -> None:
    now = BEGAN + timedelta(hours=5)
    state = told(STARTED, STOPPED, AWAY)
    assert held_back(state, REPEAT_SET_UP, policy(), now) == HeldBack(why=Why.NOT_BACK)

    state = came_back()
    assert held_back(state, OTHER, policy(), now) == HeldBack(
        why=Why.OTHER_KIND, kind=BROUGHT_BY[Wants.NEW_SET].name
    )
    assert held_back(state, BROUGHT_BY[Wants.NEW_SET], policy(), now) is None


def test_no_word_that_somebody_wrote_is_part_of_it() -> None:
    said = repr(
        held(
            happened.ToldAfterwards(of="3", told=(("dose", "0.4 mg"),)),
            happened.RestartDecided(hold="3", prescriber="Dr Hale"),
            HARMED,
            happened.EvidenceKept(
                harm="6", left="36 mL", total_amount="12 mg", seal="77", holder="x", place="safe"
            ),
        )
    )
    for words in ("0.4 mg", "Dr Hale", "36 mL", "12 mg", "77", "safe"):
        assert words not in said


def test_each_event_that_tells_of_it_is_known_by_its_kind() -> None:
    assert set(TELLING) == {
        each.kind for each in vars(happened).values() if getattr(each, "kind", "") in KINDS
    }
    assert {each.kind for each in TOLD} < set(TELLING)
