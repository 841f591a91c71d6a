"""What is due of an infusion, and until when: one function, to which each rule of the site adds its own.

It is asked of the state, which holds no value: so a list may say *overdue* and what, and never of what.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from app.records.infusion import InfusionState
from app.records.policy import SitePolicy


class DueThing(StrEnum):
    """What is due; `app/words/due.py` has its words."""

    BLIND_CHECK = "blind-check"
    LINE = "line"
    LOWERED = "lowered"
    BREAK = "break"
    TRANSFER = "transfer"
    OBSERVATION = "observation"


@dataclass(frozen=True, kw_only=True)
class Due:
    """One thing, until when it is due, and whether that has passed."""

    what: DueThing
    at: datetime
    overdue: bool


Until = Iterator[tuple[DueThing, datetime]]


def due_things(
    state: InfusionState, policy: SitePolicy, now: datetime, *, observe_by: datetime | None = None
) -> tuple[Due, ...]:
    """All that is due of an infusion that has not ended, what was due first at the top.

    `observe_by` is by when the patient is observed, where pages remind of it: that follows from what is set,
    and is given only for whoever may see it.
    """
    if state.ended_at is not None:
        return ()
    found = [each for rule in _RULES for each in rule(state, policy)]
    if observe_by is not None:
        found.append((DueThing.OBSERVATION, observe_by))
    return tuple(
        sorted(
            (Due(what=what, at=at, overdue=now > at) for what, at in found),
            key=lambda each: (each.at, each.what),
        )
    )


def _blind_check(state: InfusionState, policy: SitePolicy) -> Until:
    """What runs without a check is checked by two."""
    at = state.check_due_at(policy.check_due, on_paper=policy.paper_check_due)
    if at is not None:
        yield DueThing.BLIND_CHECK, at


def _line(state: InfusionState, policy: SitePolicy) -> Until:
    """A line that is paused runs on within the time in which one nurse is enough; none of a dead device."""
    if state.pause is not None and state.emergencies.dead is None:
        yield DueThing.LINE, state.pause.at + policy.pause


def _lowered(state: InfusionState, policy: SitePolicy) -> Until:
    """What one nurse lowered for safety is checked by two."""
    if state.lowered_at is not None:
        yield DueThing.LOWERED, state.lowered_at + policy.lowered_check_due


def _break(state: InfusionState, _policy: SitePolicy) -> Until:
    """Whoever is on a break comes back, or hands over."""
    if state.cover is not None:
        yield DueThing.BREAK, state.cover.until


def _transfer(state: InfusionState, policy: SitePolicy) -> Until:
    """What was taken from another unit is read by two."""
    if state.transfer is not None:
        yield DueThing.TRANSFER, state.transfer.at + policy.transfer_check_due


_RULES: tuple[Callable[[InfusionState, SitePolicy], Until], ...] = (
    _blind_check,
    _line,
    _lowered,
    _break,
    _transfer,
)
