"""What is asked about the primed volume alone is what the whole result says of it."""

import json
from pathlib import Path
from typing import Any

import pytest

from app.comparison import Case, evaluate, evaluate_primed, read_case
from app.records.kept import LETTERS, A
from tests.comparison.test_examples import CASES

# Far below what any set holds, beside it, and far above.
VOLUMES = ("0.1 mL", "1.5 mL", "20 mL")


def primed_by(written: dict[str, Any], clinician: str, volume: str) -> Case:
    """The example, its primed volume read by one of the two."""
    entries = [
        {**entry, **({"primed_volume": volume} if entry["clinician"] == clinician else {})}
        for entry in written["entries"]
    ]
    read = read_case({**written, "entries": entries})
    assert isinstance(read, Case)
    return read


@pytest.mark.parametrize("path", CASES, ids=lambda path: path.name.partition(".")[0])
def test_it_is_what_the_whole_result_says_of_it(path: Path) -> None:
    written = json.loads(path.read_text())
    for clinician in LETTERS:
        for volume in VOLUMES:
            case = primed_by(written, clinician, volume)
            whole = evaluate(case)

            findings, drug = evaluate_primed(case, clinician)

            assert findings == tuple(each for each in whole.findings if each.field == "primed_volume")
            assert drug == whole.figures[LETTERS.index(clinician)].delivery.primed_drug


def test_some_examples_find_something() -> None:
    """Else the test above compares nothing with nothing."""
    cases = [primed_by(json.loads(path.read_text()), A, volume) for path in CASES for volume in VOLUMES]
    found = {finding.code for case in cases for finding in evaluate_primed(case, A)[0]}
    assert found >= {"primed-volume-below-set", "primed-volume-above-set", "primed-volume-differs"}
