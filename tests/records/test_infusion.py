"""What the entries of an infusion add up to."""

from collections.abc import Callable
from datetime import datetime, timedelta

import pytest

from app.records.course_kinds import COURSE
from app.records.ending_events import EndWithdrawn, InfusionEnded
from app.records.event_kinds import KINDS
from app.records.events import (
    CheckDone,
    DeviceStopped,
    Event,
    LedToCheck,
    Signed,
    Started,
    StartedWithoutCheck,
    StopMisplaced,
)
from app.records.infusion import InfusionState, fold_infusion
from app.records.kept import FIRST, SECOND, Entry
from app.records.kinds import END_OF_PCA, RE_CHECK, Kind
from app.records.pauses import Pause
from app.records.ward_events import LineLooked, LinePaused, LineResumed
from tests.story.events import BEGAN, NADIA, RUTH, TOMAS, Story

SOON, LATER = timedelta(minutes=30), timedelta(minutes=120)


class Course(Story):
    """Entries of several checks of one infusion, or of none, in the log's order."""

    def of(self, check: str, event: Event, *, by: str = "") -> "Course":
        """Something happened in this check."""
        self.tell(event, by=by)
        self.entries[-1] = _of(self.entries[-1], check)
        return self

    def is_started(self, check: str, *, by: str = NADIA) -> "Course":
        """The check's infusion was started."""
        return self.of(check, Started(), by=by)

    def stops(self, why: str = "", *, check: str = "") -> "Course":
        """Somebody wrote down a stop."""
        return self.of(check, DeviceStopped(stopped_at="12:50", why=why, totals="23 presses"), by=RUTH)

    def was_elsewhere(self, stop: int) -> "Course":
        """The stop with this position was written at the wrong bed."""
        return self.of("", StopMisplaced(stop=str(stop)), by=RUTH)

    def is_not_over(self, stop: int) -> "Course":
        """PCA did not end with the stop with this position."""
        return self.of("", EndWithdrawn(stop=str(stop)), by=RUTH)

    def is_done(self, check: str, kind: Kind = RE_CHECK) -> "Course":
        """Both signed a check of the device as it runs."""
        for slot in (FIRST, SECOND):
            signed = Signed(edition=1, slot=slot, digest="d", meaning="agreed")
            self.of(check, signed, by=TOMAS if slot == FIRST else NADIA)
        return self.of(check, CheckDone(check_kind=kind.name))

    def ends(self) -> "Course":
        """The stop was for good."""
        return self.stops("end-of-therapy")

    def starts_unchecked(self) -> "Course":
        """It had to start without a check."""
        return self.of("", StartedWithoutCheck(reason="9 mg were given", started_at=""), by=TOMAS)


def _of(entry: Entry, check: str) -> Entry:
    return Entry(**{**vars(entry), "check": check})


def told() -> Course:
    return Course()


RUNS, STOPPED, UNCHECKED, ENDED = "runs", "stopped", "unchecked", "ended"


def said_of(infusion: InfusionState) -> set[str]:
    asked = {
        RUNS: infusion.is_running,
        STOPPED: infusion.is_stopped,
        UNCHECKED: infusion.is_unchecked,
        ENDED: infusion.ended_at is not None,
    }
    return {word for word, holds in asked.items() if holds}


