"""A command that meets what a newer program wrote ends with the name of the format, and no traceback."""

import pytest
from click.testing import CliRunner

from app.cli import invariants, main
from app.records.formats import LOG_ENTRY


def test_a_command_ends_with_the_name_of_the_format(monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(*_said: object) -> None:
        LOG_ENTRY.version_of({"format": "countersign.log-entry/9"})

    monkeypatch.setattr(invariants, "settings", fail)
    ran = CliRunner().invoke(main, ["invariants"])
    assert ran.exit_code == 2
    assert "error: an entry of the log has the format countersign.log-entry/9, which this" in ran.output
