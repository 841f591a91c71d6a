"""`countersign balance`: the account of an infusion without a browser, one case or one case a line."""

from typing import BinaryIO

import click

from app.accounting import balance as balance_case
from app.accounting import read_account
from app.cli.cases import Answer, answer_lines, answer_one
from app.comparison import CaseError


@click.command(name="balance")
@click.argument("cases", metavar="CASE.json", type=click.File("rb"))
@click.option("--lines", is_flag=True, help="One case a line in, one result a line out, in order.")
@click.pass_context
def balance(context: click.Context, *, cases: BinaryIO, lines: bool) -> None:
    """Account for every millilitre of an infusion: a file, or - for standard input.

    Exits with 0 when no case is stopped, 1 when one is, 2 when one could not be read.
    """
    context.exit(answer_lines(cases, _answer) if lines else answer_one(cases.read(), _answer))


def _answer(text: bytes) -> Answer | CaseError:
    case = read_account(text)
    return case if isinstance(case, CaseError) else balance_case(case)
