"""The process that makes those that verify: light to import, so that it can be started before all else."""

import multiprocessing
from multiprocessing import forkserver
from multiprocessing.context import ForkServerContext

# What each of them needs; a second's work to load.
_READY = "app.auditing.verifying_ready"


def maker() -> ForkServerContext:
    """What makes them: a process that has opened no database."""
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload([_READY])
    return context


def begin_to_load() -> None:
    """Start it now, to load while whoever calls goes on."""
    maker()
    forkserver.ensure_running()
