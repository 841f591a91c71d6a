"""What a test may not do: be skipped, or, in a pure package, reach a database or a socket."""

from pathlib import Path

import pytest

PURE_PACKAGES = (
    "base", "quantities", "dosing", "comparison", "accounting", "judging", "words", "people", "records",
    "review",
)  # fmt: skip
DATABASE_FIXTURES = frozenset({"database_url", "empty_database_url", "sqlite_url", "postgresql_url"})

TESTS = Path(__file__).parents[1]


def refuse_skip(report: pytest.TestReport | pytest.CollectReport) -> None:
    """Turns a skip or an expected failure into a failure: what was not shown to work is not shown at all."""
    if report.outcome != "skipped":
        return
    report.outcome = "failed"
    why = "was skipped or expected to fail; here every test runs and passes"
    report.longrepr = f"{report.nodeid} {why}\n{report.longrepr}"
    # pytest would go on calling it an expected failure.
    vars(report).pop("wasxfail", None)


def is_pure(path: Path) -> bool:
    """Whether a test file belongs to a pure package."""
    return path.is_relative_to(TESTS) and path.relative_to(TESTS).parts[0] in PURE_PACKAGES


def refuse_database_in_pure_tests(items: list[pytest.Item]) -> None:
    """Ends the run where the test of a pure package asks for a database."""
    for item in items:
        asked = DATABASE_FIXTURES.intersection(getattr(item, "fixturenames", ()))
        if asked and is_pure(item.path):
            message = f"{item.nodeid} is a test of a pure package and asks for {', '.join(sorted(asked))}"
            raise pytest.UsageError(message)
