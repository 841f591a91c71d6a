"""What a case takes beside what the json module needs merely to read the same cases and write their results.

Run from the project's folder: `.venv/bin/python tests/bench/bench_evaluate.py`. CPU time, floor and engine in
turn (A B A B), median of the pairs, because absolute times on a shared machine mean little. Then ten thousand
cases go through `countersign evaluate --lines` in a process of their own, and its greatest memory use is set
beside that of one thousand. Exits with 1 when an aim is missed.
"""

import json
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from itertools import islice, product
from pathlib import Path
from statistics import median
from typing import Any

from app.comparison import CaseError, evaluate, read_case
from app.comparison.figures import figures_of

EXAMPLES = Path(__file__).parents[1] / "comparison" / "examples"
CASES_A_ROUND = 400
PAIRS = 9
MANY = 10_000
AIM = 15
# 10,000 cases may need this many times the memory of 1,000: a process does not shrink between lines.
MEMORY_AIM = 1.1

_DOSES = ("0.2 mg", "500 mcg", "1 mg", "1.5 mg", "2 mg", "12.5 mcg", "30 mcg")
_LOCKOUTS = ("5 min", "6 min", "7 min", "8 min", "10 min", "12 min", "480 s", "1 min")
_LIMITS = ("4 mg", "10 mg", "30 mg", "37.5 mg", "900 mcg", "6 mg", "18 mg", "24 mg", "12 mg")
_WINDOWS = ("1 h", "4 h", "240 min", "24 h")


def varied_cases() -> Iterator[str]:
    """The contract's examples again and again, each time with other doses, lockouts and limits."""
    examples = [json.loads(path.read_text()) for path in sorted(EXAMPLES.glob("*.case.json"))]
    settings = product(_DOSES, _LIMITS, _LOCKOUTS, _WINDOWS)
    for place, (dose, amount, lockout, window) in enumerate(settings):
        for offset in range(len(examples)):
            case = json.loads(json.dumps(examples[(place + offset) % len(examples)]))
            changed = {"demand_dose": dose, "lockout": lockout, "limit": {"amount": amount, "window": window}}
            for entry in case["entries"]:
                entry["order"].update(changed)
                # Every third case keeps the example's device, and so differs from its order.
                if offset % 3 and not is_in_volumes(entry["device"]):
                    entry["device"].update(changed)
            yield json.dumps(case)


def is_in_volumes(device: dict[str, Any]) -> bool:
    """Whether a device takes its doses in mL."""
    return str(device.get("demand_dose")).endswith("mL")


def result_of(text: str) -> dict[str, Any]:
    """What the engine makes of one line."""
    case = read_case(text)
    if isinstance(case, CaseError):
        raise TypeError(case.path)
    return evaluate(case).as_json()


def seconds(work: Callable[[], object]) -> float:
    """CPU time of one run."""
    begun = time.process_time()
    work()
    return time.process_time() - begun


def compare_with_floor() -> float:
    """Prints both times, and returns how many times the floor the engine needs."""
    texts = list(islice(varied_cases(), CASES_A_ROUND))
    results = [result_of(text) for text in texts]

    def floor() -> None:
        for text, result in zip(texts, results, strict=True):
            json.loads(text)
            json.dumps(result)

    def engine() -> None:
        for text in texts:
            json.dumps(result_of(text))

    pairs = [(seconds(floor), seconds(engine)) for _ in range(PAIRS)]
    ratio = median(by_engine / by_floor for by_floor, by_engine in pairs)
    floor_us, engine_us = (median(side) / CASES_A_ROUND * 1e6 for side in zip(*pairs, strict=True))
    print(f"json alone {floor_us:.0f} us a case, engine {engine_us:.0f}: {ratio:.1f} times (aim {AIM})")
    print_shares(texts)
    return ratio


def print_shares(texts: list[str]) -> None:
    """Where the engine's time goes."""
    cases = [case for case in map(read_case, texts) if not isinstance(case, CaseError)]
    results = [evaluate(case) for case in cases]
    written = [result.as_json() for result in results]
    shares = {
        "read and check the case": lambda: [read_case(text) for text in texts],
        "compute the figures": lambda: [figures_of(case) for case in cases],
        "figures and findings": lambda: [evaluate(case) for case in cases],
        "write every amount": lambda: [result.as_json() for result in results],
        "write JSON": lambda: [json.dumps(each) for each in written],
    }
    for what, work in shares.items():
        spent = median(seconds(work) for _ in range(PAIRS)) / CASES_A_ROUND * 1e6
        print(f"  {what}: {spent:.0f} us a case")


def greatest_memory(count: int) -> int:
    """The greatest memory use, in KiB, of the command on so many lines."""
    command = [sys.executable, "-c", _COMMAND_AND_ITS_MEMORY]
    with tempfile.TemporaryFile("w+") as lines, tempfile.TemporaryFile("w+") as results:
        lines.writelines(f"{text}\n" for text in islice(varied_cases(), count))
        lines.seek(0)
        begun = time.monotonic()
        ran = subprocess.run(
            command, stdin=lines, stdout=results, stderr=subprocess.PIPE, check=True, text=True
        )
        taken = time.monotonic() - begun
        results.seek(0)
        answered = sum(1 for _ in results)
    used = int(ran.stderr)
    print(f"--lines: {answered} results of {count} cases in {taken:.1f} s, at most {used / 1024:.1f} MiB")
    if answered != count:
        raise AssertionError(answered)
    return used


_COMMAND_AND_ITS_MEMORY = """
import re, sys
from pathlib import Path
from app.cli.evaluate import evaluate
evaluate(["--lines", "-"], standalone_mode=False)
# Not ru_maxrss: that begins with what the process that started this one used.
print(re.search(r"VmHWM:\\s+([0-9]+) kB", Path("/proc/self/status").read_text())[1], file=sys.stderr)
"""


def main() -> int:
    """Both measurements."""
    ratio = compare_with_floor()
    growth = greatest_memory(MANY) / greatest_memory(MANY // 10)
    return 0 if ratio <= AIM and growth <= MEMORY_AIM else 1


if __name__ == "__main__":
    sys.exit(main())
