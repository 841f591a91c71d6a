"""A check before both have joined: where, who, and the code that brings the second in."""

from dataclasses import dataclass
from datetime import datetime

from app.records.course import Course
from app.records.kept import SECOND
from app.records.reading import sources_in
from app.records.state import Phase
from app.web.models.check import Bedside, bedside
from app.web.models.lists import place
from app.words.names import listed
from app.words.reading import SEEN_AT
from app.words.screens import kind_words
from app.workflow.looking import Place, Seen

_GROUP = 3


@dataclass(frozen=True, kw_only=True)
class Joining:
    """A check as it is shown to whoever waits for the second, or is about to be the second."""

    head: Bedside
    opened_at: datetime
    joined: tuple[str, ...]
    mine: bool
    full: bool
    code_minutes: int
    course: str
    reads: str


def joining(seen: Seen) -> Joining:
    """Where it is and who has joined; both may be known to everybody on the unit."""
    state = seen.loaded.state
    return Joining(
        head=bedside(state, seen.unit, viewer=seen.viewer, names=seen.names),
        opened_at=state.check.opened_at,
        joined=tuple(sorted(seen.names[who] for who in state.people.values() if who in seen.names)),
        mine=seen.slot is not None,
        # Nobody is wanted any more either when the check has ended meanwhile.
        full=state.phase is not Phase.OPENED,
        code_minutes=int(seen.loaded.policy.join_code_life.total_seconds()) // 60,
        course=_course_words(state.course, int(seen.loaded.policy.passes_on.total_seconds()) // 3600),
        reads=listed([SEEN_AT[source] for source in sources_in(state.kind.reads_of(SECOND))]),
    )


_COURSES: dict[str, str] = {
    Course.GOES_ON: (
        "A set-up at this bed was given up in the last {hours}. "
        "This check belongs to the same infusion, and repeated readings count on."
    ),
    Course.ISSUED: (
        "A syringe was issued for this bed in the last {hours}. This check belongs to the same infusion."
    ),
    Course.TOO_LONG_AGO: (
        "What was set up at this bed was stopped or ended more than {hours} ago. "
        "This check begins a new infusion."
    ),
    Course.STOPPED: (
        "The infusion at this bed was stopped in the last {hours}. This check sets it up again, and takes a "
        "new line set. Do syringe and line stay as they are? Then end this check: a settings change reads "
        "order and device, and starts it. If another patient lies here, end this check; then write down that "
        "the earlier one was stopped here for good: A device was stopped, End of therapy."
    ),
    Course.UNCHECKED: (
        "The infusion at this bed was started without a check, and stopped. "
        "This check belongs to the same infusion."
    ),
    Course.ON_PAPER: (
        "The infusion at this bed was checked on paper alone, and stopped. "
        "This check belongs to the same infusion."
    ),
    Course.LED_TO: (
        "The last check of this infusion led to this one. This check belongs to the same infusion."
    ),
    Course.STARTED: (
        "An earlier set-up at this bed was started, and no stop is written down. "
        "Look at the bed: does that infusion still run?"
    ),
}


def _course_words(course: str, hours: int) -> str:
    """What became of the infusion before at this bed; nothing where there is nothing to say."""
    return _COURSES.get(course, "").format(hours=f"{hours}\N{NO-BREAK SPACE}h")


def where(found: Place | None) -> str:
    """Place and kind for the bar of a page that says nothing else of it; blank where it is not known."""
    if found is None:
        return ""
    kind = f" \N{MIDDLE DOT} {kind_words(found.kind)}" if found.kind else ""
    return f"{place(found.unit, found.bed)}{kind}"


def grouped(code: str) -> tuple[str, ...]:
    """The code in groups that are easy to say."""
    return tuple(code[start : start + _GROUP] for start in range(0, len(code), _GROUP))
