"""The command: what it prints, where, and how it exits."""

import json
import subprocess
import sys

import pytest
from click.testing import CliRunner

from app.cli.balance import balance
from tests.accounting.builders import example, put_at

AGREED = json.dumps(example("01"))
CAUTIONED = json.dumps(example("22"))
STOPPED = json.dumps(example("08"))
BAD = json.dumps(put_at(example("01"), "entries[2].volume", "1.50 mL"))


def lines(*cases: str) -> str:
    return "".join(f"{case}\n" for case in cases)


@pytest.mark.parametrize(("case", "status"), [(AGREED, 0), (CAUTIONED, 0), (STOPPED, 1)])
def test_one_case(case: str, status: int) -> None:
    ran = CliRunner().invoke(balance, ["-"], input=case)
    assert (ran.exit_code, ran.stderr) == (status, "")
    assert ran.stdout.startswith('{\n  "format": "countersign.balance/1",\n  "engine": "0.1.0",\n')


def test_one_case_that_cannot_be_read() -> None:
    ran = CliRunner().invoke(balance, ["-"], input=BAD)
    assert (ran.exit_code, ran.stdout) == (2, "")
    assert ran.stderr == (
        "error: entries[2].volume: trailing-zero: Leave out zeros at the end of the decimals: "
        "if the point is overlooked, they multiply the dose.\n"
    )


@pytest.mark.parametrize(
    ("cases", "status"),
    [
        ((AGREED, CAUTIONED), 0),
        ((AGREED, STOPPED, AGREED), 1),
        ((STOPPED, BAD, AGREED), 2),
        ((BAD, STOPPED), 2),
        ((), 0),
    ],
)
def test_the_highest_status_of_all_lines(cases: tuple[str, ...], status: int) -> None:
    ran = CliRunner().invoke(balance, ["--lines", "-"], input=lines(*cases))
    assert (ran.exit_code, ran.stderr) == (status, "")
    assert len(ran.stdout.splitlines()) == len(cases)


def test_one_result_a_line_in_order_with_errors_in_their_place() -> None:
    ran = CliRunner().invoke(balance, ["--lines", "-"], input=lines(STOPPED, BAD, "", AGREED) + CAUTIONED)
    answers = [json.loads(line) for line in ran.stdout.splitlines()]
    assert [answer.get("verdict") for answer in answers] == ["stopped", None, None, "agreed", "cautioned"]
    assert answers[1]["error"]["path"] == "entries[2].volume"
    assert answers[1]["error"]["code"] == "trailing-zero"
    assert answers[2]["error"]["code"] == "bad-json"


def test_each_result_is_written_before_the_next_case_is_read() -> None:
    """A process at the other end of both pipes gets each answer before it asks again."""
    command = [sys.executable, "-c", "from app.cli.balance import balance; balance()", "--lines", "-"]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdin is not None
        assert process.stdout is not None
        for case, verdict in ((STOPPED, "stopped"), (AGREED, "agreed")):
            process.stdin.write(f"{case}\n")
            process.stdin.flush()
            assert json.loads(process.stdout.readline())["verdict"] == verdict
        process.stdin.close()
    assert process.returncode == 1
