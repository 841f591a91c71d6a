"""A demonstration that begins in the middle of an infusion, with what happened to it before."""

import json
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

from app.cli.bedside import Bedside
from app.cli.demo_site import SEED, Demonstration
from app.cli.two_days import SET_UP_AT, Story, scene
from app.cli.walk import Say, walk_through


@dataclass(frozen=True, kw_only=True)
class Middle:
    """How long ago it was set up, how many chapters of its story are past, and what there is to do."""

    ago: timedelta
    chapters: int
    to_do: str


MIDDLES = {
    "handoff": Middle(
        ago=timedelta(hours=18, minutes=55),
        chapters=2,
        to_do="It has run since yesterday; its dose was raised in the night, which is over now. t.osmund\n"
        "     answers for it and hands it over to n.ferrow, who joins.",
    ),
    "syringe": Middle(
        ago=timedelta(hours=22, minutes=50),
        chapters=3,
        to_do="Its syringe has been on for almost a day and is low: Show says how long it lasts. n.ferrow\n"
        "     changes it with t.osmund, who joins.",
    ),
    "held": Middle(
        ago=timedelta(hours=30),
        chapters=5,
        to_do="It is held after a reversal agent. n.ferrow writes down what the prescriber decided, then\n"
        "     changes the settings with t.osmund, who joins.",
    ),
    "end": Middle(
        ago=timedelta(hours=45),
        chapters=8,
        to_do="It was moved to bed 3 of the Recovery room, where i.bexley signs in: tablets from now on.\n"
        "     She ends it with n.ferrow, who takes a shift there. What is left of both syringes goes\n"
        "     before a witness, such as p.varga.",
    ),
}


def begin_in_the_middle(running: Demonstration, middle: Middle) -> None:
    """Its set-up and what happened since; WalkFailed names what was otherwise."""
    began = running.clock()
    story = begin_story(running, began, say=_nothing)
    for chapter in story.chapters[: middle.chapters]:
        chapter()
    running.clock.behind = timedelta(0)


def begin_story(running: Demonstration, noon: datetime, *, say: Say) -> Story:
    """Set an infusion up at the pages, over real HTTP; what follows is to be lived through."""
    check = walk_through(running, say=say)
    with running.site.store.read() as reader:
        set_up = reader.find_check(check)
    assert set_up is not None  # noqa: S101  # it was started
    bed = Bedside(running=running, infusion=set_up.infusion, say=say, kept=[check])
    return Story(bed=bed, scene=scene(), noon=noon)


def last_noon(now: datetime) -> datetime:
    """Noon, by the site's own clocks, of a day so long ago that its infusion has ended by now."""
    policy = json.loads((SEED / "policy.json").read_text(encoding="utf-8"))
    day = now.astimezone(ZoneInfo(policy["zone"])) - timedelta(days=3)
    return day.replace(hour=SET_UP_AT, minute=0, second=0, microsecond=0).astimezone(UTC)


def _nothing(_words: str) -> None:
    """It was before: nobody watches."""
