"""A request for help as a page shows it, and what the person who helped has to choose from."""

from dataclasses import dataclass

from app.records.outcomes import outcomes_of
from app.words.checking import outcome_choice, outcome_words, why_words
from app.workflow.looking import Seen


@dataclass(frozen=True, kw_only=True)
class HelpShown:
    """A request for help."""

    asked_by: str
    why: str
    text: str
    taken_by: str
    outcome: str
    settled: str


def help_of(seen: Seen) -> HelpShown | None:
    """The request for help that is open, or else the last one."""
    asked = seen.loaded.state.open_help or next(reversed(seen.loaded.state.help), None)
    if asked is None:
        return None
    return HelpShown(
        asked_by=seen.names.get(asked.asked_by, ""),
        why=why_words(asked.why),
        text=asked.text,
        taken_by=seen.names.get(asked.taken_by, ""),
        outcome=outcome_words(asked.outcome) if asked.outcome else "",
        settled=asked.settled_text,
    )


def outcome_choices(seen: Seen) -> dict[str, str]:
    """How it may have been settled, each with what both then read again."""
    state = seen.loaded.state
    return {each.name: outcome_choice(each, state.kind) for each in outcomes_of(state)}
