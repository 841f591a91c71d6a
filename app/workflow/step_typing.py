"""What is typed at the safety steps and not said yet: kept for its author alone, counting for nothing."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime

from app.base import Act
from app.keys import CONTENT_AT_MOST
from app.records.kept import STEPS_TYPING
from app.records.life import Action
from app.records.state import CheckState
from app.site.installation import Site
from app.storage import Transaction
from app.workflow.drafts import Place, content_of_typed, find_draft, opened_draft, sealed_draft
from app.workflow.loading import Own, lock_own
from app.workflow.looking import Seen
from app.workflow.refusals import NotFound, NotNow, NotYours

_OBSERVED, _READ = "observed", "read"
# The patient's identifier is kept nowhere, and a tick says what eyes have seen: it is made again.
OBSERVED_FIELDS = ("sedation", "respiratory_rate", "spo2")
READ_FIELDS = ("volume",)


@dataclass(frozen=True)
class TypingKept:
    """What stands in the fields is kept for its author."""


@dataclass(frozen=True)
class TypingNotKept:
    """It is longer than one could read."""


@dataclass(frozen=True, kw_only=True)
class TypedBefore:
    """What its author had typed, and when; nothing where nothing was kept."""

    at: datetime | None = None
    fields: Mapping[str, str] = field(default_factory=dict)


def keep_step_typing(
    site: Site, act: Act, check_id: str, typed: Mapping[str, str]
) -> TypingKept | TypingNotKept | NotFound | NotYours | NotNow:
    """Keep what stands in the fields of the steps, right or wrong; makes no log entry."""
    with site.store.write() as tx:
        own = lock_own(tx, act, check_id, Action.CONFIRM_STEPS)
        if not isinstance(own, Own):
            return own
        content = content_of_typed(
            act,
            {
                _OBSERVED: {name: typed.get(name, "") for name in OBSERVED_FIELDS},
                _READ: {name: typed.get(name, "") for name in READ_FIELDS},
            },
        )
        if len(content) > CONTENT_AT_MOST:
            return TypingNotKept()
        place = _place(own.state, act.by.person)
        forget_step_typing(tx, own.state, act.by.person)
        if not any(typed.values()):
            return TypingKept()
        draft = sealed_draft(site, act, place, STEPS_TYPING, version=1, content=content)
        tx.save_draft(draft, expected_version=0)
    return TypingKept()


def forget_step_typing(tx: Transaction, state: CheckState, person: str) -> None:
    """It was said, or is typed anew."""
    place = _place(state, person)
    tx.delete_drafts(place.check, STEPS_TYPING, place.round, person)


def typed_before(site: Site, act: Act, seen: Seen) -> TypedBefore:
    """What this person had typed; what was observed before the device was stopped says nothing any more."""
    state = seen.loaded.state
    with site.store.read() as reader:
        draft = find_draft(reader, _place(state, act.by.person), STEPS_TYPING)
    if draft is None:
        return TypedBefore()
    typed = opened_draft(site, draft).answers
    is_stale = any(each.at >= draft.saved_at for each in state.stop_notes if not each.misplaced)
    kept = {**({} if is_stale else typed[_OBSERVED]), **typed[_READ]}
    fields = {name: text for name, text in kept.items() if text}
    return TypedBefore(at=draft.saved_at if fields else None, fields=fields)


def _place(state: CheckState, person: str) -> Place:
    """A volume that is asked for anew is typed anew."""
    return Place(check=state.check.id, round=state.priming_round, person=person)
