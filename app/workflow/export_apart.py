"""The process in which an export that was asked for on the web is made: the bedside goes first.

It is told where the installation is by a pipe, so that no key stands among its words or in its environment,
and goes on by itself when whoever started it ends.
"""

import json
import os
import resource
import subprocess
import sys
import threading
from pathlib import Path

from app.config import root
from app.keys import ApplicationKey
from app.site.installation import Site
from app.storage import open_store
from app.workflow.export_jobs import Job, find_job, name_of, take_turn

# Of a processor that both want this process has a small part.
NICE = 15
# What a library needs to find its own files, and no setting of the installation.
PASSED_ON = ("HOME", "LANG", "LC_ALL", "PATH", "TMPDIR")
ONE_THREAD = {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1", "ARROW_DEFAULT_MEMORY_POOL": "system"}


def start(site: Site, job: Job) -> "subprocess.Popen[bytes]":
    """Begin one export in a process of its own, and do not wait for it."""
    environment = {name: os.environ[name] for name in PASSED_ON if name in os.environ}
    process = subprocess.Popen(  # noqa: S603  # our own program
        [sys.executable, "-m", __name__],
        stdin=subprocess.PIPE,
        stdout=subprocess.DEVNULL,
        # A library's words about a record can hold some of it.
        stderr=subprocess.DEVNULL,
        env={**environment, **ONE_THREAD},
        cwd=root(),
        start_new_session=True,
    )
    assert process.stdin is not None  # noqa: S101  # it is a pipe
    with process.stdin as to:
        to.write(told(site, job))
    # Somebody must take note of its end.
    threading.Thread(target=process.wait, daemon=True).start()
    return process


def told(site: Site, job: Job) -> bytes:
    """What that process is told."""
    said = {
        "address": site.store.address,
        "key": site.key.content.hex(),
        "site_keys": str(site.site_keys.resolve()),
        "exports": str(job.folder.parent.resolve()),
        "export": job.folder.name,
    }
    return json.dumps(said).encode()


def give_way() -> None:
    """The bedside goes before this process from here on."""
    os.nice(NICE - os.nice(0))


def main() -> None:
    """Make one export, and end."""
    give_way()
    # Nothing of it is left on the disk by a crash.
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    said = json.loads(sys.stdin.buffer.read())
    exports = Path(said["exports"])
    site = Site(
        store=open_store(said["address"]),
        key=ApplicationKey(content=bytes.fromhex(said["key"])),
        site_keys=Path(said["site_keys"]),
        exports=exports,
    )
    try:
        job = find_job(exports, said["export"])
        if job is not None:
            make_here(site, job)
    finally:
        site.store.close()


def make_here(site: Site, job: Job) -> None:
    """Make an export in this process, if it has its turn and no other makes it."""
    # Whoever only starts it does not load what makes it.
    from app.workflow.export_making import make_export  # noqa: PLC0415

    with take_turn(job.folder.parent) as is_ours:
        if not is_ours:
            return
        with job.begin() as folder:
            if folder is not None:
                make_export(site, job.asked, folder, name=name_of(job.asked), tell=job.tell)


if __name__ == "__main__":
    main()
