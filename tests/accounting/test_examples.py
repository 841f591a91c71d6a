"""The contract's examples: every result to the last digit, every refusal, and both schemas."""

import json
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from jsonschema import Draft202012Validator

from app.accounting import balance, read_account
from app.cli.balance import balance as balance_command
from tests.accounting.builders import ABSENT, EXAMPLES, error_of, example, put_at, read

CASES = sorted(EXAMPLES.glob("*.case.json"))
REFUSED = [json.loads(line) for line in (EXAMPLES / "refused.jsonl").read_text().splitlines()]
REFUSED_IDS = [f"{place + 1}-{line['code']}" for place, line in enumerate(REFUSED)]
# What a schema cannot say: it takes a quantity, a calendar or the other entries to know.
BEYOND_A_SCHEMA = {"out-of-range", "out-of-place", "unknown-syringe", "syringe-twice", "bad-json"}


@cache
def schema(name: str) -> Draft202012Validator:
    document = json.loads((files("app.accounting") / "schemas" / f"{name}.schema.json").read_text())
    Draft202012Validator.check_schema(document)
    return Draft202012Validator(document)


def expected_of(path: Path) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(path.with_name(path.name.replace(".case.", ".result.")).read_text())
    return found


def without_words(result: dict[str, Any]) -> dict[str, Any]:
    """The examples leave out what the engine says, and its version."""
    findings = [{key: finding[key] for key in finding if key != "says"} for finding in result["findings"]]
    return {key: findings if key == "findings" else value for key, value in result.items() if key != "engine"}


def given(line: dict[str, Any]) -> str:
    if line["at"] == "case":
        return str(line["text"])
    text = ABSENT if line["text"] is None else line["text"]
    return json.dumps(put_at(example("01"), line["at"], text))


def test_all_examples_are_here() -> None:
    assert len(CASES) == 24
    assert len(REFUSED) == 63


@pytest.mark.parametrize("path", CASES, ids=lambda path: path.name.split(".")[0])
def test_example(path: Path) -> None:
    result = balance(read(path.read_text())).as_json()
    # As text: the order of the keys is the contract's too.
    assert json.dumps(without_words(result)) == json.dumps(expected_of(path))


@pytest.mark.parametrize("path", CASES, ids=lambda path: path.name.split(".")[0])
def test_example_by_the_command(path: Path) -> None:
    expected = expected_of(path)
    ran = CliRunner().invoke(balance_command, [str(path)])
    assert ran.exit_code == (1 if expected["verdict"] == "stopped" else 0)
    assert ran.stderr == ""
    assert without_words(json.loads(ran.stdout)) == expected


@pytest.mark.parametrize("path", CASES, ids=lambda path: path.name.split(".")[0])
def test_example_keeps_to_the_schemas(path: Path) -> None:
    text = path.read_text()
    assert list(schema("account").iter_errors(json.loads(text))) == []
    assert list(schema("balance").iter_errors(balance(read(text)).as_json())) == []


def test_a_case_may_be_given_as_the_objects_that_its_text_stands_for() -> None:
    case = example("01")
    assert balance(read(case)).as_json() == balance(read(json.dumps(case))).as_json()
    assert read_account(case) == read_account(json.dumps(case))


@pytest.mark.parametrize("line", REFUSED, ids=REFUSED_IDS)
def test_refusal(line: dict[str, Any]) -> None:
    assert error_of(given(line)) == (line.get("path", line["at"]), line["code"])


@pytest.mark.parametrize("line", REFUSED, ids=REFUSED_IDS)
def test_refusal_by_the_command(line: dict[str, Any], tmp_path: Path) -> None:
    path = tmp_path / "case.json"
    path.write_text(given(line))
    ran = CliRunner().invoke(balance_command, [str(path)])
    assert (ran.exit_code, ran.stdout) == (2, "")
    assert ran.stderr.startswith(f"error: {line.get('path', line['at'])}: {line['code']}: ")
    assert ran.stderr.endswith(".\n")
    assert ran.stderr.count("\n") == 1


@pytest.mark.parametrize(
    "line",
    [
        pytest.param(line, id=name)
        for line, name in zip(REFUSED, REFUSED_IDS, strict=True)
        if line["code"] not in BEYOND_A_SCHEMA and line["text"] != 12.0
    ],
)
def test_refusal_breaks_the_schema(line: dict[str, Any]) -> None:
    """But for 12.0: to a schema that is an integer."""
    assert list(schema("account").iter_errors(json.loads(given(line)))) != []


def test_a_result_that_lacks_a_figure_or_has_a_number_for_one_breaks_the_schema() -> None:
    result = balance(read(example("17"))).as_json()
    assert list(schema("balance").iter_errors(put_at(result, "forecast.left_now", ABSENT))) != []
    result = put_at(result, "infusion.volume.primed", 1)
    assert list(schema("balance").iter_errors(result)) != []
