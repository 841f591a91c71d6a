"""Accounts of an invented infusion, written as the contract has them; name only what the test is about."""

import copy
import json
import re
from pathlib import Path
from typing import Any

from app.accounting import AccountCase, balance, read_account
from app.comparison import CaseError

EXAMPLES = Path(__file__).parent / "examples"
ABSENT = object()
SETTINGS = {
    "concentration": "1 mg/mL",
    "mode": "demand",
    "limit": None,
    "demand_dose": "1 mg",
    "lockout": "8 min",
}


def at(time: str) -> str:
    """`08:30`, or `3T08:30` on another day of the month."""
    day, _, clock = time.rpartition("T")
    return f"2031-05-{int(day or 2):02d}T{clock}+02:00"


def entry(kind: str, time: str, /, **keys: object) -> dict[str, Any]:
    return {"kind": kind, "at": at(time), **keys}


def issued(time: str = "08:00", syringe: str = "S1", /, **keys: object) -> dict[str, Any]:
    label: dict[str, object] = {"syringe": syringe, "volume": "50 mL", "size": "60 mL", **keys}
    if "concentration" not in label:
        label.setdefault("amount", "50 mg")
    return entry("issued", time, **label)


def settings(time: str = "08:25", /, **keys: object) -> dict[str, Any]:
    given: dict[str, object] = {**SETTINGS, **keys}
    return entry("settings", time, **{key: value for key, value in given.items() if value is not ABSENT})


def totals(amount: str | None = None, *counts: int, volume: str | None = None) -> dict[str, Any]:
    """What a device shows; the counts are presses, then doses."""
    shown = {"amount": amount, "volume": volume, **dict(zip(("presses", "doses"), counts, strict=False))}
    return {key: value for key, value in shown.items() if value is not None}


def set_up(**keys: object) -> list[dict[str, Any]]:
    """50 mg in 50 mL in a 60 mL barrel, loaded, set and started at 08:30; nothing primed."""
    return [issued(), entry("loaded", "08:20", syringe="S1"), settings(**keys), entry("started", "08:30")]


def account(
    *entries: dict[str, Any], policy: dict[str, Any] | None = None, now: str | None = None
) -> dict[str, Any]:
    made: dict[str, Any] = {"format": "countersign.account/1", "entries": list(entries)}
    if policy is not None:
        made["policy"] = policy
    if now is not None:
        made["now"] = at(now)
    return made


def read(case: object) -> AccountCase:
    found = read_account(case if isinstance(case, str) else json.dumps(case))
    assert not isinstance(found, CaseError)
    return found


def result_of(
    *entries: dict[str, Any], policy: dict[str, Any] | None = None, now: str | None = None
) -> dict[str, Any]:
    return balance(read(account(*entries, policy=policy, now=now))).as_json()


def error_of(case: object) -> tuple[str, str]:
    """Where and why a case is refused."""
    found = read_account(case if isinstance(case, str) else json.dumps(case))
    assert isinstance(found, CaseError)
    return found.path, found.code


def codes(result: dict[str, Any]) -> list[tuple[str, int | None]]:
    """What was found, and at which entry."""
    return [(finding["code"], finding["entry"]) for finding in result["findings"]]


def finding(result: dict[str, Any], code: str) -> dict[str, Any]:
    """The one finding of a code."""
    (found,) = [each for each in result["findings"] if each["code"] == code]
    assert isinstance(found, dict)
    return found


def exact(figure: dict[str, str] | None) -> str | None:
    """The exact number of a figure, with its unit."""
    return None if figure is None else f"{figure['exact']} {figure['unit']}"


def example(name: str) -> dict[str, Any]:
    (path,) = EXAMPLES.glob(f"{name}*.case.json")
    found: dict[str, Any] = json.loads(path.read_text())
    return found


def put_at(case: dict[str, Any], path: str, value: object) -> dict[str, Any]:
    """A case with another value at a path such as `entries[0].totals.amount`, or without one."""
    changed = copy.deepcopy(case)
    *way, last = [int(step) if step.isdigit() else step for step in re.findall(r"\w+", path)]
    here: Any = changed
    for step in way:
        here = here[step]
    if value is ABSENT:
        del here[last]
    else:
        here[last] = value
    return changed