ROWS: dict[str, tuple[Callable[[], Story], set[str]]] = {
    "nothing happened": (told, set()),
    "set up, and never cleared": (lambda: told().found(), set()),
    "cleared, and not started": (lambda: told().cleared(), set()),
    "started": (lambda: told().cleared().looked().started(), {RUNS}),
    "stopped before it was started": (lambda: told().stops().is_started("1"), {RUNS}),
    "stopped in its own check": (lambda: told().is_started("1").stops(check="1"), {STOPPED}),
    "stopped in another check of it": (lambda: told().is_started("1").stops(check="2"), {STOPPED}),
    "stopped without a check": (lambda: told().is_started("1").stops(), {STOPPED}),
    "stopped twice": (lambda: told().is_started("1").stops().stops(), {STOPPED}),
    "started again by another check": (lambda: told().is_started("1").stops().is_started("2"), {RUNS}),
    "and stopped again": (lambda: told().is_started("1").stops().is_started("2").stops(), {STOPPED}),
    "stopped, and that was another bed": (lambda: told().is_started("1").stops().was_elsewhere(2), {RUNS}),
    "one stop of two was at another bed": (
        lambda: told().is_started("1").stops().stops().was_elsewhere(2),
        {STOPPED},
    ),
    "the stop of an earlier run was at another bed": (
        lambda: told().is_started("1").stops().is_started("2").stops().was_elsewhere(2),
        {STOPPED},
    ),
    "for good, and that was another bed": (lambda: told().is_started("1").ends().was_elsewhere(2), {RUNS}),
    "for good, and it was not over": (lambda: told().is_started("1").ends().is_not_over(2), {STOPPED}),
    "what another said of its end stands": (
        lambda: told().is_started("1").ends().ends().is_not_over(3),
        {ENDED},
    ),
    "both say that it was not over": (
        lambda: told().is_started("1").ends().ends().is_not_over(3).is_not_over(2),
        {STOPPED},
    ),
    "two have signed its end since": (
        lambda: told().is_started("1").ends().of("2", InfusionEnded(check_kind="end")).is_not_over(2),
        {ENDED},
    ),
    "an end before it was started again was none": (
        lambda: told().is_started("1").ends().is_started("2").ends().is_not_over(2),
        {ENDED},
    ),
    "stopped for good": (lambda: told().is_started("1").ends(), {ENDED}),
    "stopped, and then for good": (lambda: told().is_started("1").stops().ends(), {ENDED}),
    "stopped once more after the end": (lambda: told().is_started("1").ends().stops(), {ENDED}),
    "ended before anything was started": (lambda: told().ends(), {ENDED}),
    "started after all": (lambda: told().is_started("1").ends().is_started("2"), {RUNS}),
    "started without a check": (lambda: told().starts_unchecked(), {RUNS, UNCHECKED}),
    "and stopped": (lambda: told().starts_unchecked().stops(), {STOPPED, UNCHECKED}),
    "and ended": (lambda: told().starts_unchecked().ends(), {ENDED}),
    "its check has one signature": (
        lambda: told().starts_unchecked().found().steps_confirmed().frozen().signed(1),
        {RUNS, UNCHECKED},
    ),
    "each signed another edition": (
        lambda: told().starts_unchecked().found().signed(1).signed(2, edition=2),
        {RUNS, UNCHECKED},
    ),
    "its check was cleared": (lambda: told().starts_unchecked().cleared(), {RUNS}),
    "its re-check is done": (lambda: told().starts_unchecked().is_done("2"), {RUNS}),
    "started, re-checked and stopped": (lambda: told().is_started("1").is_done("2").stops(), {STOPPED}),
    "and is started": (lambda: told().starts_unchecked().cleared().started(), {RUNS}),
}


@pytest.mark.parametrize("row", ROWS)
def test_each_course_of_an_infusion(row: str) -> None:
    story, words = ROWS[row]

    assert said_of(story().infusion()) == words


def test_what_runs_since_when_and_who_answers_for_it() -> None:
    story = told().is_started("1").stops().is_started("2", by=TOMAS)
    infusion = story.infusion()
    first, second = infusion.runs

    assert (first.since, first.stopped_at) == tuple(each.at for each in story.entries[:2])
    assert (second.since, second.stopped_at) == (story.now, None)
    assert (infusion.last_run, infusion.in_force, infusion.responsible) == (second, "2", TOMAS)
    assert told().infusion().responsible == ""


def test_the_first_stop_ends_a_run_and_a_second_note_does_not_move_it() -> None:
    story = told().is_started("1").stops().stops()

    assert [run.stopped_at for run in story.infusion().runs] == [story.entries[1].at]


def test_a_start_without_a_check_puts_no_settings_in_force() -> None:
    assert told().starts_unchecked().infusion().in_force == ""
    # A check of what runs does, and those of an earlier check stay what is known.
    assert told().starts_unchecked().is_done("2").infusion().in_force == "2"
    assert told().is_started("1").stops().starts_unchecked().infusion().in_force == "1"


def test_whether_the_run_of_a_check_was_stopped() -> None:
    infusion = told().is_started("1").stops().is_started("2").infusion()

    assert [infusion.was_stopped(check) for check in ("1", "2", "another")] == [True, False, False]


def test_a_check_is_due_the_sites_time_after_a_start_without_one() -> None:
    story = told().starts_unchecked()

    assert due(story.infusion()) == story.now + SOON
    assert due(story.cleared().infusion()) is None
    assert due(told().is_started("1").infusion()) is None


def due(infusion: InfusionState) -> datetime | None:
    return infusion.check_due_at(SOON, on_paper=LATER)


PAUSED = LinePaused(why="kink")


def looked(pause: int, *, within: bool = True, same: bool = True) -> LineLooked:
    return LineLooked(
        pause=str(pause),
        pressure="let-out",
        scale="a scale",
        sedation="7",
        respiratory_rate="17 /min",
        within=within,
        same=same,
    )


def paused() -> Course:
    return told().is_started("1").of("", PAUSED, by=TOMAS)


def pause_of(story: Story) -> Pause:
    pause = story.infusion().pause
    assert pause is not None
    return pause


