"""`countersign demo`: a fresh site with invented people; `--walk DIR` plays two days of an infusion."""

import logging
import sys
import tempfile
import threading
from datetime import datetime, timedelta
from pathlib import Path

import click

from app.auditing.checkpointing import HistoryChanged, checkpoint_file
from app.cli.demo_running import MIDDLES, begin_in_the_middle, begin_story, last_noon
from app.cli.demo_site import Demonstration, demonstration
from app.cli.installation import fail, now
from app.cli.walk import WalkFailed
from app.cli.walk_papers import keep_papers, tell_account
from app.keys import list_site_keys, load_site_keys, public_file
from app.records.checkpoint import file_content
from app.records.what_followed import TO_CORRECT
from app.site.installation import Site
from app.web.log_lines import log_in_lines
from app.words.names import INVENTED_RULES

_WALKS = """\
  1. Two nurses, two browsers (one of them a private window): sign in as n.ferrow and as t.osmund on
     Ward 4 East. One opens a check for a bed, the other joins by the short code. Each reads alone.
     Read one device setting wrong on purpose.
  2. One shared device: n.ferrow opens a check, reads, and hands over this device; t.osmund signs in,
     joins and reads.
  3. Afterwards: r.calloway (charge nurse) looks at the list of findings, p.varga (pharmacist) takes a
     request for help, q.lindqvist (quality) exports what was cleared.
"""
_IN_THE_MIDDLE = """\
  4. In the middle of the infusion that was set up at bed 12 of Ward 4 East.
     {}
"""
_ELSEWHERE = f"""\
  4. To begin in the middle of an infusion, start it with --running and one of these: {", ".join(MIDDLES)}.
"""
NOT_BEHIND = timedelta(0)


@click.command()
@click.option("--port", default=8765, show_default=True, help="0 takes any free port.")
@click.option(
    "--walk",
    type=click.Path(file_okay=False, path_type=Path),
    default=None,
    help="Play two days of an infusion, print each step and its account at the end, and write its records"
    " and what verifies them into this folder.",
)
@click.option(
    "--running",
    type=click.Choice([*MIDDLES]),
    is_flag=False,
    flag_value="handoff",
    default=None,
    help="Begin in the middle of an infusion: due for handoff, for the next syringe, held, or at its end.",
)
def demo(port: int, walk: Path | None, running: str | None) -> None:
    """Run a demonstration on this machine, or walk through two days of an infusion."""
    with tempfile.TemporaryDirectory(prefix="countersign-demo-") as folder:
        if walk is not None:
            walk.mkdir(parents=True, exist_ok=True)
            noon = last_noon(now())
            with demonstration(Path(folder), port=0, behind=now() - noon) as played:
                sys.exit(_play(played, noon, walk))
        # Only what fails: whoever tries it reads here who there is and where.
        log_in_lines(logging.ERROR)
        middle = MIDDLES[running] if running else None
        try:
            behind = middle.ago if middle else NOT_BEHIND
            with demonstration(Path(folder), port=port, behind=behind) as begun:
                if middle:
                    begin_in_the_middle(begun, middle)
                _introduce(begun, _IN_THE_MIDDLE.format(middle.to_do) if middle else _ELSEWHERE)
                threading.Event().wait()
        except KeyboardInterrupt:
            click.echo("\nended; the demonstration's database is gone")


def _play(running: Demonstration, noon: datetime, folder: Path) -> int:
    try:
        story = begin_story(running, noon, say=click.echo)
        for chapter in story.chapters:
            chapter()
        tell_account(story.bed, folder, say=click.echo)
        # What followed a record is told once an end can be put right no more.
        running.clock.behind -= TO_CORRECT
        keep_papers(story.bed, folder, say=click.echo)
    except WalkFailed as failed:
        click.echo(f"the walk failed: {failed}", err=True)
        return 1
    _keep_public(running.site, folder)
    return 0


def _keep_public(site: Site, folder: Path) -> None:
    """Write what verifies the record without us: the site's certificates, and its signed checkpoint."""
    file = checkpoint_file(site, load_site_keys(site.site_keys, now()), now())
    if isinstance(file, HistoryChanged):
        fail(file.says)
    written = {
        "site.pem": public_file(list_site_keys(site.site_keys)).encode(),
        "checkpoint.json": file_content(file),
    }
    for name, content in written.items():
        (folder / name).write_bytes(content)
        click.echo(f"to verify it: {folder / name}")


def _introduce(running: Demonstration, in_the_middle: str) -> None:
    click.echo(f"Countersign demonstration at {running.address}  (Ctrl-C ends it and removes its data)\n")
    click.echo(f"{INVENTED_RULES}.")
    click.echo("Invented people of an invented hospital:")
    for each in running.people:
        click.echo(
            f"  {each.login:<12} {each.printed_name:<16} {', '.join(each.roles):<14} secret: {each.secret}"
        )
    click.echo("\nWalks to try:")
    click.echo(_WALKS + in_the_middle, nl=False)
