"""`countersign verify --store`: a whole database, with progress, and where to go on after an interruption."""

import json
import sys
import time
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import NoReturn

import click

from app.auditing.verifying import NO_CERTIFICATE
from app.auditing.verifying_store import Wanted, verify_store
from app.base.damage import Damaged, read_or_damaged
from app.cli.installation import DAMAGED, Failed, now, open_site, settings
from app.config import WrongSettingError
from app.keys import read_public_file
from app.records.checkpoint import Checkpoint, Unreadable, from_text, read_file
from app.records.store_verification import Progress, Step, Tally
from app.records.verification import NotReadable
from app.storage import StoreUnavailable, Trouble

_HOLDS, _DOES_NOT_HOLD, _UNREADABLE = 0, 1, 2
OUT_OF_REACH = "the database is out of reach, or it holds no installation"
# Seconds between two words of progress.
_OFTEN = 1.0

_CLOSE = (
    "That entries were cut off at the end shows only beside a checkpoint that was kept outside, "
    "and no check of a database shows that a label was right."
)


def verify_whole(
    *, site: Path | None, checkpoint: Path | None, pages: bool, after: int, processes: int, as_json: bool
) -> NoReturn:
    """Verify the installation's database and end the command with the answer."""
    given = _checkpoint(checkpoint) if checkpoint else None
    certificates = _certificates(site) if site else ""
    if isinstance(given, NotReadable):
        say_unreadable(given, as_json=as_json)
    if isinstance(certificates, NotReadable):
        say_unreadable(certificates, as_json=as_json)
    wanted = Wanted(
        after=after, pages=pages, checkpoint=given, certificates=certificates, processes=processes
    )
    tally = Tally(pages=pages, after=after)
    try:
        found = read_or_damaged(lambda: _verified(wanted, tally))
    except Failed as failed:
        # It was said in words already.
        if as_json:
            say_unreadable(NotReadable(why=failed.says), as_json=True)
        raise
    if isinstance(found, Damaged):
        found = NotReadable(why=_why(found.error))
    if found is not None:
        say_unreadable(found, as_json=as_json)
    click.echo(json.dumps(tally.as_data(), indent=2) if as_json else "\n".join(lines(tally)))
    sys.exit(_DOES_NOT_HOLD if tally.failures else _HOLDS if tally.whole else _UNREADABLE)


def say_unreadable(found: NotReadable, *, as_json: bool) -> NoReturn:
    """End the command: the question could not even be put; what was asked for as JSON is JSON then too."""
    click.echo(
        json.dumps({"readable": False, "why": found.why}) if as_json else f"error: {found.why}",
        err=not as_json,
    )
    sys.exit(_UNREADABLE)


def _verified(wanted: Wanted, tally: Tally) -> NotReadable | None:
    """Everything found is in the tally; or why nothing can be."""
    installation = open_site(settings(), only_reads=True)
    steps = verify_store(installation, now(), wanted)
    if isinstance(steps, NotReadable):
        return steps
    _follow(steps, tally)
    return None


def _why(error: Exception) -> str:
    if isinstance(error, StoreUnavailable):
        return f"{DAMAGED}: {error.trouble.value}" if error.trouble is Trouble.DAMAGED else OUT_OF_REACH
    # The words of any other fault may hold a value.
    return str(error) if isinstance(error, WrongSettingError) else f"{DAMAGED} ({type(error).__name__})"


def _follow(steps: Iterator[Step], tally: Tally) -> None:
    """Take every step into account, and say now and then how far it is; Ctrl-C ends it in order."""
    begun = said = time.monotonic()
    try:
        for step in steps:
            tally.add(step)
            at = time.monotonic()
            if isinstance(step, Progress) and at - said >= _OFTEN:
                said = at
                click.echo(progress_words(step, at - begun), err=True)
        tally.whole = not tally.unverified
    except KeyboardInterrupt:
        click.echo(f"interrupted; go on with --after {tally.progress.position}", err=True)


def progress_words(step: Progress, seconds: float) -> str:
    """How far it is, and how fast."""
    if not step.of_checks:
        return f"the log: {step.entries} entries read, {step.entries / seconds:.0f} a second"
    rate = f"{step.checks / seconds:.1f} a second"
    return f"{step.checks} of {step.of_checks} checks, {step.records} records, {rate}"


def lines(tally: Tally) -> Iterable[str]:
    """The answer for a person."""
    done = tally.progress
    verified = f"{done.checks} checks with {done.records} records were verified"
    yield f"The log has {done.entries} entries; {verified}."
    if tally.after:
        yield f"Left out: checks that were opened up to entry {tally.after} (--after)."
    if not tally.pages:
        yield "Left out: the pages were not made again and compared (--without-pages)."
    if tally.pages_not_asked:
        yield (
            f"Not asked: the pages of {tally.pages_not_asked} records, "
            "which another version of the program made."
        )
    yield from (f"{each.says[0].upper()}{each.says[1:]}." for each in tally.began)
    yield from (f"TO BE KNOWN    {each.says}" for each in tally.noted)
    yield from (f"NOT VERIFIED   {each.says}" for each in tally.unverified)
    yield from (f"DOES NOT HOLD  {each.says}" for each in tally.failing)
    if tally.failures > len(tally.failing):
        yield f"and {tally.failures - len(tally.failing)} more that do not hold"
    if tally.failures:
        yield "NOT EVERYTHING HOLDS: keep every copy of this database, and look into it."
    elif tally.whole:
        yield "EVERYTHING HOLDS."
    if not tally.whole:
        yield f"NOT FINISHED: go on with --after {done.position}"
    yield _CLOSE


def _checkpoint(path: Path) -> Checkpoint | NotReadable:
    """One from `checkpoint.json`, or as it was typed from a printed sheet."""
    read = read_or_damaged(lambda: _read_checkpoint(path.read_bytes()))
    if isinstance(read, Checkpoint):
        return read
    says = read.says if isinstance(read, Unreadable) else ""
    return NotReadable(
        why=f"the checkpoint cannot be read: {says}" if says else "the checkpoint cannot be read"
    )


def _read_checkpoint(content: bytes) -> Checkpoint | Unreadable:
    file = read_file(content)
    if not isinstance(file, Unreadable):
        return file.checkpoint
    return file if file.says else from_text(content.decode("ascii", "replace"))


def _certificates(path: Path) -> str | NotReadable:
    text = path.read_bytes().decode("ascii", "replace")
    known = read_or_damaged(lambda: read_public_file(text))
    return NotReadable(why=NO_CERTIFICATE) if isinstance(known, Damaged) else text
