"""The process in which a file from anywhere is read: a program with limits, without keys and database.

It is given the file, says which record it is, is given what the site hands out about it, and answers.
"""

import json
import os
import resource
import sys
from typing import IO, Any

# A record takes about two seconds of a processor and 450 MB, most of them for making its pages again.
PROCESSOR_SECONDS = 20
MEMORY = 768 * 1024 * 1024
OPEN_FILES = 64
# Making pages writes the bundled fonts into a folder that is gone with the process, and nothing else.
FONT = 1024 * 1024
# The bedside goes first: of a processor that both want this process has a small part.
NICE = 10


def main() -> None:
    """Read one file, and end."""
    _limit()
    # The libraries are loaded under the limits, too.
    from app.auditing.verifying import read_material, verify_opened  # noqa: PLC0415
    from app.base.damage import Damaged, read_or_damaged  # noqa: PLC0415
    from app.records.verification import NotReadable  # noqa: PLC0415
    from app.reports.followed_file import open_document  # noqa: PLC0415
    from app.reports.record_file import NotARecord  # noqa: PLC0415

    content = read_block(sys.stdin.buffer)
    file = read_or_damaged(lambda: open_document(content))
    if isinstance(file, Damaged | NotARecord):
        _say({"why": NotARecord().says if isinstance(file, Damaged) else file.says})
        return
    _say({name: file.document[name] for name in ("record", "edition")})
    material = read_material(read_block(sys.stdin.buffer), read_block(sys.stdin.buffer))
    if isinstance(material, NotReadable):
        _say({"why": material.why})
    else:
        _say(verify_opened(file, material).as_data())


def write_block(into: IO[bytes], content: bytes) -> None:
    """Bytes behind their length."""
    into.write(len(content).to_bytes(8) + content)
    into.flush()


def read_block(source: IO[bytes]) -> bytes:
    """What `write_block` wrote."""
    return source.read(int.from_bytes(source.read(8)))


def _say(answer: dict[str, Any]) -> None:
    sys.stdout.write(json.dumps(answer) + "\n")
    sys.stdout.flush()


def _limit() -> None:
    os.nice(NICE)
    for which, most in (
        (resource.RLIMIT_CPU, PROCESSOR_SECONDS),
        (resource.RLIMIT_AS, MEMORY),
        (resource.RLIMIT_NOFILE, OPEN_FILES),
        # Nothing of the file is left on the disk by a crash.
        (resource.RLIMIT_CORE, 0),
        (resource.RLIMIT_FSIZE, FONT),
    ):
        resource.setrlimit(which, (most, most))


if __name__ == "__main__":
    main()
