"""Who answers for a command: id and secret, at the prompt or from the standard input."""

import sys

import click

from app.workflow.credentials import Signatory


def ask_who(answers: str) -> Signatory:
    """Never as an argument or a variable, which others on the host can read; two lines where nobody types."""
    if sys.stdin.isatty():
        login = click.prompt(f"Id of {answers}")
        return Signatory(login=login, secret=click.prompt("Secret", hide_input=True))
    login, secret = (sys.stdin.readline().rstrip("\n") for _ in range(2))
    return Signatory(login=login, secret=secret)
