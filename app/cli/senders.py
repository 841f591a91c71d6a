"""Which other systems may send orders, on the command line."""

import click

from app.base import OPERATOR
from app.cli.installation import fail, now, open_site, settings
from app.keys import new_id
from app.words.screens import NOT_A_SENDER_NAME, SENDER_NAME_TAKEN
from app.workflow import order_senders


@click.group()
def senders() -> None:
    """Let another system send orders, revoke it, or list those that may."""


@senders.command()
@click.argument("name")
def add(*, name: str) -> None:
    """Let another system send orders. Its token is printed once, and can be shown by nobody afterwards."""
    match order_senders.add_sender(open_site(settings()), now(), by=OPERATOR, name=name, new_id=new_id):
        case order_senders.SenderAdded(name=called, token=token):
            click.echo(f"{called} may send orders with this token, which is shown once:", err=True)
            click.echo(token)
        case order_senders.NotASenderName():
            fail(NOT_A_SENDER_NAME)
        case order_senders.SenderNameTaken():
            fail(SENDER_NAME_TAKEN)


@senders.command()
@click.argument("name")
def revoke(*, name: str) -> None:
    """Let a sender in no more; from now on nothing that it sent counts."""
    match order_senders.revoke_sender(open_site(settings()), now(), by=OPERATOR, name=name):
        case order_senders.SenderRevoked(name=called):
            click.echo(f"{called} is let in no more, and no order that it sent counts")
        case order_senders.NoSuchSender():
            fail("no sender that is let in has this name")


@senders.command("list")
def list_senders() -> None:
    """List the senders, with how many messages were taken, and refused in the last 30 days, by reason."""
    for each in order_senders.senders(open_site(settings()), now()):
        refused = "".join(f", {count} {code}" for code, count in each.refused.items())
        since = f", revoked {each.revoked_at:%Y-%m-%d}" if each.revoked_at else ""
        click.echo(f"{each.sender.name}: {each.taken} taken{refused}{since}")
