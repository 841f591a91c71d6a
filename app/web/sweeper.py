"""The loop in which each server process finishes what a crash or a lost connection left."""

import logging
import threading
from collections.abc import Callable
from datetime import datetime

from app.site.installation import Site
from app.storage import StoreUnavailable
from app.web import noting
from app.web.log_lines import place
from app.workflow.sweeping import sweep_once

EVERY_SECONDS = 1
# While nothing can be issued until somebody comes: looking into it may mean to read the whole log.
IN_TROUBLE_SECONDS = 10

_log = logging.getLogger(__name__)


def start_sweeper(site: Site, clock: Callable[[], datetime], holder: str) -> Callable[[], None]:
    """Sweep in a thread of its own under the lease; call what is returned to end it and wait for its end."""
    ended = threading.Event()
    thread = threading.Thread(target=_sweep, args=(site, clock, holder, ended), daemon=True)
    thread.start()

    def end() -> None:
        ended.set()
        thread.join()

    return end


def _sweep(site: Site, clock: Callable[[], datetime], holder: str, ended: threading.Event) -> None:
    # How far nothing is left is remembered, not kept: whoever starts anew looks through everything once.
    told, settled, settled_at, pause = "", 0, None, EVERY_SECONDS
    while not ended.wait(pause):
        try:
            swept = sweep_once(site, clock(), holder=holder, after=settled, since=settled_at)
            if swept is None:
                continue
            settled, settled_at = swept.settled, swept.settled_at
            pause = IN_TROUBLE_SECONDS if swept.why else EVERY_SECONDS
            left = swept.left
        except StoreUnavailable as error:
            noting.count_lost_database(error)
            left = f"database: {error}"
        except Exception as error:  # noqa: BLE001  # the loop must outlive one bad sweep
            # Kind and place alone: a trace could hold values.
            left = f"failed: {type(error).__name__} at {place(error)}"
        # Once when it begins or changes: the same line each second would hide all others.
        if left != told:
            told = left
            _log.error("sweep: %s", told or "nothing is left undone any more")
