"""What came of a check on training cards, told once it has ended: what was wrong, who caught it, how fast."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from app.base import Act
from app.people import Permission, Role, may
from app.records.followup import Found, Severity
from app.records.kept import FIRST, SECOND, SOURCES, KeptComparison
from app.records.reading import Answers
from app.records.state import CheckState
from app.records.visibility import Sight
from app.review.cards import CardSet, answers_on, caught_alone
from app.review.errors import Error
from app.site.installation import Site, is_for_training
from app.storage import Reader
from app.workflow.looking import Seen, note_access, see_in
from app.workflow.refusals import NotFound
from app.workflow.training_cards import find_cards


@dataclass(frozen=True, kw_only=True)
class Outcome:
    """Of one check: which set, what was wrong on it, and what each caught by the first reading alone.

    `caught` is empty where the first reading of both was never compared: then nobody is told of either.
    `stopped`: the comparison of the first reading was stopped on what was wrong. `seconds` are from the
    opening to each hand-in, `joined` from it to when each joined.
    """

    check: str
    ended_at: datetime
    number: int
    error: Error | None
    fields: tuple[str, ...]
    stood: Answers
    caught: Mapping[int, bool]
    found: tuple[Found, ...]
    stopped: bool
    seconds: Mapping[int, int]
    joined: Mapping[int, int]


@dataclass(frozen=True, kw_only=True)
class Told:
    """The check, and what came of its cards; None where it was done without any."""

    check: Seen
    outcome: Outcome | None


def see_outcome(site: Site, act: Act, roles: frozenset[Role], check_id: str) -> Told | NotFound:
    """What came of a check that has ended, for its two and whoever reads findings; a look, written down."""
    with site.store.read() as reader:
        if not is_for_training(reader):
            return NotFound()
        seen = see_in(reader, act, check_id)
        if isinstance(seen, NotFound) or not _may_see(seen, roles):
            return NotFound()
        outcome = outcome_of(site, reader, seen.loaded.state, seen.loaded.comparisons)
    note_access(site, act, check_id, what="training")
    return Told(check=seen, outcome=outcome)


def _may_see(seen: Seen, roles: frozenset[Role]) -> bool:
    learns = seen.slot is not None
    teaches = may(roles, Permission.UNIT_FINDINGS) or may(roles, Permission.ALL_FINDINGS)
    is_told = seen.sight is Sight.EVERYTHING and seen.loaded.state.has_ended
    return is_told and (learns or teaches)


def outcome_of(
    site: Site,
    reader: Reader,
    state: CheckState,
    comparisons: tuple[KeptComparison, ...],
    *,
    dealt: Mapping[int, str] | None = None,
) -> Outcome | None:
    """What came of the cards of a check; nothing before it has ended, or where there were none.

    `dealt` are the sealed sets by number, where those of many checks are opened.
    """
    cards = find_cards(site, reader, state.check.id, dealt=dealt) if state.has_ended else None
    if cards is None:
        return None
    number, made = cards
    ended = reader.ended_rows(state.check.id)
    of_sources = (each for each in comparisons if each.subject == SOURCES and each.round == 1)
    first = next(of_sources, None)
    round_ = state.rounds[0] if state.rounds else None
    found = round_.findings if first and round_ else ()
    return Outcome(
        check=state.check.id,
        ended_at=ended[0].ended_at if ended else state.now,
        number=number,
        error=made.error,
        fields=made.fields,
        stood=answers_on(made.sources, {}),
        caught=_caught(made, first) if first else {},
        found=found,
        stopped=any(each.severity == Severity.STOP and each.field in made.fields for each in found),
        seconds={slot: _since(state, each.at) for slot, each in round_.handed_in.items()} if round_ else {},
        joined={slot: _since(state, at) for slot, at in state.joined_at.items()},
    )


def _caught(made: CardSet, first: KeptComparison) -> Mapping[int, bool]:
    if made.error is None:
        return {}
    return dict(zip((FIRST, SECOND), caught_alone(first.opened["case"], made.fields), strict=True))


def _since(state: CheckState, at: datetime) -> int:
    return int((at - state.check.opened_at).total_seconds())
