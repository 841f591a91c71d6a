"""`countersign demo`: a fresh site with invented people; `--walk DIR` plays a whole set-up over real HTTP."""

import logging
import sys
import tempfile
import threading
from datetime import timedelta
from pathlib import Path

import click

from app.auditing.checkpointing import HistoryChanged, checkpoint_file
from app.cli.demo_running import STARTED, begin_in_the_middle
from app.cli.demo_site import Demonstration, demonstration
from app.cli.installation import fail, now
from app.keys import list_site_keys, load_site_keys, public_file
from app.records.checkpoint import file_content
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
  4. In the middle: an infusion has run at bed 12 of Ward 4 East since yesterday. Sign in there as n.ferrow:
     its syringe is low, and Show says what happened, how long it lasts and where it went. The shift is over:
     hand it over to t.osmund, who joins.
"""
NOT_BEHIND = timedelta(0)


@click.command()
@click.option("--port", default=8765, show_default=True, help="0 takes any free port.")
@click.option(
    "--walk",
    type=click.Path(file_okay=False, path_type=Path),
    default=None,
    help="Play a whole set-up, print each step, write the PDF and what verifies it into this folder.",
)
@click.option("--running", "begun", is_flag=True, help="Begin with an infusion that has run since yesterday.")
def demo(port: int, walk: Path | None, *, begun: bool) -> None:
    """Run a demonstration on this machine, or walk through a whole set-up."""
    with tempfile.TemporaryDirectory(prefix="countersign-demo-") as folder:
        if walk is not None:
            walk.mkdir(parents=True, exist_ok=True)
            with demonstration(Path(folder), port=0) as running:
                sys.exit(_play(running, walk))
        # Only what fails: whoever tries it reads here who there is and where.
        log_in_lines(logging.ERROR)
        try:
            with demonstration(Path(folder), port=port, behind=STARTED if begun else NOT_BEHIND) as running:
                if begun:
                    begin_in_the_middle(running)
                _introduce(running, begun=begun)
                threading.Event().wait()
        except KeyboardInterrupt:
            click.echo("\nended; the demonstration's database is gone")


def _play(running: Demonstration, folder: Path) -> int:
    from app.cli.walk import WalkFailed, walk_through  # only a walk needs it

    try:
        walk_through(running, folder, say=click.echo)
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


def _introduce(running: Demonstration, *, begun: bool) -> None:
    click.echo(f"Countersign demonstration at {running.address}  (Ctrl-C ends it and removes its data)\n")
    click.echo(f"{INVENTED_RULES}.")
    click.echo("Invented people of an invented hospital:")
    for each in running.people:
        click.echo(
            f"  {each.login:<12} {each.printed_name:<16} {', '.join(each.roles):<14} secret: {each.secret}"
        )
    click.echo("\nWalks to try:")
    click.echo(_WALKS + (_IN_THE_MIDDLE if begun else ""), nl=False)
