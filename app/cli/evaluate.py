"""`countersign evaluate`: the engine without a browser, one case or one case a line."""

import json
from collections.abc import Iterable
from typing import BinaryIO

import click

from app.comparison import CaseError, Verdict, read_case
from app.comparison import evaluate as evaluate_case

_NOTHING_STOPPED, _STOPPED, _NOT_READ = 0, 1, 2


@click.command(name="evaluate")
@click.argument("cases", metavar="CASE.json", type=click.File("rb"))
@click.option("--lines", is_flag=True, help="One case a line in, one result a line out, in order.")
@click.pass_context
def evaluate(context: click.Context, *, cases: BinaryIO, lines: bool) -> None:
    """Compute the result of a case: a file, or - for standard input.

    Exits with 0 when no case is stopped, 1 when one is, 2 when one could not be read.
    """
    context.exit(_evaluate_lines(cases) if lines else _evaluate_one(cases.read()))


def _evaluate_one(text: bytes) -> int:
    case = read_case(text)
    if isinstance(case, CaseError):
        click.echo(f"error: {_on_one_line(case.path)}: {case.code}: {case.message}", err=True)
        return _NOT_READ
    result = evaluate_case(case)
    click.echo(json.dumps(result.as_json(), indent=2))
    return _status(result.verdict)


def _evaluate_lines(cases: Iterable[bytes]) -> int:
    """One line at a time, so that memory does not grow with their number."""
    status = _NOTHING_STOPPED
    for line in cases:
        case = read_case(line)
        if isinstance(case, CaseError):
            click.echo(json.dumps({"error": case.as_json()}))
            status = _NOT_READ
        else:
            result = evaluate_case(case)
            click.echo(json.dumps(result.as_json()))
            status = max(status, _status(result.verdict))
    return status


def _status(verdict: Verdict) -> int:
    return _STOPPED if verdict is Verdict.STOPPED else _NOTHING_STOPPED


def _on_one_line(path: str) -> str:
    """A path with what cannot be printed escaped: an unknown key can hold anything, a line break too."""
    return json.dumps(path)[1:-1]
