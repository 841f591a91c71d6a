"""One case, or one case a line, through one of the engines without a browser."""

import json
from collections.abc import Callable, Iterable
from typing import Any, Protocol

import click

from app.comparison import CaseError, Verdict

_NOTHING_STOPPED, _STOPPED, _NOT_READ = 0, 1, 2


class Answer(Protocol):
    """What an engine makes of a case."""

    @property
    def verdict(self) -> Verdict:
        """What its findings come to."""

    def as_json(self) -> dict[str, Any]:
        """As the contract writes it."""


Engine = Callable[[bytes], Answer | CaseError]


def answer_one(text: bytes, engine: Engine) -> int:
    """The answer to one case, or why it cannot be read; the exit status."""
    answer = engine(text)
    if isinstance(answer, CaseError):
        click.echo(f"error: {_on_one_line(answer.path)}: {answer.code}: {answer.message}", err=True)
        return _NOT_READ
    click.echo(json.dumps(answer.as_json(), indent=2))
    return _status(answer.verdict)


def answer_lines(cases: Iterable[bytes], engine: Engine) -> int:
    """One line at a time, so that memory does not grow with their number."""
    status = _NOTHING_STOPPED
    for line in cases:
        answer = engine(line)
        if isinstance(answer, CaseError):
            click.echo(json.dumps({"error": answer.as_json()}))
            status = _NOT_READ
        else:
            click.echo(json.dumps(answer.as_json()))
            status = max(status, _status(answer.verdict))
    return status


def _status(verdict: Verdict) -> int:
    return _STOPPED if verdict is Verdict.STOPPED else _NOTHING_STOPPED


def _on_one_line(path: str) -> str:
    """A path with what cannot be printed escaped: an unknown key can hold anything, a line break too."""
    return json.dumps(path)[1:-1]
