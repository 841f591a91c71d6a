"""Take orders that another system left in files."""

from pathlib import Path

import click

from app.cli.installation import fail, now, open_site, settings
from app.keys import new_id
from app.records.order_json import LARGEST_MESSAGE, RefusedMessage
from app.workflow.order_senders import NoSuchSender
from app.workflow.receiving_orders import OrderTaken, receive_from

_SOME_REFUSED = 1


@click.command()
@click.argument("places", nargs=-1, required=True, type=click.Path(exists=True, path_type=Path))
@click.option("--sender", required=True, help="From which sender they are.")
def orders(*, places: tuple[Path, ...], sender: str) -> None:
    """Take orders from files, or from the .json files of folders; nothing is moved, and again counts once.

    Exit status 1 where a file was refused.
    """
    site, refused = open_site(settings()), 0
    for file in _files(places):
        try:
            with file.open("rb") as opened:
                # One byte more than any message has tells that it is too large.
                message = opened.read(LARGEST_MESSAGE + 1)
        except OSError as error:
            # Those behind it are taken all the same.
            refused += 1
            click.echo(f"{file.name}: cannot be read: {error.strerror}", err=True)
            continue
        match receive_from(site, now(), sender=sender, message=message, new_id=new_id):
            case OrderTaken():
                click.echo(f"{file.name}: taken")
            case RefusedMessage(path=path, code=code, says=says):
                refused += 1
                click.echo(f"{file.name}: refused: {code}: {path}: {says}", err=True)
            case NoSuchSender():
                fail("no sender that is let in has this name")
    if refused:
        click.get_current_context().exit(_SOME_REFUSED)


def _files(places: tuple[Path, ...]) -> list[Path]:
    found: list[Path] = []
    for place in places:
        in_folder = (each for each in sorted(place.glob("*.json")) if each.is_file())
        found.extend(in_folder if place.is_dir() else [place])
    return found
