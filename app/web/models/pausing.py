"""A line that is paused, as the page before it runs on shows it."""

from dataclasses import dataclass
from datetime import datetime

from app.web.models.infusions import InfusionPage, infusion_page
from app.words.names import pause_words
from app.workflow import pausing
from app.workflow.refusals import ReadsBlind


@dataclass(frozen=True, kw_only=True)
class ResumePage:
    """Who paused it and why, what is in force, and why whoever looks cannot let it run on, if so.

    Until `until` one nurse is enough. `two`: it was longer than `minutes`, so that two look; `looked` and
    `colleague` are who has.
    """

    infusion: InfusionPage
    pause: int
    by: str
    at: datetime | None
    until: datetime | None
    why: str
    minutes: int
    valid_minutes: int
    two: bool
    looked: bool
    colleague: str
    refused: str


def resume_page(seen: pausing.PauseSeen) -> ResumePage:
    """The page for whoever looks."""
    pause = seen.pause
    return ResumePage(
        infusion=infusion_page(seen.seen),
        pause=pause.position if pause else 0,
        by=seen.by,
        at=pause.at if pause else None,
        until=pause.at + seen.policy.pause if pause else None,
        why=pause_words(pause.why) if pause else "",
        minutes=int(seen.policy.pause.total_seconds()) // 60,
        valid_minutes=int(seen.policy.clearance.total_seconds()) // 60,
        two=seen.needs_two,
        looked=seen.looked,
        colleague=seen.colleague,
        refused=refused_words(seen.refused) if seen.refused else "",
    )


def refused_words(refused: pausing.CannotResume) -> str:
    """Why a line cannot run on, and what comes instead."""
    match refused:
        case pausing.NotRunning():
            return "This infusion was stopped. Before it runs again, two nurses check it again."
        case pausing.NotPaused():
            return "This pause has ended: a colleague let the line run on."
        case pausing.NothingInForce():
            return (
                "No two nurses have checked what is set: there is nothing to hold the device against. "
                "Two nurses check it before it runs on."
            )
        case pausing.CheckComesFirst():
            return (
                "A check comes first: it is in the unit's list. What was changed, lowered for safety or "
                "found wrong is checked by two before the line runs on."
            )
        case ReadsBlind():
            return (
                "You are one of two who read here, each alone: what is in force is closed to you. "
                "A colleague lets the line run on."
            )
