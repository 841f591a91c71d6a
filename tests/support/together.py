"""Several acts at the same instant."""

import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor


def together(*acts: Callable[[], object]) -> list[object]:
    """Let all begin at once, each in its own thread; what each came to, in the order of the acts."""
    barrier = threading.Barrier(len(acts))

    def begin(act: Callable[[], object]) -> object:
        barrier.wait(timeout=30)
        return act()

    with ThreadPoolExecutor(max_workers=len(acts)) as pool:
        return list(pool.map(begin, acts))
