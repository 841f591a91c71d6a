"""The command: what it prints, where, and how it exits."""

import json
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from app.cli.evaluate import evaluate
from tests.comparison.builders import case_with, result_of

AGREED = json.dumps(case_with())
CAUTIONED = json.dumps(
    case_with({"AB.settings.mode": "demand-and-continuous", "AB.settings.continuous_rate": "1 mg/h"})
)
STOPPED = json.dumps(case_with({"AB.device.demand_dose": "2 mg"}))
BAD = json.dumps(case_with({"A.order.demand_dose": "2.0 mg"}))


def lines(*cases: str) -> str:
    return "".join(f"{case}\n" for case in cases)


@pytest.mark.parametrize(("case", "status"), [(AGREED, 0), (CAUTIONED, 0), (STOPPED, 1)])
def test_one_case(case: str, status: int) -> None:
    ran = CliRunner().invoke(evaluate, ["-"], input=case)
    assert ran.exit_code == status
    assert ran.stderr == ""
    assert ran.stdout.startswith('{\n  "format": "countersign.result/2",\n  "engine": "0.1.0",\n')


def test_one_case_that_cannot_be_read() -> None:
    ran = CliRunner().invoke(evaluate, ["-"], input=BAD)
    assert (ran.exit_code, ran.stdout) == (2, "")
    assert ran.stderr == (
        "error: entries[0].order.demand_dose: trailing-zero: Leave out zeros at the end of the decimals: "
        "if the point is overlooked, they multiply the dose.\n"
    )


def test_no_case_at_all() -> None:
    assert CliRunner().invoke(evaluate, ["-"], input="").exit_code == 2
    ran = CliRunner().invoke(evaluate, ["--lines", "-"], input="")
    assert (ran.exit_code, ran.output) == (0, "")


@pytest.mark.parametrize(
    ("cases", "status"),
    [
        ((AGREED, CAUTIONED), 0),
        ((AGREED, STOPPED, AGREED), 1),
        ((STOPPED, BAD, AGREED), 2),
        ((BAD, STOPPED), 2),
        ((BAD,), 2),
    ],
)
def test_the_highest_status_of_all_lines(cases: tuple[str, ...], status: int) -> None:
    ran = CliRunner().invoke(evaluate, ["--lines", "-"], input=lines(*cases))
    assert ran.exit_code == status
    assert ran.stderr == ""
    assert len(ran.stdout.splitlines()) == len(cases)


def test_one_result_a_line_in_order_with_errors_in_their_place() -> None:
    ran = CliRunner().invoke(evaluate, ["--lines", "-"], input=lines(STOPPED, BAD, "", AGREED) + CAUTIONED)
    answers = [json.loads(line) for line in ran.stdout.splitlines()]
    assert answers[0] == result_of({"AB.device.demand_dose": "2 mg"}).as_json()
    assert answers[1] == {
        "error": {
            "path": "entries[0].order.demand_dose",
            "code": "trailing-zero",
            "message": (
                "Leave out zeros at the end of the decimals: "
                "if the point is overlooked, they multiply the dose."
            ),
        }
    }
    assert answers[2]["error"]["code"] == "bad-json"
    assert [answer.get("verdict") for answer in answers[3:]] == ["agreed", "cautioned"]


def test_a_line_ends_at_a_line_feed_only() -> None:
    drug = "mor\u2028phine\u0085"
    case = json.dumps(case_with({"AB.all.drug": drug}), ensure_ascii=False)
    ran = CliRunner().invoke(evaluate, ["--lines", "-"], input=f"{case}\r\n{case}\n".encode())
    assert ran.exit_code == 0
    assert len(ran.stdout.splitlines()) == 2


@pytest.mark.parametrize("key", ["two\nlines", "a\u0000b", "\ud800", 'say "x"', "\u00e9"])
def test_an_unknown_key_cannot_break_the_error_s_line(key: str) -> None:
    case = json.dumps({**case_with(), key: 1})
    ran = CliRunner().invoke(evaluate, ["-"], input=case)
    assert ran.exit_code == 2
    assert ran.stderr == f"error: {json.dumps(key)[1:-1]}: unknown-key: This key is not known here.\n"


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    ran = CliRunner().invoke(evaluate, [str(tmp_path / "none.json")])
    assert ran.exit_code == 2
    assert ran.stdout == ""


def test_each_result_is_written_before_the_next_case_is_read() -> None:
    """A process at the other end of both pipes gets each answer before it asks again."""
    command = [sys.executable, "-c", "from app.cli.evaluate import evaluate; evaluate()", "--lines", "-"]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdin is not None
        assert process.stdout is not None
        for case, verdict in ((STOPPED, "stopped"), (AGREED, "agreed")):
            process.stdin.write(f"{case}\n")
            process.stdin.flush()
            assert json.loads(process.stdout.readline())["verdict"] == verdict
        process.stdin.close()
    assert process.returncode == 1
