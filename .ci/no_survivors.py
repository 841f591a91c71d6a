"""After `mutmut run`: fails where a rule could be broken without any test noticing.

What lived there is tried once more in a process of its own: mutmut breaks a rule in a process in which the
tests are imported already, so that a table that is made on import was made by the unbroken rule.
"""

import json
import os
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path

MUTANTS = Path("mutants")
SAME_ANYWAY = Path(__file__).with_name("same_anyway.toml")
KILLED, LIVED = 1, 0


def main() -> int:
    """The exit status: 0 where mutants were made and tests caught every one that changes anything."""
    results = dict(_results())
    lived = sorted(name for name, status in results.items() if status != KILLED)
    same = _same_anyway()
    left = [name for name in lived if name not in same and not _is_caught_alone(name)]
    unknown = sorted(same.keys() - lived)
    print(
        f"{len(results)} mutants: {len(results) - len(lived)} caught at once, "
        f"{len(lived) - len(left) - len(same)} in a process of their own, "
        f"{len(same)} change nothing, {len(left)} lived"
    )
    for name in left:
        print(f"lived: {name}")
    for name in unknown:
        print(f"is caught, and stands in {SAME_ANYWAY.name}: {name}")
    return 0 if results and not left and not unknown else 1


def _results() -> Iterator[tuple[str, int | None]]:
    """Each mutant and the exit status of the tests on it; None where they never ran."""
    for path in MUTANTS.rglob("*.meta"):
        yield from json.loads(path.read_text(encoding="utf-8"))["exit_code_by_key"].items()


def _same_anyway() -> dict[str, str]:
    """The mutants that change nothing, each with the reason why."""
    told = tomllib.loads(SAME_ANYWAY.read_text(encoding="utf-8"))
    return {name: reason for reason, names in told.items() for name in names}


def _is_caught_alone(name: str) -> bool:
    """Whether the tests of its package, or of what rests on it most, fail on it in a new process."""
    package = name.split(".")[1]
    tests = dict.fromkeys((f"tests/{package}", "tests/records", "tests/judging"))
    command = [sys.executable, "-m", "pytest", "-q", "-x", "-n0", "-p", "no:randomly", "--tb=no", *tests]
    environment = {**os.environ, "MUTANT_UNDER_TEST": name}
    done = subprocess.run(command, cwd=MUTANTS, env=environment, capture_output=True, check=False)  # noqa: S603
    return done.returncode == KILLED


if __name__ == "__main__":
    sys.exit(main())
