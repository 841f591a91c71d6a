"""`countersign rules`: what is in force, where each value comes from, and what a unit has otherwise."""

from pathlib import Path

import pytest
from click.testing import CliRunner

from app.cli import main


@pytest.fixture(autouse=True)
def _installation(sqlite_url: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("DATABASE_URL", sqlite_url)
    monkeypatch.setenv("COUNTERSIGN_KEY_FILE", str(tmp_path / "application.key"))
    monkeypatch.setenv("COUNTERSIGN_SITE_KEYS", str(tmp_path / "site"))


def printed() -> list[str]:
    assert CliRunner().invoke(main, ["install"]).exit_code == 0
    said = CliRunner().invoke(main, ["rules"])
    assert said.exit_code == 0, said.output
    return said.output.splitlines()


def test_each_value_stands_beside_its_source() -> None:
    lines = printed()

    assert "  limit_counts_loading: true  [common practice, no source]" in lines
    (step,) = (each for each in lines if each.startswith("  loading dose: soft high 3 mg, hard high 6 mg"))
    assert step.endswith("common practice, no source]")
    assert any("200 cm set" in each and "holds 3 mL" in each for each in lines)
    assert [each for each in lines if each.startswith("  ") and not each.endswith("]")] == []


def test_what_a_unit_has_otherwise_stands_under_its_name() -> None:
    lines = printed()

    at = lines.index("Policy, otherwise on Recovery room")
    assert [each.partition("  [")[0] for each in lines[at + 1 : at + 3]] == [
        "  capnography_required: with-oxygen-or-at-risk",
        "  pharmacist_required: false",
    ]
    (site_wide,) = (each for each in lines[:at] if "capnography_required" in each)
    assert site_wide.startswith("  capnography_required: always")
