"""An infusion that has run since yesterday, for whoever wants to begin in the middle of one."""

import json
from datetime import timedelta

from app.cli.demo_site import SEED, Demonstration
from app.cli.walk import Nurse, re_check, set_up

# Its syringe may be on for a day, and pharmacy has some hours: it is time to ask.
STARTED = timedelta(hours=21)
_READ = timedelta(hours=9)


def begin_in_the_middle(running: Demonstration) -> None:
    """Two nurses set it up and checked it again; WalkFailed names the page that was otherwise."""
    scene = json.loads((SEED / "walk.json").read_text(encoding="utf-8"))
    both = _nurses(running)
    set_up(both, scene, say=_nothing)
    running.clock.behind = _READ
    re_check(both, scene)
    running.clock.behind = timedelta(0)


def _nurses(running: Demonstration) -> tuple[Nurse, Nurse]:
    one, other = (
        Nurse(running.address, running.person(login), _nothing) for login in ("n.ferrow", "t.osmund")
    )
    return one, other


def _nothing(_words: str) -> None:
    """It was yesterday: nobody watches."""
