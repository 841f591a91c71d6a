"""After `mutmut run`: fails where a rule could be broken without any test noticing."""

import json
import sys
from pathlib import Path

STATISTICS = Path("mutants/mutmut-cicd-stats.json")
UNACCEPTABLE = ("survived", "no_tests", "timeout", "suspicious", "segfault")


def main() -> int:
    """The exit status: 0 where mutants were made and tests caught every one."""
    counts: dict[str, int] = json.loads(STATISTICS.read_text(encoding="utf-8"))
    left = {name: counts[name] for name in UNACCEPTABLE if counts[name]}
    print(f"{counts['killed']} of {counts['total']} mutants caught; left: {left or 'none'}")
    if left:
        print("`mutmut results` names them; `mutmut show NAME` shows one.")
    return 0 if counts["total"] and not left else 1


if __name__ == "__main__":
    sys.exit(main())
