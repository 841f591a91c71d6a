"""After `mutmut run`: fails where a rule could be broken without any test noticing."""

import json
import sys
from pathlib import Path

STATISTICS = Path("mutants/mutmut-cicd-stats.json")


def main() -> int:
    """The exit status: 0 where mutants were made and tests caught every one."""
    counts: dict[str, int] = json.loads(STATISTICS.read_text(encoding="utf-8"))
    killed, total = counts.pop("killed"), counts.pop("total")
    others = {name: count for name, count in counts.items() if count}
    print(f"{killed} of {total} mutants caught; of the others: {others or 'nothing'}")
    if 0 < killed == total:
        return 0
    print("`mutmut results` names them; `mutmut show NAME` shows one.")
    return 1


if __name__ == "__main__":
    sys.exit(main())
