"""The contract's examples: every result to the last digit, every refusal, and both schemas."""

import json
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from jsonschema import Draft202012Validator

from app.cli.evaluate import evaluate as evaluate_command
from app.comparison import CaseError, Result, evaluate, read_case
from tests.comparison.builders import ABSENT, put_at

EXAMPLES = Path(__file__).parent / "examples"
CASES = sorted(EXAMPLES.glob("*.case.json"))
REFUSED = [json.loads(line) for line in (EXAMPLES / "refused.jsonl").read_text().splitlines()]
REFUSED_IN = json.loads((EXAMPLES / "02-agreed-with-continuous.case.json").read_text())
REFUSED_IDS = [f"{place + 1}-{line['code']}" for place, line in enumerate(REFUSED)]
# What a schema cannot say: it takes a quantity, a calendar or a second entry to know.
BEYOND_A_SCHEMA = {"out-of-range", "same-clinician", "bad-json", "partial-identifier", "mixed-units"}
# These too take a calendar, or two windows side by side.
BEYOND_IT_TOO = ("02-30", "02-29", "240 min", "65.0")


@cache
def schema(name: str) -> Draft202012Validator:
    text = (files("app.comparison") / "schemas" / f"{name}.schema.json").read_text()
    document = json.loads(text)
    Draft202012Validator.check_schema(document)
    return Draft202012Validator(document)


def expected_of(path: Path) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(path.with_name(path.name.replace(".case.", ".result.")).read_text())
    return found


def without_words(result: dict[str, Any]) -> dict[str, Any]:
    """The examples leave out what the engine says, and its version."""
    findings = [{key: finding[key] for key in finding if key != "says"} for finding in result["findings"]]
    return {**{key: result[key] for key in result if key != "engine"}, "findings": findings}


def given(line: dict[str, Any]) -> str:
    if line["at"] == "case":
        return str(line["text"])
    return json.dumps(changed(line))


def changed(line: dict[str, Any]) -> dict[str, Any]:
    """The case with what is refused in it; null takes the key out where there is one, else it is null."""
    if line["text"] is None:
        without = put_at(REFUSED_IN, line["at"], ABSENT)
        return without if without != REFUSED_IN else put_at(REFUSED_IN, line["at"], None)
    return put_at(REFUSED_IN, line["at"], line["text"])


def path_of(line: dict[str, Any]) -> str:
    return str(line.get("path", line["at"]))


def refused(line: dict[str, Any]) -> CaseError | Result:
    read = read_case(given(line))
    return read if isinstance(read, CaseError) else evaluate(read)


def test_all_examples_are_here() -> None:
    assert len(CASES) == 37
    assert len(REFUSED) == 105


@pytest.mark.parametrize("path", CASES, ids=lambda path: path.name.split(".")[0])
def test_example(path: Path) -> None:
    case = read_case(path.read_text())
    assert not isinstance(case, CaseError)
    result = evaluate(case).as_json()
    # Through JSON and back, as others will read it.
    assert json.loads(json.dumps(without_words(result))) == expected_of(path)


@pytest.mark.parametrize("path", CASES, ids=lambda path: path.name.split(".")[0])
def test_example_by_the_command(path: Path) -> None:
    expected = expected_of(path)
    ran = CliRunner().invoke(evaluate_command, [str(path)])
    assert ran.exit_code == (1 if expected["verdict"] == "stopped" else 0)
    assert ran.stderr == ""
    assert without_words(json.loads(ran.stdout)) == expected


@pytest.mark.parametrize("path", CASES, ids=lambda path: path.name.split(".")[0])
def test_example_keeps_to_the_schemas(path: Path) -> None:
    text = path.read_text()
    assert list(schema("case").iter_errors(json.loads(text))) == []
    case = read_case(text)
    assert not isinstance(case, CaseError)
    assert list(schema("result").iter_errors(evaluate(case).as_json())) == []


@pytest.mark.parametrize("line", REFUSED, ids=REFUSED_IDS)
def test_refusal(line: dict[str, Any]) -> None:
    error = refused(line)
    assert isinstance(error, CaseError)
    assert (error.path, error.code) == (path_of(line), line["code"])
    assert error.message.endswith(".")


@pytest.mark.parametrize("line", REFUSED, ids=REFUSED_IDS)
def test_refusal_by_the_command(line: dict[str, Any], tmp_path: Path) -> None:
    path = tmp_path / "case.json"
    path.write_text(given(line))
    ran = CliRunner().invoke(evaluate_command, [str(path)])
    assert ran.exit_code == 2
    assert ran.stdout == ""
    assert ran.stderr.startswith(f"error: {path_of(line)}: {line['code']}: ")
    assert ran.stderr.count("\n") == 1


@pytest.mark.parametrize(
    "line",
    [
        pytest.param(line, id=name)
        for line, name in zip(REFUSED, REFUSED_IDS, strict=True)
        if line["code"] not in BEYOND_A_SCHEMA
        and not any(text in str(line["text"]) for text in BEYOND_IT_TOO)
    ],
)
def test_refusal_breaks_the_schema(line: dict[str, Any]) -> None:
    assert list(schema("case").iter_errors(changed(line))) != []


def test_a_result_that_lacks_a_figure_or_has_a_float_breaks_the_schema() -> None:
    result = evaluate_example("02-agreed-with-continuous")
    result["math"]["A"]["order"]["primed_amount"]["exact"] = 0.05
    assert list(schema("result").iter_errors(result)) != []
    result = evaluate_example("02-agreed-with-continuous")
    del result["math"]["B"]["device"]["longest_wait"]
    assert list(schema("result").iter_errors(result)) != []


def evaluate_example(name: str) -> dict[str, Any]:
    case = read_case((EXAMPLES / f"{name}.case.json").read_text())
    assert not isinstance(case, CaseError)
    return evaluate(case).as_json()
