"""What an account takes beside what the json module needs merely to read the same case and write its result.

Run from the project's folder: `.venv/bin/python tests/bench/bench_balance.py`. CPU time over the contract's
examples in turn, floor and engine side by side (A B A B), median of the pairs, because absolute times on a
shared machine mean little. Then a stretch of 30 days beside one of 8 h, under no limit, one, three, and ten
thousand cases through `countersign balance --lines` in a process of their own, their greatest memory use
beside that of one thousand. Exits with 1 when an aim is missed.
"""

import json
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from itertools import cycle, islice
from pathlib import Path
from statistics import median
from typing import Any

from app.accounting import balance, read_account
from app.comparison import CaseError

EXAMPLES = Path(__file__).parents[1] / "accounting" / "examples"
ROUNDS = 20
PAIRS = 15
MANY = 10_000
AIM = 15
LONG_AIM = 3
# 10,000 cases may need this many times the memory of 1,000: a process does not shrink between lines.
MEMORY_AIM = 1.1

LIMITS: dict[str, Any] = {
    "no limit": None,
    "one limit": {"amount": "10 mg", "window": "4 h"},
    "three limits": [
        {"amount": "10 mg", "window": "4 h"},
        {"amount": "4 mg", "window": "1 h"},
        {"amount": "47 mg", "window": "24 h"},
    ],
}


def examples() -> list[str]:
    """The contract's examples, each on one line."""
    return [json.dumps(json.loads(path.read_text())) for path in sorted(EXAMPLES.glob("*.case.json"))]


def result_of(text: str) -> dict[str, Any]:
    """What the engine makes of one line."""
    case = read_account(text)
    if isinstance(case, CaseError):
        raise TypeError(case.path)
    return balance(case).as_json()


def seconds(work: Callable[[], object]) -> float:
    """CPU time of one run."""
    begun = time.process_time()
    work()
    return time.process_time() - begun


def compare(one: Callable[[], object], other: Callable[[], object]) -> tuple[float, float, float]:
    """Both times, each the median, and how many times the first the second takes."""
    pairs = [(seconds(one), seconds(other)) for _ in range(PAIRS)]
    first, second = (median(side) for side in zip(*pairs, strict=True))
    return first, second, median(later / earlier for earlier, later in pairs)


def compare_with_floor() -> float:
    """How many times the floor the engine needs."""
    texts = examples() * ROUNDS
    results = [result_of(text) for text in texts]

    def floor() -> None:
        for text, result in zip(texts, results, strict=True):
            json.loads(text)
            json.dumps(result)

    def engine() -> None:
        for text in texts:
            json.dumps(result_of(text))

    by_floor, by_engine, ratio = compare(floor, engine)
    floor_us, engine_us = (each / len(texts) * 1e6 for each in (by_floor, by_engine))
    print(f"json alone {floor_us:.0f} us a case, engine {engine_us:.0f}: {ratio:.1f} times (aim {AIM})")
    return ratio


def of_one_stretch(limit: object, end: str) -> str:
    """A case with one stretch, from 08:30 on the second to a later moment."""
    settings = {
        "concentration": "1 mg/mL",
        "mode": "demand",
        "limit": limit,
        "demand_dose": "1 mg",
        "lockout": "8 min",
    }
    label = {"syringe": "S1", "amount": "50 mg", "volume": "50 mL", "size": "60 mL"}
    entries = [
        {"kind": "issued", "at": "2031-05-02T08:00Z", **label},
        {"kind": "loaded", "at": "2031-05-02T08:20Z", "syringe": "S1"},
        {"kind": "settings", "at": "2031-05-02T08:25Z", **settings},
        {"kind": "started", "at": "2031-05-02T08:30Z"},
        {
            "kind": "read",
            "at": end,
            "totals": {"amount": "12 mg", "presses": 15, "doses": 12},
            "left": "38 mL",
        },
    ]
    return json.dumps({"format": "countersign.account/1", "entries": entries})


def compare_long_stretches() -> float:
    """How many times a stretch of eight hours one of 30 days costs: the worst of all limits."""
    ratios = []
    for name, limit in LIMITS.items():
        short, long = (of_one_stretch(limit, end) for end in ("2031-05-02T16:30Z", "2031-06-01T08:30Z"))
        by_short, by_long, ratio = compare(*(_repeated(text) for text in (short, long)))
        us = [each / ROUNDS * 1e6 for each in (by_short, by_long)]
        print(f"{name}: 8 h {us[0]:.0f} us, 30 days {us[1]:.0f}: {ratio:.1f} times (aim {LONG_AIM})")
        ratios.append(ratio)
    return max(ratios)


def _repeated(text: str) -> Callable[[], object]:
    return lambda: [result_of(text) for _ in range(ROUNDS)]


def greatest_memory(number: int) -> int:
    """The greatest memory use, in KiB, of the command on so many lines."""
    command = [sys.executable, "-c", _COMMAND_AND_ITS_MEMORY]
    with tempfile.TemporaryFile("w+") as lines, tempfile.TemporaryFile("w+") as results:
        lines.writelines(f"{text}\n" for text in _cases(number))
        lines.seek(0)
        begun = time.monotonic()
        ran = subprocess.run(
            command, stdin=lines, stdout=results, stderr=subprocess.PIPE, check=True, text=True
        )
        taken = time.monotonic() - begun
        results.seek(0)
        answered = sum(1 for _ in results)
    used = int(ran.stderr)
    print(f"--lines: {answered} results of {number} cases in {taken:.1f} s, at most {used / 1024:.1f} MiB")
    if answered != number:
        raise AssertionError(answered)
    return used


def _cases(number: int) -> Iterator[str]:
    return islice(cycle(examples()), number)


_COMMAND_AND_ITS_MEMORY = """
import re, sys
from pathlib import Path
from app.cli.balance import balance
balance(["--lines", "-"], standalone_mode=False)
# Not ru_maxrss: that begins with what the process that started this one used.
print(re.search(r"VmHWM:\\s+([0-9]+) kB", Path("/proc/self/status").read_text())[1], file=sys.stderr)
"""


def main() -> int:
    """All measurements."""
    ratio, long = compare_with_floor(), compare_long_stretches()
    growth = greatest_memory(MANY) / greatest_memory(MANY // 10)
    return 0 if ratio <= AIM and long <= LONG_AIM and growth <= MEMORY_AIM else 1


if __name__ == "__main__":
    sys.exit(main())
