"""Replay in a process of its own, one at a time, nice, and with a limit: the bedside never waits for it.

It is told where the database is by a pipe, and inherits nothing of the installation: no key, no setting.
"""

import json
import os
import resource
import subprocess
import sys
from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from datetime import datetime, timedelta
from time import monotonic
from typing import Any

from app.base import Act
from app.config import root
from app.keys import new_id
from app.people import Role
from app.records.visibility import Viewer
from app.site.installation import Site
from app.storage import open_store
from app.workflow.export_apart import ONE_THREAD, PASSED_ON
from app.workflow.loading import viewer_of
from app.workflow.replaying import Replay, Replayed, RuleCount, replay

# Seconds after which no further check is tried, and after which the process is ended whatever it does.
ENOUGH = 20
LONGEST = 40
_NICE = 15
_LEASE = "replaying rules"


@dataclass(frozen=True)
class AnotherRuns:
    """A replay runs already; one at a time is enough for a site."""


@dataclass(frozen=True)
class TookTooLong:
    """It came to no end in its time, or the process was ended: nothing is said of the rules."""


@dataclass(frozen=True, kw_only=True)
class Trial:
    """A document that might come into force, and when it would."""

    what: str
    content: Mapping[str, Any]
    since: datetime


def replay_apart(
    site: Site, act: Act, roles: frozenset[Role], trial: Trial
) -> Replayed | AnotherRuns | TookTooLong:
    """Ask a process of its own; it reads, and writes nothing."""
    with site.store.read() as reader:
        # Counts of ended checks without a value are for whoever answers for rules, patients' records or not.
        viewer = replace(viewer_of(reader, act.by, roles, act.now), reads_records=True)
    holder, until = new_id(), act.now + timedelta(seconds=LONGEST + 5)
    with site.store.write() as tx:
        if not tx.take_lease(_LEASE, holder, now=act.now, until=until):
            return tx.refuse(AnotherRuns())
    asked = Replay(what=trial.what, content=trial.content, since=trial.since, viewer=viewer)
    try:
        return _asked(act.now, asked, site.store.address)
    finally:
        with site.store.write() as tx:
            tx.take_lease(_LEASE, holder, now=act.now, until=act.now)


def _asked(now: datetime, asked: Replay, address: str) -> Replayed | TookTooLong:
    question = {
        "address": address,
        "now": now.isoformat(),
        "what": asked.what,
        "content": asked.content,
        "since": asked.since.isoformat(),
        "viewer": {
            **asdict(asked.viewer),
            "blind_at": sorted(asked.viewer.blind_at),
            "blind_on": sorted(asked.viewer.blind_on),
        },
    }
    environment = {name: os.environ[name] for name in PASSED_ON if name in os.environ}
    try:
        ran = subprocess.run(  # noqa: S603  # our own program, and the question only on its standard input
            [sys.executable, "-m", __name__],
            input=json.dumps(question).encode(),
            stdout=subprocess.PIPE,
            # A library's words can hold a value.
            stderr=subprocess.DEVNULL,
            env={**environment, **ONE_THREAD},
            cwd=root(),
            timeout=LONGEST,
            check=False,
        )
    except subprocess.TimeoutExpired:
        return TookTooLong()
    return _read(json.loads(ran.stdout)) if ran.returncode == 0 else TookTooLong()


def _read(said: Mapping[str, Any]) -> Replayed:
    rules = (RuleCount(**{**each, "units": tuple(map(tuple, each["units"]))}) for each in said["rules"])
    first_at = datetime.fromisoformat(said["first_at"]) if said["first_at"] else None
    return Replayed(**{**said, "rules": tuple(rules), "first_at": first_at})


def main() -> None:
    """Answer the one question on the standard input."""
    os.nice(_NICE)
    # Nothing of it is left on the disk by a crash.
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    began = monotonic()
    said = json.loads(sys.stdin.read())
    viewer = said["viewer"]
    asked = Replay(
        what=said["what"],
        content=said["content"],
        since=datetime.fromisoformat(said["since"]),
        viewer=Viewer(
            **{
                **viewer,
                "blind_at": frozenset((unit, bed) for unit, bed in viewer["blind_at"]),
                "blind_on": frozenset(viewer["blind_on"]),
            }
        ),
    )
    store = open_store(said["address"])
    with store.read() as reader:
        found = replay(
            reader,
            datetime.fromisoformat(said["now"]),
            asked,
            enough=lambda: monotonic() - began > ENOUGH,
        )
    told = {**asdict(found), "first_at": found.first_at.isoformat() if found.first_at else ""}
    sys.stdout.write(json.dumps(told))


if __name__ == "__main__":
    main()
