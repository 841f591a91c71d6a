from pathlib import Path

import pytest
from click.testing import CliRunner

from app.cli import main
from tests.factories.invented_site import changed_rules

FEW = ["study", "--draws", "6", "--estimates", "2", "--errors", "60", "--seed", "test"]


def test_the_study_says_the_same_in_one_process_and_in_two() -> None:
    one, two = (CliRunner().invoke(main, [*FEW, "--processes", number]) for number in ("1", "2"))

    assert (one.exit_code, two.exit_code) == (0, 0), two.output
    assert one.output == two.output
    assert "Label that is itself wrong" in one.output
    assert "assumption, no source" in one.output


@pytest.mark.parametrize(("name", "begins"), [("study.svg", b"<svg "), ("study.png", b"\x89PNG")])
def test_the_study_writes_its_picture(name: str, begins: bytes, tmp_path: Path) -> None:
    picture = tmp_path / name
    asked = [*FEW, "--processes", "1", "--shared", "30", "--expects", "5", "--picture", str(picture)]
    done = CliRunner().invoke(main, asked)

    assert done.exit_code == 0, done.output
    assert picture.read_bytes().startswith(begins)
    assert "here set by hand" in done.output


def test_rules_by_which_nothing_can_be_judged_are_refused_before_anything_is_drawn(tmp_path: Path) -> None:
    folder = changed_rules(tmp_path / "rules", lambda files: files["policy.json"].pop("engine"))
    refused = CliRunner().invoke(main, [*FEW, "--processes", "1", "--rules", str(folder)])

    assert refused.exit_code == 2, refused.exception
    assert all(line.startswith("error: policy.json: ") for line in refused.output.splitlines())
