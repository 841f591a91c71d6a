"""Verify a file in a process of its own: without keys, without database, and with limits.

Whoever gives a file chose every byte of it. Whatever it makes of the libraries that read it, this process
only reads an answer of few words, and nobody else waits for it.
"""

import json
import os
import subprocess
import sys
import tempfile
import threading
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager, suppress
from typing import IO, Any

from app.auditing import apart
from app.auditing.verifying import PublicMaterial
from app.config import root
from app.records.checkpoint import file_content
from app.records.verification import NotReadable, Verification
from app.reports.record_file import is_named

# Seconds by the clock on the wall, on however busy a machine.
LONGEST = 120
# Bytes of one line of the answer.
_LONGEST_LINE = 64 * 1024

TOO_MUCH = "This file takes more time or memory than a record does: it was altered, or is not a record's PDF."
TOO_SLOW = (
    f"This file could not be read in {LONGEST} seconds: it is not a record's PDF, "
    "or too much else happens here. Nothing is said against it; give it once more."
)
# What a library needs to find its fonts and its own files, and no setting of the installation.
PASSED_ON = ("HOME", "LANG", "LC_ALL", "PATH")
_ONE_THREAD = {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}


def verify_apart(
    content: bytes, material_of: Callable[[str], PublicMaterial | NotReadable]
) -> Verification | NotReadable:
    """Put every question to a file; `material_of` the record that it says it is."""
    environment = {name: os.environ[name] for name in PASSED_ON if name in os.environ}
    with (
        tempfile.TemporaryDirectory(prefix="countersign-") as folder,
        subprocess.Popen(  # noqa: S603  # our own program, and nothing of the file among its words
            [sys.executable, "-m", apart.__name__],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            # A library's words about a file can hold some of it.
            stderr=subprocess.DEVNULL,
            env={**environment, **_ONE_THREAD, "TMPDIR": folder},
            cwd=root(),
            start_new_session=True,
        ) as process,
    ):
        late = threading.Event()
        found = None
        try:
            with _killed_when_late(process, late), suppress(BrokenPipeError):
                found = _asked(process, content, material_of)
        finally:
            process.kill()
            # What was not taken any more is let go.
            with suppress(BrokenPipeError):
                process.communicate()
    return found or NotReadable(why=TOO_SLOW if late.is_set() else TOO_MUCH)


@contextmanager
def _killed_when_late(process: "subprocess.Popen[bytes]", late: threading.Event) -> Iterator[None]:
    def kill() -> None:
        late.set()
        process.kill()

    watch = threading.Timer(LONGEST, kill)
    watch.start()
    try:
        yield
    finally:
        watch.cancel()


def _asked(
    process: "subprocess.Popen[bytes]",
    content: bytes,
    material_of: Callable[[str], PublicMaterial | NotReadable],
) -> Verification | NotReadable | None:
    """What it answers; None where it ended before it had."""
    to, back = process.stdin, process.stdout
    assert to is not None  # noqa: S101  # both are pipes
    assert back is not None  # noqa: S101
    apart.write_block(to, content)
    opened = _said(back)
    if not is_named(opened):
        return _why_not(opened)
    material = material_of(opened["record"])
    if isinstance(material, NotReadable):
        return material
    apart.write_block(to, material.certificates.encode())
    apart.write_block(to, file_content(material.checkpoint))
    answered = _said(back)
    return Verification.find_in(answered) or _why_not(answered)


def _why_not(said: Mapping[str, Any]) -> NotReadable | None:
    return NotReadable(why=str(said["why"])) if "why" in said else None


def _said(back: IO[bytes]) -> Mapping[str, Any]:
    """One line; nothing where the process ended before it was said."""
    line = back.readline(_LONGEST_LINE)
    try:
        said = json.loads(line)
    except ValueError:
        return {}
    return said if isinstance(said, dict) else {}