def test_a_pause_is_of_what_runs_and_it_runs_all_the_same() -> None:
    story = paused()
    pause = pause_of(story)
    assert (pause.position, pause.at, pause.by, pause.why) == (2, story.now, TOMAS, "kink")
    assert said_of(story.infusion()) == {RUNS}
    # Paused twice it is paused since the first time.
    assert pause_of(story.of("", LinePaused(why="walk"))).why == "kink"

    assert told().of("", PAUSED).infusion().pause is None
    assert told().is_started("1").stops().of("", PAUSED).infusion().pause is None


def test_it_ends_when_the_line_runs_on_or_is_stopped_or_starts_anew() -> None:
    ended: list[Callable[[Course], Story]] = [
        lambda course: course.of("", LineResumed(pause="2")),
        lambda course: course.stops(),
        lambda course: course.is_started("2"),
        lambda course: course.starts_unchecked(),
    ]
    for end in ended:
        assert end(paused()).infusion().pause is None
    # A word about another pause changes nothing, and a stop at another bed ended none.
    assert pause_of(paused().of("", LineResumed(pause="1"))).position == 2
    assert pause_of(paused().stops().was_elsewhere(3)).position == 2


def test_only_a_look_that_lets_it_run_on_counts() -> None:
    story = paused().of("", looked(2), by=NADIA)
    assert [(each.by, each.at) for each in pause_of(story).looks] == [(NADIA, story.now)]
    for other in (looked(2, within=False), looked(2, same=False), looked(1)):
        assert pause_of(paused().of("", other)).looks == ()
    assert told().is_started("1").of("", looked(2)).infusion().pause is None


def test_no_word_that_somebody_wrote_is_part_of_it() -> None:
    said = repr(told().starts_unchecked().of("", PAUSED).of("", looked(2)).infusion())
    said += repr(told().starts_unchecked().stops().ends().infusion())

    for words in ("9 mg", "23 presses", "12:50", "17 /min", "'7'"):
        assert words not in said


def test_it_is_folded_from_the_kinds_of_event_that_are_read_for_it_and_from_no_other() -> None:
    story = told().starts_unchecked().is_started("2").is_done("3").ends().was_elsewhere(6).cleared()
    course = [each for each in story.entries if each.event.kind in COURSE]

    assert fold_infusion("infusion-1", course) == story.infusion()
    assert len(course) < len(story.entries)
    assert set(COURSE) < set(KINDS)


def test_of_part_of_its_entries_it_is_what_it_was_then() -> None:
    story = told().is_started("1").stops().is_started("2")

    assert [
        fold_infusion("infusion-1", (each for each in story.entries if each.position <= until)).in_force
        for until in range(4)
    ] == ["", "1", "1", "2"]
    assert story.entries[0].at > BEGAN


def test_what_a_check_led_to_goes_on_until_its_end_is_written_down() -> None:
    def led() -> Course:
        return told().is_started("one").stops().of("two", LedToCheck(check_kind="set-up"))

    assert not told().is_started("one").stops().infusion().goes_on
    assert led().infusion().goes_on
    assert not led().ends().infusion().goes_on
    assert (led().infusion().led_to, led().ends().infusion().led_to) == ("set-up", "")
    # Said not to be over, it waits for that check again.
    assert led().ends().is_not_over(4).infusion().led_to == "set-up"


def test_a_start_without_a_check_after_checks_is_unchecked_until_the_next() -> None:
    again = told().is_started("1").is_done("2").stops().starts_unchecked()
    assert said_of(again.infusion()) == {RUNS, UNCHECKED}
    assert due(again.infusion()) == again.now + SOON
    # Since the first of two such.
    since = again.now
    assert due(again.starts_unchecked().infusion()) == since + SOON
    assert said_of(again.is_done("3").infusion()) == {RUNS}


def test_the_check_of_its_end_ends_it_closes_its_account_and_leads_nowhere() -> None:
    running = Story().cleared().started()
    ended = running.tell(InfusionEnded(check_kind=END_OF_PCA.name))
    infusion = ended.infusion()

    assert (infusion.is_running, infusion.ended_at, infusion.closed_at) == (False, ended.now, ended.now)
    assert (infusion.led_to, infusion.in_force != "") == ("", True)
    # Where a stop had ended therapy, that stays the moment of its end.
    stopped = Story().cleared().started().tell(DeviceStopped(stopped_at="", why="end-of-therapy", totals=""))
    at = stopped.now
    closed = stopped.tell(InfusionEnded(check_kind=END_OF_PCA.name)).infusion()
    assert (closed.ended_at, closed.closed_at) == (at, stopped.now)
    assert at < stopped.now


def test_it_may_run_from_its_start_until_two_have_closed_it_as_a_stop_may_be_of_another_bed() -> None:
    running = Story().cleared().started()
    stopped = running.tell(DeviceStopped(stopped_at="", why="other", totals=""))

    assert not Story().cleared().infusion().may_run
    assert running.infusion().may_run
    assert stopped.infusion().may_run
    assert not stopped.tell(InfusionEnded(check_kind=END_OF_PCA.name)).infusion().may_run
