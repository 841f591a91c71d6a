import re
import tomllib
from typing import Any

import pytest
from click import Context, Group

from app.config import root
from tests.support.tree import python_files

DOCUMENTS = ["README.md", "DEVELOPERS.md"]
BESIDE_THE_CODE = ["app/BEFORE_FIRST_USE.md", "app/CHANGES.md"]
RUN_COMMAND = ".ci/setup && .venv/bin/countersign demo"
TEST_COMMAND = ".ci/setup --dev && .venv/bin/poe test"


def text(name: str) -> str:
    return (root() / name).read_text(encoding="utf-8")


def configuration() -> dict[str, Any]:
    return tomllib.loads(text("pyproject.toml"))


def tasks() -> set[str]:
    return set(configuration()["tool"]["poe"]["tasks"])


@pytest.mark.parametrize("document", DOCUMENTS)
def test_every_task_that_is_named_exists(document: str) -> None:
    named = set(re.findall(r"\.venv/bin/poe ([a-z]+)", text(document)))

    assert named
    assert named <= tasks()


def test_every_task_that_a_contributor_calls_is_explained() -> None:
    assert tasks() - {"inspect"} <= set(re.findall(r"\.venv/bin/poe ([a-z]+)", text("DEVELOPERS.md")))


@pytest.mark.parametrize("document", DOCUMENTS)
def test_every_command_that_is_named_exists(document: str) -> None:
    from app.cli import main

    offered = set(main.list_commands(Context(main)))

    assert set(re.findall(r"\.venv/bin/countersign ([a-z]+)", text(document))) <= offered


@pytest.mark.parametrize("document", DOCUMENTS)
def test_every_link_leads_somewhere(document: str) -> None:
    links = re.findall(r"\]\(([^)#]+)\)", text(document))
    local = [link for link in links if "://" not in link]

    assert [link for link in local if not (root() / link).is_file()] == []


def test_the_readme_begins_with_the_job_and_then_two_commands() -> None:
    heading, job, *_ = text("README.md").split("\n\n")
    commands = re.findall(r"^    (\S.*)$", text("README.md"), re.MULTILINE)

    assert heading == "# Countersign"
    assert "independently" in job
    assert commands == [RUN_COMMAND, TEST_COMMAND]


def test_continuous_integration_runs_the_readmes_test_command() -> None:
    assert TEST_COMMAND in text(".ci/run").splitlines()


def test_the_drawing_of_the_house_is_the_fence() -> None:
    drawing = re.search(r"```\n(wsgi.*?)```", text("DEVELOPERS.md"), re.DOTALL)
    layers = configuration()["tool"]["importlinter"]["contracts"][0]["layers"]

    assert drawing is not None
    assert [line.strip() for line in drawing[1].splitlines()] == [
        re.sub(r"[()]", "", layer) for layer in layers
    ]


def test_the_first_property_is_no_patient_data_in_logs() -> None:
    assert re.search(r"^1\. \*\*No patient data in logs\.\*\*", text("DEVELOPERS.md"), re.MULTILINE)


def test_hooks_are_local_and_use_the_locked_tools() -> None:
    hooks = text(".pre-commit-config.yaml")

    assert re.findall(r"repo: (\S+)", hooks) == ["local"]
    assert set(re.findall(r"language: (\S+)", hooks)) == {"system"}
    assert all(entry.startswith(".venv/bin/") for entry in re.findall(r"entry: (.+)", hooks))


def test_every_exception_to_the_lint_rules_has_its_reason() -> None:
    lint = text("pyproject.toml").partition("[tool.ruff.lint]")[2].partition("# ----")[0]
    exceptions = re.findall(r'^    "[A-Z]+[0-9]+",.*$', lint, re.MULTILINE)

    assert exceptions
    assert [line for line in exceptions if not re.search(r",\s+# \S", line)] == []


def test_all_of_which_a_run_takes_a_sample_is_taken_by_the_long_task() -> None:
    taken = configuration()["tool"]["poe"]["tasks"]["long"]["cmd"].split()
    asks = re.compile(r"^from tests\.support\.sampling import|^    looked_everywhere,$", re.MULTILINE)
    sampled = {
        str(path) for path in python_files("tests/") if asks.search(text(str(path))) and "test_" in path.name
    }

    assert sampled == {each for each in taken if each.endswith(".py")}
    assert {path for path in sampled if path not in text("DEVELOPERS.md")} == set()


def test_the_version_has_its_heading_once_it_is_released() -> None:
    version = configuration()["project"]["version"]

    assert version.startswith("0.") or f"\n## {version}\n" in text("app/CHANGES.md")


@pytest.mark.parametrize("document", BESIDE_THE_CODE)
def test_a_page_beside_the_code_names_commands_and_files_that_are_there(document: str) -> None:
    from app.cli import main

    context, folder = Context(main), (root() / document).parent
    said = text(document)
    for name, sub in re.findall(r"`countersign ([a-z]+)(?: ([a-z]+))?", said):
        command = main.get_command(context, name)
        assert command is not None, name
        assert not (sub and isinstance(command, Group)) or command.get_command(context, sub), (name, sub)
    links = [link.split("#")[0] for link in re.findall(r"\]\(([^)]+)\)", said)]
    assert [link for link in links if not (folder / link).is_file()] == []
