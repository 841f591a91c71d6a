"""`countersign evaluate`: the engine without a browser, one case or one case a line."""

from typing import BinaryIO

import click

from app.cli.cases import Answer, answer_lines, answer_one
from app.comparison import CaseError, read_case
from app.comparison import evaluate as evaluate_case


@click.command(name="evaluate")
@click.argument("cases", metavar="CASE.json", type=click.File("rb"))
@click.option("--lines", is_flag=True, help="One case a line in, one result a line out, in order.")
@click.pass_context
def evaluate(context: click.Context, *, cases: BinaryIO, lines: bool) -> None:
    """Compute the result of a case: a file, or - for standard input.

    Exits with 0 when no case is stopped, 1 when one is, 2 when one could not be read.
    """
    context.exit(answer_lines(cases, _answer) if lines else answer_one(cases.read(), _answer))


def _answer(text: bytes) -> Answer | CaseError:
    case = read_case(text)
    return case if isinstance(case, CaseError) else evaluate_case(case)
