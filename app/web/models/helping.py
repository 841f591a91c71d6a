"""A request for help as a page shows it, and what the person who helped has to choose from."""

from dataclasses import dataclass
from datetime import datetime

from app.people import Permission, Person, may
from app.records.asked_help import Help
from app.records.outcomes import outcomes_of
from app.words.checking import outcome_choice, outcome_words, why_words
from app.workflow.looking import Seen


@dataclass(frozen=True, kw_only=True)
class HelpShown:
    """A request for help.

    `taken_by` has it since `since`, and took it over from `before`; by `over` a form says whose it is.
    """

    asked_by: str
    why: str
    text: str
    taken_by: str
    over: str
    since: datetime | None
    before: str
    outcome: str
    settled: str


def help_of(seen: Seen) -> HelpShown | None:
    """The request for help that is open, or else the last one."""
    asked = seen.loaded.state.open_help or next(reversed(seen.loaded.state.help), None)
    return _shown(asked, seen) if asked else None


def may_take(seen: Seen, person: Person) -> bool:
    """Whether this person may take the open request, or take it over from whoever has it."""
    asked = seen.loaded.state.open_help
    return (
        asked is not None
        and seen.slot is None
        and asked.taken_by != person.id
        and may(person.roles, Permission.TAKE_ESCALATION)
    )


def _shown(asked: Help, seen: Seen) -> HelpShown:
    return HelpShown(
        asked_by=seen.names.get(asked.asked_by, ""),
        why=why_words(asked.why),
        text=asked.text,
        taken_by=seen.names.get(asked.taken_by, ""),
        over=asked.taken_by,
        since=asked.takings[-1].at if asked.takings else None,
        before="".join(seen.names.get(each.by, "") for each in asked.takings[-2:-1]),
        outcome=outcome_words(asked.outcome) if asked.outcome else "",
        settled=asked.settled_text,
    )


def outcome_choices(seen: Seen) -> dict[str, str]:
    """How it may have been settled, each with what both then read again."""
    state = seen.loaded.state
    return {each.name: outcome_choice(each, state.kind) for each in outcomes_of(state)}
