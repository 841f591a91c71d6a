"""Run one sweep."""

import click

from app.cli.installation import fail, now, open_site, settings
from app.keys import new_id
from app.workflow.sweeping import sweep_once


@click.command()
def sweep() -> None:
    """Finish what a crash left, comparisons and PDFs; tell what followed records, sign the log in time."""
    site = open_site(settings())
    swept = sweep_once(site, now(), holder=new_id())
    if swept is None:
        click.echo("another process is sweeping")
    else:
        click.echo(f"compared {swept.compared}, issued {swept.issued}, told what followed {swept.told}")
        if swept.failed:
            click.echo(f"will be tried again: {', '.join(swept.failed)}", err=True)
        if swept.left:
            fail(swept.left)
